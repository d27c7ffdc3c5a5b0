"""The standard atmosphere against independent packages and limits of its range."""

from __future__ import annotations

import numpy as np
import pytest

from pappus.atmosphere import (
    air_density_kg_m3,
    dynamic_viscosity_pa_s,
    kinematic_viscosity_m2_s,
    mean_free_path_m,
    standard_air,
    standard_air_at_geopotential,
    standard_height_msl_m,
    thermal_conductivity_w_m_k,
)
from pappus.errors import OutOfRange


def test_every_layer_against_ambiance() -> None:
    """ambiance: an independent open-source ICAO standard atmosphere (Doc 7488), -5 to 81 km geometric."""
    ambiance = pytest.importorskip("ambiance")
    height = np.linspace(-4_990, 80_990, 861)
    theirs, ours = ambiance.Atmosphere(height), standard_air(height)
    assert ours.temperature_k == pytest.approx(theirs.temperature, rel=1e-6)
    assert ours.pressure_pa == pytest.approx(theirs.pressure, rel=1e-5)
    assert ours.density_kg_m3 == pytest.approx(theirs.density, rel=1e-5)
    assert dynamic_viscosity_pa_s(ours.temperature_k) == pytest.approx(theirs.dynamic_viscosity, rel=1e-5)
    # ICAO prints 2.648151e-3 where the 1976 standard has 2.64638e-3: 0.07 % apart (from memory)
    assert thermal_conductivity_w_m_k(ours.temperature_k) == pytest.approx(theirs.thermal_conductivity, rel=7e-4)


def test_up_to_86_km_against_fluids() -> None:
    """fluids: an independent open-source US Standard Atmosphere 1976."""
    fluids = pytest.importorskip("fluids")
    for height in (0.0, 11_100.0, 47_300.0, 71_500.0, 80_000.0, 84_000.0, 86_000.0):
        theirs, ours = fluids.ATMOSPHERE_1976(height), standard_air(height)
        assert ours.temperature_k == pytest.approx(theirs.T, rel=5e-4), height
        assert ours.pressure_pa == pytest.approx(theirs.P, rel=1e-4), height


def test_printed_values_at_the_top_of_the_table() -> None:
    """US Standard Atmosphere 1976, table I at 86 km (from memory): molecular-scale 186.946 K, 3.7338e-3 mbar."""
    air = standard_air(86_000)
    assert air.temperature_k == pytest.approx(186.946, abs=0.001)
    assert air.pressure_pa == pytest.approx(0.37338, rel=1e-4)


def test_geopotential_and_geometric_entry_agree_at_sea_level_only() -> None:
    assert standard_air_at_geopotential(0).pressure_pa == standard_air(0).pressure_pa == 101_325
    ratio = standard_air(30_000).pressure_pa / standard_air_at_geopotential(30_000).pressure_pa
    assert ratio == pytest.approx(1197.03 / 1171.86, abs=1e-4), "US Standard Atmosphere 1976, both tables"


def test_humid_air_is_lighter() -> None:
    """Saturated at 30 degrees C: 1.6 % less dense than dry air (4246 Pa from steam tables, from memory)."""
    dry, humid = air_density_kg_m3(101_325, 303.15, [0.0, 4246.0])
    assert dry == pytest.approx(1.1644, abs=2e-4), "dry air at 30 degrees C and 1 atm, engineering tables, from memory"
    assert humid / dry - 1 == pytest.approx(-0.0158, abs=2e-4)


def test_shapes_are_kept() -> None:
    assert standard_air(np.zeros((2, 3))).density_kg_m3.shape == (2, 3)
    assert np.shape(standard_air(1000.0).density_kg_m3) == ()
    assert np.shape(standard_height_msl_m(1000.0)) == ()


def test_the_limits_themselves_come_back() -> None:
    limits = np.array([-5_000.0, 86_000.0])
    assert standard_height_msl_m(standard_air(limits).pressure_pa) == pytest.approx(limits, abs=1e-6)


def test_outside_the_range_is_refused() -> None:
    for call in (
        lambda: standard_air(-5_001),
        lambda: standard_air([0, 86_001]),
        lambda: standard_air(np.nan),
        lambda: standard_air_at_geopotential(84_900),
        lambda: standard_height_msl_m(0.3),
        lambda: standard_height_msl_m(180_000),
        lambda: air_density_kg_m3(101_325, 140),
        lambda: air_density_kg_m3(101_325, 288, 101_326),
        lambda: dynamic_viscosity_pa_s(401),
        lambda: kinematic_viscosity_m2_s(288, 0),
        lambda: mean_free_path_m(288, 0),
        lambda: thermal_conductivity_w_m_k(149),
    ):
        with pytest.raises(OutOfRange, match="valid from"):
            call()
