"""Lifting gas: what is in a cylinder, how much room it takes and what it lifts.

Helium and hydrogen follow their reference equations of state (Ortiz-Vega et al. for helium, Leachman et al. 2009 for
normal hydrogen) through CoolProp, since an ideal gas would promise 10 % too much from a cylinder at 200 bar.
All functions hold from 200 to 350 K and up to 400 bar absolute, and broadcast.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.atmosphere import air_density_kg_m3
from pappus.earth import require_range
from pappus.errors import BadInput, Finding
from pappus.flight_train._train import Cylinder, Gas
from pappus.units import (
    gas_constant_j_mol_k,
    molar_mass_air_kg_mol,
    molar_mass_helium_kg_mol,
    molar_mass_hydrogen_kg_mol,
    standard_gravity_m_s2,
    standard_pressure_pa,
)

Array = NDArray[np.float64]
Kind = Literal["helium", "hydrogen"]

_MOLAR_MASS_KG_MOL: dict[Kind, float] = {"helium": molar_mass_helium_kg_mol, "hydrogen": molar_mass_hydrogen_kg_mol}
_FLUID: dict[Kind, str] = {"helium": "Helium", "hydrogen": "Hydrogen"}
_COLDEST_K, _HOTTEST_K = 200.0, 350.0
_HIGHEST_PRESSURE_PA = 400e5
_IDEAL_BELOW_PA = 1.0
"""Below this both gases are ideal to 1e-8, and the equations of state have no answer at zero."""


def molar_mass_kg_mol(gas: Gas) -> float:
    """Molar mass of the gas with its impurity counted as air. Purity 0.5 to 1."""
    purity = float(require_range("purity", gas.purity, 0.5, 1, "mole fraction"))
    return purity * _MOLAR_MASS_KG_MOL[gas.kind] + (1 - purity) * molar_mass_air_kg_mol


def compressibility(kind: Kind, temperature_k: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Z = p V / (n R T) of the pure gas. 200 to 350 K, 0 to 400 bar absolute."""
    temperature, pressure = np.broadcast_arrays(_gas_temperature_k(temperature_k), _gas_pressure_pa(pressure_pa))
    z = _property("Z", kind, temperature.ravel(), np.maximum(pressure, _IDEAL_BELOW_PA).ravel())
    return z.reshape(temperature.shape)


def gas_density_kg_m3(kind: Kind, temperature_k: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Density of the pure gas. 200 to 350 K, 0 to 400 bar absolute."""
    return _MOLAR_MASS_KG_MOL[kind] * _molar_density_mol_m3(kind, temperature_k, pressure_pa)


def cylinder_amount_mol(kind: Kind, cylinder: Cylinder) -> float:
    """Usable gas of one cylinder: what it holds now less what stays in it at the residual pressure.

    Both at the cylinder temperature, so let a cylinder that has just been drawn from warm up before it is read.
    Raises ``BadInput`` when the residual pressure is above the pressure.
    """
    if cylinder.residual_pressure_pa > cylinder.pressure_pa:
        raise BadInput(
            Finding(
                "cylinder residual pressure",
                f"{cylinder.residual_pressure_pa:g} Pa",
                f"it is above the cylinder pressure of {cylinder.pressure_pa:g} Pa",
                "Give the pressure at which the crew stops drawing from the cylinder, as an absolute pressure.",
            )
        )
    pressures = np.array([cylinder.pressure_pa, cylinder.residual_pressure_pa])
    full, left = _molar_density_mol_m3(kind, cylinder.temperature_k, pressures)
    return float(cylinder.water_volume_m3 * (full - left))


def free_volume_m3(kind: Kind, amount_mol: ArrayLike, temperature_k: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Volume of an amount of the pure gas at a temperature and a pressure of 1 Pa or more; always state both."""
    require_range("gas pressure", pressure_pa, _IDEAL_BELOW_PA, _HIGHEST_PRESSURE_PA, "Pa")
    amount = require_range("amount of gas", amount_mol, 0, np.inf, "mol")
    return np.asarray(amount / _molar_density_mol_m3(kind, temperature_k, pressure_pa))


def lift_kg_m3(kind: Kind, temperature_k: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Mass that a cubic metre of the pure gas carries in dry air of the same temperature and pressure.

    Multiply by the purity when the impurity is air. 200 to 350 K, 0.1 Pa to 2 bar.
    """
    air = air_density_kg_m3(pressure_pa, temperature_k)
    return np.asarray(air - gas_density_kg_m3(kind, temperature_k, pressure_pa))


def gas_lapse_k_per_m(kind: Kind, temperature_k: float = 288.15) -> float:
    """Cooling of rising gas without heat exchange, (M_air / M_gas) g0 / c_p, positive, c_p at 1 atm.

    The molar masses come in because the surrounding air, not the gas, sets the fall of pressure with height; holds for
    gas and air of about one temperature, 200 to 350 K.
    """
    temperature = _gas_temperature_k(temperature_k).reshape(1)
    specific_heat = float(_property("C", kind, temperature, np.array([standard_pressure_pa]))[0])
    return molar_mass_air_kg_mol / _MOLAR_MASS_KG_MOL[kind] * standard_gravity_m_s2 / specific_heat


def _molar_density_mol_m3(kind: Kind, temperature_k: ArrayLike, pressure_pa: ArrayLike) -> Array:
    temperature, pressure = _gas_temperature_k(temperature_k), _gas_pressure_pa(pressure_pa)
    return np.asarray(pressure / (compressibility(kind, temperature, pressure) * gas_constant_j_mol_k * temperature))


def _property(name: str, kind: Kind, temperature_k: Array, pressure_pa: Array) -> Array:
    from CoolProp.CoolProp import PropsSI

    return np.asarray(PropsSI(name, "T", temperature_k, "P", pressure_pa, _FLUID[kind]), dtype=np.float64)


def _gas_temperature_k(temperature_k: ArrayLike) -> Array:
    return require_range("gas temperature", temperature_k, _COLDEST_K, _HOTTEST_K, "K")


def _gas_pressure_pa(pressure_pa: ArrayLike) -> Array:
    return require_range("gas pressure", pressure_pa, 0, _HIGHEST_PRESSURE_PA, "Pa")
