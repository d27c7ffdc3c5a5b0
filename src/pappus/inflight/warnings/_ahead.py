"""What warnings hold a flight against: the planned flight, and the chances of what lies ahead of a prediction."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.airspace import AirspaceVolume, entries
from pappus.atmosphere import Profile
from pappus.hazard import Descents, Leaves, Surroundings, ground_hazard, leaves_area
from pappus.inflight.prediction import InFlightModel, Prediction
from pappus.inflight.warnings._picture import Ahead, ChanceAhead, PlannedFlight
from pappus.landing import Share, share
from pappus.rules import RuleFacts, RuleProfile, deadlines, possible_classes, train_facts
from pappus.tracking import Phase
from pappus.trajectory import Flights, fly

UNDECIDED_MOST = 0.05
"""Flights of which an entry cannot be told; beyond it a chance below it is no answer."""
LANDED_LEAST = 0.5
"""Of the flights; where fewer come down in the data, the landings that are known stand for too little."""
FEW_LAND = "most flights do not come down in the data"
_ROWS = 400
_LOW = 0.02


def planned_of(model: InFlightModel) -> PlannedFlight:
    """The nominal flight, and how high the balloons of the plan burst. Takes a few hundred flights."""
    nominal = model.nominal
    known = np.isfinite(nominal.track_time_s[0])
    time, height = nominal.track_time_s[0, known], nominal.track_height_msl_m[0, known]
    top = int(height.argmax())
    fresh = model.fresh_draws(_ROWS, np.random.default_rng(5))
    flown = fly(model.mean, replace(fresh, member=np.zeros_like(fresh.member)), tracks=0)
    sound = model_tops(flown, fresh.nominal)
    down_height, down_s = height[top:][::-1], (time[-1] - time[top:])[::-1]
    return PlannedFlight(
        model.release,
        model.site.height_msl_m,
        height[: top + 1],
        time[: top + 1] - time[0],
        down_height,
        down_s,
        float(height[top]),
        float(np.quantile(sound, _LOW)) if len(sound) else float(height[top]),
    )


def model_tops(flown: Flights, sound: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Heights at which flights burst that do what they should."""
    return np.asarray(flown.top_height_msl_m[sound & (flown.ascent_end != 0)])


@dataclass(frozen=True, eq=False)
class LiesAround:
    """What a flight may run into. What is None was not given, and then it cannot be told."""

    volumes: tuple[AirspaceVolume, ...] | None = None
    """Without those that a permission covers."""
    air: Profile | None = None
    """For flight levels."""
    surroundings: Surroundings = field(default_factory=Surroundings)
    zones_given: bool = False
    """The zones are all there are."""
    ground_msl_m_at: Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]] | None = None
    """For limits above ground, such as ``Terrain.height_msl_m``."""


def ahead_of(flights: Flights, around: LiesAround, epoch: datetime, before: Ahead | None = None) -> Ahead:
    """The chances over the flights of a prediction; airspace and permit area over those that keep tracks.

    :param before: the chances at release, for what has risen since.
    """
    return Ahead(
        airspace=tuple(_airspace(flights, around, epoch)),
        border=_border(flights, around),
        permit_area=_permit(flights, around),
        hazard=_hazard(flights, around, before),
    )


def _airspace(flights: Flights, around: LiesAround, epoch: datetime) -> Iterator[ChanceAhead]:
    if around.volumes is None:
        yield ChanceAhead("", None, why_not="no airspace was given")
        return
    if not around.volumes:
        return
    if not len(flights.track_time_s):
        yield ChanceAhead("", None, why_not="no flight has a track")
        return
    start = epoch + timedelta(seconds=flights.release_time_s)
    for entry in entries(flights, around.volumes, around.air, around.ground_msl_m_at):
        first = None if entry.first_time_s is None else start + timedelta(seconds=entry.first_time_s[0])
        # a small chance says nothing where it cannot be told of many flights
        if entry.undecided.p > UNDECIDED_MOST and entry.any.p < UNDECIDED_MOST:
            why = "flight levels or heights above ground cannot be told, or the flights do not end in the winds"
            yield ChanceAhead(entry.volume.name, None, first, why_not=why)
        else:
            yield ChanceAhead(entry.volume.name, entry.any, first)


