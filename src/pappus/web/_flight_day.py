"""The watch that runs inside a desk: what it hears is kept, looked ahead of, and told to every page."""

from __future__ import annotations

import json
import logging
import threading
import time
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pappus.errors import BadInput, Finding, PappusError
from pappus.inflight import Warned, Watch, Watched, estimator_for, receivers_of
from pappus.store import FlightStore
from pappus.tracking import Estimate, Phase
from pappus.web._desk import Desk
from pappus.web._flight_ahead import Chased, Lookout, Predicted, planned_answer
from pappus.web._problems import Refused
from pappus.web._watch_answers import (
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

TELL_EVERY_S = 0.5
WARN_EVERY_S = 2.0
PREDICT_EVERY_S = 5.0
IDLE_S = 60.0
"""Without a new packet the area is worked out this often, for time moves it too."""
SHARE_OF_TIME = 0.25
"""Of one processor at most for predictions."""
FLOWN_EVERY_S = 5.0
EARLIER_EVERY_S, EARLIER_SHOWN = 600.0, 12
KEPT_EVERY_S = 60.0
"""Predictions are kept in the record this often."""
LOG_SHOWN = 200
_log = logging.getLogger("pappus.web")

Flown = tuple[float, float, float, float | None]


class FlightDay:
    """One flight day of a desk. Any thread may call; one watch at a time."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lock = threading.RLock()
        self._store: FlightStore | None = None
        self._watch: Watch | None = None
        self._looking: threading.Thread | None = None
        self._stopping = threading.Event()
        self._watched: Watched | None = None
        self._told_s = -1e9
        self._flown: list[Flown] = []
        self._predicted: Predicted | None = None
        self._why_not = "nothing was heard yet"
        self._earlier: list[EarlierAnswer] = []
        self._kept_s = -1e9
        self._chased: Chased | None = None
        self._chase_why_not = "no landing area yet"
        self._warned = Warned()
        self._report: tuple[datetime | None, str] = (None, "no winds yet, so that no burst is predicted")
        self._taken: dict[tuple[str, str], tuple[str, datetime]] = {}
        self._log: list[LogAnswer] = []

    @property
    def running(self) -> bool:
        """Whether a watch runs."""
        return self._watch is not None

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
            store = FlightStore.open(self._desk.store_path)
            try:
                watch = Watch(store, settings, make, self._publish, clock=self._desk.now)
            except BaseException:
                store.close()
                raise
            lookout, self._stopping = Lookout(self._desk, chosen), threading.Event()
            self._forget()
            self._read_record(store)
            self._store, self._watch = store, watch
            self._looking = threading.Thread(
                target=self._look, args=(lookout, self._stopping), name="lookout", daemon=True
            )
            self._put_decision({"what": "watch started", "words": f"from site {chosen.name}", "by": by})
            watch.start()
            self._looking.start()
        self._desk.events.publish("watch", {"state": None})

    def stop(self, by: str) -> None:
        """End the watch; all that was heard is in the record. Raises Refused when none runs."""
        with self._lock:
            if self._watch is None or self._store is None:
                raise Refused(409, "No watch runs", "Start it.")
            self._put_decision({"what": "watch stopped", "words": "", "by": by})
            self._stopping.set()
            self._watch.stop()
            looking, store = self._looking, self._store
            self._watch = self._store = self._looking = None
        if looking is not None:
            looking.join(30.0)
        store.close()
        self._watched = None
        self._desk.events.publish("watch", {"state": None})

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
            self._taken[kind, subject] = (by, made)
        self._desk.events.publish("watch", {"state": None})

    def answer(self) -> WatchAnswer:
        """All that the page draws."""
        plan = self._desk.plan()
        with self._lock:
            if not self.running:
                self._read_log()
            predicted = self._predicted
            return WatchAnswer(
                running=self.running,
                receivers=[one.name for one in plan.receivers],
                sites=[one.name for one in plan.sites],
                record=self._desk.store_path.name,
                state=self.state(),
                flown=list(self._flown),
                prediction=None if predicted is None else predicted.answer,
                prediction_why_not=self._why_not,
                earlier=self._earlier[-EARLIER_SHOWN:],
                planned=self._planned(),
                log=self._log[-LOG_SHOWN:],
            )

    def state(self) -> StateAnswer | None:
        """The state of now; None when no watch runs or it has not looked yet."""
        watched = self._watched
        if watched is None:
            return None
        return state_answer(watched, self._desk.now(), self._warnings(), *self._report)

    def _planned(self) -> PlannedAnswer | None:
        if self._predicted is None:
            return None
        model, estimate = self._predicted.model, self.estimate
        left = None if estimate is None else estimate.release_utc
        return planned_answer(model, left or model.release)

    def _warnings(self) -> list[WarningAnswer]:
        found = []
        for one in self._warned.warnings:
            taken = self._taken.get((one.kind.value, one.subject))
            found.append(warning_answer(one, taken if taken is not None and taken[1] >= one.since_utc else None))
        return found

    def _publish(self, watched: Watched) -> None:
        """In the thread of the watch, some ten times a second."""
        self._watched = watched
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
        """In a thread of its own: predictions, warnings and the chase."""
        next_s, heard = 0.0, None
        while not stopping.wait(WARN_EVERY_S):
            watched = self._watched
            estimate = None if watched is None or watched.catching_up is not None else watched.estimate
            if estimate is None:
                continue
            now, now_s = self._desk.now(), time.monotonic()
            if now_s >= next_s and (heard != estimate.heard_utc or now_s >= next_s + IDLE_S):
                heard = estimate.heard_utc
                try:
                    self._predict(lookout, estimate, now)
                except Exception:  # a thread that dies silently would leave an old area on the page for ever
                    _log.exception("no landing area")
                    self._why_not = "it failed inside pappus; the terminal says more"
                took_s = time.monotonic() - now_s
                next_s = time.monotonic() + max(PREDICT_EVERY_S, took_s * (1.0 / SHARE_OF_TIME - 1.0))
            try:
                self._warn(lookout, estimate, now)
            except Exception:
                _log.exception("no warnings")
                self._report = (None, "it failed inside pappus, and so did the warnings; the terminal says more")

    def _predict(self, lookout: Lookout, estimate: Estimate, now: datetime) -> None:
        try:
            predicted = lookout.predict(estimate, now)
        except PappusError as error:
            self._why_not = str(error)
            self._desk.events.publish("watch-ahead", {})
            return
        self._why_not = ""
        with self._lock:
            before, self._predicted = self._predicted, predicted
            if before is not None:
                self._remember(before.answer)
        self._keep(predicted)
        self._desk.events.publish("watch-ahead", {})
        try:
            self._chased, self._chase_why_not = lookout.chase(estimate, predicted, now), ""
        except (PappusError, ValueError) as error:
            self._chased, self._chase_why_not = None, str(error)
        self._desk.events.publish("chase", {})

    def _warn(self, lookout: Lookout, estimate: Estimate, now: datetime) -> None:
        before = {(one.kind, one.subject) for one in self._warned.standing}
        self._warned = lookout.warn(estimate, self._predicted, now)
        self._report = (lookout.report_due, lookout.report_why_not)
        for one in self._warned.standing:
            if (one.kind, one.subject) not in before and (store := self._store) is not None:
                store.put_message(
                    {"message": "warning", "kind": one.kind.value, "subject": one.subject, "words": one.words}, now
                )

    def _remember(self, old: PredictionAnswer) -> None:
        """An area of before as an outline, one every ten minutes."""
        if self._earlier and (old.made_utc - self._earlier[-1].made_utc).total_seconds() < EARLIER_EVERY_S:
            return
        self._earlier.append(EarlierAnswer(made_utc=old.made_utc, landing=_areas(old.landing)))

    def _keep(self, predicted: Predicted) -> None:
        store = self._store
        if store is None or time.monotonic() - self._kept_s < KEPT_EVERY_S:
            return
        self._kept_s = time.monotonic()
        answer = json.loads(predicted.answer.model_copy(update={"landing": {}}).model_dump_json())
        answer["landing"] = _areas(predicted.answer.landing)
        answer["phase"] = predicted.prediction.phase.value
        store.put_prediction(answer, predicted.prediction.made_utc, store.basis())

    def _put_decision(self, content: Mapping[str, str]) -> datetime:
        """Into the record and the log. A record that is not open is opened for it."""
        now = self._desk.now()
        if self._store is not None:
            self._store.put_decision(dict(content), now)
        else:
            with FlightStore.open(self._desk.store_path) as store:
                store.put_decision(dict(content), now)
        self._log.append(LogAnswer(made_utc=now, by=content["by"], what=content["what"], words=content["words"]))
        return now

    def _forget(self) -> None:
        self._watched, self._predicted, self._chased = None, None, None
        self._why_not, self._chase_why_not = "nothing was heard yet", "no landing area yet"
        self._flown, self._earlier, self._warned, self._taken = [], [], Warned(), {}
        self._kept_s = -1e9

    def _read_record(self, store: FlightStore) -> None:
        """What an earlier watch left: the flown track, outlines and the log."""
        last_s = -1e9
        for record in store.records("estimate"):
            if record.made_utc.timestamp() - last_s < FLOWN_EVERY_S:
                continue
            last_s = record.made_utc.timestamp()
            place = record.content.get("position")
            if place is not None:
                at_s = datetime.fromisoformat(place["time_utc"]).timestamp()
                self._flown.append((at_s, place["longitude_deg"], place["latitude_deg"], place["height_msl_m"]))
        for record in store.records("prediction"):
            landing = record.content.get("landing")
            latest = self._earlier[-1].made_utc if self._earlier else None
            if landing and (latest is None or (record.made_utc - latest).total_seconds() >= EARLIER_EVERY_S):
                self._earlier.append(EarlierAnswer(made_utc=record.made_utc, landing=landing))
        self._log = log_of(store)

    def _read_log(self) -> None:
        if self._desk.store_path.is_file():
            with FlightStore.open(self._desk.store_path, read_only=True) as store:
                self._log = log_of(store)


def flight_day(desk: Desk) -> FlightDay:
    """The flight day of a desk; always the same one."""
    return desk.keep("flight day", None, lambda: FlightDay(desk))


def log_of(store: FlightStore) -> list[LogAnswer]:
    """The decisions of a record, oldest first."""
    found = []
    for record in store.records("decision"):
        content = record.content
        if isinstance(content, dict):
            by, what = str(content.get("by", "not said")), str(content.get("what", "decision"))
            words = str(content.get("words", ""))
            found.append(LogAnswer(made_utc=record.made_utc, by=by, what=what, words=words))
    return sorted(found, key=lambda one: one.made_utc)


def _areas(landing: dict[str, Any]) -> dict[str, Any]:
    """The areas alone."""
    areas = [one for one in landing["features"] if one["properties"]["kind"] == "landing area"]
    return {"type": "FeatureCollection", "features": areas}
