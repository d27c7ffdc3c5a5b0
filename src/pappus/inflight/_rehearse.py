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
from pappus.inflight._rehearse_crew import Crew
from pappus.inflight._rehearse_fast import Rehearsed, ears_of
from pappus.inflight._rehearse_faults import Fault
from pappus.inflight._rehearse_links import Links
from pappus.inflight._rehearse_packets import AIR, Air, Sent, packets_of, told_by
from pappus.inflight._rehearse_truth import Stage, draw_truth
from pappus.inflight._warnings import Warned
from pappus.inflight._warnings_ahead import LiesAround
from pappus.inflight._warnings_kinds import LIMITS
from pappus.inflight._watch import watch
from pappus.inflight._watched import Watched
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
    flights: int = 500,
    predict_every_s: float = 300.0,
    air: Air = AIR,
    tell: Callable[[Moment], None] = lambda moment: None,
) -> Rehearsed:
    """One simulated flight from before the release until some minutes after the touchdown.

    Everything behind the sockets is what runs on the flight day: receivers, store, estimate, prediction, warnings.
    Ctrl-C ends it early, and what has been heard is judged.

    :param speed: 1 as in life, up to 200 times faster.

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

    def publish(watched: Watched) -> None:
        newest[:] = [watched]

    with Links(ears) as links:
        make = estimator_for(model.plan, model.site.name)
        with watch(store, links.settings, make, publish, clock=clock, hold_s=0.05):
            _wait_for(newest, len(ears))
            clock.begin()
            until = model.epoch + timedelta(seconds=told.over_s)
            due = _send_and_look(sent, links, crew, clock, model.epoch, until, newest, tell)
            time.sleep(_SETTLE_S)
            crew.look(newest[0].estimate if newest else None, clock())
        troubles = [*crew.faults, *([newest[0].last_fault] if newest and newest[0].faults else [])]
        if links.refused:
            troubles.append(f"{links.refused} damaged packets were refused by the receivers")
    return Rehearsed(
        stage, truth, told, tuple(sent[:due]), around, tuple(crew.log), tuple(crew.predictions), store.count(),
        tuple(crew.lacking), tuple(troubles), crew.report_asked,
    )  # fmt: skip


def _wait_for(newest: list[Watched], receivers: int) -> None:
    end_s = time.monotonic() + _LISTEN_S
    while time.monotonic() < end_s:
        if newest and sum(one.phase == "connected" for one in newest[0].receivers) == receivers:
            return
        time.sleep(0.02)
    raise BadInput(
        Finding("receivers", "rehearsal", "do not listen on this computer", "Allow connections to 127.0.0.1.")
    )


def _send_and_look(
    sent: list[Sent], links: Links, crew: Crew, clock: _Clock, epoch: datetime, until: datetime,
    newest: list[Watched], tell: Callable[[Moment], None],
) -> int:  # fmt: skip
    """Packets in a thread of their own, so that a slow prediction does not hold them back."""
    state = {"due": 0}
    ended = threading.Event()

    def post() -> None:
        for one in sent:
            wait = (epoch + timedelta(seconds=one.arrives_s) - clock()).total_seconds() / clock.speed
            if ended.wait(max(wait, 0.0)):
                return
            links.send(one)
            state["due"] += 1

    sender = threading.Thread(target=post, name="rehearsed packets", daemon=True)
    sender.start()
    try:
        # a tracker that fell silent is waited for
        while sender.is_alive() or clock() < until:
            now, watched = clock(), newest[0] if newest else None
            warned = crew.look(None if watched is None else watched.estimate, now)
            tell(Moment(now, state["due"] / max(len(sent), 1), crew.estimate, warned))
            time.sleep(_LOOK_S)
    except KeyboardInterrupt:
        pass
    finally:
        # the loop ends behind the thread, or early: then nothing more is sent to receivers that are about to close
        ended.set()
        sender.join()
    return state["due"]
