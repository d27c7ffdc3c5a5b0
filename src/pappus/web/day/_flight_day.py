"""A flight day on a desk, real or rehearsed: what is heard is kept, looked ahead of, and told to every page."""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from pappus.errors import BadInput, Finding, PappusError
from pappus.inflight import Fault, Moment, Warned, Watch, Watched, estimator_for, keep_given, receivers_of
from pappus.store import FlightStore
from pappus.tracking import Estimate, Phase
from pappus.web.day._flight_ahead import Chased, Lookout, Predicted
from pappus.web.day._flight_drawn import planned_answer
from pappus.web.day._flight_record import (
    EARLIER_EVERY_S,
    FLOWN_EVERY_S,
    Flown,
    Taken,
    as_earlier,
    left_in,
    log_of,
    moved,
    put_prediction,
)
from pappus.web.day._rehearsal_answers import RehearsalAnswer
from pappus.web.day._watch_answers import (
    DueOnDayAnswer,
    EarlierAnswer,
    LogAnswer,
    PlannedAnswer,
    PredictionAnswer,
    StateAnswer,
    WarningAnswer,
    WatchAnswer,
    state_answer,
    warning_answer,
)
from pappus.web.desk import Desk, Refused

TELL_EVERY_S = 0.5
WARN_EVERY_S = 2.0
PREDICT_EVERY_S, SHARE_OF_TIME = 5.0, 0.25
"""How often there is a prediction, and what share of one processor that may take."""
IDLE_S = 60.0
"""Without a new packet the area is worked out this often, for time moves it too."""
EARLIER_SHOWN = 12
KEPT_EVERY_S = 60.0
"""Predictions are kept in the record this often, in the time of the flight."""
LOG_SHOWN = 200
_log = logging.getLogger("pappus.web")


