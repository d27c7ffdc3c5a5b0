"""Rehearsals on a desk: a flight that never was, heard over real sockets, shown where a real one would be.

One at a time, never beside a real watch, each with a record of its own beside that of the flight.
"""

from __future__ import annotations

import json
import logging
import secrets
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from pappus.errors import BadInput, Finding, PappusError
from pappus.inflight import (
    Fault,
    InFlightModel,
    LiesAround,
    Moment,
    Rehearsed,
    Stage,
    Watched,
    faults_named,
    planned_of,
    rehearse,
)
from pappus.plan import Site
from pappus.preflight import site_of
from pappus.sources import ReceiverState
from pappus.store import FlightStore, Safety
from pappus.tracking import Estimate
from pappus.web.day._flight_ahead import Lookout, lies_in
from pappus.web.day._flight_day import FlightDay, flight_day
from pappus.web.day._rehearsal_answers import RehearsalAnswer, RehearsalScore, RehearsalState, rehearsal_score
from pappus.web.desk import Desk, Refused

PREDICT_EVERY_S, LEAST_EVERY_S = 2.0, 30.0
"""Of this computer's time, as the flight goes by faster than on the day; the other in the time of the flight, for all
predictions are held until the score."""
BEGINS_BEFORE_S = 300.0
"""The clock stands so long before the planned release until the first packet."""
MOST_DRAWN = 2
JOIN_S = 30.0
_log = logging.getLogger("pappus.web")


@dataclass(frozen=True)
class Wish:
    """What a director asked for."""

    site: str | None
    speed: float
    faults: frozenset[Fault]
    drawn: bool
    """The faults were drawn: none, one or two."""
    seed: int


class Rehearsal:
    """One rehearsal in threads of the desk; any thread may call."""

    def __init__(self, desk: Desk, wish: Wish, site: Site, by: str, record: Path) -> None:
        self._desk, self._wish, self._site, self._by, self.record = desk, wish, site, by, record
        self.day = FlightDay(desk, record, self.now, wish.speed)
        self._clock: tuple[datetime, float] | None = None
        self._state: RehearsalState = "preparing"
        self._step, self._why_not, self._done, self._begun = "reading the winds", "", 0.0, False
        self._score: RehearsalScore | None = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="rehearsal", daemon=True)

    @property
    def runs(self) -> bool:
        """Whether it is under way, its preparation too."""
        return self._state in ("preparing", "running")

    @property
    def begun(self) -> bool:
        """Whether it has a record."""
        return self._begun

    def now(self) -> datetime:
        """The time of the rehearsed flight; it stands still once that is over."""
        if self._clock is None:
            return self._desk.plan().window.release - timedelta(seconds=BEGINS_BEFORE_S)
        moment, at_s = self._clock
        if self._state != "running":
            return moment
        return moment + timedelta(seconds=self._wish.speed * (time.monotonic() - at_s))

    def start(self) -> None:
        """Once."""
        self._thread.start()

    def stop(self) -> None:
        """End it early; returns when it has ended, and what was heard until then is judged."""
        self._stopping.set()
        self._thread.join(JOIN_S)

    def answer(self) -> RehearsalAnswer:
        """How it stands."""
        wish = self._wish
        return RehearsalAnswer(
            state=self._state, step=self._step, why_not=self._why_not, done=self._done, speed=wish.speed,
            seed=wish.seed, site=self._site.name, by=self._by, drawn=wish.drawn, record=self.record.name,
            score=self._score,
        )  # fmt: skip

    def _run(self) -> None:
        end: RehearsalState = "failed"
        try:
            end = self._fly()
        except (PappusError, Refused) as error:
            self._why_not = str(error)
        except Exception:  # a thread that dies silently would leave a rehearsal that never ends
            _log.exception("the rehearsal failed")
            self._why_not = "it failed inside pappus; the terminal says more"
        if self._clock is not None:
            self._clock = (self.now(), time.monotonic())
        self._state = end
        self.day.close()
        self._tell()

    def _fly(self) -> RehearsalState:
        wish = self._wish
        lookout = Lookout(self._desk, self._site)
        model = lookout.forecast_model(self._desk.plan().window.release)
        self._said("reading map, airspace and rules")
        around = lookout.around()
        lies, profile = LiesAround() if around is None else lies_in(around, model), lookout.profile()
        if self._stopping.is_set():
            return "stopped"
        self._said("drawing the flight")
        with FlightStore.open(self.record) as store:
            about = {"seed": wish.seed, "speed": wish.speed, "site": self._site.name, "drawn": wish.drawn}
            store.put_message({"message": "rehearsal", **about}, self.now())
            self._open(store, model)
            self._state = "running"
            self._tell()
            done = rehearse(
                Stage(model, planned_of(model)), store, wish.faults, lies, profile,
                seed=wish.seed, speed=wish.speed, predict_every_s=max(PREDICT_EVERY_S * wish.speed, LEAST_EVERY_S),
                tell=self._hear, stopping=self._stopping,
            )  # fmt: skip
            self._score = self._judge(done)
            kept = json.loads(self._score.model_dump_json())
            store.put_message({"message": "rehearsal score", **about, "score": kept}, self.now())
            self.day.close()
        return "over" if done.stopped_utc is None else "stopped"

    def _open(self, store: FlightStore, model: InFlightModel) -> None:
        lookout = Lookout(self._desk, self._site, flown_in=model, slack_s=self._wish.speed)
        words = f"from site {self._site.name}, {self._wish.speed:g} times life"
        self.day.open(store, lookout, "rehearsal started", words, self._by)
        self._begun = True

    def _hear(self, moment: Moment) -> None:
        """Ten times a second, in the thread of the rehearsal."""
        self._clock, self._done = (moment.now, time.monotonic()), moment.done
        self.day.publish(_watched(moment), moment)

    def _judge(self, done: Rehearsed) -> RehearsalScore:
        taken = [(one.kind, one.subject, one.by, one.made_utc) for one in self.day.taken]
        return rehearsal_score(done, taken, self._wish.speed)

    def _said(self, step: str) -> None:
        self._step = step
        self._tell()

    def _tell(self) -> None:
        self._desk.events.publish("watch", {"state": None})


