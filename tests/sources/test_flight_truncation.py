"""A file of a flight that is cut anywhere, or has bytes overwritten, is read in part or refused, never a crash."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pappus.errors import BadFile
from pappus.sources import read_sounding
from sources import flight_texts as made

FORMS: dict[str, bytes] = {
    "profile text": made.profile_text().encode(),
    "tracker table": made.tracker_table(wait_s=200.0).encode(),
    "table with a head": made.headed_table(400.0).encode(),
    "list of stations": made.station_list_text(2).encode(),
}
SOME = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])


def read_or_refuse(path: Path, content: bytes) -> int:
    """Levels that were read; what is read in part must say so, what is refused must do it in one line each."""
    path.write_bytes(content)
    refusal, soundings = None, []
    try:
        soundings = read_sounding(path)
    except BadFile as error:
        refusal = error
    if refusal is not None:
        assert refusal.findings
        assert all("\n" not in str(finding) for finding in refusal.findings)
    for sounding in soundings:
        assert sounding.notes
        assert (np.diff(sounding.height_msl_m) > 0.0).all()
        assert np.isfinite(sounding.wind_u_m_s).all()
        assert np.isfinite(sounding.temperature_k).all()
    return sum(sounding.levels for sounding in soundings)


@pytest.mark.parametrize("form", FORMS)
@SOME
@given(share=st.floats(0.0, 1.0))
@example(share=1.0)
def test_cut_anywhere(tmp_path: Path, form: str, share: float) -> None:
    whole = FORMS[form]
    levels = read_or_refuse(tmp_path / "cut.dat", whole[: int(share * len(whole))])
    if share == 1.0:
        assert levels > 40


@pytest.mark.parametrize("form", FORMS)
def test_cut_at_every_byte_of_the_head(tmp_path: Path, form: str) -> None:
    for end in range(1, 700, 3):
        assert read_or_refuse(tmp_path / "cut.dat", FORMS[form][:end]) == 0


@pytest.mark.parametrize("form", FORMS)
@SOME
@given(
    places=st.lists(st.tuples(st.floats(0.0, 0.9999), st.sampled_from(b'\t\n\r ,;-.0:9eE"{}[]\x00\xff')), min_size=1)
)
def test_bytes_overwritten(tmp_path: Path, form: str, places: list[tuple[float, int]]) -> None:
    content = bytearray(FORMS[form])
    for share, byte in places:
        content[int(share * len(content))] = byte
    read_or_refuse(tmp_path / "bad.dat", bytes(content))


@SOME
@given(share=st.floats(0.0, 0.999))
def test_packed_file_cut_anywhere_is_refused(tmp_path: Path, share: float) -> None:
    packed = gzip.compress(FORMS["profile text"])
    assert read_or_refuse(tmp_path / "cut.gz", packed[: int(share * len(packed))]) == 0


@pytest.mark.parametrize(
    "name",
    [
        "missoula2020_W4L1_20200624T173236.txt.gz",
        "fortcollins_20210720_no2972.csv.gz",
        "reunion_20141210T1104_ozonesonde.dat.gz",
        "northamerica_117stations_19990504T00.json.gz",
    ],
)
def test_real_files_cut(shared_data: Callable[[str], Path], tmp_path: Path, name: str) -> None:
    whole = gzip.decompress(shared_data(f"sondes/{name}").read_bytes())
    generator = np.random.default_rng(20270501)
    for end in (*generator.integers(1, 4000, 12), *generator.integers(1, len(whole), 4)):
        read_or_refuse(tmp_path / "cut.dat", whole[:end])


def test_netcdf_cut_is_refused(shared_data: Callable[[str], Path], tmp_path: Path) -> None:
    whole = shared_data("sondes/twpsondewnpnC3.b1.20060119.112000.custom.cdf").read_bytes()
    for end in (1, 4, 100, 1000, 10_000, len(whole) // 2, len(whole) - 1000):
        read_or_refuse(tmp_path / "cut.cdf", whole[:end])
