"""How far the landing moves from one run of a forecast to the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse
from pappus.errors import BadInput, Finding
from pappus.flight_train import fall_rate_m_s
from pappus.trajectory import drift
from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2
from pappus.wind import WindField

Array = NDArray[np.float64]

TOP_MSL_M = 30_000.0
RISE_M_S = 5.0
MASS_KG = 1.0
DRAG_AREA_M2 = 0.64
"""Lands at 5 m/s."""
STEP_M = 250.0
LAUNCH_EVERY_S = 21_600.0
LEAD_EDGES_S = tuple(3600.0 * hour for hour in (0.0, 24.0, 48.0, 72.0, 120.0, 180.0, 1000.0))
"""Lead times of the older run, taken together between these."""


@dataclass(frozen=True)
class RunShift:
    """Shift of the landing between consecutive runs for the same launches."""

    lead_s: tuple[float, float]
    """Shortest and longest lead time of the older run at launch."""
    launches: int
    run_pairs: int
    mean_m: float
    by_pair_m: tuple[float, ...]
    """Mean of each pair of runs, the oldest pair first; their range shows how little a few pairs say."""
    greatest_m: float


@dataclass(frozen=True, eq=False)
class _Column:
    """Air of one run over a point, on fixed heights."""

    height_msl_m: Array
    time_s: Array
    """After the issue of the first run."""
    wind_u_m_s: Array
    wind_v_m_s: Array
    density_kg_m3: Array
    """Shape (time, height), as the winds."""


def run_shifts(fields: Sequence[WindField]) -> tuple[RunShift, ...]:
    """Shift by lead time of the older run, for runs over one point that follow one another.

    The flight: up at 5 m/s to 30 km, down at ``fall_rate_m_s`` (5 m/s near the ground), through the winds of the
    column at the time each height is passed; both runs fly a launch every 6 h from 6 h after the newer one. It is
    dead reckoning (``pappus.trajectory.drift``), not the flight kernel: no burst, no balloon.

    Raises BadInput for fewer than two runs, for a field that is no column of one member, or columns apart in place.
    """
    ordered = sorted(fields, key=lambda field: field.issued)
    _require_columns(ordered)
    bottom = max(float(field.height_msl_m[0, :, 0].max()) for field in ordered)
    heights = np.append(np.arange(bottom, TOP_MSL_M, STEP_M), TOP_MSL_M)
    columns = [_column(field, heights, ordered[0]) for field in ordered]
    found: list[tuple[float, int, float]] = []
    for pair, (older, newer) in enumerate(pairwise(ordered)):
        first = (newer.issued - ordered[0].issued).total_seconds() + LAUNCH_EVERY_S
        last = min(columns[pair].time_s[-1], columns[pair + 1].time_s[-1]) - _longest_flight_s(columns[pair : pair + 2])
        place = float(older.latitude_deg[0]), float(older.longitude_deg[0])
        for launch in np.arange(first, last, LAUNCH_EVERY_S):
            ends = [_landing_deg(column, float(launch), place) for column in columns[pair : pair + 2]]
            lead = launch - (older.issued - ordered[0].issued).total_seconds()
            found.append((float(lead), pair, geodesic_inverse(*ends[0], *ends[1])[0]))
    return tuple(
        _shift(inside)
        for low, high in pairwise(LEAD_EDGES_S)
        if (inside := [row for row in found if low < row[0] <= high])
    )


def _require_columns(fields: Sequence[WindField]) -> None:
    if len(fields) < 2:
        fault = Finding("forecast runs", str(len(fields)), "two or more are needed", "Name several runs of one model.")
        raise BadInput(fault)
    place = fields[0].latitude_deg[0], fields[0].longitude_deg[0]
    for earlier, field in zip((None, *fields), fields, strict=False):
        shape = (field.members, field.latitude_deg.size, field.longitude_deg.size)
        if shape != (1, 1, 1) or (field.latitude_deg[0], field.longitude_deg[0]) != place:
            reason = "this is no column of one member over the same point as the others"
            raise BadInput(Finding("forecast run", field.name, reason, "Name runs for one station."))
        if earlier is not None and field.issued - earlier.issued <= timedelta(0):
            raise BadInput(Finding("forecast run", field.name, "this run is named twice", "Name each run once."))
        if float(field.height_msl_m[0, :, -1].min()) < TOP_MSL_M:
            reason = f"its winds end below {TOP_MSL_M / 1000.0:g} km"
            raise BadInput(Finding("forecast run", field.name, reason, "Name runs that reach higher."))


def _column(field: WindField, heights: Array, first: WindField) -> _Column:
    times = range(field.time_s.size)
    level, pressure, temperature, u, v = (
        cube[0, :, :, 0, 0]
        for cube in (
            field.height_msl_m, field.pressure_pa, field.temperature_k, field.wind_u_m_s, field.wind_v_m_s,
        )
    )  # fmt: skip
    at = [
        np.stack([np.interp(heights, level[t], cube[t]) for t in times])
        for cube in (u, v, np.log(pressure), temperature)
    ]
    shift_s = (field.epoch - first.issued).total_seconds()
    density = np.exp(at[2]) / (dry_air_gas_constant_j_kg_k * at[3])
    return _Column(heights, field.time_s + shift_s, at[0], at[1], density)


def _fall_s(column: _Column, density: Array) -> Array:
    """Seconds from the top down to each height, shape (..., heights)."""
    slowness = 1.0 / fall_rate_m_s(MASS_KG, DRAG_AREA_M2, density, standard_gravity_m_s2)
    steps = 0.5 * (slowness[..., 1:] + slowness[..., :-1]) * np.diff(column.height_msl_m)
    passed = np.cumsum(steps[..., ::-1], axis=-1)[..., ::-1]
    return np.concatenate([passed, np.zeros((*passed.shape[:-1], 1))], axis=-1)


def _longest_flight_s(columns: Sequence[_Column]) -> float:
    longest_fall = max(float(_fall_s(column, column.density_kg_m3)[:, 0].max()) for column in columns)
    return float(np.ptp(columns[0].height_msl_m)) / RISE_M_S + longest_fall


def _landing_deg(column: _Column, launch_s: float, place_deg: tuple[float, float]) -> tuple[float, float]:
    """Latitude and longitude where the flight comes down to the lowest height."""
    height = column.height_msl_m
    up = launch_s + (height - height[0]) / RISE_M_S
    density = _at(column.time_s, column.density_kg_m3, up)
    down = up[-1] + _fall_s(column, density)
    time = np.concatenate([up, down[-2::-1]])
    levels = np.concatenate([np.arange(height.size), np.arange(height.size - 1)[::-1]])
    u, v = (_at(column.time_s, cube[:, levels], time) for cube in (column.wind_u_m_s, column.wind_v_m_s))
    latitude, longitude = drift(time, height[levels], u, v, *place_deg)
    return float(latitude[-1]), float(longitude[-1])


def _at(times: Array, values: Array, wanted_s: Array) -> Array:
    """Each column of ``values`` (time, N) at its own time, linear between the times."""
    lower = np.clip(np.searchsorted(times, wanted_s, side="right") - 1, 0, times.size - 2)
    share = (wanted_s - times[lower]) / (times[lower + 1] - times[lower])
    column = np.arange(wanted_s.size)
    return np.asarray(values[lower, column] * (1.0 - share) + values[lower + 1, column] * share)


def _shift(rows: list[tuple[float, int, float]]) -> RunShift:
    leads, pairs, shifts = (np.array(column) for column in zip(*rows, strict=True))
    return RunShift(
        lead_s=(float(leads.min()), float(leads.max())),
        launches=len(rows),
        run_pairs=int(np.unique(pairs).size),
        mean_m=float(shifts.mean()),
        by_pair_m=tuple(float(shifts[pairs == pair].mean()) for pair in np.unique(pairs)),
        greatest_m=float(shifts.max()),
    )
