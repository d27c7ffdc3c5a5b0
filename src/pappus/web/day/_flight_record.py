"""What a flight day leaves in its record, and what a later look finds there."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pappus.earth import distance_m
from pappus.inflight import Prediction
from pappus.store import FlightStore
from pappus.web.day._flight_drawn import areas_of
from pappus.web.day._watch_answers import EarlierAnswer, LogAnswer, PredictionAnswer

FLOWN_EVERY_S = 5.0
EARLIER_EVERY_S = 600.0

Flown = tuple[float, float, float, float | None]
"""Seconds since 1970, longitude, latitude, height above mean sea level."""


@dataclass(frozen=True)
class Taken:
    """Somebody took note of a warning."""

    kind: str
    subject: str
    by: str
    made_utc: datetime


@dataclass(frozen=True)
class Left:
    """What an earlier watch left."""

    flown: list[Flown]
    earlier: list[EarlierAnswer]
    taken: list[Taken]
    log: list[LogAnswer]


def left_in(store: FlightStore) -> Left:
    """The flown track, outlines of earlier areas, what was taken note of, and the log."""
    flown: list[Flown] = []
    earlier: list[EarlierAnswer] = []
    last_s = -1e9
    for record in store.records("estimate"):
        if record.made_utc.timestamp() - last_s < FLOWN_EVERY_S:
            continue
        last_s = record.made_utc.timestamp()
        place = record.content.get("position")
        if place is not None:
            at_s = datetime.fromisoformat(place["time_utc"]).timestamp()
            flown.append((at_s, place["longitude_deg"], place["latitude_deg"], place["height_msl_m"]))
    for record in store.records("prediction"):
        landing = record.content.get("landing")
        latest = earlier[-1].made_utc if earlier else None
        if landing and (latest is None or (record.made_utc - latest).total_seconds() >= EARLIER_EVERY_S):
            middle, area = record.content.get("middle_deg"), record.content.get("area_km2")
            earlier.append(EarlierAnswer(made_utc=record.made_utc, landing=landing, middle_deg=middle, area_km2=area))
    taken = [
        Taken(record.content["kind"], record.content["subject"], str(record.content.get("by", "")), record.made_utc)
        for record in store.records("decision")
        if isinstance(record.content, dict) and {"kind", "subject"} <= record.content.keys()
    ]
    return Left(flown, earlier, taken, log_of(store))


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


def as_earlier(old: PredictionAnswer) -> EarlierAnswer:
    """What stays of a prediction once there is a newer one."""
    return EarlierAnswer(
        made_utc=old.made_utc, landing=areas_of(old.landing), middle_deg=old.middle_deg, area_km2=old.area_km2
    )


def moved(earlier: list[EarlierAnswer], now: PredictionAnswer | None) -> list[EarlierAnswer]:
    """With how far the middle has moved since each."""
    if now is None or now.middle_deg is None:
        return earlier
    found = []
    for one in earlier:
        far = None if one.middle_deg is None else float(distance_m(*one.middle_deg, *now.middle_deg))
        found.append(one.model_copy(update={"moved_m": far}))
    return found


def put_prediction(store: FlightStore, answer: PredictionAnswer, prediction: Prediction) -> None:
    """Keep a prediction without the flights that are only drawn."""
    content: dict[str, Any] = json.loads(answer.model_copy(update={"landing": {}}).model_dump_json())
    content["landing"] = areas_of(answer.landing)
    content["phase"] = prediction.phase.value
    store.put_prediction(content, prediction.made_utc, store.basis())
