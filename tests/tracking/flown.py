"""Recorded flights as the fixes that a tracker would have sent, and made-up flights of known truth."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.tracking import Fix, Heard, received

Array = NDArray[np.float64]
BARBADOS = ("sondes/bco_20190210T1909_ascent_309057.bufr", "sondes/bco_20190210T2043_descent_309056.bufr")


@dataclass(frozen=True, eq=False)
class Flown:
    """A flight second by second; winds where they were recorded."""

    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array
    wind_u_m_s: Array
    wind_v_m_s: Array
    going_down: NDArray[np.bool_]


def recorded(shared_data: Callable[[str], Path], *names: str) -> Flown:
    """All legs of the files, in order of time."""
    return _recorded(tuple(shared_data(name) for name in names))


@cache
def _recorded(paths: tuple[Path, ...]) -> Flown:
    from pappus.sources import read_sounding

    soundings = [sounding for path in paths for sounding in read_sounding(path)]
    columns: list[list[Array]] = [[] for _ in range(7)]
    for sounding in soundings:
        assert sounding.time_s is not None
        assert sounding.level_latitude_deg is not None
        assert sounding.level_longitude_deg is not None
        known = np.isfinite(sounding.time_s) & np.isfinite(sounding.level_latitude_deg)
        values = (
            sounding.release.timestamp() + sounding.time_s,
            sounding.level_latitude_deg,
            sounding.level_longitude_deg,
            sounding.height_msl_m,
            sounding.wind_u_m_s,
            sounding.wind_v_m_s,
            np.full(sounding.levels, float(sounding.is_descent)),
        )
        for column, value in zip(columns, values, strict=True):
            column.append(value[known])
    arrays = [np.concatenate(column) for column in columns]
    _, order = np.unique(arrays[0], return_index=True)  # a record may repeat a second
    arrays = [array[order] for array in arrays]
    return Flown(*arrays[:6], arrays[6] > 0.5)


@cache
def made(
    *,
    ground_s: float = 60.0,
    climb_m_s: float = 5.0,
    top_msl_m: float = 12_000.0,
    wind_m_s: float = 15.0,
    step_s: float = 1.0,
    latitude_deg: float = 48.0,
    longitude_deg: float = 11.0,
    ground_msl_m: float = 500.0,
    float_s: float = 0.0,
    landed_s: float = 120.0,
    east_only: bool = False,
) -> Flown:
    """An invented flight: ground, climb, float if asked for, a fall that slows with the air, and the field."""
    start = datetime(2026, 5, 1, 9, tzinfo=UTC).timestamp()
    rows = []
    t, h, east, north = 0.0, ground_msl_m, 0.0, 0.0
    phase, until = "ground", ground_s
    while True:
        going_down = phase == "fall"
        u = 0.0 if phase in ("ground", "field") else wind_m_s
        v = 0.0 if east_only else 0.4 * u
        if abs(t / step_s - round(t / step_s)) < 1e-9:
            lat = latitude_deg + math.degrees(north / 6.37e6)
            lon = longitude_deg + math.degrees(east / (6.39e6 * math.cos(math.radians(latitude_deg))))
            rows.append((start + t, lat, lon, h, u, v, float(going_down)))
        t += 0.5
        east, north = east + 0.5 * u, north + 0.5 * v
        if phase == "ground" and t > until:
            phase = "climb"
        elif phase == "climb":
            h += 0.5 * climb_m_s
            if h >= top_msl_m:
                phase, until = ("float", t + float_s) if float_s else ("fall", t)
        elif phase == "float" and t > until:
            phase, until = "fall", t
        elif phase == "fall":
            settled = 6.0 * math.exp((h - ground_msl_m) / 15_000.0)
            h -= 0.5 * min(settled, 9.8 * (t - until))
            if h <= ground_msl_m:
                h, phase, until = ground_msl_m, "field", t + landed_s
        elif phase == "field" and t > until:
            break
    arrays = np.array(rows).T
    return Flown(*arrays[:6], arrays[6] > 0.5)


def fix_at(flown: Flown, index: int, tracker: str = "BALLOON-1", checked: bool = True, **changed: object) -> Fix:
    """The fix of one second."""
    values: dict[str, Any] = {
        "tracker": tracker,
        "time_utc": datetime.fromtimestamp(float(flown.time_s[index]), tz=UTC),
        "time_quality": "full",
        "latitude_deg": float(flown.latitude_deg[index]),
        "longitude_deg": float(flown.longitude_deg[index]),
        "height_msl_m": float(flown.height_msl_m[index]),
        "height_ellipsoid_m": None,
        "fix_quality": "three-dimensional",
        "checked": checked,
    }
    return Fix(**(values | changed))


def packets(
    flown: Flown, fixes: Sequence[Fix] | None = None, receiver: str = "hill", delay_s: float = 0.4, first: int = 0
) -> list[tuple[Heard, tuple[Fix, ...]]]:
    """Each fix in a packet of its own, heard shortly after it was measured."""
    fixes = [fix_at(flown, index) for index in range(len(flown.time_s))] if fixes is None else fixes
    result = []
    for count, fix in enumerate(fixes):
        assert fix.time_utc is not None
        raw = f"{fix.tracker} {count}".encode()
        when = fix.time_utc + timedelta(seconds=delay_s)
        result.append((received(receiver, first + count, when, "json", raw), (fix,)))
    return result


def noisy(flown: Flown, seed: int, sd_m: float = 4.0, height_sd_m: float = 7.0) -> Flown:
    """With white noise on every position."""
    rng = np.random.default_rng(seed)
    n = len(flown.time_s)
    lat = flown.latitude_deg + np.degrees(rng.normal(0, sd_m, n) / 6.37e6)
    lon = flown.longitude_deg + np.degrees(rng.normal(0, sd_m, n) / 6.37e6) / np.cos(np.radians(flown.latitude_deg))
    return Flown(
        flown.time_s, lat, lon, flown.height_msl_m + rng.normal(0, height_sd_m, n), flown.wind_u_m_s, flown.wind_v_m_s,
        flown.going_down,
    )  # fmt: skip