def _border(flights: Flights, around: LiesAround) -> tuple[ChanceAhead, ...]:
    countries, home = around.surroundings.countries, around.surroundings.home
    if countries is None or home is None:
        return (ChanceAhead("", None, why_not="no borders, or no country of the release"),)
    landed = flights.landed
    if landed.mean() < LANDED_LEAST:
        return (ChanceAhead("", None, why_not=FEW_LAND),)
    where = countries.where(flights.end_latitude_deg[landed], flights.end_longitude_deg[landed])
    if where.known.mean() < LANDED_LEAST:
        return (ChanceAhead("", None, why_not="the landings lie beyond the map of borders"),)
    # a landing too near to a border to tell counts on either side of it
    counts = (where.inside | where.may_be)[where.known].sum(axis=0)
    return tuple(
        ChanceAhead(name, share(int(count), int(where.known.sum())))
        for name, count in zip(countries.names, counts, strict=True)
        if name != home
    )


def _permit(flights: Flights, around: LiesAround) -> tuple[ChanceAhead, ...]:
    permit = around.surroundings.zones_of("permit area")
    if not permit:
        return () if around.zones_given else (ChanceAhead("", None, why_not="no zones were given"),)
    leaves = leaves_area(flights, permit)
    known = leaves != Leaves.CANNOT_TELL
    if not known.any():
        return (ChanceAhead("", None, why_not="no flight has a track"),)
    return (ChanceAhead("", share(int((leaves == Leaves.YES).sum()), int(known.sum()))),)


def _hazard(flights: Flights, around: LiesAround, before: Ahead | None) -> tuple[ChanceAhead, ...]:
    was = {} if before is None else {one.subject: one.share.p for one in before.hazard if one.share is not None}
    landed = flights.landed
    latitude, longitude = flights.end_latitude_deg[landed], flights.end_longitude_deg[landed]
    if landed.mean() < LANDED_LEAST:
        return (ChanceAhead("", None, why_not=FEW_LAND),)
    found: list[tuple[str, Share | None]] = []
    zones = around.surroundings.zones_of("keep-out")
    if zones:
        hit = np.zeros(len(latitude), dtype=np.bool_)
        for zone in zones:
            hit |= zone.outline.contains(latitude, longitude)
        found.append(("ground that is kept out", share(int(hit.sum()), len(hit))))
    elif not around.zones_given:
        found.append(("ground that is kept out", None))
    if around.surroundings.features is None:
        found.append(("built-up ground, roads, rails or water", None))
    else:
        found.append(("built-up ground, roads, rails or water", _on_map(flights, around)))
    return tuple(
        ChanceAhead(name, chance, before=was.get(name), why_not="" if chance else "no map or no zones were given")
        for name, chance in found
    )


def _on_map(flights: Flights, around: LiesAround) -> Share | None:
    count = len(flights.outcome)
    # masses and branches are for energies, which nobody asks for here
    descents = Descents(
        flights.landed, flights.end_latitude_deg, flights.end_longitude_deg, flights.end_height_msl_m,
        flights.touchdown_m_s, np.ones(count), np.zeros(count, dtype=np.int8), np.zeros(count, dtype=np.intp),
    )  # fmt: skip
    surroundings = replace(around.surroundings, zones=(), terrain=())
    found = ground_hazard(descents, surroundings)
    if found.acceptable is None:
        return None
    known = int(flights.landed.sum())
    return share(max(known - round(found.acceptable.share.p * count), 0), known)


def descent_report_due(
    profile: RuleProfile | None, model: InFlightModel, prediction: Prediction | None, facts: RuleFacts | None = None
) -> datetime | None:
    """When the descent report is due by the burst as predicted; None where the rules ask for none.

    Before the first prediction the planned flight counts.

    :param facts: of the flight; None takes what the flight train tells.
    """
    if profile is None:
        return None
    burst = model.epoch + timedelta(seconds=float(model.nominal.top_time_s[0]))
    release = model.release
    if prediction is not None and prediction.phase in (Phase.ASCENT, Phase.FLOAT):
        ends = prediction.flights.top_time_s
        burst = model.epoch + timedelta(seconds=float(np.median(ends)))
    facts = facts or train_facts(model.plan.flight_train)
    due = deadlines(profile, min(release, burst), burst, facts=facts)
    return next((one.due_utc for one in due if one.deadline_id == "descent-report"), None)


def gap_alarm_asked(profile: RuleProfile | None, model: InFlightModel, facts: RuleFacts | None = None) -> bool:
    """Whether the rules ask for a report after two hours without a position; without rules it is taken for so."""
    if profile is None:
        return True
    facts = facts or train_facts(model.plan.flight_train)
    return bool(possible_classes(profile, facts)) and any(
        one.deadline_id == "position-gap" for one in deadlines(profile, model.release, None, facts=facts)
    )
