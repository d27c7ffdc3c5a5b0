"""Where a flight may not go on as it does: the end of the winds, the fences of its cut-downs, the ground."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pappus.earth import ECCENTRICITY_SQUARED, SEMI_MAJOR_AXIS_M
from pappus.trajectory._flights import Outcome
from pappus.trajectory._laid_out import Ground, Limits, State
from pappus.trajectory._laws import DEG
from pappus.trajectory._part import part

Array = NDArray[np.float64]
STILL_ALOFT, LEFT_COVERAGE = int(Outcome.STILL_ALOFT), int(Outcome.LEFT_COVERAGE)
GOES_ON = -1
EDGE_DEG = 1e-12
"""Longitudes lose digits on their way between conventions."""


@part
def beyond(limits: Limits, state: State) -> int:
    """LEFT_COVERAGE, STILL_ALOFT when the longest flight is over, else GOES_ON."""
    held = limits.first_s <= state.time <= limits.last_s
    if limits.radius_m > 0.0:
        east = abs(state.longitude - limits.longitude_deg)
        # along the meridian, then along the equator: no way is longer
        if 112_000.0 * (abs(state.latitude - limits.latitude_deg) + east) > limits.radius_m:
            held = held and distance_m(limits, state) <= limits.radius_m
    else:
        east = state.longitude - limits.west_deg
        held = held and limits.south_deg <= state.latitude <= limits.north_deg
        held = held and east - 360.0 * math.floor(east / 360.0) <= limits.width_deg
    if not held:
        return LEFT_COVERAGE
    return STILL_ALOFT if state.time >= limits.longest_s else GOES_ON


@part
def maybe_beyond(limits: Limits, time: float, latitude: float, longitude: float) -> bool:
    """Whether ``beyond`` has to be asked about the winds; without a branch, and true sooner than needed."""
    east = longitude - limits.west_deg
    east -= 360.0 * np.floor(east * (1.0 / 360.0))
    outside = (latitude < limits.south_deg) | (latitude > limits.north_deg) | (east > limits.width_deg)
    # along the meridian, then along the equator: no way is longer
    way = 112_000.0 * (abs(latitude - limits.latitude_deg) + abs(longitude - limits.longitude_deg))
    off = way > limits.radius_m if limits.radius_m > 0.0 else outside
    # the corners of a fence are looked at one by one
    return bool((time < limits.first_s) | (time > limits.last_s) | off | (limits.area_start.shape[0] > 1))


@part
def distance_m(limits: Limits, state: State) -> float:
    """Chord from the centre of the coverage, bent onto a sphere: ``earth.distance_m`` for one place."""
    r1, z1 = meridian(state.latitude)
    r2, z2 = meridian(limits.latitude_deg)
    half = math.sin(0.5 * (state.longitude - limits.longitude_deg) / DEG)
    chord = math.sqrt((r1 - r2) ** 2 + 4.0 * r1 * r2 * half * half + (z1 - z2) ** 2)
    middle = math.sin(0.5 * (state.latitude + limits.latitude_deg) / DEG)
    inside = 1.0 - ECCENTRICITY_SQUARED * middle * middle
    radius = SEMI_MAJOR_AXIS_M * math.sqrt(1.0 - ECCENTRICITY_SQUARED) / inside
    return 2.0 * radius * math.asin(min(chord / (2.0 * radius), 1.0))


@part
def meridian(latitude: float) -> tuple[float, float]:
    """Distance from the axis, and height over the equator."""
    sine, cosine = math.sin(latitude / DEG), math.cos(latitude / DEG)
    prime_vertical = SEMI_MAJOR_AXIS_M / math.sqrt(1.0 - ECCENTRICITY_SQUARED * sine * sine)
    return prime_vertical * cosine, prime_vertical * (1.0 - ECCENTRICITY_SQUARED) * sine


@part
def outside_area(limits: Limits, latitude: float, longitude: float) -> bool:
    """Whether a place lies outside any of the polygons that the flight must keep to (even-odd rule)."""
    for area in range(limits.area_start.shape[0] - 1):
        first, last = limits.area_start[area], limits.area_start[area + 1]
        x = longitude - limits.area_base_deg[area]
        x -= 360.0 * math.floor((x + 180.0) / 360.0)
        inside = False
        for k in range(first, last):
            y1, x1 = limits.corners_deg[k]
            y2, x2 = limits.corners_deg[k + 1 if k + 1 < last else first]
            if (y1 > latitude) != (y2 > latitude) and x < x1 + (latitude - y1) * (x2 - x1) / (y2 - y1):
                inside = not inside
        if not inside:
            return True
    return False


@part
def ground_at(ground: Ground, latitude: float, longitude: float) -> float:
    """The first grid that has a height here, else the flat ground beneath them all."""
    for grid in range(ground.value_start.shape[0] - 1):
        y0, y1 = ground.latitude_start[grid], ground.latitude_start[grid + 1]
        x0, x1 = ground.longitude_start[grid], ground.longitude_start[grid + 1]
        south, north = ground.latitude_deg[y0], ground.latitude_deg[y1 - 1]
        west, east = ground.longitude_deg[x0], ground.longitude_deg[x1 - 1]
        x = longitude - 360.0 * math.floor((longitude - 0.5 * (west + east)) / 360.0 + 0.5)
        if south - EDGE_DEG <= latitude <= north + EDGE_DEG and west - EDGE_DEG <= x <= east + EDGE_DEG:
            i, ys = cell(ground.latitude_deg, y0, y1, latitude)
            j, xs = cell(ground.longitude_deg, x0, x1, x)
            o = ground.value_start[grid] + (i - y0) * (x1 - x0) + j - x0
            p = o + x1 - x0
            low = (1.0 - xs) * ground.values[o] + xs * ground.values[o + 1]
            high = (1.0 - xs) * ground.values[p] + xs * ground.values[p + 1]
            height = (1.0 - ys) * low + ys * high
            if not math.isnan(height):
                return np.float64(height)
    return ground.flat_msl_m


@part
def cell(axis: Array, first: int, last: int, value: float) -> tuple[int, float]:
    """Cell of a value inside an axis; the guess is right at once where the axis is even."""
    index = first + int((value - axis[first]) / (axis[last - 1] - axis[first]) * (last - 1 - first))
    index = min(max(index, first), last - 2)
    while index < last - 2 and value >= axis[index + 1]:
        index += 1
    while index > first and value < axis[index]:
        index -= 1
    return index, min(max((value - axis[index]) / (axis[index + 1] - axis[index]), 0.0), 1.0)
