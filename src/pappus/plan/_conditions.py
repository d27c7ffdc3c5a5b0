"""A plan in the winds of one source: what all flights from one site at one release share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import FlightPrior
from pappus.ground import FlatGround, Terrain, TerrainGrid
from pappus.plan._plan import Plan, Site
from pappus.sky import sun_elevation_deg
from pappus.trajectory import Conditions, Release, Sun
from pappus.wind import WindField, during, extend, subdivide

LATE_S = 3600.0
"""Releases come late; a flight still aloft then has long been counted so."""
NODE_STEP_M = 600.0
"""Levels are subdivided to this; a fine step moves landings by less than 10 m."""
HIGHEST_FLIGHT_MSL_M = 60_000.0
"""No latex balloon has come near this: nothing is extrapolated higher."""


def under(plan: Plan, prior: FlightPrior) -> Plan:
    """The plan with a balloon that climbs as the prior says, where the plan itself does not."""
    flight, train = plan.scatter.over(prior), plan.flight_train
    envelope = replace(train.envelope, climb_bend=flight.climb, drag_factor=flight.drag_factor)
    return replace(plan, flight_train=replace(train, envelope=envelope))


def ground_under(
    plan: Plan,
    site: Site,
    field: WindField,
    model_ground_msl_m: NDArray[np.float64] | None,
    terrain: Sequence[TerrainGrid],
) -> Terrain:
    """The given terrain first; then the height in the plan, else the model's ground, else the height of the site.

    :param model_ground_msl_m: of the forecast model on the latitudes and longitudes of the field; None for none.
    """
    given = plan.limits.landing_ground_height_msl_m
    if given is not None:
        beneath: Terrain = FlatGround(given, "the height in the plan")
    elif model_ground_msl_m is not None and model_ground_msl_m.size == 1:
        beneath = FlatGround(float(model_ground_msl_m.item()), "the ground of the forecast model at its station")
    elif model_ground_msl_m is not None:
        flat = FlatGround(site.height_msl_m, "the height of the site")
        beneath = TerrainGrid(
            field.latitude_deg, field.longitude_deg, model_ground_msl_m, "the ground of the forecast model", flat
        )
    else:
        beneath = FlatGround(site.height_msl_m, "the height of the site")
    for grid in reversed(terrain):
        beneath = replace(grid, beneath=beneath)
    return beneath


def conditions_for(
    plan: Plan,
    field: WindField,
    model_ground_msl_m: NDArray[np.float64] | None,
    site: Site,
    release: datetime,
    terrain: Sequence[TerrainGrid],
) -> Conditions:
    """What all flights from this site at this release share, in the winds of one source as it holds them."""
    ground = ground_under(plan, site, field, model_ground_msl_m, terrain)
    needed = field_between(plan, field, release, release, min(site.height_msl_m, ground.lowest_msl_m))
    return conditions_in(needed, plan, site, release, ground)


def field_between(plan: Plan, known: WindField, first: datetime, last: datetime, lowest_msl_m: float) -> WindField:
    """The field as flights need it that are released between two times and come down on ground no lower than that."""
    first_s, last_s = ((time - known.epoch).total_seconds() for time in (first, last))
    needed = during(known, first_s, last_s + plan.limits.longest_flight_s + LATE_S)
    return spanning(needed, plan, lowest_msl_m)


def spanning(known: WindField, plan: Plan, lowest_ground_msl_m: float) -> WindField:
    """The field from below the lowest ground of the flight to as far above its top as the plan allows."""
    known_top = known.coverage.top_msl_m
    top = min(known_top + plan.limits.extrapolation_above_top_m, max(known_top, HIGHEST_FLIGHT_MSL_M))
    return subdivide(extend(known, bottom_msl_m=lowest_ground_msl_m - 100.0, top_msl_m=top), step_m=NODE_STEP_M)


def conditions_in(field: WindField, plan: Plan, site: Site, release: datetime, ground: Terrain) -> Conditions:
    """What all flights from this site at this release share, in a field made for them."""
    start_s = (release - field.epoch).total_seconds()
    offsets = np.arange(0.0, plan.limits.longest_flight_s + 900.0, 900.0)
    times = [release + timedelta(seconds=float(offset)) for offset in offsets]
    sun = Sun(start_s + offsets, sun_elevation_deg(times, site.latitude_deg, site.longitude_deg))
    start = Release(site.latitude_deg, site.longitude_deg, site.height_msl_m, start_s)
    return Conditions(field, plan.flight_train, start, ground, plan.limits.longest_flight_s, sun)
