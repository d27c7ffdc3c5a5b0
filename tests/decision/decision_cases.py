"""A release that is go in everything, and how to make each fact of it worse."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from pappus.decision import Fact, Facts, GoLimits
from pappus.landing import Share, share
from pappus.rules import RuleVerdict, Verdict

FLIGHTS = 2000
HOUR_S = 3600.0
FORECAST = "invented forecast, run 06Z"
ALL_LIMITS = GoLimits(sun_elevation_least_deg=0.0, drive_time_most_s=2 * HOUR_S, drift_most_m=120e3)
"""Every question is asked."""
QUESTIONS = {
    "reaches_wanted": "reach_wanted_least", "lands_acceptably": "land_acceptably_least", "water": "water_most",
    "built_up": "built_up_most", "road": "road_most", "rail": "rail_most", "power_line": "power_line_most",
    "keep_out": "keep_out_most", "leaves_permit_area": "leave_permit_area_most", "abroad": "abroad_most",
    "airspace": "airspace_most", "casualty_expectation": "casualty_expectation_most",
    "surface_wind_m_s": "surface_wind_most_m_s", "gust_m_s": "gust_most_m_s", "cloud_fraction": "cloud_most",
    "visibility_m": "visibility_least_m", "rain": "rain_most", "sun_elevation_deg": "sun_elevation_least_deg",
    "forecast_age_s": "forecast_age_most_s", "drive_time_s": "drive_time_most_s", "drift_m": "drift_most_m",
    "unknown_share": "unknown_share_most",
}  # fmt: skip
"""Field of the facts to field of the limits, as the plan file and the pages know them."""
LEAST = ("reaches_wanted", "lands_acceptably")
SELDOM = (
    "water", "built_up", "road", "rail", "power_line", "keep_out", "leaves_permit_area", "abroad", "airspace",
)  # fmt: skip
NUMBERS = {
    "casualty_expectation": 2e-5, "surface_wind_m_s": 3.0, "gust_m_s": 5.0, "cloud_fraction": 0.2,
    "visibility_m": 20e3, "rain": 0.0, "sun_elevation_deg": 30.0, "forecast_age_s": 3 * HOUR_S,
    "drive_time_s": HOUR_S, "drift_m": 60e3,
}  # fmt: skip
WORSE_WHEN_LESS = ("visibility_m", "sun_elevation_deg")


def of_forecast(value: float | Share | bool | None, **rest: Any) -> Fact:
    """A fact three hours old."""
    return Fact(value, source=FORECAST, age_s=3 * HOUR_S, **rest)


def counted(events: int, flights: int = FLIGHTS, **rest: Any) -> Fact:
    """A chance counted over flights."""
    return of_forecast(share(events, flights), **rest)


def rule(verdict: Verdict, rule_id: str = "example.1", why: str = "", mend: str = "") -> RuleVerdict:
    """A verdict on a paragraph that no law has."""
    return RuleVerdict(rule_id, "Example 1", "A rule", verdict, "2", "at most 3", "common practice", "2026", why, mend)


def go_facts(**other: Any) -> Facts:
    """Everything known and met; ``other`` replaces fields."""
    facts = Facts(
        **{name: counted(1900) for name in LEAST},
        **{name: counted(0) for name in SELDOM},
        **{name: of_forecast(value) for name, value in NUMBERS.items()},
        unknown_share=counted(0), rules=(rule(Verdict.MET),), flights=FLIGHTS,
    )  # fmt: skip
    return replace(facts, **other)


def fact_names() -> list[str]:
    """Every field that is one fact."""
    return [field.name for field in fields(Facts) if field.name not in ("rules", "flights")]
