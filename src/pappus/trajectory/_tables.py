"""Laws of the other rooms that have no short form, as tables at even steps for the kernel."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import SEA_LEVEL_DENSITY_KG_M3, Envelope, film_constant_pa, gas_excess_k
from pappus.trajectory._laid_out import Tables
from pappus.trajectory._sun import Sun

Array = NDArray[np.float64]

_WARMTH_STEP_M, _WARMTH_STEP_S = 500.0, 120.0
_THIN_STEPS = 128.0
_THINNER = np.arange(0.0, 8.0, 1.0 / _THIN_STEPS)
"""Up to 50 km."""


def tables(envelope: Envelope, sun: Sun, first_s: float, last_s: float, top_msl_m: float) -> Tables:
    """The laws as far as flights between two times and below the top of the winds need them."""
    warmth = _warmth(sun, first_s, last_s, top_msl_m)
    return Tables(
        warmth=np.ascontiguousarray(warmth.reshape(-1, 2)),
        warmth_times=warmth.shape[0],
        warmth_heights=warmth.shape[1],
        warmth_from_s=first_s,
        warmth_per_s=1.0 / _WARMTH_STEP_S,
        warmth_per_m=1.0 / _WARMTH_STEP_M,
        slowness=1.0 / envelope.climb_bend.rate_factor(SEA_LEVEL_DENSITY_KG_M3 * np.exp(-_THINNER)),
        thin_steps=_THIN_STEPS,
        film_pa=film_constant_pa(envelope.mass_kg, envelope.unstretched_diameter_m),
    )


def _warmth(sun: Sun, first_s: float, last_s: float, top_msl_m: float) -> Array:
    time = np.arange(first_s, last_s + 2.0 * _WARMTH_STEP_S, _WARMTH_STEP_S)[:, None]
    height = np.arange(0.0, max(top_msl_m, 0.0) + 2.0 * _WARMTH_STEP_M, _WARMTH_STEP_M)
    excess = gas_excess_k(0.0, height, sun.elevation_at_deg(time))
    return np.stack([np.maximum(excess, 0.0), np.minimum(excess, 0.0)], axis=-1)
