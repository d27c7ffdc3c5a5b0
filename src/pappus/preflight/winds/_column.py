"""The air over one place, and the field as a flight needs it: from below the ground to above its top."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import Profile
from pappus.flight_train import SiteAir
from pappus.plan import Plan, Site, spanning
from pappus.sky import sun_elevation_deg
from pappus.wind import Sampler, WindField

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Column:
    """Mean of the members over one place at one time, by level."""

    height_msl_m: Array
    pressure_pa: Array
    temperature_k: Array
    wind_u_m_s: Array
    wind_v_m_s: Array


def column(sampler: Sampler, latitude_deg: float, longitude_deg: float, time_s: float) -> Column:
    """The column of a field over a place; ``time_s`` counts from its epoch."""
    field = sampler.field
    member, level = np.meshgrid(np.arange(field.members), np.arange(field.levels, dtype=np.float64))
    ones = np.ones(level.size)
    air = sampler.at(member.ravel(), level.ravel(), latitude_deg * ones, longitude_deg * ones, time_s * ones)
    means = (
        np.reshape(values, level.shape).mean(axis=1)
        for values in (air.height_msl_m, np.log(air.pressure_pa), air.temperature_k, air.wind_u_m_s, air.wind_v_m_s)
    )
    height, log_pressure, temperature, u, v = means
    return Column(height, np.exp(log_pressure), temperature, u, v)


def site_air(known: WindField, plan: Plan, site: Site, release: datetime) -> SiteAir:
    """What the fill needs to know of the air over the site at release, on to where a flight may go."""
    time_s = (release - known.epoch).total_seconds()
    over = column(Sampler(known), site.latitude_deg, site.longitude_deg, time_s)
    cubes: dict[str, Any] = {name: values.reshape(1, 1, -1, 1, 1) for name, values in vars(over).items()}
    alone = replace(
        known,
        time_s=np.array([time_s]),
        latitude_deg=np.array([site.latitude_deg]),
        longitude_deg=np.array([site.longitude_deg]),
        **cubes,
    )
    alone = spanning(alone, plan, site.height_msl_m)
    profile = Profile(known.name, alone.height_msl_m.ravel(), alone.pressure_pa.ravel(), alone.temperature_k.ravel())
    elevation = float(sun_elevation_deg([release], site.latitude_deg, site.longitude_deg)[0])
    return SiteAir(profile, site.height_msl_m, elevation, site.pressure_pa, site.temperature_k)
