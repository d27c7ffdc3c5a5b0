"""How climbs stray from the drag law with height, from flight to flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ClimbScatter:
    """ln(rate over the law of a flight): Gaussian over height, with mean zero and exponential correlation."""

    low_ln_sd: float
    high_ln_sd: float
    """Standard deviation below 10 km and above 15 km; linear between."""
    depth_m: float
    """Difference in height over which it goes together."""

    def ln_sd(self, height_msl_m: Array) -> Array:
        """Standard deviation at heights, shape (K,)."""
        return np.asarray(np.interp(height_msl_m, (10_000.0, 15_000.0), (self.low_ln_sd, self.high_ln_sd)))

    def covariance(self, height_msl_m: Array) -> Array:
        """Covariance of ln(rate) at heights, shape (K, K)."""
        sd = self.ln_sd(height_msl_m)
        apart = np.abs(height_msl_m[:, None] - height_msl_m)
        return np.asarray(sd[:, None] * sd * np.exp(-apart / self.depth_m))
