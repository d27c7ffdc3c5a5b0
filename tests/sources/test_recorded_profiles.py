"""Recorded flights of every form in the open data folder, read a second way with csv, json and xarray.

Launch times are those in the names of the files; tops, lengths of descents and places are those of the README beside
them, which were taken from the files with other tools.
"""

from __future__ import annotations

import csv
import gzip
import re
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pappus.earth import geocentric_m, geopotential_height_m
from pappus.sources import Sounding, read_sounding
from pappus.sources.soundings._height_kind import as_geopotential
from pappus.sources.soundings._layer_temperature import layer_temperatures_k

Find = Callable[[str], Path]

PROFILES = [
    "missoula2020_W2L1_20200610T170554",
    "missoula2020_W3L1_20200619T171431",
    "missoula2020_W3L2_20200619T174515",
    "missoula2020_W4L1_20200624T173236",
    "missoula2020_W4L2_20200624T173112",
    "missoula2020_W5L1_20200701T173233",
    "missoula2020_W5L2_20200701T173044",
    "missoula2020_W9L1_20200729T150146",
    "wyoming2017_C1_centre_20170820T174508",
    "wyoming2017_C2_centre_20170820T234908",
    "wyoming2017_C3_centre_20170821T054604",
    "wyoming2017_C4_centre_20170821T114604",
    "wyoming2017_C5_centre_20170821T161904",
    "wyoming2017_C6_centre_20170821T170605",
    "wyoming2017_C9_centre_20170822T174730",
    "wyoming2017_N1_north_20170820T174749",
    "wyoming2017_N2_north_20170821T161857",
    "wyoming2017_N3_north_20170821T170601",
    "wyoming2017_S1_south_20170820T174551",
    "wyoming2017_S2_south_20170821T161812",
    "wyoming2017_S3_south_20170821T170544",
]
# file -> seconds from the highest to the last record, height of the last record
DESCENTS = {
    "missoula2020_W2L1_20200610T170554": (635, 14_744),
    "missoula2020_W9L1_20200729T150146": (113, 29_330),
    "wyoming2017_C1_centre_20170820T174508": (182, 23_621),
    "wyoming2017_C2_centre_20170820T234908": (167, 22_312),
    "wyoming2017_C3_centre_20170821T054604": (154, 24_883),
    "wyoming2017_C9_centre_20170822T174730": (1000, 4_236),
    "wyoming2017_N1_north_20170820T174749": (294, 19_110),
    "wyoming2017_S1_south_20170820T174551": (470, 17_773),
}
DARWIN = [
    "20060119.050300", "20060119.112000", "20060119.163300", "20060119.231600", "20060120.043800", "20060120.111900",
    "20060120.170800", "20060120.231500", "20060121.051500", "20060121.111600", "20060121.171600", "20060121.231600",
    "20060122.052600", "20060122.111500", "20060122.171800", "20060122.232600",
]  # fmt: skip


@cache
def soundings(path: Path) -> list[Sounding]:
    return read_sounding(path)


def lines_of(path: Path) -> list[str]:
    return gzip.decompress(path.read_bytes()).decode("latin-1").splitlines()


@cache
def profile(path: Path) -> tuple[dict[str, np.ndarray], dict[str, str]]:
    """Columns by name, corrupt numbers as they stand, and the cells that follow names in the head."""
    lines = list(csv.reader(lines_of(path), delimiter="\t"))
    at = next(number for number, line in enumerate(lines) if line and line[0].startswith("Profile Data"))
    cells = [cell.strip() for line in lines[:at] for cell in line if cell.strip()]
    head = {name[:-1]: after for name, after in pairwise(cells) if name.endswith(":")}
    rows = [line for line in lines[at + 3 :] if line and re.fullmatch(r"\d+ *", line[0])]
    names = [name.strip() for name in lines[at + 1]]
    return {name: np.array([_float(row[k]) for row in rows]) for k, name in enumerate(names)}, head


def _float(cell: str) -> float:
    return np.nan if cell.strip() == "-" else float(cell)


