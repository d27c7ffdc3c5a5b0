"""A rehearsal as on the day: packets over real sockets into receivers, store and estimate, faster than in life."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from pappus.errors import BadInput, Finding
from pappus.inflight._flight import estimator_for
from pappus.inflight._watch import watch
from pappus.inflight._watched import Watched
from pappus.inflight.prediction import FLIGHTS, Prediction
from pappus.inflight.rehearsal._crew import Crew
from pappus.inflight.rehearsal._fast import Rehearsed, ears_of
from pappus.inflight.rehearsal._faults import Fault
from pappus.inflight.rehearsal._links import Links
from pappus.inflight.rehearsal._packets import AIR, Air, Sent, packets_of, told_by
from pappus.inflight.rehearsal._truth import Stage, draw_truth
from pappus.inflight.warnings import LIMITS, Ahead, LiesAround, Warned
from pappus.rules import RuleProfile
from pappus.store import FlightStore
from pappus.tracking import Estimate

SPEEDS = (1.0, 200.0)
EVERY_S = 10.0
"""Of the fixes, in the time of the flight."""
PAUSE_S = 1.0
"""A busy computer may take so long for a packet."""
_LISTEN_S = 15.0
_SETTLE_S = 1.0
_LOOK_S = 0.1
"""Of this computer's time."""


@dataclass(frozen=True)
class Moment:
    """How a rehearsal that runs stands."""

    now: datetime
    """In the time of the flight."""
    done: float
    """Share of the packets sent."""
    estimate: Estimate | None
    warned: Warned
    prediction: Prediction | None
    """The newest, and ``ahead``: the chances of what lies ahead of it."""
    ahead: Ahead
    why_not: str
    """Why there is no newer prediction; empty where nothing failed."""


class _Clock:
    """Runs ``speed`` times as fast as this computer's, from a moment of the flight on."""

    def __init__(self, start: datetime, speed: float) -> None:
        self._start, self.speed, self._began_s = start, speed, time.monotonic()

    def begin(self) -> None:
        self._began_s = time.monotonic()

    def __call__(self) -> datetime:
        return self._start + timedelta(seconds=self.speed * (time.monotonic() - self._began_s))


def rehearse(
    stage: Stage,
    store: FlightStore,
    faults: Collection[Fault],
    around: LiesAround,
    profile: RuleProfile | None,
    *,
    seed: int,
    speed: float = 50.0,
    flights: int = FLIGHTS,
    predict_every_s: float = 300.0,
    air: Air = AIR,
    tell: Callable[[Moment], None] = lambda moment: None,
    stopping: threading.Event | None = None,
) -> Rehearsed:
    """One simulated flight from before the release until some minutes after the touchdown.

    Everything behind the sockets is what runs on the flight day: receivers, store, estimate, prediction, warnings.

    :param speed: 1 as in life, up to 200 times faster.
    :param tell: called some ten times a second, and once more at the end.
    :param stopping: once it is set, nothing more is sent, and what has been heard is judged.

    Raises BadInput for a speed beyond that, and what the store and ``draw_truth`` raise.
    """
    if not SPEEDS[0] <= speed <= SPEEDS[1]:
        raise BadInput(Finding("speed", f"{speed:g}", "a rehearsal runs at 1 to 200 times life", "Give --speed 50."))
    rng = np.random.default_rng([seed, 91])
    model = stage.model
    truth = draw_truth(stage, faults, rng)
    told = told_by(truth, model.conditions.release.time_s, EVERY_S, rng)
    ears = ears_of(stage, truth, rng)
    sent = packets_of(truth, told, ears, model.epoch, air, rng)
    # a pause of this computer is as many times longer in the time of the flight
    pause_s = PAUSE_S * speed
    limits = replace(LIMITS, clock_s=(LIMITS.clock_s[0] + pause_s, LIMITS.clock_s[1] + pause_s))
    crew = Crew(
        stage, around, profile, flights=flights, predict_every_s=predict_every_s, seed=seed, limits=limits
    )  # fmt: skip
    clock = _Clock(model.epoch + timedelta(seconds=float(told.measured_s[0])), speed)
    newest: list[Watched] = []
    stopping = threading.Event() if stopping is None else stopping
    count = max(len(sent), 1)

    def publish(watched: Watched) -> None:
        newest[:] = [watched]

    def look(due: int) -> None:
        now = clock()
        warned = crew.look(newest[0].estimate if newest else None, now)
        tell(Moment(now, due / count, crew.estimate, warned, crew.newest, crew.ahead, crew.why_not))

    with Links(ears) as links:
        make = estimator_for(model.plan, model.site.name)
        with watch(store, links.settings, make, publish, clock=clock, hold_s=0.05):
            _wait_for(newest, len(ears), stopping)
            clock.begin()
            due = _send_and_look(sent, links, clock, model.epoch, told.over_s, look, stopping)
            stopped = clock() if stopping.is_set() else None
            time.sleep(_SETTLE_S)
            look(due)
        troubles = [*crew.faults, *([newest[0].last_fault] if newest and newest[0].faults else [])]
        if links.refused:
            troubles.append(f"{links.refused} damaged packets were refused by the receivers")
    return Rehearsed(
        stage, truth, told, tuple(sent[:due]), around, tuple(crew.log), tuple(crew.predictions), store.count(),
        tuple(crew.lacking), tuple(troubles), crew.report_asked, stopped,
    )  # fmt: skip


def _wait_for(newest: list[Watched], receivers: int, stopping: threading.Event) -> None:
    end_s = time.monotonic() + _LISTEN_S
    while time.monotonic() < end_s and not stopping.is_set():
        if newest and sum(one.phase == "connected" for one in newest[0].receivers) == receivers:
            return
        time.sleep(0.02)
    if not stopping.is_set():
        raise BadInput(
            Finding("receivers", "rehearsal", "do not listen on this computer", "Allow connections to 127.0.0.1.")
        )


def _send_and_look(
    sent: list[Sent], links: Links, clock: _Clock, epoch: datetime, over_s: float, look: Callable[[int], None],
    stopping: threading.Event,
) -> int:  # fmt: skip
    """Packets in a thread of their own, so that a slow prediction does not hold them back."""
    due = 0

    def post() -> None:
        nonlocal due
        for one in sent:
            wait = (epoch + timedelta(seconds=one.arrives_s) - clock()).total_seconds() / clock.speed
            if stopping.wait(max(wait, 0.0)):
                return
            links.send(one)
            due += 1

    sender = threading.Thread(target=post, name="rehearsed packets", daemon=True)
    sender.start()
    until = epoch + timedelta(seconds=over_s)
    try:
        # a tracker that fell silent is waited for
        while not stopping.is_set() and (sender.is_alive() or clock() < until):
            look(due)
            stopping.wait(_LOOK_S)
    except BaseException:
        stopping.set()
        raise
    finally:
        # nothing more is sent to receivers that are about to close
        sender.join()
    return due
