"""The page Review as values: predicted against flown, from the record of a flight or of a rehearsal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np

from pappus.postflight import FlownTrack, landing_score, moments_of
from pappus.store import FlightStore
from pappus.web.day._watch_answers import EarlierAnswer, LogAnswer
from pappus.web.desk import Answer

TRACK_EVERY_S = 5.0
LOW_M = 3_000.0
"""Above the ground of the release: last heard below it, a flight lands near enough to judge predictions by that place.
At 5 to 10 m/s of fall it is down in 5 to 10 minutes. Own choice."""
MOST_POINTS, MOST_AREAS = 900, 12


class RecordAnswer(Answer):
    """One record that lies beside the plan."""

    name: str
    rehearsal: bool


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
    """The phase said so. Where False, the flight went on unheard."""


class JudgedAnswer(Answer):
    """Where and when it came down, as far as the record knows: predictions are judged by it."""

    by: Literal["landing", "last position heard", "touchdown of the rehearsal"]
    time_utc: datetime
    latitude_deg: float
    longitude_deg: float


class ScoreAnswer(Answer):
    """One prediction against where it came down."""

    made_utc: datetime
    phase: str
    ahead_s: float
    """Before it came down."""
    error_m: float | None
    """From the mean of the predicted landings."""
    area_km2: float | None
    inside: dict[str, bool]
    """By level in percent: whether it came down in the area."""
    arrival_error_s: float | None
    """When it came down less the middle of the predicted touchdown."""


class MomentScoreAnswer(Answer):
    """The last prediction before a moment of the flight."""

    name: str
    at_utc: datetime
    score: ScoreAnswer | None
    """None: none was made by then."""


class RaisedAnswer(Answer):
    """A warning as it came, and who took note of it."""

    kind: str
    subject: str
    words: str
    raised_utc: datetime
    taken_by: str | None
    taken_utc: datetime | None


class ReviewAnswer(Answer):
    """What a record holds; ``why_not`` says what is missing."""

    record: str
    rehearsal: bool
    records: list[RecordAnswer]
    """All that can be read here."""
    packets: int
    heard: list[HeardAnswer]
    last: LastAnswer | None
    judged: JudgedAnswer | None
    judged_why_not: str
    release_utc: datetime | None
    burst_utc: datetime | None
    burst_msl_m: float | None
    highest_msl_m: float | None
    flown: list[tuple[float, float, float, float | None]]
    """Seconds since 1970, longitude, latitude, height above mean sea level."""
    scores: list[ScoreAnswer]
    moments: list[MomentScoreAnswer]
    areas: list[EarlierAnswer]
    """Landing areas of some of the predictions, over the whole flight."""
    warnings: list[RaisedAnswer]
    log: list[LogAnswer]
    stale: int
    """Predictions that the packets would not give like this any more."""
    why_not: str


def record_paths(own: Path) -> dict[str, Path]:
    """Records by name: that of the flight first, then the rehearsals beside it."""
    beside = sorted(own.parent.glob(f"{own.stem}.rehearsal-*{own.suffix}"), key=lambda one: (len(one.name), one.name))
    return {path.name: path for path in (own, *beside)}


def review_answer(own: Path, path: Path) -> ReviewAnswer:
    """Read the record ``path``, which lies beside the ``own`` one. Raises what the store raises for a damaged one."""
    records = [RecordAnswer(name=name, rehearsal=one != own) for name, one in record_paths(own).items()]
    empty = ReviewAnswer(
        record=path.name, rehearsal=path != own, records=records, packets=0, heard=[], last=None, judged=None,
        judged_why_not="", release_utc=None,
        burst_utc=None, burst_msl_m=None, highest_msl_m=None, flown=[], scores=[], moments=[], areas=[], warnings=[],
        log=[], stale=0, why_not="there is no record yet: start the watch on the flight day",
    )  # fmt: skip
    if not path.is_file():
        return empty
    with FlightStore.open(path, read_only=True) as store:
        heard = _heard(store)
        estimates = estimates_of(store)
        predictions = [(record.digest, record.content) for record in store.records("prediction")]
        stale = store.stale()
        messages = [(record.made_utc, record.content) for record in store.records("message")]
        decisions = [(record.made_utc, record.content) for record in store.records("decision")]
    newest = estimates[-1] if estimates else {}
    last = _last(newest)
    judged, judged_why_not = _judged(newest, last, messages)
    ends = judged or last
    # what is said after it lies there is no prediction
    ahead = [one for _, one in predictions if ends is not None and _made(one) < ends.time_utc]
    scores = [] if judged is None else [_score(one, judged) for one in ahead]
    track = track_of(estimates)
    start = newest.get("fall_start") or {}
    return empty.model_copy(
        update={
            "packets": sum(one.packets for one in heard),
            "heard": heard,
            "last": last,
            "judged": judged,
            "judged_why_not": judged_why_not,
            "release_utc": _when(newest.get("release_utc")),
            "burst_utc": _when(start.get("time_utc")),
            "burst_msl_m": start.get("height_msl_m"),
            "highest_msl_m": newest.get("highest_msl_m"),
            "flown": [] if track is None else _points(track),
            "scores": scores,
            "moments": [] if track is None else _moments(track, scores),
            "areas": [
                EarlierAnswer(made_utc=_made(one), landing=one["landing"]) for one in _some(ahead) if one.get("landing")
            ],
            "warnings": _warnings(messages, decisions),
            "log": _log(decisions),
            "stale": sum(digest in stale for digest, _ in predictions),
            "why_not": "" if last is not None else "no position was believed",
        }
    )


def estimates_of(store: FlightStore) -> list[dict[str, Any]]:
    """Estimates some seconds apart, all with winds, and the last."""
    found: list[dict[str, Any]] = []
    kept_s, left = -1e12, None
    for record in store.records("estimate"):
        at_s = record.made_utc.timestamp()
        if at_s - kept_s >= TRACK_EVERY_S or b'"wind":[]' not in record.body:
            kept_s, left = at_s, None
            found.append(record.content)
        else:
            left = record
    return found if left is None else [*found, left.content]


def track_of(estimates: Sequence[dict[str, Any]]) -> FlownTrack | None:
    """The flight as it was heard; None without a position."""
    rows: dict[float, tuple[float, float, float]] = {}
    for one in estimates:
        place = one.get("position")
        # before anything is known of it, a position may be anybody's
        if place is not None and one.get("phase") != "not known":
            height = place["height_msl_m"]
            at_s = datetime.fromisoformat(place["time_utc"]).timestamp()
            rows[at_s] = place["latitude_deg"], place["longitude_deg"], np.nan if height is None else height
    if not rows:
        return None
    times = sorted(rows)
    latitude, longitude, height = np.array([rows[at] for at in times], dtype=float).T
    newest = estimates[-1]
    release, start = _when(newest.get("release_utc")), newest.get("fall_start") or {}
    burst = _when(start.get("time_utc"))
    return FlownTrack(
        np.array(times), latitude, longitude, height, None if release is None else release.timestamp(),
        None if burst is None else burst.timestamp(), start.get("height_msl_m"),
    )  # fmt: skip


def _heard(store: FlightStore) -> list[HeardAnswer]:
    heard: dict[str, tuple[int, datetime, datetime]] = {}
    for one in store.packets():
        count, first, _ = heard.get(one.receiver, (0, one.heard_utc, one.heard_utc))
        heard[one.receiver] = (count + 1, first, one.heard_utc)
    return [
        HeardAnswer(receiver=name, packets=count, first_utc=first, last_utc=latest)
        for name, (count, first, latest) in sorted(heard.items())
    ]


def _last(estimate: dict[str, Any]) -> LastAnswer | None:
    place = estimate.get("position")
    if place is None:
        return None
    return LastAnswer(
        time_utc=datetime.fromisoformat(estimate.get("landed_utc") or place["time_utc"]),
        latitude_deg=place["latitude_deg"], longitude_deg=place["longitude_deg"], height_msl_m=place["height_msl_m"],
        landed=estimate.get("phase") == "landed",
    )  # fmt: skip


def _judged(
    newest: dict[str, Any], last: LastAnswer | None, messages: Sequence[tuple[datetime, Any]]
) -> tuple[JudgedAnswer | None, str]:
    """The place, or why there is none."""
    for _, one in messages:
        score = one.get("score") if isinstance(one, dict) and one.get("message") == "rehearsal score" else None
        if score is not None:
            judged = JudgedAnswer(
                by="touchdown of the rehearsal", time_utc=datetime.fromisoformat(score["landed_utc"]),
                latitude_deg=score["latitude_deg"], longitude_deg=score["longitude_deg"],
            )  # fmt: skip
            return judged, ""
    if last is None:
        return None, "no position was believed"
    height, ground = last.height_msl_m, newest.get("ground_msl_m") or 0.0
    if not last.landed and (height is None or height > ground + LOW_M):
        high = "at a height that is not known" if height is None else f"{height:.0f} m above mean sea level"
        return None, f"the landing was not seen: it was last heard {high}, too high to tell where it came down"
    judged = JudgedAnswer(
        by="landing" if last.landed else "last position heard", time_utc=last.time_utc,
        latitude_deg=last.latitude_deg, longitude_deg=last.longitude_deg,
    )  # fmt: skip
    return judged, ""


def _score(content: dict[str, Any], last: JudgedAnswer) -> ScoreAnswer:
    areas = {}
    for area in content["landing"]["features"]:
        shape = area["geometry"]
        if shape is not None:
            polygons = shape["coordinates"] if shape["type"] == "MultiPolygon" else [shape["coordinates"]]
            areas[f"{100 * area['properties']['probability']:g}"] = polygons
    arrival = content["arrival_utc"]
    middle = content["middle_deg"]
    found = landing_score(
        None if middle is None else (middle[0], middle[1]),
        areas,
        None if arrival is None else datetime.fromisoformat(arrival[1]).timestamp(),
        (last.latitude_deg, last.longitude_deg),
        last.time_utc.timestamp(),
    )
    made = _made(content)
    return ScoreAnswer(
        made_utc=made, phase=content.get("phase", ""), ahead_s=(last.time_utc - made).total_seconds(),
        error_m=found.error_m, area_km2=content["area_km2"], inside=dict(found.inside),
        arrival_error_s=found.arrival_error_s,
    )  # fmt: skip


def _moments(track: FlownTrack, scores: Sequence[ScoreAnswer]) -> list[MomentScoreAnswer]:
    found = []
    for name, at_s in moments_of(track):
        at = datetime.fromtimestamp(at_s, tz=UTC)
        made = [one for one in scores if one.made_utc <= at]
        found.append(
            MomentScoreAnswer(name=name, at_utc=at, score=max(made, key=lambda one: one.made_utc, default=None))
        )
    return found


def _warnings(
    messages: Sequence[tuple[datetime, Any]], decisions: Sequence[tuple[datetime, Any]]
) -> list[RaisedAnswer]:
    taken = [one for one in decisions if isinstance(one[1], dict) and one[1].get("what") == "warning acknowledged"]
    taken.sort(key=lambda one: one[0])
    found = []
    for raised, one in messages:
        if not isinstance(one, dict) or one.get("message") != "warning":
            continue
        key = str(one["kind"]), str(one.get("subject", ""))
        note = next(
            ((made, by) for made, by in taken if made >= raised and (by.get("kind"), by.get("subject")) == key), None
        )  # fmt: skip
        found.append(
            RaisedAnswer(
                kind=key[0], subject=key[1], words=str(one.get("words", "")), raised_utc=raised,
                taken_by=None if note is None else str(note[1].get("by", "not said")),
                taken_utc=None if note is None else note[0],
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: one.raised_utc)


def _log(decisions: Sequence[tuple[datetime, Any]]) -> list[LogAnswer]:
    found = [
        LogAnswer(
            made_utc=made, by=str(one.get("by", "not said")), what=str(one.get("what", "decision")),
            words=str(one.get("words", "")),
        )
        for made, one in decisions
        if isinstance(one, dict)
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.made_utc)


def _points(track: FlownTrack) -> list[tuple[float, float, float, float | None]]:
    rows = np.unique(np.linspace(0, len(track.time_s) - 1, min(MOST_POINTS, len(track.time_s))).astype(np.int64))
    turned = np.unwrap(track.longitude_deg, period=360.0)
    return [
        (
            round(float(track.time_s[row]), 1), round(float(turned[row]), 5), round(float(track.latitude_deg[row]), 5),
            None if np.isnan(track.height_msl_m[row]) else round(float(track.height_msl_m[row]), 0),
        )
        for row in rows
    ]  # fmt: skip


def _some(predictions: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """A few over the whole flight, the first and the last among them."""
    ordered = sorted(predictions, key=_made)
    count = len(ordered)
    return [ordered[row] for row in np.unique(np.linspace(0, count - 1, min(MOST_AREAS, count)).astype(np.int64))]


def _made(content: dict[str, Any]) -> datetime:
    return datetime.fromisoformat(content["made_utc"])


def _when(text: Any) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
