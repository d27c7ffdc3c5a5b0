"""How fast flights climb and fall and how far a metre is on the ellipsoid: the laws of the other rooms, solved for what
a step needs. The numbers in them stand in those rooms only."""

from __future__ import annotations

import math

from pappus.earth import ECCENTRICITY_SQUARED, SEMI_MAJOR_AXIS_M, STANDARD_RADIUS_M
from pappus.flight_train import (
    DRAG_AT_REFERENCE,
    DRAG_POWER,
    GREATEST_DRAG,
    REFERENCE_REYNOLDS,
    SEA_LEVEL_DENSITY_KG_M3,
    SECOND_CONSTANT_RATIO,
)
from pappus.trajectory._laid_out import Air, Tables
from pappus.trajectory._part import part
from pappus.trajectory._power import exp2, log2, power
from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2, standard_pressure_pa

DEG = 180.0 / math.pi
NO_LIFT = 1e9
_PER_ROOT_GRAVITY = 1.0 / math.sqrt(standard_gravity_m_s2)
_PER_LN2 = 1.0 / math.log(2.0)
_DRAG_SCALE = REFERENCE_REYNOLDS**DRAG_POWER / DRAG_AT_REFERENCE
_S3, _S5, _S7, _S9, _S11, _S13, _S15, _S17 = ((-1.0) ** (k // 2) / math.factorial(k) for k in range(3, 18, 2))
_DRAG_ROOT = 1.0 / (2.0 + DRAG_POWER)


@part
def stretched(tables: Tables, pressure: float, content: float, stretch: float, rounds: int) -> float:
    """Diameter over that of the slack balloon, by Newton steps from a guess: air pressure and film against the gas.

    ``(p + film) s^3 = content`` with the film's ``c (1/s - s^-7) (1 + k s^2)`` once it is stretched.
    """
    for _ in range(rounds):
        film = tables.film_pa if stretch > 1.0 else 0.0
        inverse = 1.0 / stretch
        s, q = stretch * stretch, inverse * inverse
        over = pressure * s * stretch - content + film * (s - q * q + SECOND_CONSTANT_RATIO * (s * s - q))
        more = 2.0 * stretch + 4.0 * q * q * inverse + SECOND_CONSTANT_RATIO * (4.0 * s * stretch + 2.0 * q * inverse)
        stretch -= over / (3.0 * pressure * s + film * more)
    return stretch


@part
def air_pressure(density: float, temperature: float) -> float:
    return density * (dry_air_gas_constant_j_kg_k * temperature)


@part
def gas_excess(pressure: float, day: float, night: float, offset: float) -> float:
    """Gas temperature less air temperature [K]."""
    return max(1.0 - pressure * (1.0 / standard_pressure_pa), 0.0) * (day + offset) + night


@part
def climb(net: float, diameter: float, density: float, fluidity: float, height: float, per_factor: float) -> float:
    """Seconds for each metre of climb: the drag law read backwards, from Cd Re^2, which holds no speed, to Re."""
    far = STANDARD_RADIUS_M / (STANDARD_RADIUS_M + height)
    gravity = standard_gravity_m_s2 * far * far
    drag = (8.0 / math.pi) * net * gravity * density * per_factor * fluidity * fluidity
    per_reynolds = min(power(drag * _DRAG_SCALE, -_DRAG_ROOT), math.sqrt(GREATEST_DRAG / drag))
    return density * diameter * fluidity * per_reynolds if net > 0.0 else NO_LIFT


@part
def sink(slow_s_m: float, exponent: float, density: float, height: float, rate_ln: float) -> float:
    """Seconds for each metre of fall; ``slow_s_m`` is that at unit density and gravity, ``rate_ln`` the logarithm of
    the speed over the power law.
    """
    per_root_gravity = _PER_ROOT_GRAVITY * (1.0 + height * (1.0 / STANDARD_RADIUS_M))
    return slow_s_m * per_root_gravity * exp2(exponent * log2(density) - rate_ln * _PER_LN2)


@part
def warmth_at(tables: Tables, time: float, height: float) -> tuple[float, float]:
    """What the gas is warmer than the air by day where no air is left above, and by night."""
    w, times, columns = tables.warmth, tables.warmth_times, tables.warmth_heights
    i = (time - tables.warmth_from_s) * tables.warmth_per_s
    j = max(height, 0.0) * tables.warmth_per_m
    m, n = min(max(int(i), 0), times - 2), min(int(j), columns - 2)
    s, r = min(max(i - m, 0.0), 1.0), min(j - n, 1.0)
    a, b, c, d = (1.0 - s) * (1.0 - r), (1.0 - s) * r, s * (1.0 - r), s * r
    o = m * columns + n
    p = o + columns
    return (
        a * w[o, 0] + b * w[o + 1, 0] + c * w[p, 0] + d * w[p + 1, 0],
        a * w[o, 1] + b * w[o + 1, 1] + c * w[p, 1] + d * w[p + 1, 1],
    )


@part
def bend_at(tables: Tables, air: Air) -> float:
    """Seconds for a metre of climb over those of the drag law, the flight's own straying with it."""
    place = log2(SEA_LEVEL_DENSITY_KG_M3 / air.density) * (tables.thin_steps / _PER_LN2)
    index = min(max(int(place), 0), tables.slowness.shape[0] - 2)
    share = min(max(place - index, 0.0), 1.0)
    slowness = tables.slowness[index] + share * (tables.slowness[index + 1] - tables.slowness[index])
    return float(slowness * exp2(-air.rate_ln * _PER_LN2))


@part
def degrees_per_m(latitude: float, height: float) -> tuple[float, float]:
    """Degrees of latitude and of longitude in a metre at a height over the WGS84 ellipsoid."""
    angle = latitude * (1.0 / DEG)
    q = angle * angle
    # the series of the sine, within 1e-13 from pole to pole
    series = _S9 + q * (_S11 + q * (_S13 + q * (_S15 + q * _S17)))
    sine = angle * (1.0 + q * (_S3 + q * (_S5 + q * (_S7 + q * series))))
    square = sine * sine
    inside = 1.0 / (1.0 - ECCENTRICITY_SQUARED * square)
    prime_vertical = SEMI_MAJOR_AXIS_M * math.sqrt(inside)
    meridional = prime_vertical * (1.0 - ECCENTRICITY_SQUARED) * inside
    cosine = math.sqrt(max(1.0 - square, 1e-16))
    return DEG / (meridional + height), DEG / ((prime_vertical + height) * cosine)
