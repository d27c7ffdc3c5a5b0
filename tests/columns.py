"""Invented columns of air and flight trains for tests: standard air with winds given as functions of height."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from pappus.atmosphere import Profile, standard_air
from pappus.flight_train import (
    Canopy,
    CutDown,
    Envelope,
    Fill,
    FillWish,
    FlightTrain,
    Gas,
    Package,
    SiteAir,
    solve_fill,
)
from pappus.ground import FlatGround
from pappus.sources import read_prior
from pappus.trajectory import Conditions, Release, Sun
from pappus.wind import Coverage, SourceFile, WindField, extend, subdivide

PRIOR = read_prior()
EPOCH = datetime(2027, 2, 13, 12, tzinfo=UTC)
SITE = (-37.38, -64.60)
Wind = Callable[[Any], Any]


def column_field(
    u: Wind = lambda z: 0.0 * z,
    v: Wind = lambda z: 0.0 * z,
    *,
    site: tuple[float, float] = SITE,
    top_msl_m: float = 40_000.0,
    level_step_m: float = 500.0,
    radius_m: float = 1.0e6,
    hours: float = 24.0,
) -> WindField:
    """One column of standard air with the wind u(z), v(z)."""
    height = np.arange(0.0, top_msl_m + 1.0, level_step_m)
    air = standard_air(height)

    def cube(values: Any) -> Any:
        return np.broadcast_to(np.asarray(values, dtype=float), height.shape).reshape(1, 1, -1, 1, 1).copy()

    last = EPOCH + timedelta(hours=hours)
    coverage = Coverage(EPOCH, last, -90.0, 90.0, -180.0, 180.0, 0.0, top_msl_m, site, radius_m)
    source = SourceFile("invented", "0" * 64, "invented column of standard air")
    return WindField(
        "invented", "sounding", EPOCH, EPOCH, np.zeros(1), np.array([site[0]]), np.array([site[1]]),
        cube(air.pressure_pa), cube(height), cube(air.temperature_k), cube(u(height)), cube(v(height)),
        coverage, (source,),
    )  # fmt: skip


def example_train(*cut_downs: CutDown, fouled_chance: float = 0.0, early_burst_chance: float = 0.0) -> FlightTrain:
    """1.2 kg balloon, 1.05 kg train."""
    envelope = Envelope(1.2, 8.6, 0.06, 8.6 / 5.5, False, early_burst_chance, PRIOR.flight.climb)
    canopy = Canopy(0.15, 1.5, 0.8, 0.18, fouled_chance)
    return FlightTrain(envelope, Gas("helium"), canopy, (Package("box", 0.9, (0.2, 0.2, 0.2)),), (), cut_downs)


def example_fill(train: FlightTrain, wish: FillWish | None = None) -> Fill:
    """Filled for 5 m/s in standard air at sea level unless told otherwise."""
    air = SiteAir(Profile.standard(50_000.0), 0.0, 40.0)
    return solve_fill(wish or FillWish("climb", 5.0), train, air)


def conditions(
    field: WindField,
    train: FlightTrain,
    *,
    step_m: float = 250.0,
    site: tuple[float, float] = SITE,
    ground_msl_m: float = 0.0,
    longest_flight_s: float = 6 * 3600.0,
) -> Conditions:
    """Release at sea level at the epoch of the field, sun at 40 degrees."""
    field = subdivide(extend(field, bottom_msl_m=-500.0, top_msl_m=field.coverage.top_msl_m), step_m=step_m)
    sun = Sun(np.array([0.0, 1e5]), np.array([40.0, 40.0]))
    return Conditions(field, train, Release(*site, 0.0, 0.0), FlatGround(ground_msl_m, "flat"), longest_flight_s, sun)
