"""Climb of a latex balloon against worked values; each case shows its own source."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from pappus.atmosphere import dynamic_viscosity_pa_s, standard_air
from pappus.earth import gravity_m_s2
from pappus.flight_train import (
    added_mass_kg,
    balloon_drag_coefficient,
    burst_height_msl_m,
    climb_rate_m_s,
    gas_lapse_k_per_m,
    sphere_diameter_m,
    sphere_volume_m3,
)
from pappus.units import gas_constant_j_mol_k
from references.checks import assert_within, case_id, load_entries
from references.worked_site import STANDARD_SITE, train_with

ENTRIES = load_entries("ascent")


def climb(inputs: dict[str, Any], height_m: Any, drag: float | None) -> Any:
    """Free lift is a mass times g(Z); the sphere grows as rho0 / rho. ``drag`` holds Cd constant."""
    air = standard_air(height_m)
    volume = sphere_volume_m3(inputs["D_sealevel_m"]) * inputs["rho0"] / air.density_kg_m3
    diameter = sphere_diameter_m(volume)
    lift = inputs["free_lift_kg"] * gravity_m_s2(height_m)
    viscosity = dynamic_viscosity_pa_s(air.temperature_k)
    rate, factor = np.full_like(diameter, 5.0), np.ones_like(diameter)
    for _ in range(60):  # a constant Cd is the law times a factor that depends on the speed it gives
        if drag is not None:
            factor = drag / balloon_drag_coefficient(air.density_kg_m3 * rate * diameter / viscosity)
        rate = climb_rate_m_s(lift, diameter, air.density_kg_m3, viscosity, factor)
    return rate


def ascent_time(inputs: dict[str, Any]) -> dict[str, float]:
    step = 100.0
    middle = np.arange(inputs["Z_from_m"], inputs["Z_to_m"], step) + step / 2.0
    return {"constant_Cd0.3_s": float(np.sum(step / climb(inputs, middle, 0.3)))}


def fill(inputs: dict[str, Any]) -> dict[str, float]:
    """Find the volume at which our climb rate is the wanted one, drag held at the constant of the example."""
    carried = inputs["m_balloon_kg"] + inputs["m_train_kg"]
    viscosity = dynamic_viscosity_pa_s(288.15)

    def rate(volume: float) -> float:
        diameter = float(sphere_diameter_m(volume))
        lift = (volume * (inputs["rho_air"] - inputs["rho_gas"]) - carried) * inputs["g"]
        reynolds = inputs["rho_air"] * inputs["v_m_s"] * diameter / viscosity
        factor = inputs["Cd"] / balloon_drag_coefficient(reynolds)
        return float(climb_rate_m_s(lift, diameter, inputs["rho_air"], viscosity, factor))

    low, high = 0.1, 50.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rate(middle) < inputs["v_m_s"] else (low, middle)
    mol = 101_325.0 * low / (gas_constant_j_mol_k * 288.15)
    # an unstretched diameter as large as the burst diameter leaves the film slack: no overpressure, as in the example
    train = train_with(inputs["m_balloon_kg"], inputs["m_train_kg"], inputs["D_burst_m"], inputs["D_burst_m"])
    return {
        "V_m3": low,
        "D_m": float(sphere_diameter_m(low)),
        "free_lift_kg": low * (inputs["rho_air"] - inputs["rho_gas"]) - carried,
        "H_burst_m_geom": float(burst_height_msl_m(mol, inputs["D_burst_m"], train, STANDARD_SITE)[0]),
    }


COMPUTE = {
    "fill": fill,
    "ascent_profile_a": lambda i: climb(i, np.asarray(i["Z_km"]) * 1000.0, None),
    "ascent_profile": lambda i: float(climb(i, np.asarray(float(i["Z_m"])), i["Cd"])),
    "added_mass": lambda i: float(added_mass_kg(i["D_m"], i["rho"])),
    "cd_handbook": lambda i: float(balloon_drag_coefficient(i["Re"])),
    "gas_lapse": lambda i: 1000.0 * float(gas_lapse_k_per_m({"He": "helium", "H2": "hydrogen"}[i["gas"]])),
    "ascent_time": ascent_time,
}


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_worked_value(entry: dict[str, Any]) -> None:
    compute = next(function for prefix, function in COMPUTE.items() if entry["id"].startswith(prefix))
    assert_within(compute(entry["inputs"]), entry)


def test_no_entry_is_left_out() -> None:
    assert len(ENTRIES) == 17


def test_greatest_drag_coefficient_holds_where_the_law_asks_for_more() -> None:
    """Closed form against the implicit balance F = rho/2 Cd(Re) A v^2, over the range of the law and the cap."""
    for lift_n in (1e-4, 1e-3, 0.01, 0.1, 1.0, 10.0, 100.0):
        for density in (1.225, 0.1, 0.004):
            rate = float(climb_rate_m_s(lift_n, 2.0, density, 1.5e-5, 1.1))
            drag = 1.1 * float(balloon_drag_coefficient(density * rate * 2.0 / 1.5e-5))
            assert 0.5 * density * drag * np.pi * rate**2 == pytest.approx(lift_n, rel=1e-9)
