"""A wind that a flight measured on its way up, held for its way down: how its error is shared out."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.wind._prior import WindPrior, held_wind_sd_m_s

Array = NDArray[np.float64]


def held_parts_m_s(
    pressure_pa: ArrayLike, distance_m: ArrayLike, age_s: ArrayLike, prior: WindPrior
) -> tuple[Array, Array]:
    """Standard deviations [m/s] per component of the large and of the wave part of a held wind's error.

    The size is that of ``held_wind_sd_m_s``; it is shared between the parts as the two have changed since,
    ``s (1 - correlation)`` of each. The noise of the measured winds adds to the wave part.
    """
    apart, age = np.asarray(distance_m, dtype=float), np.maximum(np.asarray(age_s, dtype=float), 0.0)
    size = held_wind_sd_m_s(pressure_pa, apart, age, prior)
    squares = (age / prior.large_time_s) ** 2 + (apart / prior.large_distance_m) ** 2
    large = prior.large_share * -np.expm1(-0.5 * squares)
    wave = (1.0 - prior.large_share) * -np.expm1(-age / prior.wave_time_s - apart / prior.wave_distance_m)
    share = large / np.maximum(large + wave, 1e-12)
    return np.asarray(size * np.sqrt(share)), np.asarray(np.hypot(size * np.sqrt(1.0 - share), prior.instrument_sd_m_s))
