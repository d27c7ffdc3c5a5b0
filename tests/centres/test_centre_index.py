"""Indexes of centres: lines in the forms that the centres publish (from memory), and damaged ones."""

from __future__ import annotations

from datetime import UTC, datetime

import eccodes
import pytest

from oracle.centre_faults import CENTRES, RUN, run_of
from pappus.sources.centres._centres import CENTRES as PUBLISHED
from pappus.sources.centres._fields import BY_ECMWF, BY_NAME, WANTED
from pappus.sources.centres._run_index import BadIndex, Record, read_ecmwf_index, read_ncep_index

DAY = datetime(2026, 11, 25, 12, tzinfo=UTC)
NCEP = b"""\
1:0:d=2026112512:PRMSL:mean sea level:6 hour fcst:
2:1000:d=2026112512:UGRD:0.01 mb:6 hour fcst:
3:1700:d=2026112512:VGRD:0.01 mb:6 hour fcst:
4:2600:d=2026112512:HGT:500 mb:6 hour fcst:
5:3000:d=2026112512:TCDC:entire atmosphere:6 hour fcst:
6:3300:d=2026112512:TCDC:entire atmosphere:0-6 hour ave fcst:
7:3600:d=2026112512:APCP:surface:0-6 hour acc fcst:
8:3900:d=2026112512:APCP:surface:0-1 day acc fcst:
9:4100:d=2026112512:UGRD:10 m above ground:6 hour fcst:
10:4400:d=2026112512:UGRD:80 m above ground:6 hour fcst:
11:4700:d=2026112512:TMP:2 m above ground:6 hour fcst:
"""


def test_text_index() -> None:
    index = read_ncep_index(NCEP, DAY)
    assert index.records == (
        Record(1000, 700, "u", 1.0, 6, 6, "instant", 0),
        Record(1700, 900, "v", 1.0, 6, 6, "instant", 0),
        Record(2600, 400, "gh", 50_000.0, 6, 6, "instant", 0),
        Record(3000, 300, "cloud", 0.0, 6, 6, "instant", 0),
        Record(3300, 300, "cloud", 0.0, 0, 6, "average", 0),
        Record(3600, 300, "rain", 0.0, 0, 6, "sum", 0),
        Record(3900, 200, "rain", 0.0, 0, 24, "sum", 0),
        Record(4100, 300, "10u", 0.0, 6, 6, "instant", 0),
        Record(4700, 0, "2t", 0.0, 6, 6, "instant", 0),  # its length only the size of the file tells
    )
    assert index.last_offset == 4700


def test_text_index_of_members_and_of_fields_that_share_a_message() -> None:
    text = (
        b"1.1:0:d=2026112512:UGRD:10 mb:anl:ENS=low-res ctl\n"
        b"1.2:0:d=2026112512:VGRD:10 mb:anl:ENS=low-res ctl\n"
        b"2:900:d=2026112512:TMP:10 mb:anl:ENS=+17\n"
    )
    assert read_ncep_index(text, DAY).records == (
        Record(0, 900, "u", 1000.0, 0, 0, "instant", 0),
        Record(0, 900, "v", 1000.0, 0, 0, "instant", 0),
        Record(900, 0, "t", 1000.0, 0, 0, "instant", 17),
    )


ECMWF = (
    b'{"domain": "g", "date": "20261125", "time": "1200", "expver": "0001", "class": "od", "type": "pf", "stream":'
    b' "enfo", "step": "9", "levtype": "pl", "levelist": "50", "number": "7", "param": "gh", "_offset": 0,'
    b' "_length": 500}\n'
    b'{"date": "20261125", "time": "1200", "type": "cf", "step": "9", "levtype": "sfc", "param": "tp", "_offset": 800,'
    b' "_length": 200}\n'
    b'{"date": "20261125", "time": "1200", "type": "em", "step": "9", "levtype": "sfc", "param": "2t", "_offset": 500,'
    b' "_length": 300}\n'
)


def test_index_lines() -> None:
    index = read_ecmwf_index(ECMWF, DAY)
    assert index.records == (
        Record(0, 500, "gh", 5000.0, 9, 9, "instant", 7),
        Record(800, 200, "rain", 0.0, 9, 9, "", 0),
    )
    assert (index.last_offset, index.end) == (800, 1000)


