"""The air over one place, and the field as a flight needs it: from below the ground to above its top."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import Profile
from pappus.flight_train import SiteAir
from pappus.plan import Plan, Site
from pappus.sky import sun_elevation_deg
from pappus.wind import Sampler, WindField, extend, subdivide

Array = NDArray[np.float64]

NODE_STEP_M = 500.0
"""Levels are subdivided to this; a fine step moves landings by less than 10 m."""


def spanning(known: WindField, plan: Plan, lowest_ground_msl_m: float) -> WindField:
    """The field from below the lowest ground of the flight to as far above its top as the plan allows."""
    top = known.coverage.top_msl_m + plan.limits.extrapolation_above_top_m
    return subdivide(extend(known, bottom_msl_m=lowest_ground_msl_m - 100.0, top_msl_m=top), step_m=NODE_STEP_M)


@dataclass(frozen=True)
class Column:
    """Mean of the members over one place at one time, by level."""

    height_msl_m: Array
    pressure_pa: Array
    temperature_k: Array
    wind_u_m_s: Array
    wind_v_m_s: Array


def column(field: WindField, latitude_deg: float, longitude_deg: float, time_s: float) -> Column:
    """The column of a field over a place; ``time_s`` counts from its epoch."""
    sampler, members = Sampler(field), np.arange(field.members)
    one = np.ones(field.members)
    levels = [
        sampler.at(members, level * one, latitude_deg * one, longitude_deg * one, time_s * one)
        for level in range(field.levels)
    ]
    return Column(
        np.array([air.height_msl_m.mean() for air in levels]),
        np.array([np.exp(np.log(air.pressure_pa).mean()) for air in levels]),
        np.array([air.temperature_k.mean() for air in levels]),
        np.array([air.wind_u_m_s.mean() for air in levels]),
        np.array([air.wind_v_m_s.mean() for air in levels]),
    )


def site_air(field: WindField, site: Site, release: datetime) -> SiteAir:
    """What the fill needs to know of the air over the site at release."""
    time = (release - field.epoch).total_seconds()
    over = column(field, site.latitude_deg, site.longitude_deg, time)
    profile = Profile(field.name, over.height_msl_m, over.pressure_pa, over.temperature_k)
    elevation = float(sun_elevation_deg([release], site.latitude_deg, site.longitude_deg)[0])
    return SiteAir(profile, site.height_msl_m, elevation, site.pressure_pa, site.temperature_k)