class Rehearsals:
    """The rehearsals of a desk: the newest is shown until it is put away."""

    def __init__(self, desk: Desk) -> None:
        self._desk, self._lock = desk, threading.RLock()
        self._newest: Rehearsal | None = None

    @property
    def newest(self) -> Rehearsal | None:
        """The one that is shown."""
        return self._newest

    def start(self, wish: Wish, by: str) -> None:
        """Raises Refused while a real watch or another rehearsal runs, or without winds to fly in."""
        with self._lock:
            if flight_day(self._desk).running:
                fix = "A rehearsal is never mixed with a flight: end the watch first."
                raise Refused(409, "The watch of a real flight runs", fix)
            if self._newest is not None and self._newest.runs:
                raise Refused(409, "A rehearsal runs already", "Stop it first.")
            plan = self._desk.plan()
            site = site_of(plan, wish.site)
            if not self._desk.winds():
                fix = "Make a field pack with pappus fetch, or try the invented example: pappus try."
                raise Refused(409, "There are no winds to rehearse in: the desk has no field pack, or none in it", fix)
            self._newest = Rehearsal(self._desk, wish, site, by, _new_record(self._desk.store_path))
            self._newest.start()

    def start_watch(self, site: str | None, by: str) -> None:
        """The real day; what is left of a rehearsal is put away first. Raises Refused while one runs."""
        with self._lock:
            if self._newest is not None and self._newest.runs:
                raise Refused(409, "A rehearsal runs", "Stop it first: a flight is never mixed with a rehearsal.")
            flight_day(self._desk).start(site, by)
            self._newest = None

    def stop(self) -> None:
        """Raises Refused when none runs."""
        newest = self._newest
        if newest is None or not newest.runs:
            raise Refused(409, "No rehearsal runs", "Start one.")
        newest.stop()

    def put_away(self) -> None:
        """Show the real day again; the record of the rehearsal stays. Raises Refused while it runs."""
        with self._lock:
            if self._newest is not None and self._newest.runs:
                raise Refused(409, "The rehearsal runs", "Stop it first.")
            self._newest = None
        self._desk.events.publish("watch", {"state": None})


def rehearsals(desk: Desk) -> Rehearsals:
    """Those of a desk; always the same object."""
    return desk.keep("rehearsals", None, lambda: Rehearsals(desk))


def wish_of(site: str | None, speed: float, faults: Sequence[str], drawn: bool, seed: int | None) -> Wish:
    """Raises BadInput for a fault that is not known, and for faults both named and drawn."""
    if seed is None:
        seed = secrets.randbelow(2**31)
    named = faults_named(faults)
    if drawn and named:
        raise BadInput(
            Finding("faults", ", ".join(faults), "are named, yet drawn was asked for", "Choose one of both.")
        )
    return Wish(site, speed, _drawn(seed) if drawn else named, drawn, seed)


def shown_day(desk: Desk) -> tuple[FlightDay, Rehearsal | None]:
    """The day that page Watch shows: that of a rehearsal until it is put away, else the real one."""
    newest = rehearsals(desk).newest
    return (flight_day(desk), None) if newest is None else (newest.day, newest)


def acting_day(desk: Desk) -> FlightDay:
    """The same for whoever acts on it. Raises Refused for a rehearsal that has not begun: it has no record yet."""
    day, rehearsal = shown_day(desk)
    if rehearsal is not None and not rehearsal.begun:
        raise Refused(409, "The rehearsal has not begun", "Wait until it runs.")
    return day


def end_days(desk: Desk) -> None:
    """When the desk ends: a watch is stopped so that its record says so, and a rehearsal too."""
    newest = rehearsals(desk).newest
    if newest is not None and newest.runs:
        newest.stop()
    if flight_day(desk).running:
        flight_day(desk).stop("the end of the desk")


def _new_record(record: Path) -> Path:
    """``flight.rehearsal-1.record`` beside ``flight.record``: the first number that is free."""
    number = 1
    while (path := record.with_name(f"{record.stem}.rehearsal-{number}{record.suffix}")).exists():
        number += 1
    return path


def _drawn(seed: int) -> frozenset[Fault]:
    rng = np.random.default_rng([seed, 17])
    known = sorted(Fault)
    return frozenset(known[k] for k in rng.permutation(len(known))[: rng.integers(0, MOST_DRAWN + 1)])


def _watched(moment: Moment) -> Watched:
    """As a watch publishes it; every station of a rehearsal is on this computer."""
    estimate = moment.estimate
    receivers = () if estimate is None else tuple(_stations(estimate))
    return Watched(estimate, receivers, Safety(0, 0, 0, None, ""), None, 0, 0, "")


def _stations(estimate: Estimate) -> list[ReceiverState]:
    return [
        ReceiverState(
            one.receiver, one.role, "json", "this computer", "connected", "", None, one.packets, 0, 0, 1, None
        )
        for one in estimate.listeners
    ]
