"""The weather near the ground at the site at release, as far as the forecast holds it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.plan import Site
from pappus.weather import SurfaceWeather


@dataclass(frozen=True)
class SurfaceAtRelease:
    """Middle and worst of the members; None where the forecast does not hold it."""

    wind_m_s: float | None
    wind_most_m_s: float | None
    wind_from_deg: float | None
    gust_m_s: float | None
    gust_most_m_s: float | None
    cloud_fraction: float | None
    visibility_least_m: float | None
    temperature_k: float | None


def surface_at_release(surface: SurfaceWeather | None, site: Site, release: datetime) -> SurfaceAtRelease | None:
    """The fields of a forecast over the site; None without a forecast of them."""
    if surface is None:
        return None
    time_s = (release - surface.epoch).total_seconds()

    def members(name: str) -> NDArray[np.float64] | None:
        count = len(surface.fields[name]) if name in surface.fields else 0
        values = [surface.at(name, site.latitude_deg, site.longitude_deg, time_s, member) for member in range(count)]
        known = np.array([float(value) for value in values if value is not None and np.isfinite(value)])
        return known if known.size else None

    east, north = members("eastward_wind"), members("northward_wind")
    speed = from_deg = None
    if east is not None and north is not None and len(east) == len(north):
        speed = np.hypot(east, north)
        from_deg = float(np.degrees(np.arctan2(-east.mean(), -north.mean())) % 360.0)
    gust, cloud = members("wind_speed_of_gust"), members("cloud_area_fraction")
    visibility, temperature = members("visibility_in_air"), members("air_temperature")
    return SurfaceAtRelease(
        wind_m_s=None if speed is None else float(np.median(speed)),
        wind_most_m_s=None if speed is None else float(speed.max()),
        wind_from_deg=from_deg,
        gust_m_s=None if gust is None else float(np.median(gust)),
        gust_most_m_s=None if gust is None else float(gust.max()),
        cloud_fraction=None if cloud is None else float(np.median(cloud)),
        visibility_least_m=None if visibility is None else float(visibility.min()),
        temperature_k=None if temperature is None else float(np.median(temperature)),
    )
