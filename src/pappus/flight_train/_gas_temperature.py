"""How much warmer the gas is than the air around it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.sky import horizon_dip_deg

DAY_EXCESS_K = 25.0
NIGHT_EXCESS_K = -3.0
EXCESS_SD_K = 8.0
SEA_LEVEL_PRESSURE_PA = 101_325.0


def gas_excess_k(pressure_pa: ArrayLike, height_msl_m: ArrayLike, sun_elevation_deg: ArrayLike) -> NDArray[np.float64]:
    """Gas temperature less air temperature [K]; inputs broadcast.

    By day ``25 (1 - p/p0) sin(elevation + dip)^0.3``, at night -3: our own prior (sd 8 K, growing with height as the
    day term does) around the film temperatures measured by Martin, Mandel & Stiehler 1954, J. Res. NBS 53, 383
    (20 to 30 K warmer by day, 0 to 4 K colder at night, at burst).
    """
    height = np.maximum(np.asarray(height_msl_m, dtype=float), 0.0)
    above_horizon = np.sin(np.radians(np.asarray(sun_elevation_deg, dtype=float) + horizon_dip_deg(height)))
    by_day = DAY_EXCESS_K * height_share(pressure_pa) * np.maximum(above_horizon, 0.0) ** 0.3
    return np.asarray(np.where(above_horizon > 0.0, by_day, NIGHT_EXCESS_K))


def height_share(pressure_pa: ArrayLike) -> NDArray[np.float64]:
    """``1 - p/p0``, from 0 at sea level to 1 at the top: how much of the air lies below."""
    return np.asarray(np.maximum(1.0 - np.asarray(pressure_pa, dtype=float) / SEA_LEVEL_PRESSURE_PA, 0.0))
