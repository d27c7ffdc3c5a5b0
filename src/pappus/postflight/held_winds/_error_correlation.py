"""Correlation of the prior's wind errors along one leg of a flight."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.wind import FlightKnots, WindPrior, knot_covariance

Array = NDArray[np.float64]


def error_correlation(height_msl_m: Array, time_s: Array, east_m: Array, north_m: Array, prior: WindPrior) -> Array:
    """Correlation of one wind component between K points of a flight, shape (K, K), from four arrays of shape (K,).

    It is the covariance of ``pappus.wind.knot_covariance`` with a size of one everywhere.
    """
    one = np.ones((1, len(height_msl_m)))
    knots = FlightKnots(
        height_msl_m=height_msl_m[None],
        time_s=time_s[None],
        east_m=east_m[None],
        north_m=north_m[None],
        large_sd_m_s=one * np.sqrt(prior.large_share),
        wave_sd_m_s=one * np.sqrt(1.0 - prior.large_share),
        member_deviation_m_s=np.zeros((1, *one.shape, 2)),
    )
    return knot_covariance(knots, prior)
