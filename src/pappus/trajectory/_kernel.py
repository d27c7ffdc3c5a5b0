"""The compiled kernel: every flight from its release to its end, each on its own, level by level.

All that a flight sees comes in the tuples of ``_laid_out``: the field as one flat float32 cube, the laws of the other
rooms as tables, the row of draws. All compiled code stands in this one file, because numba looks at the age of the
file of the outermost function alone when it asks whether its cache on disk still holds.

The scheme is that of one Heun step from a level to the next. The time to a level follows from the rates at both ends,
the drift from the winds at both ends. Events inside a step (burst, cut, ground) are placed linearly in height.
A balloon slower than ``SLOW_M_S`` goes over to steps in time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from pappus.trajectory._flights import AscentEnd, Outcome
from pappus.trajectory._laid_out import Air, Cube, Draw, Ground, Limits, Spot, State, Tables
from pappus.units import dry_air_gas_constant_j_kg_k, standard_pressure_pa

Array = NDArray[np.float64]
F = TypeVar("F", bound=Callable[..., Any])

SLOW_M_S, SLOW_STEP_S = 0.5, 30.0
GROUND_STEP_M = 25.0
"""A step that may meet the ground is looked at every so many metres of fall."""
LANDED, STILL_ALOFT, LEFT_COVERAGE = (int(Outcome[name]) for name in ("LANDED", "STILL_ALOFT", "LEFT_COVERAGE"))
NONE, BURST, CUT_DOWN = (int(AscentEnd[name]) for name in ("NONE", "BURST", "CUT_DOWN"))
GOES_ON = -1
NEVER = 2.0
"""Share of a step at which a thing happens that does not happen in it."""
DEG = 180.0 / math.pi
# not a number must stay what it is: neither "nnan" nor "ninf"
FAST = {"contract", "reassoc", "nsz", "arcp", "afn"}


def part(function: F) -> F:
    """A piece of the kernel, compiled into it."""
    return cast(F, njit(fastmath=FAST, error_model="numpy", forceinline=True)(function))


# --- the air


@part
def walk(axis: Array, value: float, index: int) -> tuple[int, float]:
    """Cell of an axis (rows: points, one over the widths) and share of it, found by walking from the last cell."""
    last = axis.shape[1] - 2
    while index < last and value >= axis[0, index + 1]:
        index += 1
    while index > 0 and value < axis[0, index]:
        index -= 1
    return index, min(max((value - axis[0, index]) * axis[1, index], 0.0), 1.0)


@part
def spot_at(cube: Cube, member: int, time: float, latitude: float, longitude: float, near: Spot) -> Spot:
    """The eight points around a place and a time, on any level, with their weights."""
    longitude -= 360.0 * math.floor((longitude - cube.seam_deg) / 360.0)
    t, ts = walk(cube.time_s, time, near.t)
    y, ys = walk(cube.latitude_deg, latitude, near.y)
    x, xs = walk(cube.longitude_deg, longitude, near.x)
    base = member * cube.member_stride + t * cube.time_stride + y * cube.row_stride + 5 * x
    a, b, c, d = (1.0 - ts) * (1.0 - ys), (1.0 - ts) * ys, ts * (1.0 - ys), ts * ys
    rest = 1.0 - xs
    return Spot(
        t, y, x, base,
        np.float32(a * rest), np.float32(a * xs), np.float32(b * rest), np.float32(b * xs),
        np.float32(c * rest), np.float32(c * xs), np.float32(d * rest), np.float32(d * xs),
    )  # fmt: skip


@part
def mean(cube: Cube, spot: Spot, level: int, quantity: int) -> float:
    v, o = cube.values, spot.base + level * cube.level_stride + quantity
    p = o + cube.row_stride
    q, r = o + cube.time_stride, p + cube.time_stride
    early = spot.a0 * v[o] + spot.a1 * v[o + 5] + spot.b0 * v[p] + spot.b1 * v[p + 5]
    late = spot.c0 * v[q] + spot.c1 * v[q + 5] + spot.d0 * v[r] + spot.d1 * v[r + 5]
    return float(early + late)


@part
def air_on(cube: Cube, spot: Spot, level: int, error: Array) -> Air:
    """Air on a level; ``error`` is that of one flight and leg, (levels, 2)."""
    return Air(
        mean(cube, spot, level, 0) + error[level, 0],
        mean(cube, spot, level, 1) + error[level, 1],
        mean(cube, spot, level, 2),
        mean(cube, spot, level, 3),
        mean(cube, spot, level, 4),
    )


@part
def air_between(cube: Cube, spot: Spot, level: float, error: Array) -> Air:
    """Air at a fractional level, linear in ln p."""
    lower = min(int(level), cube.levels - 2)
    s = level - lower
    a, b = air_on(cube, spot, lower, error), air_on(cube, spot, lower + 1, error)
    return Air(
        a.u + s * (b.u - a.u), a.v + s * (b.v - a.v), a.temperature + s * (b.temperature - a.temperature),
        a.height + s * (b.height - a.height), a.pressure * math.exp(s * math.log(b.pressure / a.pressure)),
    )  # fmt: skip


# --- the laws, from tables


@part
def table(values: Array, place: float) -> float:
    """Linear between the entries, and on beyond the ends."""
    index = min(max(int(place), 0), values.shape[0] - 2)
    return float(values[index] + (place - index) * (values[index + 1] - values[index]))


@part
def climb(tables: Tables, draw: Draw, air: Air, time: float, stretch: float, rounds: int) -> tuple[float, float]:
    """Rise [m/s] and stretch of the film (diameter over that of the slack balloon), by Newton steps from a guess."""
    share = max(1.0 - air.pressure / standard_pressure_pa, 0.0)
    warmth = tables.warmth
    i = (time - tables.warmth_from_s) / tables.warmth_step_s
    j = max(air.height, 0.0) / tables.height_step_m
    m, n = min(max(int(i), 0), warmth.shape[0] - 2), min(int(j), warmth.shape[1] - 2)
    s, r = min(max(i - m, 0.0), 1.0), min(j - n, 1.0)
    a, b = warmth[m, n], warmth[m + 1, n]
    c, d = warmth[m, n + 1], warmth[m + 1, n + 1]
    day = (1.0 - r) * (a[0] + s * (b[0] - a[0])) + r * (c[0] + s * (d[0] - c[0]))
    night = (1.0 - r) * (a[1] + s * (b[1] - a[1])) + r * (c[1] + s * (d[1] - c[1]))
    content = draw.content_per_k * (air.temperature + share * (day + draw.excess_offset_k) + night)
    if content <= air.pressure:
        stretch = (content / air.pressure) ** (1.0 / 3.0)
    else:
        for _ in range(rounds):
            place = (max(stretch, 1.0) - 1.0) * tables.film_per_stretch
            index = min(int(place), tables.film_pa.shape[0] - 2)
            rise = tables.film_pa[index + 1] - tables.film_pa[index]
            inside = air.pressure + tables.film_pa[index] + (place - index) * rise
            over = inside * stretch - content / (stretch * stretch)
            stretch -= over / (3.0 * inside + rise * tables.film_per_stretch * stretch)
    diameter = draw.slack_diameter_m * stretch
    density = air.pressure / (dry_air_gas_constant_j_kg_k * air.temperature)
    net = density * math.pi / 6.0 * diameter * diameter * diameter - draw.carried_kg
    if net <= 0.0:
        return 0.0, stretch
    viscosity = table(tables.viscosity_pa_s, air.temperature - tables.coldest_k)
    lift = net * table(tables.gravity_m_s2, (air.height - tables.lowest_m) / tables.height_step_m)
    # the drag law as Re over Cd Re^2, which holds no speed
    drag = 8.0 * lift * density / (math.pi * draw.drag_factor * viscosity * viscosity)
    reynolds = math.exp(table(tables.ln_reynolds, math.log(drag) * tables.per_ln_drag))
    return viscosity * reynolds / (density * diameter), stretch


@part
def sink(tables: Tables, fall_m_s: float, exponent: float, air: Air) -> float:
    """Fall [m/s]; ``fall_m_s`` is that at unit density and gravity."""
    density = air.pressure / (dry_air_gas_constant_j_kg_k * air.temperature)
    gravity = table(tables.gravity_m_s2, (air.height - tables.lowest_m) / tables.height_step_m)
    return fall_m_s * math.sqrt(gravity) * math.exp(-exponent * math.log(density))


@part
def degrees_per_m(tables: Tables, latitude: float, height: float) -> tuple[float, float]:
    """Degrees of latitude and of longitude in a metre at a height over the ellipsoid."""
    place = (latitude + 90.0) * tables.per_latitude_deg
    index = min(max(int(place), 0), tables.earth.shape[0] - 2)
    a, b, s = tables.earth[index], tables.earth[index + 1], place - index
    return (
        DEG / (a[0] + s * (b[0] - a[0]) + height),
        DEG / (a[1] + s * (b[1] - a[1]) + height * (a[2] + s * (b[2] - a[2]))),
    )


# --- where and when the flight may go on


@part
def beyond(limits: Limits, tables: Tables, state: State) -> int:
    """LEFT_COVERAGE, STILL_ALOFT when the longest flight is over, else GOES_ON."""
    held = limits.first_s <= state.time <= limits.last_s
    if limits.radius_m > 0.0:
        east = abs(state.longitude - limits.longitude_deg)
        # along the meridian, then along the equator: no way is longer
        if 112_000.0 * (abs(state.latitude - limits.latitude_deg) + east) > limits.radius_m:
            held = held and distance_m(tables, limits, state) <= limits.radius_m
    else:
        east = state.longitude - limits.west_deg
        held = held and limits.south_deg <= state.latitude <= limits.north_deg
        held = held and east - 360.0 * math.floor(east / 360.0) <= limits.width_deg
    if not held:
        return LEFT_COVERAGE
    return STILL_ALOFT if state.time >= limits.longest_s else GOES_ON


@part
def distance_m(tables: Tables, limits: Limits, state: State) -> float:
    """Chord from the centre of the coverage, bent onto a sphere: ``earth.distance_m`` from its own table."""
    here = (state.latitude + 90.0) * tables.per_latitude_deg
    there = (limits.latitude_deg + 90.0) * tables.per_latitude_deg
    r1, z1 = table(tables.earth[:, 1], here), table(tables.earth[:, 3], here)
    r2, z2 = table(tables.earth[:, 1], there), table(tables.earth[:, 3], there)
    half = math.sin(0.5 * (state.longitude - limits.longitude_deg) / DEG)
    chord = math.sqrt((r1 - r2) ** 2 + 4.0 * r1 * r2 * half * half + (z1 - z2) ** 2)
    middle = 0.5 * (here + there)
    prime_vertical = table(tables.earth[:, 1], middle) / table(tables.earth[:, 2], middle)
    radius = math.sqrt(table(tables.earth[:, 0], middle) * prime_vertical)
    return 2.0 * radius * math.asin(min(chord / (2.0 * radius), 1.0))


@part
def outside_area(limits: Limits, latitude: float, longitude: float) -> bool:
    """Whether a place lies outside any of the polygons that the flight must keep to (even-odd rule)."""
    for area in range(limits.area_start.shape[0] - 1):
        first, last = limits.area_start[area], limits.area_start[area + 1]
        x = longitude - limits.area_base_deg[area]
        x -= 360.0 * math.floor((x + 180.0) / 360.0)
        inside = False
        for k in range(first, last):
            y1, x1 = limits.corners[k]
            y2, x2 = limits.corners[k + 1 if k + 1 < last else first]
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
        x = longitude - ground.longitude_deg[x0]
        x = ground.longitude_deg[x0] + x - 360.0 * math.floor(x / 360.0)
        if ground.latitude_deg[y0] <= latitude <= ground.latitude_deg[y1 - 1] and x <= ground.longitude_deg[x1 - 1]:
            i, ys = cell(ground.latitude_deg, y0, y1, latitude)
            j, xs = cell(ground.longitude_deg, x0, x1, x)
            o = ground.value_start[grid] + (i - y0) * (x1 - x0) + j - x0
            p = o + x1 - x0
            south = (1.0 - xs) * ground.values[o] + xs * ground.values[o + 1]
            north = (1.0 - xs) * ground.values[p] + xs * ground.values[p + 1]
            height = (1.0 - ys) * south + ys * north
            if not math.isnan(height):
                return height
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
    return index, (value - axis[index]) / (axis[index + 1] - axis[index])
