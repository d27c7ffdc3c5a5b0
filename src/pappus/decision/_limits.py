"""What a plan asks of a release before it is go: one limit a question, each default with its reason."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

from pappus.errors import OutOfRange

CHANCES = (
    "reach_wanted_least", "land_acceptably_least", "water_most", "built_up_most", "road_most", "rail_most",
    "power_line_most", "keep_out_most", "leave_permit_area_most", "abroad_most", "airspace_most", "cloud_most",
    "unknown_share_most",
)  # fmt: skip


@dataclass(frozen=True)
class GoLimits:
    """One limit a question; None: the plan asks nothing there, and the question is left out.

    Chances and the cloud fraction from 0 to 1, the sun from -90 to 90 degrees, everything else 0 or more. Raises
    ``OutOfRange`` outside. Why each default is what it is: ``LIMIT_REASONS``.
    """

    reach_wanted_least: float | None = 0.8
    land_acceptably_least: float | None = 0.8
    water_most: float | None = 0.10
    built_up_most: float | None = 0.01
    road_most: float | None = 0.02
    rail_most: float | None = 0.01
    power_line_most: float | None = 0.02
    keep_out_most: float | None = 0.01
    leave_permit_area_most: float | None = 0.01
    abroad_most: float | None = 0.01
    airspace_most: float | None = 0.01
    casualty_expectation_most: float | None = 1e-4
    surface_wind_most_m_s: float | None = 6.0
    gust_most_m_s: float | None = 10.0
    cloud_most: float | None = 0.5
    visibility_least_m: float | None = 8000.0
    rain_most: float | None = 0.1 / 3600.0
    """[kg m-2 s-1]; 1 kg m-2 s-1 is 3600 mm/h."""
    sun_elevation_least_deg: float | None = None
    forecast_age_most_s: float | None = 24 * 3600.0
    drive_time_most_s: float | None = None
    drift_most_m: float | None = None
    unknown_share_most: float | None = 0.05

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            low, high = (0.0, 1.0) if field.name in CHANCES else (0.0, math.inf)
            if field.name == "sun_elevation_least_deg":
                low, high = -90.0, 90.0
            if value is not None and not (math.isfinite(value) and low <= value <= high):
                raise OutOfRange(field.name, value, low, high, field.name.rpartition("_")[2])


_PRACTICE = "common practice, no source"
_ONE_IN_A_HUNDRED = f"{_PRACTICE}: the least that a thousand flights tell apart from never, with some room"
LIMIT_REASONS: Mapping[str, str] = MappingProxyType(
    {
        "reach_wanted_least": f"{_PRACTICE}: four flights of five bring what they are flown for",
        "land_acceptably_least": f"{_PRACTICE}: four flights of five come back",
        "water_most": f"{_PRACTICE}: a box in water is mostly lost, and rarely hurts",
        "built_up_most": _ONE_IN_A_HUNDRED,
        "road_most": f"{_PRACTICE}: roads are everywhere and narrow, so the limit is twice that for buildings",
        "rail_most": _ONE_IN_A_HUNDRED,
        "power_line_most": f"{_PRACTICE}: as for roads; nobody fetches a box from a line but its owner",
        "keep_out_most": _ONE_IN_A_HUNDRED,
        "leave_permit_area_most": _ONE_IN_A_HUNDRED,
        "abroad_most": f"{_PRACTICE}; ICAO Annex 2, free balloons, 2.2 asks for the permission of the other state",
        "airspace_most": f"{_PRACTICE}; your permission or air traffic control may ask for less",
        "casualty_expectation_most": (
            "1e-4 for each flight, the collective criterion of United States range safety (NPRM 79 FR 42241, restated "
            "by others)"
        ),
        "surface_wind_most_m_s": f"{_PRACTICE}: hand launches stop between 5 and 8 m/s",
        "gust_most_m_s": f"{_PRACTICE}: hand launches stop at gusts of 10 m/s",
        "cloud_most": "14 CFR 101.33(b): not more than five tenths; ICAO for heavy balloons: 4 oktas (from memory)",
        "visibility_least_m": (
            "ICAO Annex 2, free balloons, 3.1: 8 km for heavy balloons (from memory); 14 CFR 101.33(c) asks for "
            "5 miles, 8.05 km, which the rules check by themselves"
        ),
        "rain_most": f"{_PRACTICE}: dry; 0.1 mm/h is as little as a forecast says",
        "sun_elevation_least_deg": "not asked: a flight by night is the choice of the plan",
        "forecast_age_most_s": "own rule: four runs of a global model later, a newer one ought to be there",
        "drive_time_most_s": "not asked: how far a crew drives is theirs to say",
        "drift_most_m": "not asked: the places where it may land say more",
        "unknown_share_most": f"{_PRACTICE}: beyond one flight in twenty the landing area is not the whole answer",
    }
)
"""Why each default of ``GoLimits`` is what it is: a source, or that there is none."""
_DEFAULTS = GoLimits()


def limit_reason(name: str, value: float) -> str:
    """Where a limit comes from: the reason of the default, or the plan that set another one."""
    return LIMIT_REASONS[name] if value == getattr(_DEFAULTS, name) else "set by the plan"
