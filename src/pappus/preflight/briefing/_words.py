"""The answer in words: the three lines that a director reads first, and the same numbers as JSON."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime, timedelta

from pappus.landing import LandingArea, Quantiles, Share
from pappus.preflight.briefing._briefing import Briefing, NearestPlace
from pappus.units import say_area_km2, say_distance, say_height, say_speed, say_time

AREA_LEVEL = 0.9
POINTS = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip


def three_lines(briefing: Briefing) -> tuple[str, str, str]:
    """What and how sure; what is worst; until when this holds."""
    return _what(briefing), _worst(briefing), _until(briefing)


def _what(briefing: Briefing) -> str:
    mission = briefing.plan.mission
    reach = f"Reaches {say_height(mission.wanted_height_msl_m)} with {say_chance(briefing.reaches_wanted)}"
    part = next(part for part in briefing.area.parts if part.probability == AREA_LEVEL)
    if part.area_km2 is None:
        return f"{reach}. No 90 % landing area: {part.why_not}."
    where = "lands near a place unknown" if briefing.near is None else f"lands {say_near(briefing.near)}"
    return f"{reach}; {where}, 90 % area {say_area_km2(part.area_km2)}."


def _worst(briefing: Briefing) -> str:
    unchecked = _judged(briefing)
    least = briefing.plan.limits.least_climb_m_s
    if briefing.climb_m_s < least:
        slow = f"Worst: climb {say_speed(briefing.climb_m_s)}, the plan asks for {say_speed(least)}"
        return f"{slow}: a long flight that goes far. {unchecked}."
    if not briefing.unknowns:
        return f"Worst: no flight lands in the data. {unchecked}."
    worst = briefing.unknowns[0]
    spread = say_distance(worst.landing_spread_m)
    return f"Worst: the {worst.name}, which alone spreads the landing by {spread}. {unchecked}."


def _judged(briefing: Briefing) -> str:
    """What limits and rules say of it, without the full stop."""
    if briefing.decision is None:
        return "People, water, roads and airspace: cannot tell, not checked"
    return briefing.decision.headline.removesuffix(".")


def _until(briefing: Briefing) -> str:
    zone = briefing.plan.mission.time_zone
    if briefing.holds_until < briefing.release:
        return f"Does not hold for this release: {briefing.holds_because}. Bring newer winds."
    until = say_time(briefing.holds_until, zone, date=True)
    return f"Holds for a release until {until}: then {briefing.holds_because}."


def say_chance(share: Share) -> str:
    """``78 % (75 to 81 %)``: a counted chance with the interval that its sample leaves, and what limits it."""
    few = ", few members" if share.limit == "members" else ""
    return f"{100 * share.p:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f} %{few})"


def say_near(near: NearestPlace) -> str:
    """``12.4 km (7.7 mi) south-east of Macachín, AR``."""
    name = f"{near.place.name}, {near.place.country}"
    if near.distance_m < 500.0:
        return f"at {name}"
    point = POINTS[round(near.bearing_deg / 45.0) % 8]
    return f"{say_distance(near.distance_m)} {point} of {name}"


def after(release: datetime, seconds: float) -> datetime:
    """The time so many seconds after release."""
    return release + timedelta(seconds=seconds)


def briefing_json(briefing: Briefing) -> dict[str, object]:
    """Everything a briefing says, in SI units and UTC, for programs; the words are in it too."""
    plan = briefing.plan
    what, worst, until = three_lines(briefing)
    release = briefing.release
    return {
        "words": {"what": what, "worst": worst, "until": until},
        "mission": asdict(plan.mission),
        "site": asdict(briefing.site),
        "release_utc": release,
        "plan_sha256": plan.source_sha256,
        "winds": [
            {
                "name": field.name,
                "kind": field.kind,
                "members": field.members,
                "issued_utc": field.issued,
                "first_valid_utc": field.coverage.first_valid,
                "last_valid_utc": field.coverage.last_valid,
                "bottom_msl_m": field.coverage.bottom_msl_m,
                "top_msl_m": field.coverage.top_msl_m,
                "sources": [asdict(source) for source in field.sources],
            }
            for field in briefing.known
        ],
        "winds_not_used": list(briefing.winds_not_used),
        "ground": briefing.ground.name,
        "fill": asdict(briefing.fill),
        "climb_m_s": briefing.climb_m_s,
        "chance_wanted_height": _share(briefing.reaches_wanted),
        "top_msl_m": _quantiles(briefing.top_msl_m),
        "top_after_release_s": _quantiles(briefing.burst_time_s),
        "seconds_above": [{"height_msl_m": height, **_quantiles(times)} for height, times in briefing.above_s.items()],
        "landing": {
            "near": None if briefing.near is None else {"words": say_near(briefing.near), **asdict(briefing.near)},
            "flights": briefing.area.flights,
            "landed": briefing.area.landed,
            "unknown": briefing.area.unknown,
            "chance_unknown": _share(briefing.unknown),
            "mode_deg": briefing.area.mode_deg,
            "mean_deg": briefing.area.mean_deg,
            "areas": _areas(briefing.area),
            "areas_nothing_fails": None if briefing.area.nominal is None else _areas(briefing.area.nominal),
            "area_90_without_extrapolation_km2": briefing.area_without_extrapolation_km2,
            "by_run": [asdict(run) for run in briefing.runs],
            "arrival_utc": _times(briefing.arrival_s, release),
            "touchdown_m_s": _quantiles(briefing.touchdown_m_s),
            "drift_m": _quantiles(briefing.drift_m),
        },
        "climb": [asdict(layer) for layer in briefing.layers],
        "surface_at_release": None if briefing.surface is None else asdict(briefing.surface),
        "unknowns": [asdict(unknown) for unknown in briefing.unknowns],
        "holds_until_utc": briefing.holds_until,
        "holds_because": briefing.holds_because,
        "cannot_tell": list(briefing.cannot_tell),
    }


def _areas(area: LandingArea) -> list[dict[str, object]]:
    return [
        {
            "probability": part.probability,
            "exists": part.exists,
            "why_not": part.why_not,
            "area_km2": part.area_km2,
            "area_sd_km2": part.area_sd_km2,
            "polygons_lat_lon_deg": [[ring.tolist() for ring in rings] for rings in part.polygons],
        }
        for part in area.parts
    ]


def _share(share: Share) -> dict[str, object]:
    return share._asdict()


def _quantiles(values: Quantiles | None) -> dict[str, float]:
    if values is None:
        return {}
    return {f"p{round(100 * p):02d}": v for p, v in zip(values.probabilities, values.values, strict=True)}


def _times(values: Quantiles | None, release: datetime) -> dict[str, datetime]:
    return {key: after(release, seconds) for key, seconds in _quantiles(values).items()}
