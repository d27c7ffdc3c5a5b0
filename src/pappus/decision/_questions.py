"""The questions of a decision, what hurts people first: their words, limits, and what mends a limit that is broken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pappus.decision._numbers import Kind

Mends = Literal["waiting", "changing the plan", "more data", "more flights"]


@dataclass(frozen=True)
class Question:
    """One question: a field of ``Facts`` held against a field of ``GoLimits``."""

    name: str
    limit: str
    words: str
    kind: Kind
    mends: Mends
    """What mends a limit that is broken."""
    mend: str
    bring: str
    """What answers the question when it is not answered."""
    from_forecast: bool = True
    """Whether the number is worth as much as the forecast is fresh."""
    lands: bool = True
    """Whether flights that did not land in the data leave it open."""

    @property
    def least(self) -> bool:
        """Whether the limit is the least that is asked, not the most that is allowed."""
        return "_least" in self.limit


_OTHER = "Another release time, site or fill"
_TO_GO = "Bring the map of the area"
_SKY = "Look at the sky at the site"
_LULL = "Wait until it drops; the crew's own limit and local rules may be lower"

QUESTIONS: tuple[Question, ...] = (
    Question(
        "casualty_expectation", "casualty_expectation_most", "People hurt, expected", "expectation",
        "changing the plan", f"{_OTHER}, or a lighter load that lands slower", "Bring the map and people per km²",
    ),
    Question(
        "built_up", "built_up_most", "Chance to land among buildings", "chance", "changing the plan", _OTHER, _TO_GO,
    ),
    Question(
        "airspace", "airspace_most", "Chance to enter airspace without a permission", "chance", "changing the plan",
        f"{_OTHER}, or the permission of those who control it", "Bring the airspace of the area, of today",
    ),
    Question(
        "keep_out", "keep_out_most", "Chance to land in a keep-out zone", "chance", "changing the plan", _OTHER,
        "Bring the zones of the area",
    ),
    Question(
        "leaves_permit_area", "leave_permit_area_most", "Chance to leave the permit area", "chance",
        "changing the plan", f"{_OTHER}, or a permit for a larger area", "Bring the outline of the permit area",
    ),
    Question(
        "abroad", "abroad_most", "Chance to cross a border", "chance", "changing the plan",
        f"{_OTHER}, or the permission of the other state", "Bring the borders of the area",
    ),
    Question("rail", "rail_most", "Chance to land on a railway", "chance", "changing the plan", _OTHER, _TO_GO),
    Question("road", "road_most", "Chance to land on a road", "chance", "changing the plan", _OTHER, _TO_GO),
    Question(
        "power_line", "power_line_most", "Chance to land on a power line", "chance", "changing the plan", _OTHER,
        _TO_GO,
    ),
    Question("water", "water_most", "Chance to land in water", "chance", "changing the plan", _OTHER, _TO_GO),
    Question(
        "surface_wind_m_s", "surface_wind_most_m_s", "Surface wind", "speed", "waiting", _LULL,
        "Measure the wind at the site", lands=False,
    ),
    Question(
        "gust_m_s", "gust_most_m_s", "Gusts", "speed", "waiting", _LULL, "Measure the wind at the site", lands=False,
    ),
    Question(
        "visibility_m", "visibility_least_m", "Visibility", "distance", "waiting", "Wait until it clears", _SKY,
        lands=False,
    ),
    Question(
        "cloud_fraction", "cloud_most", "Cloud cover", "chance", "waiting", "Wait until it clears", _SKY, lands=False,
    ),
    Question("rain", "rain_most", "Rain", "rain", "waiting", "Wait until it is dry", _SKY, lands=False),
    Question(
        "sun_elevation_deg", "sun_elevation_least_deg", "Sun at the wanted height", "angle", "waiting",
        "Release when the sun stands higher", "Give the release time", from_forecast=False, lands=False,
    ),
    Question(
        "forecast_age_s", "forecast_age_most_s", "Age of the forecast", "duration", "more data", "Fetch a newer run",
        "Fetch winds that say when they were issued", from_forecast=False, lands=False,
    ),
    Question(
        "unknown_share", "unknown_share_most", "Flights that do not land in the data", "chance", "more data",
        "Bring winds that reach later, wider or higher", "Fly the ensemble", lands=False,
    ),
    Question(
        "lands_acceptably", "land_acceptably_least", "Chance to land where it is acceptable", "chance",
        "changing the plan", _OTHER, "Bring terrain and map of the area",
    ),
    Question(
        "reaches_wanted", "reach_wanted_least", "Chance to reach the wanted height", "chance", "changing the plan",
        "A lighter train, a larger envelope or less gas; less gas climbs slower and drifts farther",
        "Fly the ensemble",
    ),
    Question(
        "drift_m", "drift_most_m", "Drift from release to landing", "distance", "changing the plan", _OTHER,
        "Fly the ensemble",
    ),
    Question(
        "drive_time_s", "drive_time_most_s", "Drive to the landing", "duration", "changing the plan", _OTHER,
        "Bring the roads of the area",
    ),
)  # fmt: skip

RULES_AFTER = "built_up"
"""Rules stand below what hurts people at once and above everything else."""
WEATHER_RULES = frozenset({"us.101.33.b", "us.101.33.c", "icao.3.1"})
"""Rules about cloud and visibility: waiting may mend them, as no other rule."""
_PLACES = {question.name: place for place, question in enumerate(QUESTIONS)}


def importance(name: str) -> float:
    """Place of a check in the order, 0 first; what is no question is a rule."""
    return _PLACES.get(name, _PLACES[RULES_AFTER] + 0.5)
