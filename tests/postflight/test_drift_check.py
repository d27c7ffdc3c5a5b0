"""Flights of exact make along their own winds: rounding, jumps, gaps, and winds that come late; and real ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from pappus.postflight import DriftCheck, drift_check
from pappus.postflight.drift._page import drift_sections
from pappus.sources import Sounding, read_sounding
from pappus.sources.soundings import _profile_text, wind_components
from pappus.sources.soundings._wind_steps import written_steps
from pappus.trajectory import drift
from postflight.flights_of_our_own import invented, wind_m_s
from sources.sounding_texts import air

Array = NDArray[np.float64]
Shared = Callable[[str], Path]

HEIGHTS = np.arange(100.0, 20_001.0, 5.0)
"""A level a second, at 5 m/s."""
METRES_A_DEGREE = 111_300.0
"""Of latitude at 52 degrees north, WGS84."""


def checked(sounding: Sounding) -> DriftCheck:
    result = drift_check(sounding)
    assert isinstance(result, DriftCheck), result
    return result


def flight() -> Sounding:
    """Through a jet and waves, so that no part of the track is straight."""
    u, v = wind_m_s(HEIGHTS)
    waves = invented(np.full(len(HEIGHTS) - 1, 5.0), HEIGHTS)
    return _along_its_winds(waves, u + 6.0 * np.cos(HEIGHTS / 170.0), v + 6.0 * np.sin(HEIGHTS / 120.0))


def moved(sounding: Sounding, north_m: Array) -> Sounding:
    assert sounding.level_latitude_deg is not None
    return replace(sounding, level_latitude_deg=sounding.level_latitude_deg + north_m / METRES_A_DEGREE)


def test_an_exact_flight_ends_where_it_was() -> None:
    row = checked(flight())
    assert row.drift_m > 50_000.0
    assert row.largest_error_m < 0.01
    assert (row.cause, row.breaks, row.rounding_m, row.rounding_most_m) == ("none", (), 0.0, 0.0)


def test_a_flight_across_the_date_line() -> None:
    west = flight()
    assert west.level_longitude_deg is not None
    shifted = (west.level_longitude_deg + 172.8 + 180.0) % 360.0 - 180.0
    assert np.ptp(shifted) > 300.0
    row = checked(replace(west, level_longitude_deg=shifted))
    assert row.largest_error_m < 0.01


def test_rounding_gives_no_more_than_its_bound_and_seldom_more_than_its_size() -> None:
    """Winds of whole degrees and tenths of m/s; the flights differ by a turn and a stretch of their winds."""
    rng = np.random.default_rng(1)
    exact, shares, sizes = flight(), [], []
    from_deg = np.degrees(np.arctan2(-exact.wind_u_m_s, -exact.wind_v_m_s))
    for _ in range(40):
        speed = np.hypot(exact.wind_u_m_s, exact.wind_v_m_s) * rng.uniform(0.5, 1.5)
        veer = from_deg + rng.uniform(0.0, 360.0) + 40.0 * np.sin(HEIGHTS / rng.uniform(300.0, 3_000.0))
        along = _along_its_winds(replace(exact), *wind_components(veer % 360.0, speed))
        u, v = wind_components(np.round(veer % 360.0), np.round(speed, 1))
        steps = written_steps(u, v)
        assert steps == (0.1, 1.0)
        row = checked(
            replace(along, wind_u_m_s=u, wind_v_m_s=v, wind_speed_step_m_s=steps[0], wind_direction_step_deg=steps[1])
        )
        assert row.end_error_m <= row.rounding_most_m
        shares.append(row.end_error_m <= row.rounding_m)
        sizes.append(row.end_error_m / row.rounding_m)
    # two standard deviations hold at least nine of ten, and are not ten times too wide
    assert np.mean(shares) >= 0.9
    assert np.mean(sizes) > 0.1


def _along_its_winds(sounding: Sounding, u: Array, v: Array) -> Sounding:
    assert sounding.time_s is not None
    latitude, longitude = drift(sounding.time_s, sounding.height_msl_m, u, v, 52.0, 7.0)
    return replace(sounding, wind_u_m_s=u, wind_v_m_s=v, level_latitude_deg=latitude, level_longitude_deg=longitude)


def test_a_jump_that_stays_is_found_and_the_parts_agree() -> None:
    row = checked(moved(flight(), np.where(HEIGHTS > 9_000.0, 2_000.0, 0.0)))
    (jump,) = row.breaks
    assert jump.kind == "jump"
    assert jump.at_msl_m == pytest.approx(9_000.0, abs=5.0)
    assert jump.seconds == pytest.approx(121.0, abs=2.0)  # a minute before and after it the receiver is not trusted
    assert jump.apart_m == pytest.approx(2_000.0, rel=0.01)
    assert row.end_error_m == pytest.approx(2_000.0, rel=0.01)
    assert row.joined_end_error_m < 0.1
    assert row.cause == "track"


def test_a_jump_drawn_out_over_seconds_and_back_is_one_break() -> None:
    """As receivers write it whose program draws lines between fixes: 30 s out, 30 s back."""
    away = 3_000.0 * np.interp(HEIGHTS, [8_000.0, 8_150.0, 8_300.0], [0.0, 1.0, 0.0])
    row = checked(moved(flight(), away))
    (jump,) = row.breaks
    assert jump.apart_m == pytest.approx(3_000.0, rel=0.01)
    assert row.largest_error_m == pytest.approx(3_000.0, rel=0.01)
    assert row.joined_largest_error_m < 0.1
    assert row.cause == "none"


def test_a_false_first_fix_is_a_jump_at_the_start() -> None:
    row = checked(moved(flight(), 1_700.0 * np.interp(HEIGHTS, [100.0, 175.0], [1.0, 0.0])))
    assert [(one.kind, one.at_msl_m) for one in row.breaks] == [("jump", 100.0)]
    assert row.end_error_m == pytest.approx(1_700.0, rel=0.01)
    # the flight starts 1.7 km north of the truth, where a degree of longitude is 0.03 % shorter
    assert row.joined_end_error_m < 0.001 * row.drift_m


def test_a_swinging_load_is_no_jump() -> None:
    """A pendulum of 40 m that swings out to 60 degrees: 35 m to each side within 13 s."""
    row = checked(moved(flight(), 35.0 * np.sin(2.0 * np.pi * (HEIGHTS - 100.0) / 5.0 / 13.0)))
    assert row.breaks == ()
    assert row.largest_error_m == pytest.approx(35.0, abs=1.0)


def test_a_gap_is_joined_and_said() -> None:
    whole = flight()
    turned = np.where(np.abs(HEIGHTS - 5_000.0) < 150.0, -10.0, whole.wind_v_m_s)
    along = _along_its_winds(whole, whole.wind_u_m_s, turned)
    lost = np.abs(HEIGHTS - 5_000.0) < 200.0
    row = checked(_without(along, lost))
    (gap,) = row.breaks
    assert (gap.kind, gap.seconds) == ("gap", 80.0)
    # what nobody recorded, against the mean of the winds before and after it
    inside = np.flatnonzero(lost)
    edges = [inside[0] - 1, inside[-1] + 1]
    apart = [values[inside].sum() + values[edges].mean() - 80.0 * values[edges].mean()
             for values in (along.wind_u_m_s, along.wind_v_m_s)]  # fmt: skip
    assert gap.apart_m == pytest.approx(np.hypot(*apart), rel=0.01)
    assert gap.apart_m > 500.0
    assert row.end_error_m == pytest.approx(gap.apart_m, rel=0.01)
    assert row.joined_end_error_m < 0.001 * row.drift_m
    assert row.cause == "track"


def test_records_ten_seconds_apart_are_no_gaps() -> None:
    row = checked(_without(flight(), np.arange(len(HEIGHTS)) % 10 != 0))
    assert row.breaks == ()
    assert row.joined_end_error_m == pytest.approx(row.end_error_m)


def test_a_gap_that_was_drawn_straight_is_found() -> None:
    """Positions and winds drawn between the ends of the gap, each by itself, as some encoders do."""
    whole = flight()
    drawn = (HEIGHTS >= 8_000.0) & (HEIGHTS <= 8_600.0)
    ends = np.flatnonzero(drawn)[[0, -1]]
    names = ("wind_u_m_s", "wind_v_m_s", "level_latitude_deg", "level_longitude_deg")
    columns = {name: getattr(whole, name).copy() for name in names}
    for values in columns.values():
        values[drawn] = np.interp(HEIGHTS[drawn], HEIGHTS[ends], values[ends])
    row = checked(replace(whole, **columns))
    (filled,) = row.breaks
    assert filled.kind == "filled"
    assert filled.seconds == pytest.approx(120.0, abs=5.0)
    assert row.end_error_m > 60.0
    assert row.joined_end_error_m < 5.0


def _without(sounding: Sounding, left_out: NDArray[np.bool_]) -> Sounding:
    arrays = (
        "time_s", "pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s",
        "level_latitude_deg", "level_longitude_deg",
    )  # fmt: skip
    return replace(sounding, **{name: getattr(sounding, name)[~left_out] for name in arrays})


def test_scatter_of_single_readings_is_said() -> None:
    rng, whole = np.random.default_rng(3), flight()
    noisy = replace(whole, wind_u_m_s=whole.wind_u_m_s + rng.normal(0.0, 2.0, len(HEIGHTS)))
    row = checked(noisy)
    # independent errors of 2 m/s in one component, a second each: 2 sqrt(n) m
    assert row.scatter_m == pytest.approx(2.0 * 2.0 * np.sqrt(len(HEIGHTS)), rel=0.1)
    assert row.end_error_m < 2.0 * row.scatter_m


def test_a_steady_difference_is_said() -> None:
    whole = flight()
    row = checked(replace(whole, wind_v_m_s=whole.wind_v_m_s + 0.03))
    assert row.steady_m_s == pytest.approx(0.03, rel=0.01)
    assert row.steady_share > 0.99
    assert row.end_error_m == pytest.approx(0.03 * row.seconds, rel=0.01)
    assert row.cause == "not explained"


def test_steps_in_which_winds_are_written() -> None:
    angles, speeds = np.arange(0.0, 360.0, 10.0), np.linspace(0.0, 35.0, 36)
    assert written_steps(*wind_components(angles, speeds)) == (1.0, 10.0)
    assert written_steps(*wind_components(angles + 5.0, speeds / 10.0)) == (0.1, 5.0)
    knots, tenths = written_steps(*wind_components(angles + 0.1, speeds * 1852.0 / 3600.0))
    assert (knots, tenths) == (pytest.approx(0.514444, abs=1e-6), 0.0)
    assert written_steps(np.zeros(5), np.zeros(5)) == (0.0, 0.0)


def late_text() -> str:
    """A flight moved through space, whose winds are written as the mean of the 20 s before, seen along east and north
    of the release. The wind turns with height and drifts the flight by 80 km."""
    seconds = np.arange(0.0, 4_001.0)
    height = 200.0 + 5.0 * seconds
    u, v = 20.0 + 8.0 * np.sin(height / 900.0), 10.0 * np.cos(height / 1_300.0)
    place, there = [(-64.3, -36.6)], _in_space(-64.3, -36.6, 200.0)
    for index in range(len(seconds) - 1):
        east, north, up = _axes(*place[-1])
        there = there + 0.5 * (u[index] + u[index + 1]) * east + 0.5 * (v[index] + v[index + 1]) * north + 5.0 * up
        place.append(_place(there))
    axes = [_axes(*one) for one in place]
    motion = np.array([a * east + b * north + 5.0 * up for a, b, (east, north, up) in zip(u, v, axes, strict=True)])
    before = np.vstack([np.repeat(motion[:1], 20, axis=0), motion])
    mean = np.array([before[k : k + 21].mean(axis=0) for k in range(len(motion))])
    east, north = (mean @ axis for axis in axes[0][:2])
    rows = [
        f"{t:.0f}\t{p:.3f}\t{c:.2f}\t40\t{np.hypot(a, b):.5f}\t{np.degrees(np.arctan2(-a, -b)) % 360.0:.5f}"
        f"\t{longitude:.7f}\t{latitude:.7f}\t{z:.1f}\t1.0"
        for t, (z, p, c), a, b, (longitude, latitude) in zip(seconds, air(height), east, north, place, strict=True)
    ]
    return (
        "Launch Date:\t\tSaturday, 1 May 2027\tLaunch Time:\t\t11:30:00\n"
        "Longitude:\t\t-64.300 °\tLatitude:\t\t-36.600 °\tAltitude:\t\t200 m\nProfile Data:\t\n"
        "Time\tP\tT\tHu\tWs\tWd\tLong.\tLat.\tAlt\tD\n[sec]\t[hPa]\t[°C]\t[%]\t[m/s]\t[°]\t[°]\t[°]\t[m]\t[kg/m3]\n"
        + "\n".join(rows)
        + "\nTropopauses:\t\n"
    )


SEMI_MAJOR_M, FLATTENING = 6_378_137.0, 1.0 / 298.257223563
"""WGS84, NIMA TR8350.2."""
SQUARED = FLATTENING * (2.0 - FLATTENING)


def _in_space(longitude_deg: float, latitude_deg: float, height_m: float) -> Array:
    *_, up = _axes(longitude_deg, latitude_deg)
    normal = SEMI_MAJOR_M / np.sqrt(1.0 - SQUARED * up[2] ** 2)
    return (normal * np.array([1.0, 1.0, 1.0 - SQUARED]) + height_m) * up


def _place(there: Array) -> tuple[float, float]:
    """Longitude and latitude, by iteration of the closed form above."""
    from_axis, latitude = np.hypot(there[0], there[1]), np.arctan2(there[2], np.hypot(there[0], there[1]))
    for _ in range(6):
        normal = SEMI_MAJOR_M / np.sqrt(1.0 - SQUARED * np.sin(latitude) ** 2)
        latitude = np.arctan2(there[2] + SQUARED * normal * np.sin(latitude), from_axis)
    return float(np.degrees(np.arctan2(there[1], there[0]))), float(np.degrees(latitude))


def _axes(longitude_deg: float, latitude_deg: float) -> tuple[Array, Array, Array]:
    lon, lat = np.radians(longitude_deg), np.radians(latitude_deg)
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    up = np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    return east, np.cross(up, east), up


def test_late_winds_seen_from_the_release_are_put_right(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "late.txt"
    path.write_text(late_text(), encoding="utf-8")
    (right,) = read_sounding(path)
    row = checked(right)
    assert row.drift_m > 70_000.0
    assert row.largest_error_m < 10.0
    assert any("the motion of 10 s before" in note for note in right.notes)
    assert right.wind_u_m_s[2_000] == pytest.approx(20.0 + 8.0 * np.sin(right.height_msl_m[2_000] / 900.0), abs=0.05)
    assert right.wind_v_m_s[2_000] == pytest.approx(10.0 * np.cos(right.height_msl_m[2_000] / 1_300.0), abs=0.05)

    monkeypatch.setattr(_profile_text, "to_their_levels", lambda *_: None)
    assert checked(read_sounding(path)[0]).end_error_m > 200.0


@pytest.mark.parametrize(
    ("name", "leg", "end_m", "cause"),
    [
        # netCDF, BUFR of three makers, a text of 2020 and 2017 up and down; the lag was taken from ascents of 2017
        ("gruan_pay_20170712T00_gdpA.nc", 0, 60.0, "none"),
        ("norway_20240226T05_2ascents_309057.bufr", 0, 60.0, "none"),
        ("nairobi_63741_20190809T2333_ascent_309052.bufr", 0, 60.0, "none"),
        ("kabq_72365_20230521T2305_ascent.bufr", 0, 80.0, "not explained"),
        ("missoula2020_W3L2_20200619T174515.txt.gz", 0, 60.0, "none"),
        ("missoula2020_W2L1_20200610T170554.txt.gz", 1, 60.0, "none"),
        ("wyoming2017_C9_centre_20170822T174730.txt.gz", 1, 60.0, "none"),
        ("fortcollins_20210721_no2970.csv.gz", 1, 60.0, "none"),
    ],
)
def test_real_flights_end_near_their_last_position(
    shared_data: Shared, name: str, leg: int, end_m: float, cause: str
) -> None:
    row = checked(read_sounding(shared_data(f"sondes/{name}"))[leg])
    assert row.leg == ("descent" if leg else "ascent")
    assert row.end_error_m < end_m
    assert row.cause == cause


@pytest.mark.parametrize(
    ("name", "kinds", "at_m", "apart_m"),
    [
        ("missoula2020_W3L1_20200619T171431.txt.gz", "jump", 978.0, 1_727.0),
        ("missoula2020_W4L2_20200624T173112.txt.gz", "jump", 7_580.0, 4_192.0),
    ],
)
def test_real_jumps(shared_data: Shared, name: str, kinds: str, at_m: float, apart_m: float) -> None:
    """Places and sizes were read off the files by eye: a first fix 1.7 km off, and 37 s away towards the north."""
    row = checked(read_sounding(shared_data(f"sondes/{name}"))[0])
    first = next(one for one in row.breaks if one.kind == kinds)
    assert first.at_msl_m == pytest.approx(at_m, abs=1.0)
    assert first.apart_m == pytest.approx(apart_m, rel=0.02)
    assert row.end_error_m > 60.0
    assert row.joined_end_error_m < 60.0


def test_the_page_keeps_every_flight_and_gives_reasons() -> None:
    whole = flight()
    jumped = checked(moved(whole, np.where(HEIGHTS > 9_000.0, 2_000.0, 0.0)))
    steady = checked(replace(whole, wind_v_m_s=whole.wind_v_m_s + 0.03))
    table, reasons = drift_sections((checked(whole), jumped, steady))
    assert [float(row[4]) for row in table.rows] == pytest.approx([0.0, 2_000.0, 119.4], rel=0.01)
    counts, *lines = reasons.lines
    assert "Within 60 m at the end: 1, and all the way: 1" in counts
    assert "first minute of the track: 1" in counts
    assert "Not explained: 1" in counts
    assert len(lines) == 2
    assert "position jumps 2.0 km at 9.0 km" in lines[0]
    assert "grows evenly, by 0.030 m/s; not explained" in lines[1]
