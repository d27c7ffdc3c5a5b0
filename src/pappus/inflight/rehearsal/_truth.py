"""The flight of a rehearsal as it really is: drawn from the model, flown by its kernel on fine levels."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pappus.earth import radii_of_curvature_m
from pappus.errors import NoSolution
from pappus.inflight.prediction import InFlightModel
from pappus.inflight.rehearsal._faults import Fault
from pappus.inflight.warnings import PlannedFlight
from pappus.trajectory import AscentEnd, Conditions, Draws, Flights, Release, flight_knots, fly
from pappus.wind import FlightKnots, Sampler, draw_wind_error, subdivide

Array = NDArray[np.float64]

FINE_M = 150.0
"""Levels of the truth: four times finer than those of the predictions."""
SLOW = (0.40, 0.60)
"""Climb of a slow balloon, as a share of what it was filled for."""
FLOATS_AT = (0.45, 0.85)
"""Of the planned top."""
FLOATS_S = (1800.0, 4200.0)
FOULED_DRAG_AREA = (0.1, 0.4)
"""What the model of the predictions takes for a fouled canopy."""
EARLY_LOWEST_MSL_M = 8_000.0
_FLOAT_STEP_S = 30.0
_TRIES = 30


@dataclass(frozen=True, eq=False)
class Stage:
    """What all rehearsals of one plan share."""

    model: InFlightModel
    planned: PlannedFlight

    @cached_property
    def fine(self) -> Conditions:
        """The same winds on finer levels."""
        conditions = self.model.conditions
        return conditions.moved(field=subdivide(conditions.field, step_m=FINE_M))

    @cached_property
    def knots(self) -> FlightKnots:
        """Of the wind errors."""
        return flight_knots(self.model.conditions.field, self.model.nominal, self.model.prior.wind)

    @cached_property
    def fine_sampler(self) -> Sampler:
        """Reads the fine field."""
        return Sampler(self.fine.field)


@dataclass(frozen=True, eq=False)
class Truth:
    """One flight, known whole. Times count from the epoch of the winds; arrays have shape (points,)."""

    flights: Flights
    """This flight alone, with its track."""
    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array
    released_s: float
    top_s: float
    landed_s: float
    faults: frozenset[Fault]
    fouled: bool
    floats_s: tuple[float, float] | None
    """From and until when it floats."""

    def at(self, time_s: Array) -> tuple[Array, Array, Array]:
        """Latitude, longitude and height; before the release and after the touchdown it stands still."""
        return (
            np.interp(time_s, self.time_s, self.latitude_deg),
            np.interp(time_s, self.time_s, self.longitude_deg),
            np.interp(time_s, self.time_s, self.height_msl_m),
        )


def draw_truth(stage: Stage, faults: Collection[Fault], rng: np.random.Generator) -> Truth:
    """One flight that lands in the data; balloon and canopy do what they should but for the faults.

    Raises NoSolution when none of many draws lands.
    """
    for _ in range(_TRIES):
        truth = _flown(stage, frozenset(faults), rng)
        if truth is not None:
            return truth
    raise NoSolution(f"none of {_TRIES} drawn flights lands in these winds")


def _flown(stage: Stage, faults: frozenset[Fault], rng: np.random.Generator) -> Truth | None:
    model, fine = stage.model, stage.fine
    draws = _with_faults(stage, model.fresh_draws(1, rng), faults, rng)
    error = draw_wind_error(stage.knots, 1, rng, model.prior.wind)
    draws = replace(draws, wind_error_m_s=error, member=rng.integers(0, model.conditions.field.members, 1))
    draws = _finer(draws, model.conditions.field.level_height_msl_m, fine.field.level_height_msl_m)
    flown = fly(fine, draws)
    if not flown.landed[0] or flown.ascent_end[0] == AscentEnd.NONE:
        return None
    if Fault.FLOATER in faults:
        return _floating(stage, flown, draws, faults, rng)
    return _truth(flown, faults, draws, None)


def _with_faults(stage: Stage, draws: Draws, faults: frozenset[Fault], rng: np.random.Generator) -> Draws:
    train, fill = stage.model.plan.flight_train, stage.model.fill
    area = train.canopy.drag_coefficient * train.canopy.area_m2 * np.exp(
        train.canopy.drag_area_ln_sd * rng.standard_normal(1)
    )  # fmt: skip
    early = np.full(1, np.nan)
    fouled = Fault.FOULED_CANOPY in faults
    if fouled:
        area = area * rng.uniform(*FOULED_DRAG_AREA)
    if Fault.EARLY_BURST in faults:
        early = rng.uniform(EARLY_LOWEST_MSL_M, stage.planned.burst_low_msl_m - 1_000.0, 1)
    gas = draws.gas_mol
    if Fault.SLOW_CLIMB in faults:
        # the climb goes with the root of the free lift
        share = 1.0 - fill.free_lift_n / fill.gross_lift_n
        gas = fill.gas_mol * (share + (1.0 - share) * np.full(1, rng.uniform(*SLOW)) ** 2)
    return replace(
        draws,
        gas_mol=gas,
        drag_area_m2=area,
        fouled=np.array([fouled]),
        early_burst_msl_m=early,
        leak_per_s=np.zeros(1),
    )


def _finer(draws: Draws, coarse_msl_m: Array, fine_msl_m: Array) -> Draws:
    """What hangs on the levels, straight between them."""

    def along(values: NDArray[np.floating]) -> NDArray[np.float32]:
        return np.asarray(np.interp(fine_msl_m, coarse_msl_m, values), dtype=np.float32)

    assert draws.wind_error_m_s is not None
    error = np.stack(
        [np.stack([along(draws.wind_error_m_s[0, leg, :, c]) for c in range(2)], axis=-1) for leg in range(2)]
    )
    climb, fall = (None if own is None else along(own[0])[None] for own in (draws.climb_ln, draws.fall_ln))
    return replace(draws, wind_error_m_s=error[None], climb_ln=climb, fall_ln=fall)


def _track(flown: Flights) -> tuple[Array, Array, Array, Array]:
    known = np.isfinite(flown.track_time_s[0])
    return (
        flown.track_time_s[0, known], flown.track_latitude_deg[0, known], flown.track_longitude_deg[0, known],
        flown.track_height_msl_m[0, known],
    )  # fmt: skip


def _floating(
    stage: Stage, flown: Flights, draws: Draws, faults: frozenset[Fault], rng: np.random.Generator
) -> Truth | None:
    """The same flight with its climb stopped on the way, adrift there, and burst afterwards."""
    time, latitude, longitude, height = _track(flown)
    top = int(height.argmax())
    level = rng.uniform(*FLOATS_AT) * min(stage.planned.top_msl_m, height[top])
    if level <= height[0] + 1000.0:
        return None
    stop = int(np.searchsorted(height[: top + 1], level))
    up = [values[:stop] for values in (time, latitude, longitude, height)]
    start = float(np.interp(level, height[: top + 1], time[: top + 1]))
    lat, lon = (float(np.interp(start, time, values)) for values in (latitude, longitude))
    long_s = rng.uniform(*FLOATS_S)
    points = _adrift(stage, draws, start, lat, lon, level, long_s)
    end, lat, lon, _ = points[-1]
    left = stage.model.conditions.release.time_s
    if end - left > 0.8 * stage.fine.longest_flight_s:
        return None
    down = fly(
        stage.fine.moved(release=Release(lat, lon, float(level), end, left, AscentEnd.BURST)),
        replace(draws, release_delay_s=np.zeros(1)),
    )
    if not down.landed[0]:
        return None
    path = [
        np.concatenate([first, middle, last])[None]
        for first, middle, last in zip(up, np.array(points[:-1]).T, _track(down), strict=True)
    ]
    joined = replace(
        down, track_time_s=path[0], track_latitude_deg=path[1], track_longitude_deg=path[2], track_height_msl_m=path[3],
        top_time_s=np.array([end]), top_height_msl_m=np.array([level]), top_latitude_deg=np.array([lat]),
        top_longitude_deg=np.array([lon]), release_time_s=flown.release_time_s,
    )  # fmt: skip
    return _truth(joined, faults, draws, (start, end))


def _adrift(
    stage: Stage, draws: Draws, start_s: float, latitude_deg: float, longitude_deg: float, height_msl_m: float,
    for_s: float,
) -> list[tuple[float, float, float, float]]:  # fmt: skip
    """Points (time, latitude, longitude, height) at one height, by the wind there in steps of half a minute."""
    field = stage.fine.field
    level = np.array([np.interp(height_msl_m, field.level_height_msl_m, np.arange(field.levels))])
    assert draws.wind_error_m_s is not None
    error = [float(np.interp(level[0], np.arange(field.levels), draws.wind_error_m_s[0, 0, :, c])) for c in range(2)]
    points, now, lat, lon = [], start_s, latitude_deg, longitude_deg
    while True:
        points.append((now, lat, lon, height_msl_m))
        if now >= start_s + for_s:
            return points
        air = stage.fine_sampler.at(draws.member, level, np.array([lat]), np.array([lon]), np.array([now]))
        meridional, vertical = (float(v) for v in radii_of_curvature_m(lat))
        east = (float(air.wind_u_m_s[0]) + error[0]) * _FLOAT_STEP_S
        north = (float(air.wind_v_m_s[0]) + error[1]) * _FLOAT_STEP_S
        lon += float(np.degrees(east / ((vertical + height_msl_m) * np.cos(np.radians(lat)))))
        lat += float(np.degrees(north / (meridional + height_msl_m)))
        now += _FLOAT_STEP_S


def _truth(flown: Flights, faults: frozenset[Fault], draws: Draws, floats_s: tuple[float, float] | None) -> Truth:
    time, latitude, longitude, height = _track(flown)
    return Truth(
        flown, time, latitude, longitude, height, float(time[0]), float(flown.top_time_s[0]),
        float(flown.end_time_s[0]), faults, bool(draws.fouled[0]), floats_s,
    )  # fmt: skip
