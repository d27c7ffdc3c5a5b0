"""The page Review as values: predicted against flown, from the record of the flight."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import Any

from pappus.earth import distance_m
from pappus.store import FlightStore
from pappus.web._flight_day import log_of
from pappus.web._models import Answer
from pappus.web._watch_answers import LogAnswer


class HeardAnswer(Answer):
    """What one receiver heard."""

    receiver: str
    packets: int
    first_utc: datetime
    last_utc: datetime


class LastAnswer(Answer):
    """The last position that was believed: where it lay, or where contact ended."""

    time_utc: datetime
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float | None
    landed: bool
    """The phase said so. Where False, the flight went on unheard, and errors are against the last position heard."""


class ScoreAnswer(Answer):
    """One prediction against the last position."""

    made_utc: datetime
    phase: str
    ahead_s: float
    """Before the last position."""
    error_m: float | None
    """From the mean of the predicted landings."""
    area_km2: float | None
    inside: dict[str, bool]
    """By level in percent: whether the last position lies in the area."""
    arrival_error_s: float | None
    """The last position's time less the middle of the predicted touchdown."""


class ReviewAnswer(Answer):
    """What the record holds; ``why_not`` says what is missing."""

    record: str
    packets: int
    heard: list[HeardAnswer]
    last: LastAnswer | None
    highest_msl_m: float | None
    scores: list[ScoreAnswer]
    warnings: dict[str, int]
    log: list[LogAnswer]
    stale: int
    """Predictions that the packets would not give like this any more."""
    why_not: str


def review_answer(path: Path) -> ReviewAnswer:
    """Read the record. Raises what the store raises for a damaged one."""
    if not path.is_file():
        return _nothing(path, "there is no record yet: start the watch on the flight day")
    with FlightStore.open(path, read_only=True) as store:
        heard: dict[str, tuple[int, datetime, datetime]] = {}
        for one in store.packets():
            count, first, _ = heard.get(one.receiver, (0, one.heard_utc, one.heard_utc))
            heard[one.receiver] = (count + 1, first, one.heard_utc)
        newest: dict[str, Any] = {}
        for record in store.records("estimate"):
            newest = record.content
        last = _last(newest)
        predictions = [(record.digest, record.content) for record in store.records("prediction")]
        stale = store.stale()
        warnings = Counter(
            str(record.content["kind"])
            for record in store.records("message")
            if isinstance(record.content, dict) and record.content.get("message") == "warning"
        )
        log = log_of(store)
    scores = [] if last is None else [_score(content, last) for _, content in predictions if "middle_deg" in content]
    return ReviewAnswer(
        record=path.name,
        packets=sum(count for count, _, _ in heard.values()),
        heard=[
            HeardAnswer(receiver=name, packets=count, first_utc=first, last_utc=latest)
            for name, (count, first, latest) in sorted(heard.items())
        ],
        last=last,
        highest_msl_m=newest.get("highest_msl_m"),
        # what is said after it lies there is no prediction
        scores=[one for one in scores if one.ahead_s > 0.0],
        warnings=dict(warnings),
        log=log,
        stale=sum(digest in stale for digest, _ in predictions),
        why_not="" if last is not None else "no position was believed",
    )


def _nothing(path: Path, why: str) -> ReviewAnswer:
    return ReviewAnswer(
        record=path.name, packets=0, heard=[], last=None, highest_msl_m=None, scores=[], warnings={}, log=[], stale=0,
        why_not=why,
    )  # fmt: skip


def _last(estimate: dict[str, Any]) -> LastAnswer | None:
    place = estimate.get("position")
    if place is None:
        return None
    return LastAnswer(
        time_utc=datetime.fromisoformat(estimate.get("landed_utc") or place["time_utc"]),
        latitude_deg=place["latitude_deg"], longitude_deg=place["longitude_deg"], height_msl_m=place["height_msl_m"],
        landed=estimate.get("phase") == "landed",
    )  # fmt: skip


def _score(content: dict[str, Any], last: LastAnswer) -> ScoreAnswer:
    made = datetime.fromisoformat(content["made_utc"])
    middle, arrival = content["middle_deg"], content["arrival_utc"]
    error = None if middle is None else float(distance_m(middle[0], middle[1], last.latitude_deg, last.longitude_deg))
    inside = {}
    for area in content["landing"]["features"]:
        if area["geometry"] is not None:
            level = f"{100 * area['properties']['probability']:g}"
            inside[level] = _holds(area["geometry"], last.longitude_deg, last.latitude_deg)
    off = None if arrival is None else (last.time_utc - datetime.fromisoformat(arrival[1])).total_seconds()
    return ScoreAnswer(
        made_utc=made, phase=content.get("phase", ""), ahead_s=(last.time_utc - made).total_seconds(), error_m=error,
        area_km2=content["area_km2"], inside=inside, arrival_error_s=off,
    )  # fmt: skip


def _holds(geometry: dict[str, Any], longitude_deg: float, latitude_deg: float) -> bool:
    """Even-odd over all rings, so that holes are outside."""
    polygons = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
    crossings = 0
    for rings in polygons:
        for ring in rings:
            for (x1, y1), (x2, y2) in zip(ring, [*ring[1:], ring[0]], strict=True):
                if (y1 > latitude_deg) != (y2 > latitude_deg):
                    crossings += longitude_deg < x1 + (latitude_deg - y1) / (y2 - y1) * (x2 - x1)
    return crossings % 2 == 1
