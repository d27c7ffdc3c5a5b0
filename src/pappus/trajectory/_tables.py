"""Laws of the other rooms as tables at even steps, for the kernel: each law stands in its own room only."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import dynamic_viscosity_pa_s
from pappus.earth import geocentric_m, gravity_m_s2, radii_of_curvature_m
from pappus.flight_train import Envelope, balloon_drag_coefficient, gas_excess_k, overpressure_pa
from pappus.trajectory._laid_out import BITS, FIRST_BITS, Tables
from pappus.trajectory._sun import Sun

Array = NDArray[np.float64]

_LOWEST_M, _HIGHEST_M, _HEIGHT_STEP_M = -5_000.0, 100_000.0, 500.0
_COLDEST_K, _HOTTEST_K = 150.0, 400.0
_WARMTH_STEP_S = 120.0
_PER_DEGREE = 100.0
_FILM_PER_STRETCH = 200.0
_OCTAVES = 50


def tables(envelope: Envelope, sun: Sun, first_s: float, last_s: float, top_msl_m: float) -> Tables:
    """The laws as far as flights between two times and below the top of the winds need them."""
    gravity, viscosity, per_reynolds, earth = _fixed()
    slack = envelope.unstretched_diameter_m
    # lognormal burst diameters seldom exceed the double; beyond its end a table goes on straight
    stretch = np.arange(1.0, 2.0 * envelope.burst_diameter_m / slack + 1.0, 1.0 / _FILM_PER_STRETCH)
    film = overpressure_pa(stretch * slack, envelope.mass_kg, slack)
    return Tables(
        warmth=_warmth(sun, first_s, last_s, top_msl_m),
        warmth_from_s=first_s,
        warmth_per_s=1.0 / _WARMTH_STEP_S,
        per_height_m=1.0 / _HEIGHT_STEP_M,
        gravity_m_s2=gravity,
        per_root_gravity=1.0 / np.sqrt(gravity),
        lowest_m=_LOWEST_M,
        fluidity=1.0 / viscosity,
        coldest_k=_COLDEST_K,
        film_pa=film,
        film_per_stretch=_FILM_PER_STRETCH,
        per_reynolds=per_reynolds,
        earth=earth,
        per_latitude_deg=_PER_DEGREE,
    )


@cache
def _fixed() -> tuple[Array, Array, Array, Array]:
    """Gravity, viscosity, drag and the ellipsoid: the same for every flight."""
    gravity = gravity_m_s2(np.arange(_LOWEST_M, _HIGHEST_M + 1.0, _HEIGHT_STEP_M))
    viscosity = dynamic_viscosity_pa_s(np.arange(_COLDEST_K, _HOTTEST_K + 0.5))
    # a power law is straight between logarithms, so that the law can be read backwards
    ln_reynolds = np.arange(-2.0, 24.0, 0.001)
    ln_drag = np.log(balloon_drag_coefficient(np.exp(ln_reynolds))) + 2.0 * ln_reynolds
    bits = FIRST_BITS + (np.arange((_OCTAVES << (52 - BITS)) + 1) << BITS)
    per_reynolds = np.exp(-np.interp(np.log(bits.view(np.float64)), ln_drag, ln_reynolds))
    latitude = np.linspace(-90.0, 90.0, int(180.0 * _PER_DEGREE) + 1)
    meridional, _ = radii_of_curvature_m(latitude)
    from_axis, _, over_equator = geocentric_m(latitude, 0.0, 0.0).T
    earth = np.stack([meridional, from_axis, np.cos(np.radians(latitude)), over_equator], axis=1)
    return gravity, viscosity, per_reynolds, np.ascontiguousarray(earth)


def _warmth(sun: Sun, first_s: float, last_s: float, top_msl_m: float) -> Array:
    time = np.arange(first_s, last_s + 2.0 * _WARMTH_STEP_S, _WARMTH_STEP_S)[:, None]
    height = np.arange(0.0, max(top_msl_m, 0.0) + 2.0 * _HEIGHT_STEP_M, _HEIGHT_STEP_M)
    excess = gas_excess_k(0.0, height, sun.elevation_at_deg(time))
    return np.stack([np.maximum(excess, 0.0), np.minimum(excess, 0.0)], axis=-1)
