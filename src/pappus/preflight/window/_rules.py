"""The law held against one cell: what the plan says once, with what only the cell knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pappus.airspace import pressure_altitude_m
from pappus.decision import Fact, Facts
from pappus.flight_train import FlightTrain
from pappus.landing import Share
from pappus.preflight.window._fly import CellFlights
from pappus.rules import RuleFacts, RuleProfile, RuleVerdict, check_rules, light_on_the_way, train_facts

TRACK_STEP = 5
"""Every so many points of the nominal track the light is looked up: some three minutes."""


@dataclass(frozen=True)
class Law:
    """What a plan says about the rules that it flies under."""

    profile: RuleProfile
    known: RuleFacts = field(default_factory=RuleFacts)
    """What is the same for every cell: equipment, permissions, notices. What a cell tells stands over it."""


def rule_verdicts(
    flown: CellFlights, facts: Facts, chances: Mapping[str, Share | None], law: Law, now: datetime
) -> tuple[RuleVerdict, ...]:
    """Every paragraph for the flights of a cell; ``chances`` are those that only the rules ask for, by the names of
    ``RuleFacts``.
    """
    return check_rules(law.profile, _rule_facts(flown, facts, chances, law), now)


def facts_of_plan(law: Law, train: FlightTrain) -> RuleFacts:
    """What the plan and its train say, whatever the cell."""
    of_train = train_facts(train)
    told: dict[str, Any] = {name: value for name, value in vars(of_train).items() if _said(of_train, name)}
    return replace(law.known, **told)


def _rule_facts(flown: CellFlights, facts: Facts, chances: Mapping[str, Share | None], law: Law) -> RuleFacts:
    light = light_on_the_way(*_nominal_way(flown))
    of_cell: dict[str, Any] = {
        "envelope_diameter_m": flown.fill.diameter_m,
        "cloud_fraction": _end(facts.cloud_fraction, 1),
        "visibility_m": _end(facts.visibility_m, 0),
        "casualty_expectation": _end(facts.casualty_expectation, 1),
        "night_as_corrected": light.night_as_corrected,
        "night": light.night,
        "day": light.day,
        **chances,
        "abroad": _with_unknown(facts.abroad),
        "release_utc": flown.option.release,
    }
    told = {name: value for name, value in of_cell.items() if value is not None}
    return replace(facts_of_plan(law, flown.plan.flight_train), **told)


def _said(train: RuleFacts, name: str) -> bool:
    """Whether the train itself says it: not what it leaves as everybody does."""
    return bool(getattr(train, name) != getattr(_NOTHING, name))


_NOTHING = RuleFacts()


def _end(fact: Fact, end: int) -> float | None:
    """The low or the high end of a number."""
    return float(fact.bounds[end]) if fact.known else None


def _with_unknown(fact: Fact) -> Share | None:
    """A chance whose interval holds the flights of which nobody can tell."""
    if not isinstance(fact.value, Share):
        return None
    share, more = fact.value, 1.0 if fact.unknown is None else fact.unknown.high if fact.unknown.p > 0.0 else 0.0
    return share._replace(high=min(share.high + more, 1.0))


def _nominal_way(flown: CellFlights) -> tuple[list[datetime], Any, Any, Any, Any]:
    """Times, places, heights and pressure altitudes of the nominal flight, until it lands or is lost."""
    nominal = flown.runs[0].nominal
    last = int((~np.isnan(nominal.track_time_s[0])).sum()) - 1
    some = np.unique(np.append(np.arange(0, last, TRACK_STEP), last))
    since = nominal.track_time_s[0, some] - nominal.release_time_s
    height = nominal.track_height_msl_m[0, some]
    air = flown.air.profile
    # a landing may lie below the air that was looked up over the site: levels there matter to no limit
    level = pressure_altitude_m(air.pressure_pa_at(np.maximum(height, air.height_msl_m[0])))
    times = [flown.option.release + timedelta(seconds=float(one)) for one in since]
    return times, nominal.track_latitude_deg[0, some], nominal.track_longitude_deg[0, some], height, level