class FlightDay:
    """One flight day with its record and its clock. Any thread may call; one watch at a time."""

    def __init__(self, desk: Desk, record: Path, now: Callable[[], datetime], speed: float = 1.0) -> None:
        """``speed``: that of ``now``, in the time of the flight."""
        self._desk, self._record, self._now, self._speed = desk, record, now, speed
        self._lock = threading.RLock()
        self._store: FlightStore | None = None
        self._watch: Watch | None = None
        self._looking: threading.Thread | None = None
        self._stopping = threading.Event()
        self._watched: Watched | None = None
        self._moment: Moment | None = None
        self._told_s = -1e9
        self._flown: list[Flown] = []
        self._predicted: Predicted | None = None
        self._why_not = "nothing was heard yet"
        self._earlier: list[EarlierAnswer] = []
        self._kept_utc: datetime | None = None
        self._lookout: Lookout | None = None
        self._cut: PredictionAnswer | None = None
        self._chased: Chased | None = None
        self._chase_why_not = "no landing area yet"
        self._warned = Warned()
        self._report: tuple[datetime | None, str] = (None, "no winds yet, so that no burst is predicted")
        self._taken: list[Taken] = []
        self._log: list[LogAnswer] = []

    @property
    def running(self) -> bool:
        """Whether it is heard."""
        return self._store is not None

    @property
    def taken(self) -> tuple[Taken, ...]:
        """Warnings that somebody took note of, in order."""
        return tuple(self._taken)

    @property
    def estimate(self) -> Estimate | None:
        """The newest state; None before the first packet, and when no watch runs."""
        return None if self._watched is None else self._watched.estimate

    @property
    def predicted(self) -> Predicted | None:
        """The newest prediction."""
        return self._predicted

    @property
    def chased(self) -> tuple[Chased | None, str]:
        """What the cars are told, or why nothing."""
        return self._chased, self._chase_why_not

    def start(self, site: str | None, by: str) -> None:
        """Hear what the plan's receivers hear. Raises Refused when it runs, or the plan names no receivers."""
        with self._lock:
            if self._watch is not None:
                raise Refused(409, "The watch runs already", "Stop it first to watch from another site.")
            plan = self._desk.plan()
            settings = receivers_of(plan)
            if not settings:
                fix = "Add a [[receiver]] with name, role, kind and address to the plan; docs/receivers.md says how."
                raise Refused(409, "The plan names no receivers", fix)
            make = estimator_for(plan, site)
            chosen = next((one for one in plan.sites if one.name == site), plan.sites[0])
            store = FlightStore.open(self._record)
            try:
                watch = Watch(store, settings, make, self.publish, clock=self._now)
            except BaseException:
                store.close()
                raise
            self._watch = watch
            self.open(store, Lookout(self._desk, chosen), "watch started", f"from site {chosen.name}", by)
            watch.start()
        self._desk.events.publish("watch", {"state": None})

    def stop(self, by: str) -> None:
        """End the watch; all that was heard is in the record. Raises Refused when none runs."""
        with self._lock:
            if self._watch is None:
                raise Refused(409, "No watch runs", "Start it.")
            self._put_decision({"what": "watch stopped", "words": "", "by": by})
            self._watch.stop()
            self._watch = None
        self.close()
        self._watched = None
        self._desk.events.publish("watch", {"state": None})

    def open(self, store: FlightStore, lookout: Lookout, what: str, words: str, by: str) -> None:
        """Begin to look ahead of what ``publish`` is told."""
        with self._lock:
            self._stopping = threading.Event()
            self._forget()
            keep_given(store, self._desk.plan_path, self._desk.pack_folder, self._now())
            left = left_in(store)
            self._flown, self._earlier, self._taken, self._log = left.flown, left.earlier, left.taken, left.log
            self._store, self._lookout = store, lookout
            self._looking = threading.Thread(target=self._look, args=(lookout, self._stopping), daemon=True)
            self._put_decision({"what": what, "words": words, "by": by})
            self._looking.start()

    def close(self) -> None:
        """End the looking ahead and close the record; what is known stays to be read."""
        with self._lock:
            self._stopping.set()
            looking, store = self._looking, self._store
            self._store = self._looking = None
        if looking is not None:
            looking.join(30.0)
        if store is not None:
            store.close()

    def note(self, words: str, by: str) -> None:
        """A line of the crew for the decision log."""
        with self._lock:
            self._put_decision({"what": "note", "words": words, "by": by})
        self._desk.events.publish("watch", {"state": None})

    def hand(self, receiver: str, raw: bytes) -> None:
        """Where a car is, as our own packet, from somebody on the desk and not from a receiver of the plan; kept first.

        Raises Refused when no watch runs, NotSafe when it could not be kept.
        """
        watch = self._watch
        if watch is None:
            raise Refused(409, "No watch runs", "The flight director starts it on page Watch.")
        watch.hand(receiver, "json", raw, role="vehicle")

    def acknowledge(self, kind: str, subject: str, by: str) -> None:
        """Somebody has taken note of a warning; kept as a decision. Raises BadInput for one that does not stand."""
        with self._lock:
            one = next((w for w in self._warned.warnings if (w.kind.value, w.subject) == (kind, subject)), None)
            if one is None:
                fix = "It may have gone; load the page again."
                raise BadInput(Finding("kind", f"{kind} {subject}".strip(), "no such warning stands", fix))
            made = self._put_decision(
                {"what": "warning acknowledged", "words": one.words, "by": by, "kind": kind, "subject": subject}
            )
            self._taken.append(Taken(kind, subject, by, made))
        self._desk.events.publish("watch", {"state": None})

    def cut_down(self, by: str) -> None:
        """Work out what a cut-down at this moment would do; it commands nothing. Asking goes into the log.

        Raises Refused before the first landing area, BadInput when the balloon falls already.
        """
        lookout, predicted, estimate = self._lookout, self._predicted, self.estimate
        if not self.running or lookout is None or predicted is None or estimate is None:
            raise Refused(409, "There is no landing area yet", "Ask again when there is one.")
        found = lookout.cut(predicted.model, estimate, self._now())
        with self._lock:
            self._cut = found
            self._put_decision({"what": "asked what a cut-down would do", "words": "nothing was commanded", "by": by})
        self._desk.events.publish("watch-ahead", {})

    def answer(self, rehearsal: RehearsalAnswer | None = None) -> WatchAnswer:
        """All that the page draws."""
        plan = self._desk.plan()
        with self._lock:
            if rehearsal is None and not self.running:
                self._read_log()
            predicted = self._predicted
            return WatchAnswer(
                running=self.running,
                receivers=[one.name for one in plan.receivers],
                sites=[one.name for one in plan.sites],
                fault_kinds=[one.value for one in Fault],
                rehearsal=rehearsal,
                record=self._record.name,
                state=self.state(),
                flown=list(self._flown),
                prediction=None if predicted is None else predicted.answer,
                prediction_why_not=self._why_not,
                earlier=moved(self._earlier[-EARLIER_SHOWN:], None if predicted is None else predicted.answer),
                planned=self._planned(),
                winds=None if predicted is None else predicted.winds,
                cut_down=self._cut,
                lost=None if predicted is None else predicted.lost,
                search=None if predicted is None else predicted.search,
                due=self._due(),
                log=self._log[-LOG_SHOWN:],
            )

    def state(self) -> StateAnswer | None:
        """The state of now; None when no watch runs or it has not looked yet."""
        watched = self._watched
        if watched is None:
            return None
        return state_answer(watched, self._now(), self._warnings(), *self._report, self._speed)

    def _due(self) -> list[DueOnDayAnswer]:
        due = () if self._lookout is None else self._lookout.due
        return [DueOnDayAnswer(title=one.title, due_utc=one.due_utc, who=one.who) for one in due]

    def _planned(self) -> PlannedAnswer | None:
        if self._predicted is None:
            return None
        model, estimate = self._predicted.model, self.estimate
        left = None if estimate is None else estimate.release_utc
        return planned_answer(model, left or model.release)

    def _warnings(self) -> list[WarningAnswer]:
        found = []
        for one in self._warned.warnings:
            taken = (t for t in reversed(self._taken) if (t.kind, t.subject) == (one.kind.value, one.subject))
            newest = next((t for t in taken if t.made_utc >= one.since_utc), None)
            found.append(warning_answer(one, None if newest is None else (newest.by, newest.made_utc)))
        return found

    def publish(self, watched: Watched, moment: Moment | None = None) -> None:
        """Some ten times a second, in the thread of whoever hears; ``moment``: of a rehearsal, whose crew predicts."""
        self._moment, self._watched = moment, watched
        if moment is not None:
            self._take_warnings(moment.warned)
        place = None if watched.estimate is None else watched.estimate.position
        if place is not None and watched.estimate is not None and watched.estimate.phase is not Phase.NOT_KNOWN:
            at_s = place.time_utc.timestamp()
            if not self._flown or at_s - self._flown[-1][0] >= FLOWN_EVERY_S:
                self._flown.append((at_s, place.longitude_deg, place.latitude_deg, place.height_msl_m))
        now_s = time.monotonic()
        if now_s - self._told_s < TELL_EVERY_S:
            return
        self._told_s = now_s
        self._tell()

    def _tell(self) -> None:
        state = self.state()
        if state is not None:
            self._desk.events.publish("watch", {"state": json.loads(state.model_dump_json())})

    def _look(self, lookout: Lookout, stopping: threading.Event) -> None:
        """In a thread of its own: predictions, warnings and the chase; once more for what came just before the end."""
        next_s, heard, last = 0.0, None, False
        while not last:
            last = stopping.wait(max(WARN_EVERY_S / self._speed, TELL_EVERY_S))
            watched, moment = self._watched, self._moment
            estimate = None if watched is None or watched.catching_up is not None else watched.estimate
            if estimate is None:
                continue
            now, now_s = self._now(), time.monotonic()
            due = (last or now_s >= next_s) and (heard != estimate.heard_utc or now_s >= next_s + IDLE_S)
            if due or moment is not None:
                heard = estimate.heard_utc
                try:
                    self._predict(lookout, estimate, now, moment)
                except Exception:  # a thread that dies silently would leave an old area on the page for ever
                    _log.exception("no landing area")
                    self._why_not = "it failed inside pappus; the terminal says more"
                took_s = time.monotonic() - now_s
                next_s = time.monotonic() + max(PREDICT_EVERY_S, took_s * (1.0 / SHARE_OF_TIME - 1.0))
            try:
                self._warn(lookout, estimate, now, moment is None)
            except Exception:
                _log.exception("no warnings")
                self._report = (None, "it failed inside pappus, and so did the warnings; the terminal says more")

    def _predict(self, lookout: Lookout, estimate: Estimate, now: datetime, moment: Moment | None) -> None:
        try:
            if moment is None:
                predicted = lookout.predict(estimate, now)
            else:
                self._why_not, made = moment.why_not, moment.prediction
                if made is None or (self._predicted is not None and self._predicted.prediction is made):
                    return
                predicted = lookout.shown(made, moment.ahead, estimate, now)
        except PappusError as error:
            self._why_not = str(error)
            self._desk.events.publish("watch-ahead", {})
            return
        self._why_not = ""
        with self._lock:
            before, self._predicted = self._predicted, predicted
            if before is not None:
                self._remember(before.answer)
            if self._cut is not None and estimate.phase not in (Phase.ASCENT, Phase.FLOAT):
                self._cut = None  # it falls: nothing is left to cut
        self._keep(predicted)
        self._desk.events.publish("watch-ahead", {})
        try:
            self._chased, self._chase_why_not = lookout.chase(estimate, predicted, now), ""
        except (PappusError, ValueError) as error:
            self._chased, self._chase_why_not = None, str(error)
        self._desk.events.publish("chase", {})

    def _warn(self, lookout: Lookout, estimate: Estimate, now: datetime, warns: bool) -> None:
        if warns:
            self._take_warnings(lookout.warn(estimate, self._predicted, now))
        elif self._predicted is not None:
            lookout.report(self._predicted.model, estimate, self._predicted)
        self._report = (lookout.report_due, lookout.report_why_not)

    def _take_warnings(self, warned: Warned) -> None:
        """What stands now; what is new goes into the record."""
        before = {(one.kind, one.subject) for one in self._warned.standing}
        self._warned = warned
        for one in warned.standing:
            if (one.kind, one.subject) not in before and (store := self._store) is not None:
                store.put_message(
                    {"message": "warning", "kind": one.kind.value, "subject": one.subject, "words": one.words},
                    self._now(),
                )

    def _remember(self, old: PredictionAnswer) -> None:
        """An area of before as an outline, one every ten minutes."""
        if self._earlier and (old.made_utc - self._earlier[-1].made_utc).total_seconds() < EARLIER_EVERY_S:
            return
        self._earlier.append(as_earlier(old))

    def _keep(self, predicted: Predicted) -> None:
        store, made = self._store, predicted.prediction.made_utc
        if store is None or (self._kept_utc is not None and (made - self._kept_utc).total_seconds() < KEPT_EVERY_S):
            return
        self._kept_utc = made
        put_prediction(store, predicted.answer, predicted.prediction)

    def _put_decision(self, content: Mapping[str, str]) -> datetime:
        """Into the record and the log. A record that is not open is opened for it."""
        now = self._now()
        if self._store is not None:
            self._store.put_decision(dict(content), now)
        else:
            with FlightStore.open(self._record) as store:
                store.put_decision(dict(content), now)
        self._log.append(LogAnswer(made_utc=now, by=content["by"], what=content["what"], words=content["words"]))
        return now

    def _forget(self) -> None:
        self._watched = self._moment = self._predicted = self._chased = None
        self._why_not, self._chase_why_not = "nothing was heard yet", "no landing area yet"
        self._warned, self._kept_utc, self._cut = Warned(), None, None

    def _read_log(self) -> None:
        if self._record.is_file():
            with FlightStore.open(self._record, read_only=True) as store:
                self._log = log_of(store)


def flight_day(desk: Desk) -> FlightDay:
    """The real flight day of a desk; always the same one."""
    return desk.keep("flight day", None, lambda: FlightDay(desk, desk.store_path, desk.now))
