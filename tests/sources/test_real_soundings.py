"""Real soundings of many makers and services, against what is known of each.

Counts and tops (geopotential metres): README of the open data folder, which took them from the files with ecCodes
alone; for the two text files the last line that holds a wind.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pappus.atmosphere import Profile
from pappus.earth import geopotential_height_m, radii_of_curvature_m
from pappus.sources import Sounding, read_sounding, to_wind_field

Find = Callable[[str], Path]

# file, place in the file, station, release, top in geopotential metres, tolerance of the top
ASCENTS = [
    ("bco_20190210T1909_ascent_309057.bufr", 0, "at 13.163 -59.429", (2019, 2, 10, 19, 9, 37), 24649, 1),
    ("bom_94461_20160403T2315_ascent_309052.bufr", 0, "94461", (2016, 4, 3, 23, 15, 38), 30571, 1),
    # the topmost levels of two of these four have a temperature only, so the winds end up to 70 m lower
    ("chmi_11520_20071119-20_4ascents_309052.bufr", 3, "11520", (2007, 11, 19, 23, 15, 0), 23_900, 100),
    ("chmi_11520_20071119-20_4ascents_309052.bufr", 2, "11520", (2007, 11, 20, 5, 29, 0), 27_400, 100),
    ("chmi_11520_20071119-20_4ascents_309052.bufr", 1, "11520", (2007, 11, 20, 11, 15, 0), 31_900, 100),
    ("chmi_11520_20071119-20_4ascents_309052.bufr", 0, "11520", (2007, 11, 20, 17, 30, 0), 29_300, 100),
    ("kabq_72365_20230521T2305_ascent.bufr", 0, "72365", (2023, 5, 21, 23, 5, 34), 34251, 1),
    ("kabq_72365_20230522T1104_ascent.bufr", 0, "72365", (2023, 5, 22, 11, 4, 48), 33067, 1),
    ("nairobi_63741_20190809T2333_ascent_309052.bufr", 0, "63741", (2019, 8, 9, 23, 33, 55), 27514, 1),
    ("norway_20240225T23_6ascents_309057.bufr", 0, "01241", (2024, 2, 25, 23, 3, 8), 24_900, 100),
    ("norway_20240225T23_6ascents_309057.bufr", 1, "01010", (2024, 2, 25, 23, 2, 58), 26_000, 100),
    ("norway_20240225T23_6ascents_309057.bufr", 2, "01400", (2024, 2, 25, 23, 13, 43), 22_900, 100),
    ("norway_20240225T23_6ascents_309057.bufr", 3, "01028", (2024, 2, 25, 23, 10, 53), 26_100, 100),
    # the README gives 29.4 km: that is the 10 hPa level, which the encoder worked out and nothing measured
    ("norway_20240225T23_6ascents_309057.bufr", 4, "01415", (2024, 2, 25, 23, 3, 35), 29_020, 20),
    ("norway_20240225T23_6ascents_309057.bufr", 5, "01001", (2024, 2, 25, 23, 11, 28), 30_800, 100),
    ("norway_20240226T05_2ascents_309057.bufr", 0, "01001", (2024, 2, 26, 5, 11, 28), 24_000, 100),
    ("norway_20240226T05_2ascents_309057.bufr", 1, "01028", (2024, 2, 26, 5, 10, 53), 27_400, 100),
    ("igra2_USM00070026_201006_excerpt.txt", 0, "USM00070026", (2010, 5, 31, 23, 3, 0), 31_896, 1),
    ("igra2_USM00070026_201006_excerpt.txt", 1, "USM00070026", (2010, 6, 1, 11, 0, 0), 33_036, 1),
    ("boise_72681_20101209T12_levels.csv", 0, "boise_72681_20101209T12_levels", (2010, 12, 9, 11, 6, 0), 32_309, 1),
]

# file, place in the file, levels in the README
COUNTS = [
    ("bco_20190210T1909_ascent_309057.bufr", 0, 5657),
    ("bom_94461_20160403T2315_ascent_309052.bufr", 0, 2743),  # "2741 usable"; two of 2743 measured nothing
    ("kabq_72365_20230521T2305_ascent.bufr", 0, 5971),
    ("kabq_72365_20230522T1104_ascent.bufr", 0, 6008),
    ("nairobi_63741_20190809T2333_ascent_309052.bufr", 0, 2568),
    ("igra2_USM00070026_201006_excerpt.txt", 0, 158),
    ("igra2_USM00070026_201006_excerpt.txt", 1, 157),
    ("boise_72681_20101209T12_levels.csv", 0, 132),
]


@cache  # the large files take a second each
def soundings(path: Path) -> list[Sounding]:
    return read_sounding(path)


def left_out(sounding: Sounding) -> int:
    """How many levels the notes say were left out."""
    return sum(int(note.split()[0]) for note in sounding.notes if re.fullmatch(r"\d+ levels? .*left out", note))


@pytest.mark.parametrize(("name", "place", "station", "release", "top_gpm", "within_m"), ASCENTS)
def test_ascent(
    shared_data: Find, name: str, place: int, station: str, release: tuple[int, ...], top_gpm: float, within_m: float
) -> None:
    sounding = soundings(shared_data(f"sondes/{name}"))[place]
    assert (sounding.station, sounding.release, sounding.is_descent) == (station, datetime(*release, tzinfo=UTC), False)
    assert geopotential_height_m(sounding.height_msl_m[-1], sounding.latitude_deg) == pytest.approx(
        top_gpm, abs=within_m
    )
    assert (np.diff(sounding.height_msl_m) > 0).all()
    assert (np.diff(sounding.pressure_pa) <= 0).all()
    for values in (sounding.temperature_k, sounding.wind_u_m_s, sounding.wind_v_m_s):
        assert np.isfinite(values).all()


@pytest.mark.parametrize(("name", "place", "count"), COUNTS)
def test_every_level_is_kept_or_counted(shared_data: Find, name: str, place: int, count: int) -> None:
    sounding = soundings(shared_data(f"sondes/{name}"))[place]
    assert sounding.levels + left_out(sounding) == count
    assert sounding.levels > 0.97 * count


@pytest.mark.parametrize(
    ("name", "count"),
    [("norway_20240225T23_6ascents_309057.bufr", 6), ("chmi_11520_20071119-20_4ascents_309052.bufr", 4)],
)
def test_every_message_of_a_file(shared_data: Find, name: str, count: int) -> None:
    assert len(soundings(shared_data(f"sondes/{name}"))) == count


def test_descent_is_turned_upright(shared_data: Find) -> None:
    # README: from 24658 gpm at 20:43:44 down to 273 gpm in 1452 s, levels bottom-up; mean sink 12 m/s below 5 km
    (sounding,) = soundings(shared_data("sondes/bco_20190210T2043_descent_309056.bufr"))
    assert sounding.is_descent
    assert sounding.station_height_msl_m is None
    ends = geopotential_height_m(sounding.height_msl_m[[0, -1]], sounding.latitude_deg)
    assert ends == pytest.approx([273.1, 24658.2], abs=0.1)
    assert sounding.time_s is not None
    assert sounding.time_s[[0, -1]] == pytest.approx([1452.0, 0.0], abs=1.0)
    assert (np.diff(sounding.time_s) < 0).all()
    low = sounding.height_msl_m < 5000.0
    assert np.ptp(sounding.height_msl_m[low]) / np.ptp(sounding.time_s[low]) == pytest.approx(12.0, abs=1.0)


@pytest.mark.parametrize("name", [entry[0] for entry in COUNTS[:5]])
def test_winds_carry_the_balloon_where_it_was_seen(shared_data: Find, name: str) -> None:
    # Position and wind come from the same receiver, so this checks our signs, units and order, to a few percent.
    sounding = soundings(shared_data(f"sondes/{name}"))[0]
    assert sounding.time_s is not None
    assert sounding.level_latitude_deg is not None
    assert sounding.level_longitude_deg is not None
    meridional, vertical = radii_of_curvature_m(sounding.latitude_deg)
    north_m = np.radians(sounding.level_latitude_deg[-1] - sounding.latitude_deg) * meridional
    parallel = vertical * np.cos(np.radians(sounding.level_latitude_deg.mean()))
    east_m = np.radians(sounding.level_longitude_deg[-1] - sounding.longitude_deg) * parallel
    flown = np.array([np.trapezoid(wind, sounding.time_s) for wind in (sounding.wind_u_m_s, sounding.wind_v_m_s)])
    assert np.hypot(*flown) > 3_000.0
    assert np.hypot(*(flown - (east_m, north_m))) < 0.03 * np.hypot(*flown) + 200.0


def test_archive_text_against_its_column_table(shared_data: Find) -> None:
    # Columns of the level records as NOAA NCEI prints them, 1-based and inclusive (from memory): PRESS 10-15,
    # GPH 17-21, TEMP 23-27, WDIR 41-45, WSPD 47-51.
    path = shared_data("sondes/igra2_USM00070026_201006_excerpt.txt")
    text = path.read_text("ascii").split("\n#")[0].splitlines()[1:]
    rows = [[int(row[a - 1 : b]) for a, b in ((10, 15), (17, 21), (23, 27), (41, 45), (47, 51))] for row in text]
    whole = [row for row in rows if min(row) > -8888]
    assert len(whole) > 40
    sounding = soundings(path)[0]
    for pressure_pa, geopotential_m, tenths_c, wind_from_deg, tenths_m_s in whole:
        at = int(np.argmin(np.abs(sounding.pressure_pa - pressure_pa)))
        assert sounding.pressure_pa[at] == pressure_pa
        height_m = geopotential_height_m(sounding.height_msl_m[at], sounding.latitude_deg)
        assert height_m == pytest.approx(geopotential_m, abs=1e-6)
        assert sounding.temperature_k[at] == pytest.approx(tenths_c / 10 + 273.15)
        wind = complex(sounding.wind_v_m_s[at], sounding.wind_u_m_s[at])
        assert abs(wind) == pytest.approx(tenths_m_s / 10)
        assert (np.degrees(np.angle(-wind)) - wind_from_deg + 180) % 360 == pytest.approx(180, abs=1e-6)


def test_worked_out_pressures_fit_the_reported_ones(shared_data: Find) -> None:
    # More than half of the levels hold winds by height only. The two sorts must lie on one curve: a straight line of
    # ln(pressure) between reported neighbours misses by the curvature alone.
    sounding = soundings(shared_data("sondes/igra2_USM00070026_201006_excerpt.txt"))[0]
    assert any("100 levels without pressure" in note for note in sounding.notes)
    scale_height_m = -np.diff(sounding.height_msl_m) / np.diff(np.log(sounding.pressure_pa))
    temperature_k = (sounding.temperature_k[1:] + sounding.temperature_k[:-1]) / 2
    thick = np.diff(sounding.height_msl_m) > 100
    # R/g of dry air is 29.27 m/K; water vapour and whole metres move single layers by a percent or two
    assert scale_height_m[thick] / temperature_k[thick] == pytest.approx(np.full(thick.sum(), 29.3), rel=0.03)


def test_bare_header_is_said_and_not_fatal(shared_data: Find) -> None:
    for sounding in soundings(shared_data("sondes/igra2_USM00070026_201006_excerpt.txt")):
        assert any("2010 06 02 00" in note and "no levels below it" in note for note in sounding.notes)


def test_level_table_of_an_archive(shared_data: Find) -> None:
    (sounding,) = soundings(shared_data("sondes/boise_72681_20101209T12_levels.csv"))
    assert (sounding.latitude_deg, sounding.longitude_deg) == (43.56, -116.21)
    assert sounding.time_s is None  # the file repeats one time on all lines
    # second line of the file: 909.0 hPa, 962 gpm, 1.2 degC, 176 -> "218, 2.1"
    at = int(np.argmin(np.abs(sounding.pressure_pa - 90_900.0)))
    assert sounding.temperature_k[at] == pytest.approx(274.35)
    assert -2.1 * np.sin(np.radians(218)) == pytest.approx(sounding.wind_u_m_s[at])
    assert -2.1 * np.cos(np.radians(218)) == pytest.approx(sounding.wind_v_m_s[at])
    assert geopotential_height_m(sounding.height_msl_m[at], 43.56) == pytest.approx(962.0)


@pytest.mark.parametrize(("name", "place"), sorted({entry[:2] for entry in ASCENTS}))
def test_field_keeps_transport_and_pressure(shared_data: Find, name: str, place: int) -> None:
    sounding = soundings(shared_data(f"sondes/{name}"))[place]
    field = to_wind_field(sounding, radius_m=200e3, hold_before_s=3600, hold_after_s=6 * 3600)
    height, pressure = field.height_msl_m.ravel(), field.pressure_pa.ravel()
    column = Profile("column", height, pressure, field.temperature_k.ravel())  # refuses a column out of order
    assert field.levels <= 450
    assert (field.coverage.bottom_msl_m, field.coverage.top_msl_m) == (height[0], height[-1])
    assert height[[0, -1]] == pytest.approx(sounding.height_msl_m[[0, -1]])
    # drift of a balloon at constant ascent rate is the integral of the wind over height
    for layer_wind, level_wind in ((field.wind_u_m_s, sounding.wind_u_m_s), (field.wind_v_m_s, sounding.wind_v_m_s)):
        before = np.trapezoid(level_wind, sounding.height_msl_m)
        after = np.trapezoid(layer_wind.ravel(), height)
        assert after == pytest.approx(before, abs=0.02 * np.ptp(height))  # 2 cm/s in the mean wind
    # the step in which a pressure is reported bounds how well it can be kept
    step_pa = np.diff(np.unique(sounding.pressure_pa)).min()
    worst = np.abs(column.pressure_pa_at(sounding.height_msl_m) / sounding.pressure_pa - 1.0)
    assert (worst < 0.003 + step_pa / sounding.pressure_pa).all()
