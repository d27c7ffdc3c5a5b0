"""The score of a rehearsal: where it was said to land, and what was warned of in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from pappus.earth import distance_m
from pappus.inflight.prediction import Prediction
from pappus.inflight.rehearsal._crew import Raised
from pappus.inflight.rehearsal._expected import Due, Expected, due_of
from pappus.inflight.rehearsal._fast import Rehearsed
from pappus.inflight.warnings import WarningKind


@dataclass(frozen=True)
class Answer:
    """One warning that was asked for."""

    kind: WarningKind
    due_utc: datetime
    """At the latest."""
    raised_utc: datetime | None
    """None: missed, or too late."""
    blind: bool
    """The tracker was not heard whole."""
    not_known: bool
    """At the latest moment the crew had been told that it cannot be told."""

    @property
    def early_s(self) -> float | None:
        """Before it was due."""
        return None if self.raised_utc is None else (self.due_utc - self.raised_utc).total_seconds()


@dataclass(frozen=True)
class Landing:
    """The last prediction before a moment."""

    moment: str
    made_utc: datetime
    error_m: float
    """From the middle of the area to the true touchdown."""
    in_90: bool


@dataclass(frozen=True)
class Score:
    """How crew and tool did."""

    answers: tuple[Answer, ...]
    false_alarms: tuple[Raised, ...]
    asked_for: frozenset[WarningKind]
    left_open: frozenset[WarningKind]
    landings: tuple[Landing, ...]
    sent: int
    kept: int

    @property
    def missed(self) -> tuple[Answer, ...]:
        """Not warned of, or too late."""
        return tuple(one for one in self.answers if one.raised_utc is None)


def score_of(done: Rehearsed) -> Score:
    """Everything at the end; what was due after an early stop is left out."""
    due = due_of(done)
    epoch, until = done.stage.model.epoch, done.stopped_utc
    answers = [_answer(one, done, epoch) for one in due.expected]
    return Score(
        tuple(one for one in answers if until is None or one.due_utc <= until or one.raised_utc is not None),
        tuple(_false_alarms(done, due)),
        frozenset(one.kind for one in due.expected),
        due.open_kinds,
        tuple(_landings(done)),
        len(done.sent),
        done.kept,
    )


def _answer(one: Expected, done: Rehearsed, epoch: datetime) -> Answer:
    first, last = (epoch + timedelta(seconds=s) for s in (one.from_s, one.until_s))
    raised = [
        entry.raised_utc
        for entry in done.log
        if entry.kind is one.kind
        and one.subject in (None, entry.subject)
        and entry.raised_utc <= last
        and (entry.raised_utc >= first or entry.cleared_utc is None or entry.cleared_utc >= first)
    ]
    not_known = any(
        entry.kind is one.kind
        and entry.subject in ("", one.subject)
        and entry.raised_utc <= last
        and (entry.cleared_utc is None or entry.cleared_utc >= last)
        for entry in done.lacking
    )
    return Answer(one.kind, last, min(raised, default=None), one.blind, not_known)


def _false_alarms(done: Rehearsed, due: Due) -> list[Raised]:
    found = []
    for entry in done.log:
        expected = [one for one in due.expected if one.kind is entry.kind and one.subject in (None, entry.subject)]
        if expected or entry.kind in due.open_kinds:
            continue
        found.append(entry)
    return found


def moments_of(done: Rehearsed) -> dict[str, float]:
    """Seconds after the epoch at which predictions are judged, as far as the flight has them."""
    truth = done.truth
    top = float(truth.height_msl_m.max())
    falls = truth.time_s >= truth.top_s
    time, height = truth.time_s[falls], truth.height_msl_m[falls]
    found = {
        "release": truth.released_s,
        "half ascent": 0.5 * (truth.released_s + truth.top_s),
        "burst - 5 min": truth.top_s - 300.0,
        "burst + 2 min": truth.top_s + 120.0,
    }
    for km in (10, 5):
        if top > 1000.0 * km + 2000.0:
            found[f"{km} km down"] = float(np.interp(-1000.0 * km, -height, time))
    return {name: at for name, at in found.items() if truth.released_s <= at < truth.landed_s}


def _landings(done: Rehearsed) -> list[Landing]:
    truth, epoch = done.truth, done.stage.model.epoch
    end = float(truth.latitude_deg[-1]), float(truth.longitude_deg[-1])
    found = []
    for name, at in moments_of(done).items():
        moment = epoch + timedelta(seconds=at)
        if done.stopped_utc is not None and moment > done.stopped_utc:
            continue
        made = [one for one in done.predictions if one.made_utc <= moment and one.area.landed]
        if made:
            found.append(_landing(name, made[-1], end))
    return found


def _landing(name: str, made: Prediction, end_deg: tuple[float, float]) -> Landing:
    latitude, longitude = float(np.median(made.area.latitude_deg)), float(np.median(made.area.longitude_deg))
    part = max(made.area.parts, key=lambda one: one.probability)
    rings = [ring for polygon in part.polygons for ring in polygon]
    only = replace(
        made.area, latitude_deg=np.array(end_deg[:1]), longitude_deg=np.array(end_deg[1:]), landed=1, flights=1
    )
    inside = bool(rings) and only.probability_inside(rings).p == 1.0
    return Landing(name, made.made_utc, float(distance_m(latitude, longitude, *end_deg)), inside)


def stopped_lines(done: Rehearsed) -> list[str]:
    """Says when a rehearsal was stopped early; none for a whole one."""
    until = done.stopped_utc
    return [] if until is None else [f"Stopped at {until:%H:%M:%S}Z: what was due later is left out."]


def score_lines(score: Score, log: Sequence[Raised]) -> list[str]:
    """The score in words."""
    lines = [f"Packets: {score.sent} reached the receivers, {score.kept} are kept."]
    for one in score.landings:
        held = "inside" if one.in_90 else "outside"
        lines.append(f"{one.moment}: {one.error_m / 1000:.1f} km off the touchdown, {held} the 90 % area.")
    for answer in score.answers:
        early = answer.early_s
        missed = "not warned of, but told as not known" if answer.not_known else "missed"
        told = missed if early is None else f"raised {early / 60:.0f} min before the latest moment"
        lines.append(f"{answer.kind.value}: {told}.")
    lines += [f"False alarm: {one.kind.value} at {one.raised_utc:%H:%M:%S}Z." for one in score.false_alarms]
    lines += [f"{one.raised_utc:%H:%M:%S}Z {one.line}" for one in log]
    return lines
