"""Recorded flights of a small tracker in the open data folder, read a second way with csv.

Tops, lengths of descents and places are those of the README beside the files.
"""

from __future__ import annotations

import csv
import gzip
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pappus.earth import geodesic_inverse
from pappus.sources import Sounding, read_sounding

Find = Callable[[str], Path]


@cache
def soundings(path: Path) -> list[Sounding]:
    return read_sounding(path)


def lines_of(path: Path) -> list[str]:
    return gzip.decompress(path.read_bytes()).decode("latin-1").splitlines()


def turned(a_deg: float, b_deg: float) -> float:
    return abs((a_deg - b_deg + 180.0) % 360.0 - 180.0)


# file, release, top, seconds of descent, last height
TRACKERS = [
    ("20210720_no2971", datetime(2021, 7, 20, 18, 26, tzinfo=UTC), 21_039, 265, 12_352),
    ("20210720_no2972", None, 21_356, 55, 19_264),
    ("20210721_no2970", datetime(2021, 7, 21, 17, 54, tzinfo=UTC), 21_832, 1115, 1_758),
]


@pytest.mark.parametrize(("name", "release", "top_m", "seconds", "bottom_m"), TRACKERS)
def test_tracker_table(
    shared_data: Find, name: str, release: datetime | None, top_m: float, seconds: float, bottom_m: float
) -> None:
    path = shared_data(f"sondes/fortcollins_{name}.csv.gz")
    rows = list(csv.DictReader(lines_of(path)))
    times = [datetime.strptime(row["Time"][:19], "%Y/%m/%d %H:%M:%S").replace(tzinfo=UTC) for row in rows]
    ascent, descent = soundings(path)
    assert (ascent.is_descent, descent.is_descent) == (False, True)
    if release is not None:
        assert abs((ascent.release - release).total_seconds()) < 60.0
    assert ascent.height_msl_m[-1] == pytest.approx(top_m, abs=1.0)
    assert descent.time_s is not None
    assert descent.time_s[0] == seconds
    assert descent.height_msl_m[0] == pytest.approx(bottom_m, abs=1.0)
    # README: they leave from 40.590 -105.143
    assert geodesic_inverse(ascent.latitude_deg, ascent.longitude_deg, 40.5903, -105.1429)[0] < 150.0
    # at the release it is still on the ground, a minute later it is up
    pressure = np.array([float(row["Pressure(hPa)"]) for row in rows])
    before = np.array([time <= ascent.release for time in times])
    assert np.ptp(pressure[before][-60:]) < 1.0
    assert pressure[before][-1] - pressure[~before][60] > 8.0
    waited = next(note for note in ascent.notes if "on the ground before the release" in note)
    assert f"{(ascent.release - times[0]).total_seconds():.0f} s" in waited


@pytest.mark.parametrize("name", [entry[0] for entry in TRACKERS])
def test_tracker_winds_carry_it_where_it_was_seen(shared_data: Find, name: str) -> None:
    """Direction of travel, not of origin, and km/h: a slip of either gives twice the drift or a third of it."""
    ascent = soundings(shared_data(f"sondes/fortcollins_{name}.csv.gz"))[0]
    assert ascent.time_s is not None
    assert ascent.level_latitude_deg is not None
    assert ascent.level_longitude_deg is not None
    north_m, east_m = (np.trapezoid(wind, ascent.time_s) for wind in (ascent.wind_v_m_s, ascent.wind_u_m_s))
    here = (ascent.latitude_deg, ascent.longitude_deg)
    drift_m = geodesic_inverse(*here, float(ascent.level_latitude_deg[-1]), float(ascent.level_longitude_deg[-1]))[0]
    north_deg, east_deg = ascent.level_latitude_deg[-1] - here[0], ascent.level_longitude_deg[-1] - here[1]
    assert np.hypot(north_m, east_m) == pytest.approx(drift_m, rel=0.05)
    seen = np.degrees(np.arctan2(east_deg * np.cos(np.radians(here[0])), north_deg))
    assert turned(float(np.degrees(np.arctan2(east_m, north_m))), float(seen)) < 3.0


@pytest.mark.parametrize("name", [entry[0] for entry in TRACKERS])
def test_sensor_at_its_end_is_replaced(shared_data: Find, name: str) -> None:
    """The sensor repeats -46.85 degrees through the whole stratosphere; over Colorado in July that lies near -60."""
    path = shared_data(f"sondes/fortcollins_{name}.csv.gz")
    rows = list(csv.DictReader(lines_of(path)))
    assert sum(row["Temperature(degree C)"] == "-46.85" for row in rows) > 1000
    ascent = soundings(path)[0]
    assert (np.abs(ascent.temperature_k - (273.15 - 46.85)) < 1e-6).mean() < 0.08
    high = (ascent.height_msl_m > 14_000.0) & (ascent.height_msl_m < 17_000.0)
    assert np.median(ascent.temperature_k[high]) - 273.15 == pytest.approx(-59.0, abs=4.0)
    assert any("end of the sensor's range" in note for note in ascent.notes)
