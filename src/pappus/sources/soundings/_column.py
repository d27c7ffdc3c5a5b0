"""A sounding as a wind field of one column."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import asin, cos, degrees, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geopotential_height_m, require_range
from pappus.sources.soundings._hydrostatics import log_pressure_above_first
from pappus.sources.soundings._levels import longest_rise
from pappus.sources.soundings._sounding import Sounding
from pappus.wind import Coverage, WindField

Array = NDArray[np.float64]

LAYER_M = 100.0
DENSE_LEVELS = 4
"""So many levels or more within one layer are averaged; fewer are kept as they are."""
_SHORTEST_EARTH_RADIUS_M = 6_335_000.0  # meridional radius at the equator: the box is never too small


@dataclass(frozen=True, eq=False)
class _Layers:
    height_msl_m: Array
    pressure_pa: Array
    temperature_k: Array
    wind_u_m_s: Array
    wind_v_m_s: Array


def to_wind_field(sounding: Sounding, *, radius_m: float, hold_before_s: float, hold_after_s: float) -> WindField:
    """The winds of a sounding, taken to hold within ``radius_m`` of its station around its release.

    Dense levels are averaged over layers of 100 m, so that the wind's transport is kept; the lowest and the highest
    level stay. Valid for ``radius_m`` above 0 to 2000 km and holds of 0 to 48 h, else OutOfRange.
    """
    require_range("radius of the area of a sounding", radius_m, 1.0, 2e6, "m")
    for hold_s in (hold_before_s, hold_after_s):
        require_range("time a sounding is held", hold_s, 0.0, 172_800.0, "s")
    layers, notes = _layers(sounding)
    south, north, west, east = box_around_disc(sounding.latitude_deg, sounding.longitude_deg, radius_m)
    coverage = Coverage(
        first_valid=sounding.release - timedelta(seconds=hold_before_s),
        last_valid=sounding.release + timedelta(seconds=hold_after_s),
        south_deg=south,
        north_deg=north,
        west_deg=west,
        east_deg=east,
        bottom_msl_m=float(layers.height_msl_m[0]),
        top_msl_m=float(layers.height_msl_m[-1]),
        centre_deg=(sounding.latitude_deg, sounding.longitude_deg),
        radius_m=radius_m,
    )
    column = (1, 1, len(layers.height_msl_m), 1, 1)
    return WindField(
        name=sounding.source.description,
        kind="sounding",
        issued=sounding.release,
        epoch=sounding.release,
        time_s=np.zeros(1),
        latitude_deg=np.array([sounding.latitude_deg]),
        longitude_deg=np.array([sounding.longitude_deg]),
        pressure_pa=layers.pressure_pa.reshape(column),
        height_msl_m=layers.height_msl_m.reshape(column),
        temperature_k=layers.temperature_k.reshape(column),
        wind_u_m_s=layers.wind_u_m_s.reshape(column),
        wind_v_m_s=layers.wind_v_m_s.reshape(column),
        coverage=coverage,
        sources=(sounding.source,),
        notes=(*sounding.notes, *notes),
    )


def _layers(sounding: Sounding) -> tuple[_Layers, list[str]]:
    height = sounding.height_msl_m
    groups = _groups(height)
    starts = np.flatnonzero(np.diff(groups, prepend=-1))
    counts = np.diff(np.append(starts, len(height)))

    def mean(values: Array) -> Array:
        return np.add.reduceat(values, starts) / counts

    # Pressures are reported in steps, at the top of a flight in steps as tall as a layer. Height and temperature give
    # the smooth part of ln(pressure); what is left over is averaged over each step, then over each layer.
    smooth = log_pressure_above_first(geopotential_height_m(height, sounding.latitude_deg), sounding.temperature_k)
    step = np.cumsum(np.diff(sounding.pressure_pa, prepend=np.inf) != 0.0) - 1
    rough = np.log(sounding.pressure_pa) - smooth
    remainder = mean((np.bincount(step, rough) / np.bincount(step))[step])
    if counts[1] > 1:
        remainder[0] = remainder[1]
    if counts[-2] > 1:
        remainder[-1] = remainder[-2]
    pressure = np.exp(mean(smooth) + remainder)
    falling = longest_rise(-pressure, strict=True)
    notes = []
    if len(starts) < len(height):
        notes.append(f"{len(height)} levels averaged to {len(starts)} layers of about {LAYER_M:.0f} m")
    if len(falling) < len(starts):
        notes.append(f"{len(starts) - len(falling)} of {len(starts)} layers left out: their pressure does not fall")
    columns = (height, sounding.temperature_k, sounding.wind_u_m_s, sounding.wind_v_m_s)
    layer_height, temperature, wind_u, wind_v = (mean(values)[falling] for values in columns)
    return _Layers(layer_height, pressure[falling], temperature, wind_u, wind_v), notes


def _groups(height_msl_m: Array) -> NDArray[np.intp]:
    """Rising number of the group of each level: dense levels of a layer share one, all others have their own."""
    layer = np.floor((height_msl_m - height_msl_m[0]) / LAYER_M).astype(np.intp)
    dense = np.bincount(layer)[layer] >= DENSE_LEVELS
    dense[[0, -1]] = False  # the ends of the column stay where they are: they bound what the sounding covers
    new = np.ones(len(layer), dtype=bool)
    new[1:] = (layer[1:] != layer[:-1]) | ~dense[1:] | ~dense[:-1]
    return np.cumsum(new) - 1


def box_around_disc(latitude_deg: float, longitude_deg: float, radius_m: float) -> tuple[float, float, float, float]:
    """South, north, west and east of a box that holds the disc; all longitudes when it holds a pole."""
    angle = radius_m / _SHORTEST_EARTH_RADIUS_M
    south, north = latitude_deg - degrees(angle), latitude_deg + degrees(angle)
    half_turn = abs(radians(latitude_deg)) + angle >= pi / 2.0
    half_width_deg = 180.0 if half_turn else degrees(asin(sin(angle) / cos(radians(latitude_deg))))
    west = (longitude_deg - half_width_deg + 180.0) % 360.0 - 180.0
    return max(south, -90.0), min(north, 90.0), west, west + 2.0 * half_width_deg
