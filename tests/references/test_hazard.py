"""Energy and casualty area against the reference numbers of ``authorities/physics_hazard.json``."""

from __future__ import annotations

import pytest

from pappus.hazard import (
    CASUALTY_ENERGY_J,
    CATEGORY_3_ENERGY_J,
    PERSON_AREA_M2,
    allowed_speed_m_s,
    casualty_area_nasa_m2,
    casualty_area_rcc_m2,
    kinetic_energy_j,
)
from references.checks import Entry, assert_within, case_id, load_entries

ENTRIES = load_entries("hazard")
THRESHOLDS_J = {11: CASUALTY_ENERGY_J, 25: CATEGORY_3_ENERGY_J}
# mass [kg], speed [m/s], energy [J]: m v^2 / 2 by hand
ENERGIES = [(1.0, 5.0, 12.5), (1.0, 6.0, 18.0), (2.0, 5.0, 25.0), (2.0, 6.0, 36.0), (4.0, 6.0, 72.0)]


def ours(entry: Entry) -> object:
    given = entry["inputs"]
    if entry["id"].startswith("ke_"):
        return THRESHOLDS_J[given["ft_lbf"]]
    if entry["id"].startswith("v_allowed"):
        return allowed_speed_m_s(given["m_kg"], given["E_J"]).tolist()
    if entry["id"] == "ca_circ":
        return casualty_area_rcc_m2([3.141592653589793 * given["r_d"] ** 2])
    assert entry["id"] == "ec_1"
    assert given["A_person_m2"] == PERSON_AREA_M2
    per_m2 = given["P"] * given["rho_people_per_km2"] / given["km2_to_m2"]
    return per_m2 * casualty_area_nasa_m2([given["A_obj_m2"]])


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_hazard_reference(entry: Entry) -> None:
    assert_within(ours(entry), entry)


@pytest.mark.parametrize(("mass_kg", "speed_m_s", "energy_j"), ENERGIES)
def test_energy_and_the_speed_that_has_it(mass_kg: float, speed_m_s: float, energy_j: float) -> None:
    assert kinetic_energy_j(mass_kg, speed_m_s) == pytest.approx(energy_j)
    assert allowed_speed_m_s(mass_kg, energy_j) == pytest.approx(speed_m_s)
