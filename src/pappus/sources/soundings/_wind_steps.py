"""In which steps a record writes its winds: what it rounded away is not in it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SPEED_STEPS_M_S = (1.0, 1852.0 / 3600.0, 0.1)
DIRECTION_STEPS_DEG = (10.0, 5.0, 1.0)
_SLACK = 1e-3
"""Of a step; the way from speed and direction to components and back loses far less."""


def written_steps(wind_u_m_s: Array, wind_v_m_s: Array) -> tuple[float, float]:
    """Steps of speed [m/s] and direction [deg]; 0 where the winds are multiples of none of the usual steps."""
    blowing = np.hypot(wind_u_m_s, wind_v_m_s) > 0.0  # false where a wind is missing
    u, v = wind_u_m_s[blowing], wind_v_m_s[blowing]
    speed_m_s, from_deg = np.hypot(u, v), np.degrees(np.arctan2(-u, -v))
    return _step(speed_m_s, SPEED_STEPS_M_S), _step(from_deg, DIRECTION_STEPS_DEG)


def _step(values: Array, steps: tuple[float, ...]) -> float:
    """The coarsest of the steps whose multiples all values are."""
    for step in steps:
        if values.size and float(np.abs(values / step - np.round(values / step)).max()) < _SLACK:
            return step
    return 0.0
