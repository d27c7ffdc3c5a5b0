"""A table with a head and a list of stations in the open data folder, read a second way; and the folder as a whole."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pappus.sources import Sounding, read_sounding

Find = Callable[[str], Path]
OZONE = "sondes/reunion_20141210T1104_ozonesonde.dat.gz"
STATIONS = "sondes/northamerica_117stations_19990504T00.json.gz"


@cache
def soundings(path: Path) -> list[Sounding]:
    return read_sounding(path)


def text_of(path: Path) -> str:
    return gzip.decompress(path.read_bytes()).decode("latin-1")


def speed_m_s(sounding: Sounding, level: int) -> float:
    return float(np.hypot(sounding.wind_u_m_s[level], sounding.wind_v_m_s[level]))


def test_headed_table(shared_data: Find) -> None:
    lines = text_of(shared_data(OZONE)).splitlines()
    values = np.array([line.split() for line in lines[int(lines[0]) :]], float)
    (ascent,) = soundings(shared_data(OZONE))
    assert not ascent.is_descent
    assert ascent.release == datetime(2014, 12, 10, 11, 4, tzinfo=UTC)
    assert ascent.levels == len(values)
    assert ascent.pressure_pa == pytest.approx(100.0 * values[:, 1])
    assert ascent.temperature_k == pytest.approx(273.15 + values[:, 3])
    for level in (0, 1000, len(values) - 1):
        assert speed_m_s(ascent, level) == pytest.approx(values[level, 9], abs=1e-9)
        come_from = np.degrees(np.arctan2(-ascent.wind_u_m_s[level], -ascent.wind_v_m_s[level])) % 360.0
        assert come_from == pytest.approx(values[level, 8], abs=1e-6)


def test_columns_that_hold_each_other_are_told_by_the_station(shared_data: Find) -> None:
    """README: the launch was at -20.893 55.529, but the column named GPSLon holds -20.893."""
    (ascent,) = soundings(shared_data(OZONE))
    values = np.array(text_of(shared_data(OZONE)).splitlines()[-1].split(), float)
    assert (ascent.latitude_deg, ascent.longitude_deg) == pytest.approx((-20.893, 55.529), abs=1e-9)
    assert any("each other's values" in note for note in ascent.notes)
    assert any("19 km from the first measured position" in note for note in ascent.notes)
    assert ascent.level_latitude_deg is not None
    assert ascent.level_longitude_deg is not None
    last = ascent.level_latitude_deg[-1], ascent.level_longitude_deg[-1]
    assert last == pytest.approx((values[12], values[13]), abs=1e-9)


def test_list_of_stations(shared_data: Find) -> None:
    stations = json.loads(text_of(shared_data(STATIONS)))["profiles"]
    windy = {
        entry["station"]: sum(row["drct"] == row["drct"] and row["sknt"] == row["sknt"] for row in entry["profile"])
        for entry in stations
    }
    read = soundings(shared_data(STATIONS))
    assert len(stations) == len(windy) == 117
    assert [sounding.station for sounding in read] == [station for station, count in windy.items() if count >= 10]
    few = [station for station, count in windy.items() if count < 10]
    assert len(few) == 4
    for station in few:
        assert any(note.startswith(f"not used: radiosonde {station},") for note in read[0].notes)
    for sounding in read:
        assert not sounding.is_descent
        assert sounding.time_s is None
        assert sounding.level_latitude_deg is None
        assert sounding.level_longitude_deg is None
        assert np.isnan(sounding.latitude_deg)
        assert np.isnan(sounding.longitude_deg)
        assert sounding.release == datetime(1999, 5, 4, tzinfo=UTC)
        assert any("where the station is" in note for note in sounding.notes)


def test_winds_of_a_list_are_knots(shared_data: Find) -> None:
    stations = {entry["station"]: entry for entry in json.loads(text_of(shared_data(STATIONS)))["profiles"]}
    for sounding in soundings(shared_data(STATIONS)):
        rows = [row for row in stations[sounding.station]["profile"] if row["sknt"] == row["sknt"]]
        # one knot is 1852 m an hour (ISO 80000-3)
        speeds = {(round(row["pres"], 1), round(row["sknt"] * 1852 / 3600, 6)) for row in rows}
        for level in range(0, sounding.levels, 5):
            given = round(sounding.pressure_pa[level] / 100, 1), round(speed_m_s(sounding, level), 6)
            assert given in speeds, (sounding.station, given)


def test_nothing_in_the_folder_is_refused(shared_data: Find) -> None:
    paths = sorted(path for path in shared_data(STATIONS).parent.iterdir() if path.is_file())
    assert len(paths) >= 56
    for path in paths:
        for sounding in soundings(path):
            assert sounding.levels >= 10, path.name
            assert (np.diff(sounding.height_msl_m) > 0.0).all(), path.name
            assert (np.diff(sounding.pressure_pa) <= 0.0).all(), path.name
            for values in (sounding.temperature_k, sounding.wind_u_m_s, sounding.wind_v_m_s):
                assert np.isfinite(values).all(), path.name
