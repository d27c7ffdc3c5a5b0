"""The page Chase as values: what each car is told, in few and large numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from pappus.recovery import SAFETY, Meeting, spoken
from pappus.web.day._flight_ahead import Chased
from pappus.web.day._flight_day import FlightDay
from pappus.web.desk import Answer


class LineAnswer(Answer):
    """One sentence to be spoken; its id stays while the advice does."""

    id: str
    kind: str
    words: str


class CarAnswer(Answer):
    """One car. What is None is not known, and ``why_not`` says why."""

    name: str
    seen_utc: datetime | None
    """None: it has not told where it is, and stands where the plan has it."""
    by_road: bool
    why_not: str
    distance_m: float | None
    """Along the road to the meeting point; straight to the middle of the landings where ``by_road`` is False."""
    bearing_deg: float | None
    drive_s: float | None
    margin_s: float | None
    """That nine flights in ten leave."""
    chance: float | None
    """To have the payload in reach from there."""
    latitude_deg: float
    longitude_deg: float
    way: list[tuple[float, float]]
    """Longitude and latitude of the points of the way."""
    down: bool
    antenna_deg: tuple[float, float] | None
    """Azimuth and elevation to the balloon as last heard."""
    lines: dict[str, list[LineAnswer]]
    """To be spoken, in metric and imperial units."""
    notes: list[str]


class ChaseAnswer(Answer):
    """All cars, and what holds for all of them."""

    running: bool
    rehearsal: bool
    """Everything here is of a rehearsal: no balloon flies."""
    speed: float
    """Of the clock of the flight: 1 on a real day, more in a rehearsal, 0 once that is over."""
    now_utc: datetime
    why_not: str
    made_utc: datetime | None
    heard_utc: datetime | None
    """When the balloon was measured last."""
    height_msl_m: float | None
    touchdown_utc: tuple[datetime, datetime, datetime] | None
    landed_utc: datetime | None
    cars: list[CarAnswer]
    names: list[str]
    """Of all cars of the flight, with directions or without: a phone may tell where one of them is."""
    landing: dict[str, Any] | None
    place: tuple[float, float] | None
    """Longitude and latitude of the balloon as last heard."""
    safety: list[str]


def chase_answer(
    day: FlightDay, now: datetime, names: Sequence[str], *, rehearsal: bool = False, speed: float = 1.0
) -> ChaseAnswer:
    """What the page shows now; ``names`` are those of all cars, ``speed`` is that of the flight's clock."""
    chased, why_not = day.chased
    estimate, predicted = day.estimate, day.predicted
    position = None if estimate is None else estimate.position
    if not day.running:
        why_not = "the watch is not running: the flight director starts it on page Watch"
    return ChaseAnswer(
        running=day.running,
        rehearsal=rehearsal,
        speed=speed,
        now_utc=now,
        why_not=why_not,
        made_utc=None if chased is None else chased.made_utc,
        heard_utc=None if position is None else position.time_utc,
        height_msl_m=None if position is None else position.height_msl_m,
        touchdown_utc=None if chased is None else chased.touchdown_utc,
        landed_utc=None if estimate is None else estimate.landed_utc,
        cars=[] if chased is None else [_car(one, chased) for one in chased.chase.meetings],
        names=list(names),
        landing=None if predicted is None else predicted.answer.landing,
        place=None if position is None else (position.longitude_deg, position.latitude_deg),
        safety=[words for _, words in SAFETY],
    )


def _car(meeting: Meeting, chased: Chased) -> CarAnswer:
    route = meeting.route if meeting.by_road else None
    pointing = next((one for one in chased.pointing if one.station == meeting.car.name), None)
    straight = meeting.straight_m if math.isfinite(meeting.straight_m) else None
    return CarAnswer(
        name=meeting.car.name,
        seen_utc=chased.made_utc - timedelta(seconds=meeting.car.age_s) if math.isfinite(meeting.car.age_s) else None,
        by_road=route is not None,
        why_not=meeting.why_not,
        distance_m=straight if route is None else route.length_m,
        bearing_deg=meeting.bearing_deg if math.isfinite(meeting.bearing_deg) else None,
        drive_s=None if route is None else route.drive_time_s,
        margin_s=None if meeting.margin_s is None else meeting.margin_s.values[0],
        chance=None if meeting.chance is None else meeting.chance.p,
        latitude_deg=meeting.car.latitude_deg,
        longitude_deg=meeting.car.longitude_deg,
        way=[] if route is None else list(zip(route.longitude_deg.tolist(), route.latitude_deg.tolist(), strict=True)),
        down=meeting.down,
        antenna_deg=None if pointing is None else (pointing.azimuth_deg, pointing.elevation_deg),
        lines={
            "metric": [LineAnswer(id=one.id, kind=one.kind, words=one.words) for one in spoken(meeting)],
            "feet": [
                LineAnswer(id=one.id, kind=one.kind, words=one.words) for one in spoken(meeting, units="imperial")
            ],
        },
        notes=[*meeting.notes, *chased.chase.notes],
    )
