"""The crew's side of a rehearsal: looks at the estimate, predicts, warns, and keeps a log of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from pappus.errors import PappusError
from pappus.inflight.prediction import TRACKED, Prediction, repredict
from pappus.inflight.rehearsal._truth import Stage
from pappus.inflight.warnings import (
    LIMITS,
    Ahead,
    FlightPicture,
    LiesAround,
    Past,
    Warned,
    Warning_,
    WarningKind,
    WarningLimits,
    ahead_of,
    descent_report_due,
    gap_alarm_asked,
    looked,
    warn,
)
from pappus.rules import RuleFacts, RuleProfile
from pappus.tracking import Estimate, Phase

_OPENING_S = 60.0


@dataclass(frozen=True)
class Raised:
    """One warning as it came."""

    kind: WarningKind
    subject: str
    raised_utc: datetime
    cleared_utc: datetime | None
    line: str


class Crew:
    """Looks as often as it is called; predicts every so often, and soon after the phase has changed."""

    def __init__(
        self,
        stage: Stage,
        around: LiesAround,
        profile: RuleProfile | None,
        *,
        flights: int,
        predict_every_s: float,
        seed: int,
        facts: RuleFacts | None = None,
        limits: WarningLimits = LIMITS,
    ) -> None:
        self._stage, self._around, self._profile, self._limits = stage, around, profile, limits
        self._flights, self._every_s, self._seed = flights, predict_every_s, seed
        self._history: tuple[Past, ...] = ()
        self._warned: Warned | None = None
        self._first: Ahead | None = None
        self.ahead = Ahead.not_known("there is no prediction yet")
        """The chances of what lies ahead of the newest prediction."""
        self.why_not = "nothing was heard yet"
        """Why there is no newer prediction."""
        self._due_utc: datetime | None = None
        self._asked = gap_alarm_asked(profile, stage.model, facts)
        self._facts = facts
        self.report_asked = descent_report_due(profile, stage.model, None, facts) is not None
        self._predicted_utc: datetime | None = None
        self._phase: Phase | None = None
        self.predictions: list[Prediction] = []
        """All of them; only the newest has tracks."""
        self.log: list[Raised] = []
        self.lacking: list[Raised] = []
        """What could not be told, and when."""
        self.estimate: Estimate | None = None
        self.faults: list[str] = []

    @property
    def warned(self) -> Warned:
        """As it stands."""
        return self._warned or Warned()

    @property
    def newest(self) -> Prediction | None:
        """The newest prediction."""
        return self.predictions[-1] if self.predictions else None

    def look(self, estimate: Estimate | None, now: datetime) -> Warned:
        """One look; the answer stands until the next."""
        self.estimate = estimate
        if estimate is not None:
            self._history = looked(self._history, estimate, now)
            if self._prediction_due(estimate, now):
                self._predict(estimate, now)
        picture = FlightPicture(
            now,
            self._stage.planned,
            estimate,
            self.newest,
            self.ahead,
            self._history,
            self._due_utc,
            self._asked,
            self._limits,
        )
        before = self.warned
        self._warned = warn(picture, before)
        _keep(self.log, before.standing, self._warned.standing, now)
        _keep(self.lacking, _not_known(before), _not_known(self._warned), now)
        return self._warned

    def _prediction_due(self, estimate: Estimate, now: datetime) -> bool:
        if estimate.position is None:
            return False
        if estimate.phase is Phase.LANDED:
            # once, for where to search
            return self._phase is not Phase.LANDED
        if self._predicted_utc is None:
            return True
        if estimate.phase is Phase.GROUND:
            return False
        since_s = (now - self._predicted_utc).total_seconds()
        # a burst makes all that was said of it void; so does the canopy, which needs its time to show
        changed = estimate.phase is not self._phase and since_s >= _OPENING_S
        start = estimate.fall_start
        shown = None if start is None else start.time_utc + timedelta(seconds=2.0 * _OPENING_S)
        opened = shown is not None and self._predicted_utc < shown <= now
        return since_s >= self._every_s or changed or opened

    def _predict(self, estimate: Estimate, now: datetime) -> None:
        self._predicted_utc, self._phase = now, estimate.phase
        model = self._stage.model
        try:
            made = repredict(model, estimate, now, flights=self._flights, seed=self._seed, tracks=TRACKED)
        except (PappusError, ValueError, np.linalg.LinAlgError) as error:
            self.why_not = str(error)
            self.faults.append(f"{now:%H:%M:%S}Z no prediction: {error}")
            return
        if self.predictions:
            # only the newest is looked ahead of; the tracks of all of them would fill the memory
            self.predictions[-1] = _without_tracks(self.predictions[-1])
        self.predictions.append(made)
        self.why_not = ""
        self.ahead = ahead_of(made.flights, self._around, model.epoch, self._first)
        if self._first is None:
            self._first = self.ahead
            self.ahead = ahead_of(made.flights, self._around, model.epoch, self._first)
        self._due_utc = descent_report_due(self._profile, model, made, self._facts)


def _without_tracks(made: Prediction) -> Prediction:
    none = np.empty((0, 0))
    flights = replace(
        made.flights, track_time_s=none, track_latitude_deg=none, track_longitude_deg=none, track_height_msl_m=none,
        track_of=None,
    )  # fmt: skip
    return replace(made, flights=flights)


def _not_known(warned: Warned) -> list[Warning_]:
    return [one for one in warned.warnings if not one.known]


def _keep(log: list[Raised], before: Sequence[Warning_], after: Sequence[Warning_], now: datetime) -> None:
    """Write down what came and what went between two looks."""
    old = {(one.kind, one.subject) for one in before}
    new = {(one.kind, one.subject): one for one in after}
    log += [Raised(one.kind, one.subject, now, None, one.line) for key, one in new.items() if key not in old]
    for index, raised in enumerate(log):
        if raised.cleared_utc is None and (raised.kind, raised.subject) not in new:
            log[index] = replace(raised, cleared_utc=now)
