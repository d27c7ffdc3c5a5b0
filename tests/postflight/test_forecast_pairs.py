"""Reading pairs of forecast and measured winds."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from pappus.errors import BadFile
from pappus.sources import looks_like_forecast_pairs, read_forecast_pairs
from postflight.made_pairs import HEAD, Report, independent, write_pairs

SharedData = Callable[[str], Path]
REAL = "nwp/meps_forecast_vs_radiosonde_20190217.csv.gz"
LINE = (
    "one,0,2021-03-01 00:00:00,6,2021-03-01 06:00:00,1001,70.9,-8.7,50.6,500.0,"
    "5229.0,239.7,270.0,20.0,-99.0,-99.0,180.0,10.0"
)


def file_of(tmp_path: Path, *lines: str, head: str = HEAD) -> Path:
    path = tmp_path / "pairs.csv"
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def refused(path: Path) -> str:
    with pytest.raises(BadFile) as caught:
        read_forecast_pairs(path)
    assert len(caught.value.findings) == 1
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_line_becomes_components_and_missing_values(tmp_path: Path) -> None:
    """270 degrees is a wind from the west, 180 from the south (WMO-No. 306, code table 0877, from memory)."""
    pairs = read_forecast_pairs(file_of(tmp_path, LINE))
    assert len(pairs) == 1
    assert (pairs.forecast_u_m_s[0], pairs.forecast_v_m_s[0]) == pytest.approx((20.0, 0.0), abs=1e-9)
    assert (pairs.observed_u_m_s[0], pairs.observed_v_m_s[0]) == pytest.approx((0.0, 10.0), abs=1e-9)
    assert pairs.epoch.isoformat() == "2021-03-01T00:00:00+00:00"
    assert (pairs.run_s[0], pairs.valid_s[0], pairs.lead_s[0]) == (0.0, 21_600.0, 21_600.0)
    assert (pairs.stations, pairs.models, pairs.pressure_pa[0]) == (("01001",), ("one",), 50_000.0)
    assert np.isnan(pairs.observed_height_geopotential_m[0])
    assert np.isnan(pairs.observed_temperature_k[0])
    assert pairs.forecast_height_geopotential_m[0] == 5229.0


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (",20.0,-99", ",-1.0,-99", "fc_speed_ms"),
        (",180.0,10.0", ",361.0,10.0", "obs_dir_deg"),
        (",180.0,10.0", ",180.0,nan", "obs_speed_ms"),
        (",70.9,", ",97.0,", "lat"),
        (",500.0,", ",50000.0,", "p_hPa"),
        (",239.7,", ",-33.5,", "fc_T_K"),
        ("one,0,", "one,0.5,", "member"),
        (",6,", ",six,", "lead_h is not a number"),
        (",6,", ",7,", "the run and lead_h do not give the valid hour"),
        ("2021-03-01 00:00:00", "1 March", "run is no time"),
        (",50.6", "", "17 values under 18 columns"),
    ],
)
def test_an_impossible_line_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in LINE
    good = LINE.replace(",500.0,", ",700.0,")
    message = refused(file_of(tmp_path, good, LINE.replace(old, new, 1)))
    assert said in message
    assert "pairs.csv, line 3" in message


def test_a_forecast_that_stands_twice_is_refused(tmp_path: Path) -> None:
    assert "the same forecast as in line 2" in refused(file_of(tmp_path, LINE, LINE.replace(",20.0,", ",21.0,")))


def test_absent_columns_and_empty_files_are_named(tmp_path: Path) -> None:
    assert "obs_speed_ms" in refused(file_of(tmp_path, LINE, head=HEAD.replace("obs_speed_ms", "speed")))
    assert "no line under the heading" in refused(file_of(tmp_path))
    (tmp_path / "empty.csv").write_bytes(b"")
    assert "empty" in refused(tmp_path / "empty.csv")
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe\x00\x01")
    assert "not text" in refused(tmp_path / "bytes.csv")


def test_content_tells_the_format_packed_or_not(tmp_path: Path) -> None:
    path = file_of(tmp_path, LINE)
    packed = tmp_path / "whatever"
    packed.write_bytes(gzip.compress(path.read_bytes()))
    other = tmp_path / "other.csv"
    other.write_text("time,height\n1,2\n", encoding="utf-8")
    assert looks_like_forecast_pairs(path)
    assert looks_like_forecast_pairs(packed)
    assert not looks_like_forecast_pairs(other)
    assert not looks_like_forecast_pairs(tmp_path / "absent")
    assert len(read_forecast_pairs(packed)) == 1


def test_a_model_under_two_names_counts_once(tmp_path: Path) -> None:
    again = LINE.replace("one,0", "two,-1")
    pairs = read_forecast_pairs(file_of(tmp_path, LINE, again))
    assert len(pairs) == 1
    assert pairs.notes == ("1 pairs of two repeat those of one: left out",)
    assert len(read_forecast_pairs(file_of(tmp_path, LINE, again.replace("270.0", "271.0")))) == 2


def test_rounding_has_the_variance_of_a_uniform_error(tmp_path: Path) -> None:
    """Whole m/s and steps of 5 degrees: scipy's uniform distribution, and the winds themselves before rounding."""
    plain = write_pairs(tmp_path / "plain.csv", independent(lambda _: 0.0), leads_h=(6,), instrument_m_s=0.0)
    rounded = write_pairs(
        tmp_path / "rounded.csv", independent(lambda _: 0.0), leads_h=(6,), instrument_m_s=0.0,
        forecast_report=Report(1.0, 1.0), sonde_report=Report(5.0, 1.0),
    )  # fmt: skip
    exact, pairs = read_forecast_pairs(plain), read_forecast_pairs(rounded)
    assert not exact.observed_rounding_m2_s2.any()
    for u, v, said, step_deg in (
        (pairs.observed_u_m_s, pairs.observed_v_m_s, pairs.observed_rounding_m2_s2, 5.0),
        (pairs.forecast_u_m_s, pairs.forecast_v_m_s, pairs.forecast_rounding_m2_s2, 1.0),
    ):
        square = 0.5 * ((u - exact.observed_u_m_s) ** 2 + (v - exact.observed_v_m_s) ** 2)
        assert float(said.mean()) == pytest.approx(float(square.mean()), rel=0.05)
        along = scipy.stats.uniform(scale=1.0).var()
        across = scipy.stats.uniform(scale=np.radians(step_deg)).var() * np.hypot(u, v) ** 2
        assert said == pytest.approx(0.5 * (along + across), rel=1e-4)


def test_the_open_file_gives_its_counts(shared_data: SharedData) -> None:
    """19956 rows at 17 stations and 12 levels, as the list of the data says; one model stands under two names."""
    path = shared_data(REAL)
    assert looks_like_forecast_pairs(path)
    pairs = read_forecast_pairs(path)
    assert len(pairs) == 19_956 - 1015
    assert "1015 pairs of AROME_Arctic_prod repeat" in pairs.notes[0]
    assert len(pairs.stations) == 17
    assert np.unique(pairs.pressure_pa).size == 12
    assert set(np.unique(pairs.valid_s + pairs.epoch.timestamp()) % 86_400.0 / 3600.0) == {0.0, 6.0, 12.0, 18.0}
    # whole m/s at least: 1/24 per component and report
    assert float(pairs.observed_rounding_m2_s2.min()) >= 1.0 / 24.0
    assert float(pairs.observed_rounding_m2_s2.max()) < 1.5
