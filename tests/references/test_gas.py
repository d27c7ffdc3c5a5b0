"""Lifting gas against reference equations of state (source of each case in its name).

The entries were made with CoolProp, which pappus calls too: they check our units, mixtures and cylinder balance, and
that another version of CoolProp gives the same; independent numbers are in ``test_lifting_gas.py``.
"""

from __future__ import annotations

import pytest

from pappus import flight_train as gas
from pappus.units import standard_pressure_pa
from references.checks import Entry, assert_within, case_id, load_entries

ENTRIES = load_entries("gas")
BAR_PA = 1e5


def answer(entry: Entry) -> float:
    """What pappus says to the inputs of an entry; the middle part of its id names the quantity."""
    inputs, quantity = entry["inputs"], entry["id"].split("_")[2]
    kind, temperature_k = inputs["gas"].lower(), inputs["T_K"]
    if quantity == "rho":
        return gas.gas_density_kg_m3(kind, temperature_k, inputs["p_Pa"])
    if quantity == "lift":
        return gas.lift_kg_m3(kind, temperature_k, inputs["p_Pa"])
    pressure_pa = inputs["p_bar_abs"] * BAR_PA
    if quantity == "Z":
        return gas.compressibility(kind, temperature_k, pressure_pa)
    assert quantity == "cyl50L"
    assert inputs["free_gas_state"] == "288.15 K, 101325 Pa"
    cylinder = gas.Cylinder(inputs["water_volume_L"] / 1000, pressure_pa, temperature_k, residual_pressure_pa=0)
    amount_mol = gas.cylinder_amount_mol(kind, cylinder)
    return gas.free_volume_m3(kind, amount_mol, 288.15, standard_pressure_pa)


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_lifting_gas(entry: Entry) -> None:
    assert_within(answer(entry), entry)


def test_no_entry_is_missing() -> None:
    assert len({entry["id"] for entry in ENTRIES}) == len(ENTRIES) == 42


@pytest.mark.parametrize(("kind", "lapse_k_per_km"), [("helium", 13.67), ("hydrogen", 9.88)])
def test_lapse_of_rising_gas(kind: str, lapse_k_per_km: float) -> None:
    """(M_air / M_gas) g / c_p with c_p of the reference equations of state at 15 degrees C."""
    assert gas.gas_lapse_k_per_m(kind) * 1000 == pytest.approx(lapse_k_per_km, abs=0.01)
