"""Fall under a canopy against worked values; each case shows its own source."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pappus.atmosphere import standard_air
from pappus.earth import gravity_m_s2
from pappus.flight_train import fall_rate_m_s
from references.checks import assert_within, case_id, load_entries

ENTRIES = load_entries("descent")


def steady_rate(mass_kg: float, drag_area_m2: float, height_m: float) -> float:
    air = standard_air(height_m)
    return float(fall_rate_m_s(mass_kg, drag_area_m2, air.density_kg_m3, gravity_m_s2(height_m)))


def terminal(inputs: dict[str, Any]) -> float:
    area = np.pi * inputs["D0_m"] ** 2 / 4.0
    return steady_rate(inputs["m_kg"], inputs["Cd"] * area, inputs["Z_m"])


def from_rest(inputs: dict[str, Any]) -> Any:
    """dv/dt = g (1 - (v / v_steady)^2) is the same equation of motion, with our steady rate in it."""

    def slope(_: float, state: Any) -> list[float]:
        height, speed = max(state[0], 0.0), state[1]
        steady = steady_rate(inputs["m_kg"], inputs["CdS_m2"], height)
        return [-speed, float(gravity_m_s2(height)) * (1.0 - speed * abs(speed) / steady**2)]

    def ground(_: float, state: Any) -> float:
        return float(state[0])

    ground.terminal = True  # type: ignore[attr-defined]  # how solve_ivp wants it
    start = [inputs["start_Z_m"], inputs["v0"]]
    return solve_ivp(slope, (0.0, 6000.0), start, events=ground, rtol=1e-7, atol=1e-6, method="LSODA", max_step=5.0)


COMPUTE = {
    "descent_vt": terminal,
    "descent_t": lambda i: float(from_rest(i).t[-1]),
    "descent_vmax": lambda i: float(from_rest(i).y[1].max()),
}


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_worked_value(entry: dict[str, Any]) -> None:
    compute = next(function for prefix, function in COMPUTE.items() if entry["id"].startswith(prefix))
    assert_within(compute(entry["inputs"]), entry)


def test_no_entry_is_left_out() -> None:
    assert len(ENTRIES) == 11


def test_steady_fall_is_good_enough_for_a_whole_descent() -> None:
    """What the flight model leaves out by not accelerating from rest: under 5 s of an hour, by the same equation."""
    inputs = next(entry["inputs"] for entry in ENTRIES if entry["id"] == "descent_t_30km")
    heights = np.arange(5.0, 30_000.0, 10.0)
    steady = sum(10.0 / steady_rate(inputs["m_kg"], inputs["CdS_m2"], height) for height in heights)
    assert 0.0 < float(from_rest(inputs).t[-1]) - steady < 5.0
