"""Properties of dry and humid air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import require_range
from pappus.units import dry_air_gas_constant_j_kg_k

Array = NDArray[np.float64]


_COLDEST_K, _HOTTEST_K = 150.0, 400.0
_THINNEST_PA, _DENSEST_PA = 0.1, 200_000.0
_VAPOUR_DEFICIT = 0.378
"""1 - (molar mass of water / molar mass of air)."""
_MOLECULE_DIAMETER_M = 3.65e-10
_MOLECULES_PER_JOULE = 6.022169e26 / 8314.32
"""Avogadro constant over universal gas constant, per kilomole, as the 1976 standard has them."""


@dataclass(frozen=True)
class AirState:
    """Temperature, pressure and density of air at one or more heights (arrays of one shape, 0-d for one height)."""

    temperature_k: Array
    pressure_pa: Array
    density_kg_m3: Array


def air_density_kg_m3(pressure_pa: ArrayLike, temperature_k: ArrayLike, vapour_pressure_pa: ArrayLike = 0.0) -> Array:
    """Density of air as an ideal gas, (p - 0.378 e) / (R T); broadcasts.

    Valid from 0.1 Pa to 2 bar and 150 to 400 K; real air at 1 bar and 0 degrees C is 0.06 % denser. The vapour pressure
    e may not exceed p. Source: WMO-No. 8 (from memory), R of the US Standard Atmosphere 1976.
    """
    pressure = require_range("air pressure", pressure_pa, _THINNEST_PA, _DENSEST_PA, "Pa")
    temperature = _air_temperature_k(temperature_k)
    vapour = np.asarray(vapour_pressure_pa, dtype=np.float64)
    vapour_part = require_range("vapour pressure over air pressure", vapour / pressure, 0, 1, "")
    dry = pressure / (dry_air_gas_constant_j_kg_k * temperature)
    return np.asarray(dry * (1 - _VAPOUR_DEFICIT * vapour_part))


def dynamic_viscosity_pa_s(temperature_k: ArrayLike) -> Array:
    """Sutherland's law, 1.458e-6 T^1.5 / (T + 110.4). Valid 150 to 400 K. US Standard Atmosphere 1976, eq. 51."""
    temperature = _air_temperature_k(temperature_k)
    return np.asarray(1.458e-6 * temperature**1.5 / (temperature + 110.4))


def kinematic_viscosity_m2_s(temperature_k: ArrayLike, density_kg_m3: ArrayLike) -> Array:
    """Dynamic viscosity over density. Valid 150 to 400 K, 1e-6 to 4 kg/m3. US Standard Atmosphere 1976, eq. 52."""
    density = require_range("air density", density_kg_m3, 1e-6, 4, "kg/m3")
    return np.asarray(dynamic_viscosity_pa_s(temperature_k) / density)


def mean_free_path_m(temperature_k: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """1 / (sqrt(2) pi d^2 n) with d = 3.65e-10 m and n the number of molecules per m3.

    Valid 150 to 400 K, 0.1 Pa to 2 bar. Source: US Standard Atmosphere 1976, section 1.3.5.
    """
    pressure = require_range("air pressure", pressure_pa, _THINNEST_PA, _DENSEST_PA, "Pa")
    molecules_per_m3 = _MOLECULES_PER_JOULE * pressure / _air_temperature_k(temperature_k)
    return np.asarray(1 / (np.sqrt(2) * np.pi * _MOLECULE_DIAMETER_M**2 * molecules_per_m3))


def thermal_conductivity_w_m_k(temperature_k: ArrayLike) -> Array:
    """2.64638e-3 T^1.5 / (T + 245.4 * 10^(-12/T)). Valid 150 to 400 K. US Standard Atmosphere 1976, eq. 53."""
    temperature = _air_temperature_k(temperature_k)
    return np.asarray(2.64638e-3 * temperature**1.5 / (temperature + 245.4 * 10 ** (-12 / temperature)))


def _air_temperature_k(temperature_k: ArrayLike) -> Array:
    return require_range("air temperature", temperature_k, _COLDEST_K, _HOTTEST_K, "K")
