"""Temperatures that a sensor did not give, worked out from pressure and height, which are measured apart from it.

Between two levels pressure and height give the mean temperature: T = -g0 dH / (R d ln p), H in geopotential metres (the
hydrostatic balance, WMO-No. 8, from memory). It is the virtual temperature, which gives the right density. Over 1 km
an error of 0.1 hPa at 60 hPa moves it by about 2 K.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2, zero_celsius_k

Array = NDArray[np.float64]

LAYER_M = 1_000.0
FEWEST_RECORDS = 5
FEWEST_LAYERS = 3
FEWEST_REPEATS = 60
REPEATING_SHARE = 0.05
"""The coldest value of a working sensor is not repeated by one record in twenty."""
COLDEST_K, WARMEST_K = 150.0, 330.0
"""A layer outside has a pressure or a height that is wrong (common practice)."""


def without_floor(temperature_k: Array, geopotential_m: Array, pressure_pa: Array, notes: list[str]) -> Array:
    """Replace the coldest temperature where too many records repeat it: the sensor stands at the end of its range."""
    known = temperature_k[np.isfinite(temperature_k)]
    if not known.size:
        return temperature_k
    coldest = float(known.min())
    stuck = temperature_k == coldest
    if stuck.sum() < max(FEWEST_REPEATS, REPEATING_SHARE * len(temperature_k)):
        return temperature_k
    said = (
        f"{int(stuck.sum())} records repeat the coldest temperature, {coldest - zero_celsius_k:.2f} degrees Celsius, "
    )
    middle_m, mean_k = layer_temperatures_k(geopotential_m, pressure_pa)
    if len(middle_m) < FEWEST_LAYERS:
        notes.append(f"{said}the end of the sensor's range: kept, the air was as cold or colder")
        return temperature_k
    usable = stuck & np.isfinite(geopotential_m)
    result = temperature_k.copy()
    # one thing the sensor does say: the air was not warmer than the end of its range
    result[usable] = np.minimum(np.interp(geopotential_m[usable], middle_m, mean_k), coldest)
    notes.append(f"{said}the end of the sensor's range: worked out from pressure and height over layers of 1 km")
    return result


def with_lost(temperature_k: Array, geopotential_m: Array, pressure_pa: Array, notes: list[str]) -> Array:
    """Fill the temperatures below and above all measured ones where these span less than half of the record."""
    placed = np.isfinite(geopotential_m) & np.isfinite(pressure_pa)
    warm = placed & np.isfinite(temperature_k)
    if not placed.any():
        return temperature_k
    spanned = np.ptp(geopotential_m[warm]) if warm.any() else 0.0
    if spanned >= 0.5 * np.ptp(geopotential_m[placed]):
        return temperature_k
    middle_m, mean_k = layer_temperatures_k(geopotential_m, pressure_pa)
    if len(middle_m) < FEWEST_LAYERS:
        return temperature_k
    lost = placed & np.isnan(temperature_k)
    if warm.any():
        lost &= (geopotential_m < geopotential_m[warm].min()) | (geopotential_m > geopotential_m[warm].max())
    result = temperature_k.copy()
    result[lost] = np.interp(geopotential_m[lost], middle_m, mean_k)
    notes.append(
        f"{int(lost.sum())} levels without temperature: worked out from pressure and height over layers of 1 km"
    )
    return result


def layer_temperatures_k(geopotential_m: Array, pressure_pa: Array) -> tuple[Array, Array]:
    """Middle height and mean temperature of each layer of 1 km that enough records cross."""
    known = np.isfinite(geopotential_m) & np.isfinite(pressure_pa) & (pressure_pa > 0.0)
    height, log_p = geopotential_m[known], np.log(pressure_pa[known])
    if height.size < FEWEST_RECORDS:
        return np.empty(0), np.empty(0)
    layer = np.floor((height - height.min()) / LAYER_M).astype(np.intp)
    middle_m, mean_k = [], []
    for number in np.unique(layer):
        inside = layer == number
        if inside.sum() < FEWEST_RECORDS or np.ptp(height[inside]) < LAYER_M / 2.0:
            continue
        slope = float(np.polyfit(height[inside] - height[inside].mean(), log_p[inside], 1)[0])
        kelvin = -standard_gravity_m_s2 / (dry_air_gas_constant_j_kg_k * slope) if slope < 0.0 else np.inf
        if COLDEST_K <= kelvin <= WARMEST_K:
            middle_m.append(float(height[inside].mean()))
            mean_k.append(kelvin)
    return np.array(middle_m), np.array(mean_k)
