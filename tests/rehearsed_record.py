"""The record of an invented flight, as a watch would leave it: packets, estimates, predictions, warnings, decisions.

The flight is drawn from the model of the example plan in its invented winds, and heard by invented stations.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from pappus.inflight import (
    Ahead,
    InFlightModel,
    LiesAround,
    Rehearsed,
    Stage,
    estimator_for,
    planned_of,
    rehearse_fast,
    repredict,
)
from pappus.sources import parse_packet
from pappus.store import Basis, FlightStore
from pappus.tracking import Heard, received
from pappus.web import Desk
from pappus.web.day._flight_drawn import prediction_answer

SEED = 4


@dataclass(frozen=True)
class Flown:
    """One invented flight of a desk's plan."""

    desk: Desk
    seed: int = SEED

    @cached_property
    def model(self) -> InFlightModel:
        plan = self.desk.plan()
        winds = max(self.desk.winds(), key=lambda one: one.field.issued)
        return InFlightModel.prepare(
            plan, winds.field, self.desk.prior(), plan.sites[0], plan.window.release,
            model_ground_msl_m=winds.ground_msl_m,
        )  # fmt: skip

    @cached_property
    def done(self) -> Rehearsed:
        stage = Stage(self.model, planned_of(self.model))
        return rehearse_fast(
            stage, (), lambda truth, rng: LiesAround(), None, seed=self.seed, predict_every_s=1e9, flights=50
        )  # fmt: skip

    def at(self, seconds: float) -> datetime:
        """Of the flight, as a time of day."""
        return self.model.epoch + timedelta(seconds=seconds)

    def heard(self, until_s: float = np.inf) -> Iterable[Heard]:
        """Packets that arrived until then."""
        counters: dict[str, int] = {}
        for one in self.done.sent:
            if one.arrives_s <= until_s:
                number = counters[one.receiver] = counters.get(one.receiver, 0) + 1
                yield received(one.receiver, number, self.at(one.arrives_s), one.kind, one.raw, role=one.role)

    def keep(self, store: FlightStore, *, predict_every_s: float = 900.0, until_s: float = np.inf) -> None:
        """Packets, an estimate a minute, predictions, one warning that was acknowledged, and a note."""
        estimator = estimator_for(self.model.plan, self.model.site.name)()
        basis, kept_s, predicted_s = Basis.none(), -1e9, -1e9
        for heard in self.heard(until_s):
            store.take(heard)
            basis = basis.plus(heard)
            parsed = parse_packet(heard.kind, heard.raw, heard.heard_utc, ())
            estimator.take(heard, getattr(parsed, "why", parsed))
            now_s = (heard.heard_utc - self.model.epoch).total_seconds()
            if now_s - kept_s < 60.0:
                continue
            kept_s, estimate = now_s, estimator.estimate()
            store.put_estimate(estimate, heard.heard_utc, basis)
            if estimate is not None and estimate.position is not None and now_s - predicted_s >= predict_every_s:
                predicted_s = now_s
                made = repredict(self.model, estimate, heard.heard_utc, flights=200, seed=1, tracks=20)
                answer = prediction_answer(self.model, made, Ahead.not_known("nothing lies around"))
                content: dict[str, Any] = json.loads(answer.model_dump_json())
                areas = [one for one in content["landing"]["features"] if one["properties"]["kind"] == "landing area"]
                content["landing"] = {"type": "FeatureCollection", "features": areas}
                store.put_prediction({**content, "phase": made.phase.value}, heard.heard_utc, basis)
        store.put_estimate(estimator.estimate(), self.at(min(until_s, self.done.sent[-1].arrives_s)), basis)
        raised = self.at(self.done.truth.released_s + 1200.0)
        warning = {"kind": "slow climb", "subject": "", "words": "Climb 3.1 m/s, plan 5.0."}
        store.put_message({"message": "warning", **warning}, raised)
        store.put_decision(
            {"what": "warning acknowledged", "by": "Ana", **warning}, raised + timedelta(seconds=95)
        )  # fmt: skip
        store.put_decision({"what": "note", "words": "We wait at the bridge.", "by": "Luis"}, raised)
