"""The kernel's own forms of the laws against the rooms in which they stand, and its powers against the C library."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from oracle.places import degrees_per_m as plain_degrees_per_m
from pappus.atmosphere import dynamic_viscosity_pa_s
from pappus.earth import gravity_m_s2
from pappus.flight_train import climb_rate_m_s, fall_rate_m_s, film_constant_pa, inflated_diameter_m, sphere_volume_m3
from pappus.trajectory._laid_out import Tables
from pappus.trajectory._laws import air_pressure, climb, degrees_per_m, sink, stretched
from pappus.trajectory._power import power
from pappus.units import dry_air_gas_constant_j_kg_k, gas_constant_j_mol_k

positive = st.floats(1e-9, 1e12)


@given(positive, st.floats(-3.0, 3.0))
def test_power_as_in_the_c_library(base: float, exponent: float) -> None:
    assert math.isclose(power(base, exponent), math.pow(base, exponent), rel_tol=1e-9)


@given(st.floats(-89.9, 89.9), st.floats(-400.0, 60_000.0))
def test_degrees_in_a_metre(latitude: float, height: float) -> None:
    ours, plain = degrees_per_m(latitude, height), plain_degrees_per_m(np.array(latitude), np.array(height))
    assert np.allclose(ours, [float(value) for value in plain], rtol=1e-6, atol=0.0)


@given(st.floats(100.0, 103_000.0), st.floats(190.0, 310.0), st.floats(50.0, 900.0))
def test_stretch_of_the_film(pressure: float, temperature: float, gas_mol: float) -> None:
    slack, mass = 1.9, 1.6
    content = gas_mol * gas_constant_j_mol_k * temperature / float(sphere_volume_m3(slack))
    tables = Tables(np.zeros((4, 2)), 2, 2, 0.0, 1.0, 1.0, np.ones(2), 1.0, film_constant_pa(mass, slack))
    ours = stretched(tables, pressure, content, 3.0, 60) * slack
    expected = float(inflated_diameter_m(gas_mol, pressure, temperature, mass, slack))
    assert math.isclose(ours, expected, rel_tol=1e-6)


@given(
    st.floats(0.002, 1.3), st.floats(190.0, 310.0), st.floats(1.5, 12.0), st.floats(0.01, 5.0), st.floats(0.0, 45_000.0)
)  # fmt: skip
def test_climb_where_drag_balances_lift(
    density: float, temperature: float, diameter: float, net: float, height: float
) -> None:
    viscosity = float(dynamic_viscosity_pa_s(temperature))
    slowness = climb(net, diameter, density, 1.0 / viscosity, height, 1.0 / 1.1)
    expected = climb_rate_m_s(net * gravity_m_s2(height), diameter, density, viscosity, 1.1)
    assert math.isclose(1.0 / slowness, float(expected), rel_tol=1e-6)
    assert climb(-net, diameter, density, 1.0 / viscosity, height, 1.0) >= 1e9


@given(st.floats(0.002, 1.3), st.floats(0.1, 0.7), st.floats(0.0, 45_000.0))
def test_fall_under_the_canopy(density: float, exponent: float, height: float) -> None:
    at_unit = 1.0 / float(fall_rate_m_s(3.0, 1.2, 1.0, 1.0, exponent))
    expected = fall_rate_m_s(3.0, 1.2, density, gravity_m_s2(height), exponent)
    assert math.isclose(1.0 / sink(at_unit, exponent, density, height, 0.0), float(expected), rel_tol=1e-6)
    faster = 1.0 / sink(at_unit, exponent, density, height, 0.2)
    assert math.isclose(faster, float(expected) * math.exp(0.2), rel_tol=1e-6)


def test_air_pressure_is_that_of_a_perfect_gas() -> None:
    assert math.isclose(air_pressure(1.2, 280.0), 1.2 * dry_air_gas_constant_j_kg_k * 280.0)
