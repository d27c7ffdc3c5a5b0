"""Recorded flights carried along their own measured winds.

GRUAN: GCOS Reference Upper-Air Network / MeteoSwiss, Payerne, RS41-GDP.1. Barbados: example files of the EUREC4A
sounding repository. Both are read from ``../shared`` where it exists.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pappus.atmosphere import standard_air, standard_height_msl_m
from pappus.postflight import DriftCheck, drift_check
from pappus.sources import read_sounding

Shared = Callable[[str], Path]


def checked(path: Path) -> DriftCheck:
    result = drift_check(read_sounding(path)[0])
    assert isinstance(result, DriftCheck), result
    return result


def test_payerne_ascent_ends_within_60_m(shared_data: Shared) -> None:
    row = checked(shared_data("sondes/gruan_pay_20170712T00_gdpA.nc"))
    assert row.leg == "ascent"
    assert row.seconds == pytest.approx(5844.0, abs=1.0)
    assert row.drift_m > 50_000.0
    assert row.end_error_m < 60.0
    assert row.largest_error_m < 60.0


def test_barbados_descent_ends_within_80_m(shared_data: Shared) -> None:
    row = checked(shared_data("sondes/bco_20190210T2043_descent_309056.bufr"))
    assert row.leg == "descent"
    assert row.drift_m == pytest.approx(17_900.0, abs=100.0)
    assert row.end_error_m < 80.0


def test_winds_where_they_are_known_place_a_flight_to_about_100_m(shared_data: Shared) -> None:
    """Common practice, no source: 'about 100 m where winds are known'. The best records, of three networks."""
    for name in ("bco_20190210T1909_ascent_309057.bufr", "nairobi_63741_20190809T2333_ascent_309052.bufr"):
        assert checked(shared_data(f"sondes/{name}")).end_error_m < 100.0


def test_summed_positions_are_not_judged(shared_data: Shared) -> None:
    """The file's own attribute says that its positions were summed from the winds."""
    soundings = read_sounding(shared_data("sondes/bnfsondewnpnM1.b1.20250619.053000.cdf"))
    assert drift_check(soundings[0]) == "its positions were summed from the winds, not measured"


def test_air_falls_to_about_minus_60_on_the_way_up(shared_data: Shared) -> None:
    """Common practice, no source: 'down to about -60 degrees C'. Real soundings of three climates, and the standard."""
    standard = standard_air(np.arange(0.0, 32_000.0, 100.0)).temperature_k.min() - 273.15
    assert standard == pytest.approx(-56.5, abs=0.1)
    for name, coldest in (
        ("gruan_pay_20170712T00_gdpA.nc", (-65.0, -50.0)),
        ("bom_94461_20160403T2315_ascent_309052.bufr", (-85.0, -60.0)),
        ("boise_72681_20101209T12_levels.csv", (-70.0, -55.0)),
    ):
        measured = read_sounding(shared_data(f"sondes/{name}"))[0].temperature_k.min() - 273.15
        assert coldest[0] < measured < coldest[1], name


def test_under_one_percent_of_sea_level_pressure_at_the_top() -> None:
    """Common practice, no source: 'under 1 % of sea-level pressure at the top'. True above 31.1 km in standard air."""
    assert float(standard_height_msl_m(1013.25)) == pytest.approx(31_118.5, abs=5.0)
