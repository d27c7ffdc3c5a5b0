"""The sun over a flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sun:
    """Elevation of the sun over the launch area, to be read between the given times."""

    time_s: Array
    elevation_deg: Array

    def elevation_at_deg(self, time_s: Array) -> Array:
        """Elevation [deg], linear in time."""
        return np.asarray(np.interp(time_s, self.time_s, self.elevation_deg))
