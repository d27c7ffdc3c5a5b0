"""The latex envelope: how large it is at a pressure, how hard its film squeezes, where it bursts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange
from pappus.units import gas_constant_j_mol_k

Array = NDArray[np.float64]

FILM_DENSITY_KG_M3 = 930.0
SHEAR_MODULUS_PA = 3.0e5
SECOND_CONSTANT_RATIO = 0.1


def prior_burst_diameter_m(mass_kg: float) -> float:
    """Burst diameter [m] of a latex balloon of mass 0.01 to 6 kg when no maker's sheet is at hand.

    Power law ``7.48 m^0.549`` fitted to the burst diameters that follow from the hydrogen lift in the table "typical
    balloon performance" of WMO-No. 8, chapter "Balloon techniques" (table from memory), residuals -5 to +8 %.

    Raises OutOfRange outside 0.01 to 6 kg.
    """
    if not 0.01 <= mass_kg <= 6.0:
        raise OutOfRange("balloon mass", mass_kg, 0.01, 6.0, "kg")
    return float(7.48 * mass_kg**0.549)


def sphere_volume_m3(diameter_m: ArrayLike) -> Array:
    """Volume [m3] of a sphere."""
    return np.asarray(np.pi / 6.0 * np.asarray(diameter_m, dtype=float) ** 3)


def sphere_diameter_m(volume_m3: ArrayLike) -> Array:
    """Diameter [m] of a sphere."""
    return np.asarray(np.cbrt(6.0 / np.pi * np.asarray(volume_m3, dtype=float)))


def overpressure_pa(diameter_m: ArrayLike, mass_kg: float, unstretched_diameter_m: float) -> Array:
    """Pressure [Pa] by which the film squeezes the gas; zero for a slack envelope.

    Mooney-Rivlin sphere, Mueller & Strehlow 2004, Rubber and Rubber Balloons (from memory), with the shear modulus
    300 kPa and the ratio 0.1 that have been used for sounding balloons. Uncertain by about a factor of two [own prior].
    """
    stretch = np.asarray(diameter_m, dtype=float) / unstretched_diameter_m
    return np.asarray(film_constant_pa(mass_kg, unstretched_diameter_m) * _stretch_curve(np.maximum(stretch, 1.0)))


def film_constant_pa(mass_kg: float, unstretched_diameter_m: float) -> float:
    """Pressure [Pa] before the stretch curve of the film; see ``overpressure_pa``."""
    thickness_m = mass_kg / (FILM_DENSITY_KG_M3 * np.pi * unstretched_diameter_m**2)
    return float(2.0 * SHEAR_MODULUS_PA * thickness_m / (unstretched_diameter_m / 2.0))


def _stretch_curve(stretch: Array) -> Array:
    return np.asarray((1.0 / stretch - stretch**-7) * (1.0 + SECOND_CONSTANT_RATIO * stretch**2))


def _stretch_slope(stretch: Array) -> Array:
    """Derivative of the stretch curve by ln(stretch)."""
    inverse, ratio = 1.0 / stretch, SECOND_CONSTANT_RATIO
    return np.asarray(-inverse + 7.0 * inverse**7 + ratio * (stretch + 5.0 * inverse**5))


def inflated_diameter_m(
    gas_mol: ArrayLike,
    pressure_pa: ArrayLike,
    gas_temperature_k: ArrayLike,
    mass_kg: float,
    unstretched_diameter_m: float,
) -> Array:
    """Diameter [m] at which the gas pressure balances air and film: ``(p + dp(D)) pi D^3 / 6 = n R T``.

    Inputs broadcast. The left side grows with D everywhere, so Newton steps in ln D from the slack balloon converge
    from above; six of them leave less than 1e-9 in relative diameter.
    """
    content_j = np.asarray(gas_mol, dtype=float) * gas_constant_j_mol_k * np.asarray(gas_temperature_k, dtype=float)
    pressure = np.asarray(pressure_pa, dtype=float)
    constant = film_constant_pa(mass_kg, unstretched_diameter_m)
    log_diameter = np.log(sphere_diameter_m(content_j / pressure))
    for _ in range(6):
        stretch = np.maximum(np.exp(log_diameter) / unstretched_diameter_m, 1.0)
        film = constant * _stretch_curve(stretch)
        slope = np.where(stretch > 1.0, constant * _stretch_slope(stretch), 0.0)
        residual = np.log((pressure + film) * np.pi / 6.0 / content_j) + 3.0 * log_diameter
        log_diameter = log_diameter - residual / (3.0 + slope / (pressure + film))
    return np.asarray(np.exp(log_diameter))
