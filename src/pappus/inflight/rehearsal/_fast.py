"""A rehearsal without sockets and without waiting: packets go to the estimator as they would arrive."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from pappus.earth import geodesic_direct
from pappus.inflight._fed import Fed
from pappus.inflight._flight import estimator_for
from pappus.inflight.prediction import Prediction
from pappus.inflight.rehearsal._crew import Crew, Raised
from pappus.inflight.rehearsal._faults import Fault
from pappus.inflight.rehearsal._packets import AIR, Air, Ear, Sent, Told, packets_of, told_by
from pappus.inflight.rehearsal._truth import Stage, Truth, draw_truth
from pappus.inflight.warnings import LiesAround
from pappus.recovery import Station
from pappus.rules import RuleFacts, RuleProfile
from pappus.tracking import received

CHASE_FAILS = 0.2
"""Share of the flights whose car is elsewhere at the touchdown."""


@dataclass(frozen=True, eq=False)
class Rehearsed:
    """A rehearsal that is over."""

    stage: Stage
    truth: Truth
    told: Told
    sent: tuple[Sent, ...]
    around: LiesAround
    log: tuple[Raised, ...]
    predictions: tuple[Prediction, ...]
    kept: int
    """Packets that the store has, or that reached the estimator."""
    lacking: tuple[Raised, ...]
    """What could not be told, and when."""
    troubles: tuple[str, ...]
    report_asked: bool
    """The rules ask for a descent report."""
    stopped_utc: datetime | None = None
    """Ended early, at this time of the flight: what was due later is not judged."""

    @property
    def unknown(self) -> tuple[str, ...]:
        """What could not be told at the end."""
        return tuple(one.line for one in self.lacking if one.cleared_utc is None)


def ears_of(stage: Stage, truth: Truth, rng: np.random.Generator) -> tuple[Ear, ...]:
    """A mast at the site, a car and a helper half way and off the track.

    The car waits some kilometres from the touchdown where the chase did well, else near the planned landing.
    """
    site, nominal = stage.model.site, stage.model.nominal
    planned = float(nominal.end_latitude_deg[0]), float(nominal.end_longitude_deg[0])
    touchdown = float(truth.latitude_deg[-1]), float(truth.longitude_deg[-1])
    ground = float(truth.height_msl_m[-1])
    there = planned if rng.random() < CHASE_FAILS else touchdown
    car = geodesic_direct(*there, float(rng.uniform(0.0, 360.0)), float(rng.uniform(1_000.0, 4_000.0)))
    middle = 0.5 * (site.latitude_deg + planned[0]), 0.5 * (site.longitude_deg + planned[1])
    aside = geodesic_direct(*middle, 20.0, 60_000.0)
    return (
        Ear(Station("rehearsed mast", site.latitude_deg, site.longitude_deg, site.height_msl_m, 10.0), "json", "udp"),
        Ear(Station("rehearsed car", float(car[0]), float(car[1]), ground, 2.5), "aprs-text", "tcp"),
        Ear(Station("rehearsed helper", float(aside[0]), float(aside[1]), ground, 12.0), "json", "http"),
    )


def rehearse_fast(
    stage: Stage,
    faults: Collection[Fault],
    around_truth: Callable[[Truth, np.random.Generator], LiesAround],
    profile: RuleProfile | None,
    *,
    seed: int,
    every_s: float = 10.0,
    look_every_s: float = 30.0,
    predict_every_s: float = 600.0,
    flights: int = 200,
    facts: RuleFacts | None = None,
    air: Air = AIR,
) -> Rehearsed:
    """One flight, all of it, with the estimator fed directly; deterministic for the seed.

    :param around_truth: what lies around this flight.
    """
    rng = np.random.default_rng([seed, 91])
    truth = draw_truth(stage, faults, rng)
    model = stage.model
    told = told_by(truth, model.conditions.release.time_s, every_s, rng)
    sent = packets_of(truth, told, ears_of(stage, truth, rng), model.epoch, air, rng)
    around = around_truth(truth, rng)
    crew = Crew(stage, around, profile, flights=flights, predict_every_s=predict_every_s, seed=seed, facts=facts)
    fed = Fed(estimator_for(model.plan, model.site.name), ())
    count, due = 0, 0
    counters: dict[str, int] = {}
    for now_s in np.arange(told.measured_s[0], told.over_s + look_every_s, look_every_s):
        while due < len(sent) and sent[due].arrives_s <= now_s:
            one = sent[due]
            number = counters[one.receiver] = counters.get(one.receiver, 0) + 1
            when = model.epoch + timedelta(seconds=one.arrives_s)
            fed.feed(received(one.receiver, number, when, one.kind, one.raw, role=one.role))
            due += 1
            count += 1
        crew.look(fed.estimate(), model.epoch + timedelta(seconds=float(now_s)))
    troubles = (*crew.faults, *([fed.last_fault] if fed.faults else []))
    return Rehearsed(
        stage, truth, told, tuple(sent), around, tuple(crew.log), tuple(crew.predictions), count,
        tuple(crew.lacking), troubles, crew.report_asked,
    )  # fmt: skip
