"""Growth of the position error with wind error, against worked values; each case shows its own source."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from pappus.atmosphere import standard_air
from pappus.wind import drift_sd_m, structure_function_m2_s2
from references.checks import assert_within, case_id, load_entries

ENTRIES = load_entries("winds")


def residence(inputs: dict[str, Any], step_m: float) -> tuple[Any, Any]:
    middle = np.arange(0.0, inputs["H_burst"], step_m) + step_m / 2.0
    down = inputs["v_asc"] * np.sqrt(inputs["rho0"] / standard_air(middle).density_kg_m3)
    return middle, step_m * (1.0 / inputs["v_asc"] + 1.0 / down)


def position_sd(inputs: dict[str, Any]) -> float:
    middle, seconds = residence(inputs, inputs["dz"])
    sd = np.full_like(middle, inputs["sigma_component_m_s"])
    return drift_sd_m(seconds, sd, middle, inputs["L_m"])


def burst_error(inputs: dict[str, Any]) -> float:
    """A layer of the given depth, wholly correlated, is the first-order shift of a wrong burst height."""
    seconds = np.array([inputs["dH_m"] * (1.0 / inputs["v_asc"] + 1.0 / inputs["v_desc"])])
    return drift_sd_m(seconds, np.array([inputs["wind_m_s"]]), np.array([0.0]), 1.0)


COMPUTE = {
    "wind_pos_sd": position_sd,
    "wind_time_aloft": lambda i: float(residence(i, 20.0)[1].sum()),
    "wind_burst_sens": burst_error,
    "wind_structure": lambda i: float(np.sqrt(structure_function_m2_s2(i["r_m"]))),
}


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_worked_value(entry: dict[str, Any]) -> None:
    compute = next(function for prefix, function in COMPUTE.items() if entry["id"].startswith(prefix))
    assert_within(compute(entry["inputs"]), entry)


def test_no_entry_is_left_out() -> None:
    assert len(ENTRIES) == 9
