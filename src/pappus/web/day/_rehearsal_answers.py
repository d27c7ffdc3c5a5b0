"""A rehearsal as values: how it stands, and at its end how crew and tool did."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from pappus.inflight import Rehearsed, score_of, stopped_lines
from pappus.web.desk import Answer

RehearsalState = Literal["preparing", "running", "over", "stopped", "failed"]


class RehearsedLanding(Answer):
    """The last prediction before a moment, against the true touchdown."""

    moment: str
    made_utc: datetime
    error_m: float
    in_90: bool


class WarningDue(Answer):
    """A warning that the flight asked for; ``raised_utc`` None: missed, or too late."""

    kind: str
    due_utc: datetime
    """At the latest."""
    raised_utc: datetime | None
    blind: bool
    not_known: bool
    """Not warned of, but the crew was told that it cannot be known."""
    """The tracker was not heard whole at that time."""


class WarningTaken(Answer):
    """A warning that was raised, and what the crew did; ``taken_by`` None: nobody took note of it."""

    kind: str
    subject: str
    raised_utc: datetime
    cleared_utc: datetime | None
    false_alarm: bool
    taken_by: str | None
    taken_after_s: float | None
    """By the clock of the flight."""
    taken_really_s: float | None
    """By that of this computer."""


class RehearsalScore(Answer):
    """How it went. The tool: landings and warnings. The crew: warnings taken note of."""

    faults: list[str]
    burst_utc: datetime
    top_msl_m: float
    landed_utc: datetime
    latitude_deg: float
    longitude_deg: float
    """Where it really came down."""
    landings: list[RehearsedLanding]
    due: list[WarningDue]
    warnings: list[WarningTaken]
    packets_sent: int
    packets_kept: int
    notes: list[str]


class RehearsalAnswer(Answer):
    """One rehearsal of this desk."""

    state: RehearsalState
    step: str
    """What is being done while it is prepared."""
    why_not: str
    """Why it failed."""
    done: float
    """Share of the packets that were sent, 0 to 1."""
    speed: float
    seed: int
    site: str
    by: str
    drawn: bool
    """The tool drew the faults."""
    record: str
    """Name of the file that keeps it, beside that of the flight."""
    score: RehearsalScore | None


def rehearsal_score(done: Rehearsed, taken: Sequence[tuple[str, str, str, datetime]], speed: float) -> RehearsalScore:
    """``taken``: kind, subject, by whom and when."""
    truth, epoch = done.truth, done.stage.model.epoch
    score = score_of(done)
    false = {(one.kind, one.subject, one.raised_utc) for one in score.false_alarms}
    warnings = []
    for one in done.log:
        mine = next(
            (
                t
                for t in taken
                if t[:2] == (one.kind.value, one.subject)
                and t[3] >= one.raised_utc
                and (one.cleared_utc is None or t[3] <= one.cleared_utc)
            ),
            None,
        )
        after = None if mine is None else (mine[3] - one.raised_utc).total_seconds()
        warnings.append(
            WarningTaken(
                kind=one.kind.value,
                subject=one.subject,
                raised_utc=one.raised_utc,
                cleared_utc=one.cleared_utc,
                false_alarm=(one.kind, one.subject, one.raised_utc) in false,
                taken_by=None if mine is None else mine[2],
                taken_after_s=after,
                taken_really_s=None if after is None else after / speed,
            )
        )
    return RehearsalScore(
        faults=sorted(one.value for one in truth.faults),
        burst_utc=epoch + timedelta(seconds=truth.top_s),
        top_msl_m=float(np.max(truth.height_msl_m)),
        landed_utc=epoch + timedelta(seconds=truth.landed_s),
        latitude_deg=float(truth.latitude_deg[-1]),
        longitude_deg=float(truth.longitude_deg[-1]),
        landings=[
            RehearsedLanding(moment=one.moment, made_utc=one.made_utc, error_m=one.error_m, in_90=one.in_90)
            for one in score.landings
        ],
        due=[
            WarningDue(
                kind=one.kind.value,
                due_utc=one.due_utc,
                raised_utc=one.raised_utc,
                blind=one.blind,
                not_known=one.not_known,
            )
            for one in score.answers
        ],
        warnings=warnings,
        packets_sent=score.sent,
        packets_kept=score.kept,
        notes=[*stopped_lines(done), *done.unknown, *done.troubles],
    )
