"""Lifting gas against virial coefficients and textbook numbers, and its limits."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from pappus.errors import BadInput, OutOfRange
from pappus.flight_train import (
    Cylinder,
    Gas,
    compressibility,
    cylinder_amount_mol,
    free_volume_m3,
    gas_density_kg_m3,
    gas_lapse_k_per_m,
    lift_kg_m3,
    molar_mass_kg_mol,
)

MOLAR_VOLUME_0C_1ATM_M3 = 0.022413969
"""Ideal gas, CODATA."""


@pytest.mark.parametrize(("kind", "virial_m3_mol"), [("helium", 11.8e-6), ("hydrogen", 14.1e-6)])
def test_compressibility_follows_the_second_virial_coefficient(kind: str, virial_m3_mol: float) -> None:
    """Z = 1 + B p / R T at 10 bar, 25 degrees C; B from Dymond & Smith 1980 (from memory), +-0.5 cm3/mol."""
    expected = 1 + virial_m3_mol * 1e6 / (8.314462618 * 298.15)
    assert compressibility(kind, 298.15, 1e6) == pytest.approx(expected, abs=3e-4)


def test_density_of_an_ideal_gas_at_one_atmosphere() -> None:
    """Molar mass over the molar volume of the ideal gas: both gases are within 0.1 % of it."""
    assert gas_density_kg_m3("helium", 273.15, 101_325) == pytest.approx(0.0040026 / MOLAR_VOLUME_0C_1ATM_M3, rel=1e-3)
    assert gas_density_kg_m3("hydrogen", 273.15, 101_325) == pytest.approx(0.002016 / MOLAR_VOLUME_0C_1ATM_M3, rel=1e-3)


def test_impurity_counts_as_air() -> None:
    """95 % helium: 0.95 * 4.0026 + 0.05 * 28.9644 = 5.2507 g/mol; the lift falls in proportion to the purity."""
    mixture = molar_mass_kg_mol(Gas("helium", 0.95))
    assert mixture * 1000 == pytest.approx(5.2507, abs=1e-4)
    assert molar_mass_kg_mol(Gas("hydrogen")) * 1000 == pytest.approx(2.016, abs=1e-3)
    lift, pure_lift = 28.9644e-3 - mixture, 28.9644e-3 - molar_mass_kg_mol(Gas("helium"))
    assert lift / pure_lift == pytest.approx(0.95, abs=1e-5)


def test_a_residual_of_one_bar_keeps_the_water_volume_back() -> None:
    """50 L left at 1 bar and 15 degrees C is 0.050 * 1/1.01325 m3 of free gas, whatever the equation of state."""
    full = cylinder_amount_mol("helium", Cylinder(0.05, 200e5, 288.15, 0))
    usable = cylinder_amount_mol("helium", Cylinder(0.05, 200e5, 288.15, 1e5))
    assert free_volume_m3("helium", full - usable, 288.15, 101_325) == pytest.approx(0.05 / 1.01325, rel=1e-4)
    assert cylinder_amount_mol("helium", Cylinder(0.05, 1e5, 288.15, 1e5)) == 0


def test_a_cold_cylinder_reads_low() -> None:
    """The same gas at -10 degrees C stands 8 to 9 % lower than at 15: ratio of Z T, here by two gauge readings."""
    warm = cylinder_amount_mol("helium", Cylinder(0.05, 200e5, 288.15, 0))
    cold = cylinder_amount_mol("helium", Cylinder(0.05, 200e5 * 0.917, 263.15, 0))
    assert cold == pytest.approx(warm, rel=0.005)


def test_residual_above_the_pressure_is_named() -> None:
    with pytest.raises(BadInput, match="above the cylinder pressure"):
        cylinder_amount_mol("helium", Cylinder(0.05, 2e5, 288.15, 3e5))


def test_arrays_broadcast_and_vacuum_is_empty() -> None:
    assert compressibility("hydrogen", [[250.0], [300.0]], [1e5, 1e6, 1e7]).shape == (2, 3)
    assert gas_density_kg_m3("helium", 250.0, [0.0, 1e5])[0] == 0
    assert np.shape(lift_kg_m3("helium", 288.15, 101_325)) == ()


def test_lapse_follows_the_heat_capacity_of_helium() -> None:
    """A monatomic ideal gas has c_p = 5/2 R / M, so the lapse is M_air g0 / (5/2 R) at any temperature."""
    expected = 0.0289644 * 9.80665 / (2.5 * 8.314462618)
    assert gas_lapse_k_per_m("helium", 220.0) == pytest.approx(expected, rel=1e-3)


def test_outside_the_range_is_refused() -> None:
    for call in (
        lambda: compressibility("helium", 199, 1e5),
        lambda: compressibility("helium", [300, 351], 1e5),
        lambda: gas_density_kg_m3("hydrogen", 288, 401e5),
        lambda: gas_density_kg_m3("hydrogen", 288, -1),
        lambda: free_volume_m3("helium", 1.0, 288, 0),
        lambda: free_volume_m3("helium", -1.0, 288, 1e5),
        lambda: lift_kg_m3("helium", 288, 3e5),
        lambda: gas_lapse_k_per_m("hydrogen", 100),
        lambda: molar_mass_kg_mol(Gas("helium", 0.4)),
        lambda: molar_mass_kg_mol(Gas("helium", 98.0)),
        lambda: cylinder_amount_mol("helium", Cylinder(0.05, 500e5, 288, 0)),
    ):
        with pytest.raises(OutOfRange, match="valid from"):
            call()


def test_the_equations_of_state_are_loaded_late() -> None:
    """CoolProp takes more than a second to load: commands that need no gas must not pay for it."""
    code = "import sys, pappus.flight_train._gas; sys.exit('CoolProp' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