def east_north_up(latitude_deg: float, longitude_deg: float) -> np.ndarray:
    """Unit vectors as rows, by the way a place moves in space when it moves a little east, north or up."""
    here, step = (latitude_deg, longitude_deg, 0.0), np.diag([1e-4, 1e-4, 10.0])[[1, 0, 2]]
    moved = [geocentric_m(*(here + one)) - geocentric_m(*(here - one)) for one in step]
    return np.array([one / np.linalg.norm(one) for one in moved])


def seen_from_the_release(ascent: Sounding, level: int) -> np.ndarray:
    """The motion at a level along east and north of the release."""
    assert ascent.level_latitude_deg is not None
    assert ascent.level_longitude_deg is not None
    assert ascent.time_s is not None
    near = slice(level - 5, level + 6)
    climb = np.ptp(ascent.height_msl_m[near]) / np.ptp(ascent.time_s[near])
    here = east_north_up(float(ascent.level_latitude_deg[level]), float(ascent.level_longitude_deg[level]))
    motion = np.array([ascent.wind_u_m_s[level], ascent.wind_v_m_s[level], climb]) @ here
    return east_north_up(ascent.latitude_deg, ascent.longitude_deg)[:2] @ motion


@pytest.mark.parametrize("name", PROFILES)
def test_profile_text_ascent(shared_data: Find, name: str) -> None:
    path = shared_data(f"sondes/{name}.txt.gz")
    column, head = profile(path)
    ascent = soundings(path)[0]
    sane = np.where(column["Alt"] < 60_000.0, column["Alt"], -1.0)
    top = int(np.argmax(sane))
    assert not ascent.is_descent
    assert ascent.positions_measured
    assert ascent.release == datetime.strptime(name[-15:], "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
    assert ascent.height_msl_m[[0, -1]] == pytest.approx([column["Alt"][0], sane[top]], abs=0.01)
    assert ascent.time_s is not None
    assert ascent.time_s[-1] == column["Time"][top]
    # the program that wrote the text states the length of the ascent itself; the clock in it shows 12 for 0 hours
    hours, minutes, seconds = (int(part) for part in re.findall(r"\d+", head["End of Ascent"])[:3])
    stated_s = (hours % 12) * 3600 + minutes * 60 + seconds
    assert ascent.time_s[-1] == pytest.approx(stated_s, abs=120)
    assert ascent.levels > 0.9 * (sane[: top + 1] > 0).sum()
    for height_m in (sane[0] + 2000.0, 0.5 * sane[top], sane[top] - 1000.0):
        level = int(np.argmin(np.abs(ascent.height_msl_m - height_m)))
        record = int(np.flatnonzero(column["Time"] == ascent.time_s[level])[0])
        later = int(np.flatnonzero(column["Time"] == column["Time"][record] + 10.0)[0])
        from_rad = np.radians(column["Wd"][later])
        written = -column["Ws"][later] * np.array([np.sin(from_rad), np.cos(from_rad)])
        assert seen_from_the_release(ascent, level) == pytest.approx(written, abs=0.03)
        assert ascent.pressure_pa[level] == pytest.approx(100.0 * column["P"][record], rel=1e-9)
        assert ascent.temperature_k[level] == pytest.approx(273.15 + column["T"][record], abs=1e-6)


@pytest.mark.parametrize("name", PROFILES)
def test_profile_text_descent(shared_data: Find, name: str) -> None:
    path = shared_data(f"sondes/{name}.txt.gz")
    column, _ = profile(path)
    legs = soundings(path)
    if name not in DESCENTS:
        assert [leg.is_descent for leg in legs] == [False]
        return
    seconds, bottom_m = DESCENTS[name]
    _, descent = legs
    top = int(np.argmax(column["Alt"]))
    assert descent.is_descent
    assert (descent.release - legs[0].release).total_seconds() == column["Time"][top]
    assert (descent.latitude_deg, descent.longitude_deg) == (column["Lat."][top], column["Long."][top])
    assert descent.time_s is not None
    assert descent.time_s[0] == seconds
    assert descent.height_msl_m[0] == pytest.approx(bottom_m, abs=0.5)
    # the smoothed seconds are out, are said, and not more than they are out
    step_s = float(np.diff(column["Time"])[0])
    assert 40.0 <= descent.time_s[-1] < 40.0 + 2 * step_s
    assert any("smoothed" in note for note in descent.notes)
    assert descent.levels > 0.98 * (seconds - 40.0) / step_s
    assert (np.diff(descent.time_s) < 0.0).all()


def test_heights_after_the_top_are_smoothed_as_long_as_we_say(shared_data: Find) -> None:
    """The sink that is constant to a metre a second from the top on ends before the part that is kept."""
    ends = []
    for name in DESCENTS:
        column, _ = profile(shared_data(f"sondes/{name}.txt.gz"))
        top = int(np.argmax(column["Alt"]))
        sink = -np.diff(column["Alt"][top:]) / np.diff(column["Time"][top:])
        seconds = column["Time"][top + 1 :] - column["Time"][top]
        first = np.median(sink[(seconds > 2.0) & (seconds < 20.0)])
        ends.append(float(seconds[np.flatnonzero((np.abs(sink - first) > 2.0) & (seconds > 20.0))[0]]))
    print("constant sink ends after", ends, "s")
    # in two files the sink before and after is alike, so that the end does not show
    assert sum(26.0 <= end <= 40.0 for end in ends) == 6


def test_corrupt_records_are_counted(shared_data: Find) -> None:
    """README: heights of 1001282 m and others; 450 records of 5431 hold them."""
    path = shared_data("sondes/missoula2020_W4L1_20200624T173236.txt.gz")
    column, _ = profile(path)
    impossible = int((column["Alt"] > 60_000.0).sum())
    (ascent,) = soundings(path)
    assert any(note.startswith(f"{impossible} levels with an impossible height") for note in ascent.notes)
    assert ascent.height_msl_m[-1] == pytest.approx(28_966.0, abs=0.01)
    assert np.hypot(ascent.wind_u_m_s, ascent.wind_v_m_s).max() < 60.0


def test_poor_first_fix_is_not_the_launch_site(shared_data: Find) -> None:
    """The first record stands 1.7 km from the place in the head, where the other flights of that site start."""
    (flight,) = soundings(shared_data("sondes/missoula2020_W3L1_20200619T171431.txt.gz"))
    assert (flight.latitude_deg, flight.longitude_deg) == (46.860, -113.985)
    assert any("first recorded position is 1747 m" in note for note in flight.notes)


@pytest.mark.parametrize("name", [f"twpsondewnpnC3.b1.{at}.custom.cdf" for at in DARWIN] + ["bnfsonde"])
def test_summed_positions(shared_data: Find, name: str) -> None:
    import xarray

    name = "bnfsondewnpnM1.b1.20250619.053000.cdf" if name == "bnfsonde" else name
    path = shared_data(f"sondes/{name}")
    with xarray.open_dataset(path, decode_times=False) as data:
        column = {key: np.where(data[key] > -9000.0, data[key], np.nan) for key in ("alt", "u_wind", "v_wind", "pres")}
        place = float(data["lat"][0]), float(data["lon"][0])
    (ascent,) = soundings(path)
    assert not ascent.positions_measured
    assert not ascent.is_descent
    stamp = re.search(r"(\d{8})\.(\d{6})", name)
    assert stamp is not None
    assert ascent.release == datetime.strptime(stamp[1] + stamp[2], "%Y%m%d%H%M%S").replace(tzinfo=UTC)
    assert (ascent.latitude_deg, ascent.longitude_deg) == pytest.approx(place, abs=1e-6)
    windy = np.isfinite(column["u_wind"]) & np.isfinite(column["v_wind"])
    assert ascent.levels == windy.sum()
    assert ascent.pressure_pa == pytest.approx(100.0 * column["pres"][windy], rel=1e-6)
    assert ascent.wind_u_m_s == pytest.approx(column["u_wind"][windy], abs=1e-5)
    assert ascent.wind_v_m_s == pytest.approx(column["v_wind"][windy], abs=1e-5)


def test_temperatures_that_were_lost_come_from_pressure_and_height(shared_data: Find) -> None:
    """Three of the tropical flights hold one temperature; the flight six hours later measured the same air."""
    lost = soundings(shared_data("sondes/twpsondewnpnC3.b1.20060119.163300.custom.cdf"))[0]
    measured = soundings(shared_data("sondes/twpsondewnpnC3.b1.20060119.231600.custom.cdf"))[0]
    assert any(note.startswith("1572 levels without temperature: worked out") for note in lost.notes)
    heights = np.arange(1_000.0, 16_500.0, 500.0)
    difference = np.interp(heights, lost.height_msl_m, lost.temperature_k) - np.interp(
        heights, measured.height_msl_m, measured.temperature_k
    )
    print(f"worked out minus measured six hours later: {difference.min():.1f} to {difference.max():.1f} K")
    # six hours and a cold point thinner than the layers part them in places
    assert abs(difference.mean()) < 1.5
    assert np.abs(difference).max() < 7.0


def test_layers_give_the_temperature_that_was_measured(shared_data: Find) -> None:
    """Reference ascent of GRUAN, Payerne: pressure, height and temperature with stated uncertainties."""
    (flight,) = soundings(shared_data("sondes/gruan_pay_20170712T00_gdpA.nc"))
    height = geopotential_height_m(flight.height_msl_m, flight.latitude_deg)
    middle_m, mean_k = layer_temperatures_k(height, flight.pressure_pa)
    dry = middle_m > 5_000.0  # below, water vapour makes the virtual temperature higher
    measured = np.array([flight.temperature_k[np.abs(height - at) < 500.0].mean() for at in middle_m])
    print(f"layers minus measured: {(mean_k - measured)[dry].min():.2f} to {(mean_k - measured)[dry].max():.2f} K")
    assert dry.sum() > 20
    assert np.abs(mean_k - measured)[dry].max() < 0.7
    assert ((mean_k - measured)[~dry] > -0.2).all()


def kind_notes(sounding: Sounding) -> list[str]:
    return [note for note in sounding.notes if note.startswith("heights taken as")]


def test_kind_of_height_is_told_by_the_hydrostatic_balance(shared_data: Find) -> None:
    """The record without measured positions calls geopotential height altitude; Alt of the ozone flight is the same."""
    for name in ("bnfsondewnpnM1.b1.20250619.053000.cdf", "reunion_20141210T1104_ozonesonde.dat.gz"):
        (flight,) = soundings(shared_data(f"sondes/{name}"))
        (note,) = kind_notes(flight)
        assert note.startswith("heights taken as geopotential: 0.")
    (lost,) = soundings(shared_data("sondes/twpsondewnpnC3.b1.20060119.163300.custom.cdf"))
    assert kind_notes(lost) == ["heights taken as geopotential: pressure and temperature do not tell"]


@pytest.mark.parametrize("name", [name for name in PROFILES if name.startswith("missoula") or "_C1_" in name])
def test_alt_of_the_profile_texts_is_geometric(shared_data: Find, name: str) -> None:
    """README, note 7; here by pressure and temperature above 300 hPa."""
    column, _ = profile(shared_data(f"sondes/{name}.txt.gz"))
    sane = column["Alt"] < 60_000.0
    top = int(np.argmax(np.where(sane, column["Alt"], 0.0))) + 1
    notes: list[str] = []
    as_geopotential(
        column["Alt"][:top][sane[:top]],
        100.0 * column["P"][:top][sane[:top]],
        273.15 + column["T"][:top][sane[:top]],
        column["Lat."][0],
        notes,
        stands_for_geometric=False,
    )
    assert notes[0].startswith("heights taken as geometric: 0.")


def test_excursion_of_the_receiver_is_taken_out(shared_data: Find) -> None:
    """From 3524 to 3776 s the record jumps 40 km to the south and back; without it the winds explain every place."""
    (flight,) = soundings(shared_data("sondes/missoula2020_W4L1_20200624T173236.txt.gz"))
    assert any("380 records at a place it could not have reached" in note for note in flight.notes)
    assert flight.level_latitude_deg is not None
    assert np.nanmin(flight.level_latitude_deg) > 46.8
    column, _ = profile(shared_data("sondes/missoula2020_W4L1_20200624T173236.txt.gz"))
    assert column["Lat."].min() < 46.67
