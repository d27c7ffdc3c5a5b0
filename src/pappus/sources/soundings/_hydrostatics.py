"""The hydrostatic balance between levels, in both directions: dry air, temperature linear between levels.

d ln(p) = -g0 dH / (R T), H in geopotential metres; WMO-No. 8 (from memory). Results start with 0 at the first level.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2

Array = NDArray[np.float64]

_LAPSE_K_PER_M = standard_gravity_m_s2 / dry_air_gas_constant_j_kg_k


def log_pressure_above_first(geopotential_m: Array, temperature_k: Array) -> Array:
    """ln(p / p of the first level) at each level."""
    return _sum(-_LAPSE_K_PER_M * np.diff(geopotential_m) / _mean(temperature_k))


def geopotential_above_first_m(minus_log_pressure: Array, temperature_k: Array) -> Array:
    """Geopotential metres of each level above the first one."""
    return _sum(_mean(temperature_k) * np.diff(minus_log_pressure) / _LAPSE_K_PER_M)


def _mean(values: Array) -> Array:
    return (values[1:] + values[:-1]) / 2.0


def _sum(steps: Array) -> Array:
    return np.concatenate(([0.0], np.cumsum(steps)))
