"""How climbs scatter about the drag law within a flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ClimbScatter:
    """How the mean rate over 1 km scatters about the law within a flight."""

    low_m_s: float
    high_m_s: float
    """Standard deviation below 10 km and above 15 km; linear between."""
    depth_m: float
    """Over which it is correlated (exponential)."""

    def covariance_m2_s2(self, height_msl_m: Array) -> Array:
        """Covariance of the mean rates of layers with these middles."""
        sd = np.interp(height_msl_m, (10_000.0, 15_000.0), (self.low_m_s, self.high_m_s))
        apart = np.abs(height_msl_m[:, None] - height_msl_m)
        return np.asarray(sd[:, None] * sd * np.exp(-apart / self.depth_m))
