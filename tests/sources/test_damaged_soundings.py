"""Files that cannot be used are refused in words: every kind here once came from a disk, a mail or a web page."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pappus.errors import BadFile
from pappus.sources import read_sounding
from sources.bufr_writer import MISSING_INTEGER, MISSING_REAL, Level, ascent, bufr_message
from sources.sounding_texts import HEADER, archive_text, rows, table

RELEASE = datetime(2024, 2, 3, 4, 5, 6, tzinfo=UTC)
LEVELS = ascent(20)
WINDLESS = [level._replace(wind_from_deg=MISSING_INTEGER, wind_speed_m_s=MISSING_REAL) for level in LEVELS]


def bufr(levels: list[Level] = LEVELS, **options: int) -> bytes:
    return bufr_message(RELEASE, 10.0, 20.0, levels, **options)


def columns(rows: list[str], change: Callable[[list[str]], list[str]]) -> list[str]:
    return [",".join(change(row.split(","))) for row in rows]


DAMAGED = {
    "empty": (b"", "empty"),
    "only white space": (b"\n \n\t\n", "empty"),
    "binary junk": (bytes(range(256)) * 40, "neither BUFR"),
    "junk that starts like BUFR": (b"BUFR" + bytes(range(256)) * 4, "cut short or damaged"),
    "gzip cut short": (gzip.compress(bufr())[:-20], "gzip packing is damaged"),
    "gzip with a flipped byte": (gzip.compress(bufr())[:30] + b"\xff\x00\xff" + gzip.compress(bufr())[33:], "damaged"),
    "BUFR cut short": (bufr()[:-100], "cut short or damaged"),
    "BUFR whose template was overwritten": (bufr().replace(b"\xc9\x39", b"\xff\xff", 1), "BUFR message"),
    "BUFR filled with ones": (bufr()[:60] + b"\xff" * (len(bufr()) - 64) + b"7777", "radiosonde|decoded"),
    "BUFR of another kind": (bufr().replace(b"\xc9\x39", b"\xc7\x50", 1), "no sounding|decoded"),
    "BUFR without wind": (bufr(WINDLESS), "only 0 levels have wind"),
    "BUFR with too few levels": (bufr(LEVELS[:6]), "only 6 levels have wind"),
    "BUFR of an impossible date": (bufr_message(datetime(1875, 1, 1, tzinfo=UTC), 0, 0, LEVELS), "release time"),
    "archive header alone": (archive_text(0), "no levels below it"),
    "archive levels that are no numbers": (archive_text().replace("   270 ", "   2x0 "), "not a whole number"),
    "archive without any hour": (archive_text().replace("01 00 2303", "01 99 9999"), "neither the hour"),
    "archive with an impossible clock": (archive_text().replace("2303", "2577"), "not a time of day"),
    "archive with an impossible date": (archive_text().replace("2010 06 01", "2010 13 41"), "month"),
    "archive at sea, place unknown": (archive_text().replace(" 712889", "-988888"), "position of the station"),
    "web page": (b"<!doctype html><html><body>Error 503, sorry</body></html>\n", "no column|neither BUFR"),
    "JSON": (json.dumps({"levels": [1, 2, 3], "when": "now"}), "no column|neither BUFR"),
    "UTF-16 text": (table(rows()).encode("utf-16"), "neither BUFR"),
    "text with zero bytes": (table(rows()).replace(",", "\x00,").encode(), "no column|neither BUFR"),
    "table without rows": (table([]), "no level holds any measurement"),
    "table without wind": (
        table(columns(rows(), lambda c: c[:3]), columns="height_msl_m,pressure_hPa,temperature_C\n"),
        "wind",
    ),
    "table of nothing but nan": (table(columns(rows(), lambda c: ["nan"] * 5)), "no level holds any measurement"),
    "table with ten rows missing a wind": (
        table(columns(rows(12), lambda c: [*c[:3], "", ""]) + rows(9)),
        "levels have wind",
    ),
    "table with kelvins": (
        table(columns(rows(), lambda c: [*c[:2], str(float(c[2]) + 273.15), *c[3:]])),
        "temperature",
    ),
    "table with feet": (table(columns(rows(), lambda c: [str(float(c[0]) / 0.3048), *c[1:]])), "check the units"),
    "table with pascals": (table(columns(rows(), lambda c: [c[0], str(float(c[1]) * 100), *c[2:]])), "pressure"),
    "table upside down in pressure": (
        table([",".join([a.split(",")[0], *b.split(",")[1:]]) for a, b in zip(rows(), rows()[::-1], strict=True)]),
        "out of order",
    ),
    "table with winds beyond any": (table(columns(rows(), lambda c: [*c[:4], "900"])), "levels have wind"),
    "table without a place": (table(rows(), header="# release_utc: 2026-05-01T11:30:00Z\n"), "where"),
    "table without a time": (table(rows(), header="# latitude_deg: 1\n# longitude_deg: 2\n"), "when"),
    "table with a place that is none": (table(rows(), header=HEADER.replace("-36.6", "somewhere")), "no such number"),
    "table with a latitude of 91": (table(rows(), header=HEADER.replace("-36.6", "91")), "no such number"),
    "table with a time that is none": (table(rows(), header=HEADER.replace("2026-05-01T", "May, ")), "no time"),
    "table with a column twice": (
        table(rows(), columns="height_msl_m,pressure_hPa,temperature_C,wind_from_deg,wind_from_deg\n"),
        "twice|wind",
    ),
}


@pytest.mark.parametrize("kind", DAMAGED)
def test_refused_in_words(kind: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    content, reason = DAMAGED[kind]
    path = tmp_path / "sounding.dat"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(BadFile, match=reason) as caught:
        read_sounding(path)
    for finding in caught.value.findings:
        assert finding.field
        assert len(finding.reason) > 10
        assert finding.fix.endswith((".", "Z", "46.5"))
    # ecCodes has its own opinion of damaged messages, which must not reach the screen
    assert capfd.readouterr() == ("", "")


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no such file"):
        read_sounding(tmp_path / "absent.bufr")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="folder"):
        read_sounding(tmp_path)


def test_path_that_is_no_path() -> None:
    with pytest.raises(BadFile, match="cannot be read"):
        read_sounding("a\x00b")


def test_device_that_never_ends() -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no /dev/zero here")
    with pytest.raises(BadFile, match="not a regular file"):
        read_sounding("/dev/zero")


def test_too_large_on_disk(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    with path.open("wb") as stream:
        stream.truncate(50_000_001)  # a hole: takes no room
    with pytest.raises(BadFile, match="larger than 50 MB"):
        read_sounding(path)


def test_too_large_when_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "bomb.gz"
    path.write_bytes(gzip.compress(b"\x00" * 200_000_001, compresslevel=1))
    assert path.stat().st_size < 1_000_000
    with pytest.raises(BadFile, match="unpacks to more than 200 MB"):
        read_sounding(path)


def test_good_message_beside_a_damaged_one(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "two.bufr"
    path.write_bytes(bufr()[:-100] + bufr(WINDLESS) + bufr())
    (sounding,) = read_sounding(path)
    assert sounding.levels == len(LEVELS)
    assert sum("cut short" in note for note in sounding.notes) == 1
    assert sum("only 0 levels have wind" in note for note in sounding.notes) == 1
    assert capfd.readouterr() == ("", "")
