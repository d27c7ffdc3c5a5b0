"""How climbs scatter about the drag law within a flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ClimbScatter:
    """How flights scatter about the law: the mean rate over 1 km within a flight, and the power of Re between them."""

    low_m_s: float
    high_m_s: float
    """Standard deviation below 10 km and above 15 km; linear between."""
    depth_m: float
    """Over which it is correlated (exponential)."""
    drag_power_sd: float
    """Standard deviation from flight to flight of what is added to the power of Re in the drag law."""

    def covariance_m2_s2(self, height_msl_m: Array) -> Array:
        """Covariance of the mean rates of layers with these middles."""
        sd = np.interp(height_msl_m, (10_000.0, 15_000.0), (self.low_m_s, self.high_m_s))
        apart = np.abs(height_msl_m[:, None] - height_msl_m)
        return np.asarray(sd[:, None] * sd * np.exp(-apart / self.depth_m))


MEASURED_CLIMB_SCATTER = ClimbScatter(0.60, 0.80, 4_000.0, 0.05)
"""Most likely over 63 recorded ascents, as the evidence of the built-in prior has it (``climb.ln_rate``)."""
