"""How fast a flight climbs and falls and how far a metre is on the ellipsoid, from tables of the other rooms' laws."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pappus.trajectory._laid_out import BITS, FIRST_BITS, Air, Lift, Tables
from pappus.trajectory._part import part
from pappus.units import dry_air_gas_constant_j_kg_k, standard_pressure_pa

Array = NDArray[np.float64]
DEG = 180.0 / math.pi
NO_LIFT = 1e9


@part
def table(values: Array, place: float) -> float:
    """Linear between the entries, and on beyond the ends."""
    index = min(max(int(place), 0), values.shape[0] - 2)
    return float(values[index] + (place - index) * (values[index + 1] - values[index]))


@part
def by_bits(values: Array, value: float) -> float:
    """Linear between the entries of a table that halves each octave so many times: the bits of a number are its place.

    Below the first entry and above the last these hold.
    """
    bits = np.float64(value).view(np.int64) - FIRST_BITS
    index = min(max(bits >> BITS, 0), values.shape[0] - 2)
    place = min(max((bits - (index << BITS)) * (1.0 / (1 << BITS)), 0.0), 1.0)
    return float(values[index] + place * (values[index + 1] - values[index]))


@part
def climb(tables: Tables, lift: Lift, air: Air, time: float, stretch: float, rounds: int) -> tuple[float, float]:
    """Seconds for each metre of climb, and stretch of the film (diameter over that of the slack balloon).

    The stretch comes by Newton steps from a guess: gas pressure against air and film, times the volume.
    """
    pressure = air.density * (dry_air_gas_constant_j_kg_k * air.temperature)
    content = lift.content_per_k * (
        air.temperature + gas_excess(tables, lift.excess_offset_k, air.height, pressure, time)
    )
    for _ in range(rounds):
        place = (max(stretch, 1.0) - 1.0) * tables.film_per_stretch
        index = min(int(place), tables.film_pa.shape[0] - 2)
        more = tables.film_pa[index + 1] - tables.film_pa[index] if stretch > 1.0 else 0.0
        inside = pressure + tables.film_pa[index] + (place - index) * more
        area = stretch * stretch
        over = inside * area * stretch - content
        stretch -= over / (area * (3.0 * inside + more * tables.film_per_stretch * stretch))
    diameter = lift.slack_diameter_m * stretch
    net = air.density * (math.pi / 6.0) * diameter * diameter * diameter - lift.carried_kg
    if net <= 0.0:
        return NO_LIFT, stretch
    fluidity = table(tables.fluidity, air.temperature - tables.coldest_k)
    gravity = table(tables.gravity_m_s2, (air.height - tables.lowest_m) * tables.per_height_m)
    # the drag law as Re over Cd Re^2, which holds no speed
    drag = (8.0 / math.pi) * net * gravity * air.density * lift.per_drag_factor * fluidity * fluidity
    return air.density * diameter * fluidity * by_bits(tables.per_reynolds, drag), stretch


@part
def gas_excess(tables: Tables, offset_k: float, height: float, pressure: float, time: float) -> float:
    """Gas temperature less air temperature [K]."""
    warmth = tables.warmth
    i = (time - tables.warmth_from_s) * tables.warmth_per_s
    j = max(height, 0.0) * tables.per_height_m
    m, n = min(max(int(i), 0), warmth.shape[0] - 2), min(int(j), warmth.shape[1] - 2)
    s, r = min(max(i - m, 0.0), 1.0), min(j - n, 1.0)
    a, b, c, d = (1.0 - s) * (1.0 - r), (1.0 - s) * r, s * (1.0 - r), s * r
    day = a * warmth[m, n, 0] + b * warmth[m, n + 1, 0] + c * warmth[m + 1, n, 0] + d * warmth[m + 1, n + 1, 0]
    night = a * warmth[m, n, 1] + b * warmth[m, n + 1, 1] + c * warmth[m + 1, n, 1] + d * warmth[m + 1, n + 1, 1]
    return float(max(1.0 - pressure * (1.0 / standard_pressure_pa), 0.0) * (day + offset_k) + night)


@part
def sink(tables: Tables, slow_s_m: float, exponent: float, air: Air) -> float:
    """Seconds for each metre of fall; ``slow_s_m`` is that at unit density and gravity."""
    gravity = table(tables.per_root_gravity, (air.height - tables.lowest_m) * tables.per_height_m)
    return slow_s_m * gravity * math.exp(exponent * math.log(air.density))


@part
def degrees_per_m(tables: Tables, latitude: float, height: float) -> tuple[float, float]:
    """Degrees of latitude and of longitude in a metre at a height over the ellipsoid."""
    place = (latitude + 90.0) * tables.per_latitude_deg
    index = min(max(int(place), 0), tables.earth.shape[0] - 2)
    e, s = tables.earth, place - index
    meridional = e[index, 0] + s * (e[index + 1, 0] - e[index, 0])
    from_axis = e[index, 1] + s * (e[index + 1, 1] - e[index, 1])
    cosine = e[index, 2] + s * (e[index + 1, 2] - e[index, 2])
    return DEG / (meridional + height), DEG / (from_axis + height * cosine)
