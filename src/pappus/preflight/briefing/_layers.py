"""The nominal climb cut into layers: how fast, how long, through which wind and how cold."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from pappus.preflight.briefing._briefing import ClimbLayer
from pappus.preflight.winds import column
from pappus.trajectory import Flights
from pappus.wind import Sampler, WindField

LAYER_M = 5000.0


def climb_layers(field: WindField, nominal: Flights) -> tuple[ClimbLayer, ...]:
    """Layers of 5 km above mean sea level; the air of each is that over the place where the flight crosses it."""
    top = int(np.nanargmax(nominal.track_height_msl_m[0]))
    time, latitude, longitude, height = (
        track[0, : top + 1]
        for track in (
            nominal.track_time_s, nominal.track_latitude_deg, nominal.track_longitude_deg, nominal.track_height_msl_m,
        )
    )  # fmt: skip
    first = np.floor(height[0] / LAYER_M) * LAYER_M
    edges = [height[0], *np.arange(first + LAYER_M, height[-1], LAYER_M), height[-1]]
    sampler, layers = Sampler(field), []
    for bottom, upper in pairwise(edges):
        if upper - bottom < 1.0:
            continue
        middle = 0.5 * (bottom + upper)
        where = (float(np.interp(middle, height, track)) for track in (latitude, longitude, time))
        air = column(sampler, *where)
        known_top = np.inf
        if field.extended_from_level is not None:
            known_top = air.height_msl_m[field.extended_from_level - 1]
        known_bottom = air.height_msl_m[field.extended_below_level]
        inside = np.linspace(bottom, upper, 26)
        east = float(np.interp(inside, air.height_msl_m, air.wind_u_m_s).mean())
        north = float(np.interp(inside, air.height_msl_m, air.wind_v_m_s).mean())
        seconds = float(np.interp(upper, height, time) - np.interp(bottom, height, time))
        layers.append(
            ClimbLayer(
                bottom_msl_m=float(bottom),
                top_msl_m=float(upper),
                rate_m_s=float(upper - bottom) / seconds,
                seconds=seconds,
                coldest_k=float(np.interp(inside, air.height_msl_m, air.temperature_k).min()),
                wind_speed_m_s=float(np.hypot(east, north)),
                wind_from_deg=float(np.degrees(np.arctan2(-east, -north)) % 360.0),
                extrapolated=bool(upper > known_top + 1.0 or bottom < known_bottom - 300.0),
            )
        )
    return tuple(layers)
