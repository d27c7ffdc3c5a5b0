"""The page about hazards says the numbers that the code uses."""

from __future__ import annotations

import re
from pathlib import Path

from pappus.ground import BORDER_TOLERANCE_M
from pappus.hazard import (
    ENERGY_THRESHOLDS_J,
    PERSON_AREA_M2,
    PERSON_RADIUS_M,
    RURAL_PER_KM2,
    URBAN_PER_KM2,
    Clearances,
)

PAGE = (Path(__file__).parents[2] / "docs" / "hazard.md").read_text(encoding="utf-8")


def test_distances_of_the_table() -> None:
    rows = dict(re.findall(r"^\| ([\w -]+) \| .* \| (\d+) (?:m|degrees) \|$", PAGE, re.MULTILINE))
    clear = Clearances()
    assert {name: float(value) for name, value in rows.items()} == {
        "water": clear.waterway_m,
        "built-up": clear.building_m,
        "road": clear.road_m,
        "rail": clear.railway_m,
        "power line": clear.power_line_m,
        "steep": clear.slope_deg,
        "abroad": BORDER_TOLERANCE_M,
    }


def test_energies_people_and_areas() -> None:
    energies = re.findall(r"^\| ([\d.]+) J \|", PAGE, re.MULTILINE)
    assert tuple(map(float, energies)) == ENERGY_THRESHOLDS_J
    words = " ".join(PAGE.split())
    assert f"live at {URBAN_PER_KM2:g} per km2" in words
    assert f"live {RURAL_PER_KM2:g} per km2" in words
    assert f"sqrt {PERSON_AREA_M2:g} m2" in words
    assert f"pi ({PERSON_RADIUS_M:g} m + r)^2" in words
