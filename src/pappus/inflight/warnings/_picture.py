"""The flight at one moment, as far as warnings need it: frozen, so that a replay warns alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.inflight.prediction import Prediction
from pappus.inflight.warnings._kinds import LIMITS, WarningLimits
from pappus.landing import Share
from pappus.tracking import Estimate, Phase, Reason

Array = NDArray[np.float64]

CLOCK_REASONS = frozenset({Reason.FUTURE, Reason.OLD, Reason.TOO_LATE, Reason.CLOCK_STANDS_STILL})
HEIGHT_REASONS = frozenset({Reason.HEIGHT_FROZEN})
HISTORY_S = 900.0
FULLEST_KEPT = 3
OUTSIDE = ("out", "air", "ambient", "env")
"""Sensors whose name holds one of these measure the air."""


@dataclass(frozen=True, eq=False)
class PlannedFlight:
    """The flight as planned, to hold the real one against."""

    release_utc: datetime
    site_msl_m: float
    up_height_msl_m: Array
    """Rising, with ``up_s`` seconds after release."""
    up_s: Array
    down_height_msl_m: Array
    """Rising, with ``down_s`` seconds before touchdown."""
    down_s: Array
    top_msl_m: float
    burst_low_msl_m: float
    """98 of 100 flights that do what they should burst above it."""

    def climb_takes_s(self, low_msl_m: float, high_msl_m: float) -> float:
        """From one height to the other on the way up."""
        return float(np.diff(np.interp([low_msl_m, high_msl_m], self.up_height_msl_m, self.up_s))[0])

    def fall_takes_s(self, low_msl_m: float, high_msl_m: float) -> float:
        """From the upper height to the lower on the way down."""
        return float(np.diff(np.interp([low_msl_m, high_msl_m], self.down_height_msl_m, self.down_s))[0])


@dataclass(frozen=True)
class ChanceAhead:
    """The chance of one thing that may lie ahead."""

    subject: str
    share: Share | None
    """None: it cannot be told, and ``why_not`` says why."""
    first_utc: datetime | None = None
    """Early end of when it happens (5 of 100); None where not known."""
    before: float | None = None
    """The chance as it was at release."""
    why_not: str = ""


@dataclass(frozen=True)
class Ahead:
    """What may lie ahead; an empty tuple is an answer: there is none."""

    airspace: tuple[ChanceAhead, ...]
    """Volumes that no permission covers."""
    border: tuple[ChanceAhead, ...]
    permit_area: tuple[ChanceAhead, ...]
    hazard: tuple[ChanceAhead, ...]
    """Landing on built-up ground, roads, rails, power lines, water or in a zone that is kept out."""

    @classmethod
    def not_known(cls, why_not: str) -> Ahead:
        """None of the four can be told."""
        unknown = (ChanceAhead("", None, why_not=why_not),)
        return cls(unknown, unknown, unknown, unknown)


@dataclass(frozen=True)
class Past:
    """What is remembered of one earlier look."""

    time_utc: datetime
    """Of the newest height."""
    looked_utc: datetime
    phase: Phase
    height_msl_m: float | None
    accepted: int
    clock_refused: int
    height_refused: int
    battery_v: float | None
    position_utc: datetime | None = None
    lag_s: float = 0.0
    """Between measured and heard, of the newest position."""
    told_msl_m: float | None = None
    """Height of that position as the tracker told it."""
    battery_utc: datetime | None = None
    """When the voltage was told."""


@dataclass(frozen=True, eq=False)
class FlightPicture:
    """All that warnings are made of."""

    now: datetime
    planned: PlannedFlight
    estimate: Estimate | None
    prediction: Prediction | None
    ahead: Ahead
    history: tuple[Past, ...]
    """Oldest first, of the last quarter of an hour, and the first look with a battery."""
    descent_report_due_utc: datetime | None
    """None where the rules ask for none."""
    gap_alarm: bool = True
    """Whether the rules ask for a report after two hours without a position."""
    limits: WarningLimits = LIMITS


def looked(history: Sequence[Past], estimate: Estimate, now: datetime) -> tuple[Past, ...]:
    """The history with this look; what is older than it has to be is dropped, but for the fullest battery."""
    motion, position = estimate.motion, estimate.position

    def refused(reasons: frozenset[Reason]) -> int:
        return sum(count for _, why, count in estimate.rejected if why in reasons)

    chosen = estimate.chosen
    new = Past(
        estimate.heard_utc if motion is None else motion.time_utc,
        now,
        estimate.phase,
        None if motion is None else motion.height_msl_m,
        sum(state.accepted for state in estimate.trackers),
        refused(CLOCK_REASONS),
        refused(HEIGHT_REASONS),
        None if chosen is None else chosen.battery_v,
        None if position is None else position.time_utc,
        0.0 if position is None else (position.heard_utc - position.time_utc).total_seconds(),
        None if position is None else position.height_msl_m,
        None if chosen is None else chosen.told_utc,
    )
    full = _fullest(history)
    kept = [one for one in history if one in full or (now - one.looked_utc).total_seconds() <= HISTORY_S]
    return (*kept, new)


def full_battery_v(history: Sequence[Past]) -> float | None:
    """The third highest of the voltages told: damaged packets tell what never was. None before the third."""
    full = _fullest(history)
    return full[-1].battery_v if len(full) == FULLEST_KEPT else None


def _fullest(history: Sequence[Past]) -> list[Past]:
    """Looks with the highest voltages, each told at its own time."""
    told = {one.battery_utc: one for one in history if one.battery_v is not None}
    return sorted(told.values(), key=lambda one: one.battery_v or 0.0, reverse=True)[:FULLEST_KEPT]