@pytest.mark.parametrize(
    ("before", "after", "reason"),
    [
        (b"2:1000:", b"3:1000:", "its record 2 is missing"),
        (b"1:0:", b"1:10:", "its first record is missing"),
        (b"3:1700:", b"3:900:", "its offsets do not ascend"),
        (b"UGRD:0.01 mb", b"UGRD 0.01 mb", "a line of it is no index line"),
        (b"d=2026112512:HGT", b"d=2026112506:HGT", "it is of the run 2026112506, not of 2026112512"),
        (b"4700:d", b"\xc3:d", "it is not text"),
        (NCEP[-30:], b"", "its last line is cut short"),
        (NCEP, b"", "it is empty"),
        (NCEP, b"<html>busy</html>\n", "an HTML page came in its place"),
    ],
)
def test_damaged_text_index(before: bytes, after: bytes, reason: str) -> None:
    assert NCEP.count(before) == 1
    with pytest.raises(BadIndex, match=reason):
        read_ncep_index(NCEP.replace(before, after), DAY)


@pytest.mark.parametrize(
    ("before", "after", "reason"),
    [
        (b'"_offset": 500', b'"_offset": 600', "no line of it tells of octet 500"),
        (b'"_offset": 500', b'"_offset": 400', "records of it overlap"),
        (b'"_length": 200', b'"_length": 0', "an offset or a length in it is absurd"),
        (b'"_length": 300}', b'"_length": 300', "a line of it is no index line"),
        (b'"date": "20261125", "time": "1200", "type": "cf"', b'"date": "20261124", "time": "1200", "type": "cf"',
         "it is of the run 2026112412"),
        (b'"param": "gh"', b'"parm": "gh"', "a line of it is no index line"),
        (b'"levelist": "50"', b'"levelist": "high"', "a line of it is no index line"),
    ],
)  # fmt: skip
def test_damaged_index_lines(before: bytes, after: bytes, reason: str) -> None:
    assert ECMWF.count(before) == 1
    with pytest.raises(BadIndex, match=reason):
        read_ecmwf_index(ECMWF.replace(before, after), DAY)


@pytest.mark.parametrize("centre", CENTRES)
def test_every_wanted_record_of_a_laid_out_run_is_found(centre: str) -> None:
    run = run_of(centre)
    for (path, file), text in zip(run.files.items(), run.indexes.values(), strict=True):
        index = PUBLISHED[centre].read_index(text, RUN)
        found = {(r.name, r.level_pa, r.end_h, r.member): (r.offset, r.length or file.size - r.offset)
                 for r in index.records}  # fmt: skip
        assert found == file.keys, path


# short names of the fields in ecCodes; for these it takes the numbers of its own centre's tables, or those of WMO
ECCODES = {
    "kwbc": {
        "u": "u", "v": "v", "t": "t", "gh": "gh", "gust": "gust", "2t": "2t", "2d": "2d", "10u": "10u", "10v": "10v",
        "cloud": "tcc", "low cloud": "lcc", "medium cloud": "mcc", "high cloud": "hcc", "visibility": "vis",
        "rain": "tp", "rain rate": "prate", "cape": "cape", "ground": "orog",
    },
    "ecmf": {
        "u": "u", "v": "v", "t": "t", "gh": "gh", "gust": "10fg", "2t": "2t", "2d": "2d", "10u": "10u", "10v": "10v",
        "cloud": "tcc", "low cloud": "lcc", "medium cloud": "mcc", "high cloud": "hcc", "visibility": "vis",
        "rain": "tp", "rain rate": "prate", "cape": "mucape", "ground": "z",
    },
}  # fmt: skip


@pytest.mark.parametrize("centre", ECCODES)
@pytest.mark.parametrize("name", BY_NAME)
def test_numbers_of_the_fields_are_those_of_eccodes(centre: str, name: str) -> None:
    assert len(ECCODES[centre]) == len(WANTED)
    handle = eccodes.codes_grib_new_from_samples("GRIB2")
    eccodes.codes_set(handle, "centre", centre)
    eccodes.codes_set(handle, "shortName", ECCODES[centre][name])
    numbers = tuple(
        eccodes.codes_get_long(handle, key) for key in ("discipline", "parameterCategory", "parameterNumber")
    )
    surface = eccodes.codes_get_long(handle, "typeOfFirstFixedSurface")
    value = eccodes.codes_get_long(handle, "scaledValueOfFirstFixedSurface")
    eccodes.codes_release(handle)
    assert numbers in BY_NAME[name].numbers
    if name[0].isdigit():  # 10u, 10v, 2t, 2d: their level is part of the name
        assert (surface, float(value)) in BY_NAME[name].surfaces
    if centre == "ecmf":
        assert BY_ECMWF[ECCODES[centre][name], BY_NAME[name].kind].name == name
