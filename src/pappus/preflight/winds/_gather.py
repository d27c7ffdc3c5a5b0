"""Read the wind files a crew points at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile, Finding
from pappus.plan import Plan
from pappus.sources import Forecast, Sounding, looks_like_forecast, read_forecast, read_sounding, to_wind_field
from pappus.weather import SurfaceWeather
from pappus.wind import WindField

BEFORE_RELEASE_S = 3 * 3600.0
"""A sounding also stands for the hours just before it."""
HOLD = timedelta(hours=6)
"""A forecast is held this long outside its valid times, with an error that grows."""
REACH_DEG = 6.0
"""A forecast is cut to this far around the sites: a flight of 500 km stays inside."""
KEPT_FOLDER = ".pappus-kept"
"""Decoded forecasts are kept here, beside their files."""


@dataclass(frozen=True, eq=False)
class Winds:
    """One sounding or one model run, and what the same source says of the ground and the weather near it."""

    field: WindField
    ground_msl_m: NDArray[np.float64] | None = None
    """Ground of the model on the latitudes and longitudes of the field."""
    surface: SurfaceWeather | None = None


def gather_winds(paths: Sequence[Path], plan: Plan) -> list[Winds]:
    """Every sounding and every model run in the files; a sounding holds as far and as long as the plan allows."""
    forecasts = [path for path in paths if looks_like_forecast(path)]
    winds = [
        Winds(
            to_wind_field(
                sounding,
                radius_m=plan.limits.sounding_distance_m,
                hold_before_s=BEFORE_RELEASE_S,
                hold_after_s=plan.limits.sounding_age_s,
            )
        )
        for path in paths
        if path not in forecasts
        for sounding in _usable(path)
    ]
    if forecasts:
        read = read_forecast(
            forecasts,
            keep_in=forecasts[0].parent / KEPT_FOLDER,
            area=around(plan),
            column_radius_m=plan.limits.sounding_distance_m,
        )
        winds += [_held(forecast) for forecast in read]
    return winds


def _usable(path: Path) -> list[Sounding]:
    """Ascents whose place is known: a fall is short, and its winds begin somewhere else."""
    read = read_sounding(path)
    usable = [one for one in read if not one.is_descent and np.isfinite(one.latitude_deg + one.longitude_deg)]
    if not usable:
        reason = "it holds descents only" if read[0].is_descent else "it does not say where its soundings were made"
        raise BadFile(Finding(path.name, "", reason, "Give the sounding of a station, on its way up."))
    return usable


def around(plan: Plan) -> tuple[float, float, float, float]:
    """South, north, west and east of the sites with room for the drift; wider where the meridians close up."""
    latitudes = [site.latitude_deg for site in plan.sites]
    first = plan.sites[0].longitude_deg
    turned = [(site.longitude_deg - first + 180.0) % 360.0 - 180.0 for site in plan.sites]
    south, north = max(min(latitudes) - REACH_DEG, -90.0), min(max(latitudes) + REACH_DEG, 90.0)
    widest = REACH_DEG / max(float(np.cos(np.radians(max(abs(south), abs(north))))), 0.05)
    west, east = first + min(turned) - widest, first + max(turned) + widest
    return south, north, (west + 180.0) % 360.0 - 180.0, (west + 180.0) % 360.0 - 180.0 + min(east - west, 360.0)


def _held(forecast: Forecast) -> Winds:
    """The run with its coverage widened in time: what lies outside its valid times is held, and costs error."""
    field = forecast.field
    coverage = replace(
        field.coverage,
        first_valid=field.coverage.first_valid - HOLD,
        last_valid=field.coverage.last_valid + HOLD,
    )
    return Winds(replace(field, coverage=coverage), forecast.ground_height_msl_m, forecast.surface)
