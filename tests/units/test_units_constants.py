"""Constants against scipy.constants (CODATA) and the printed values of the standards."""

import pytest
import scipy.constants as codata

from pappus import units


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (units.standard_gravity_m_s2, codata.g),
        (units.gas_constant_j_mol_k, codata.R),
        (units.standard_pressure_pa, codata.atm),
        (units.zero_celsius_k, codata.zero_Celsius),
        (units.foot_m, codata.foot),
        (units.mile_m, codata.mile),
        (units.knot_m_s, codata.knot),
        (units.gram_force_n, codata.kgf / 1000.0),
    ],
)
def test_exact_constants_are_those_of_codata(ours, theirs):
    assert ours == pytest.approx(theirs, rel=1e-14)


def test_air_is_that_of_the_standard_atmosphere():
    # ISO 2533, from memory: R* 8314.32 J/(kmol K), M 28.964420 kg/kmol; the 1976 atmosphere prints M as 28.9644.
    assert units.dry_air_gas_constant_j_kg_k == pytest.approx(8314.32 / 28.964420, abs=1e-5)
    ambiance = pytest.importorskip("ambiance")
    assert units.dry_air_gas_constant_j_kg_k == pytest.approx(ambiance.CONST.R, abs=1e-9)
    assert units.molar_mass_air_kg_mol == pytest.approx(0.028964420, abs=1e-7)


def test_molar_masses_of_the_gases_are_those_of_coolprop():
    CoolProp = pytest.importorskip("CoolProp.CoolProp")
    assert units.molar_mass_helium_kg_mol == pytest.approx(CoolProp.PropsSI("molarmass", "Helium"), rel=1e-5)
    assert units.molar_mass_hydrogen_kg_mol == pytest.approx(CoolProp.PropsSI("molarmass", "Hydrogen"), rel=1e-4)
