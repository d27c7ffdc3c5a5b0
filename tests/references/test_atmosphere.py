"""Standard air against the US Standard Atmosphere 1976 / ISO 2533:1975 (source of each case in its name)."""

from __future__ import annotations

import numpy as np
import pytest

from pappus import atmosphere
from pappus.earth import geopotential_height_m
from pappus.units import standard_pressure_pa
from references.checks import Entry, assert_within, case_id, load_entries

ENTRIES = load_entries("atmosphere")


def answer(entry: Entry) -> float:
    """What pappus says to the inputs of an entry; the last part of its id names the quantity."""
    inputs, quantity = entry["inputs"], entry["id"].rsplit("_", 1)[-1]
    if entry["id"] == "alt_press_vs_geom":
        return warm_column_rise_m(inputs)
    if "Z_m" in inputs:
        return geopotential_height_m(inputs["Z_m"])
    if "p_hPa" in inputs:
        return atmosphere.standard_height_msl_m(inputs["p_hPa"] * 100)
    if "p_over_p0" in inputs:
        height_msl_m = atmosphere.standard_height_msl_m(inputs["p_over_p0"] * standard_pressure_pa)
        return geopotential_height_m(height_msl_m) if entry["id"].startswith("atm_H") else height_msl_m
    if "geopotential_km" in inputs:
        air = atmosphere.standard_air_at_geopotential(inputs["geopotential_km"] * 1e3)
    else:
        air = atmosphere.standard_air(inputs["geometric_km"] * 1e3)
    return {
        "T": lambda: air.temperature_k,
        "p": lambda: air.pressure_pa,
        "rho": lambda: air.density_kg_m3,
        "mu": lambda: atmosphere.dynamic_viscosity_pa_s(air.temperature_k),
        "nu": lambda: atmosphere.kinematic_viscosity_m2_s(air.temperature_k, air.density_kg_m3),
        "mfp": lambda: atmosphere.mean_free_path_m(air.temperature_k, air.pressure_pa),
    }[quantity]()


def warm_column_rise_m(inputs: Entry) -> float:
    """How much higher, in geopotential metres, a pressure lies when the whole column is warmer."""
    pressure = np.geomspace(inputs["p0_hPa"] * 100, inputs["p_hPa"] * 100, 50)
    temperature = np.linspace(288.0, 226.0, 50)
    tops = [
        atmosphere.hydrostatic_height_msl_m(pressure, temperature + warmer, 0.0, None)[-1]
        for warmer in (0, inputs["dT_uniform_K"])
    ]
    return float(np.diff(geopotential_height_m(tops))[0])


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_standard_air(entry: Entry) -> None:
    assert_within(answer(entry), entry)


def test_no_entry_is_missing() -> None:
    assert len({entry["id"] for entry in ENTRIES}) == len(ENTRIES) == 86
