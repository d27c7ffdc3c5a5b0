"""Page Chase: what each car is told now; a phone of the crew may tell where its car is."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field

from pappus.errors import BadInput, Finding
from pappus.store import NotSafe
from pappus.web.day._chase_answers import ChaseAnswer, chase_answer
from pappus.web.day._flight_day import FlightDay, flight_day
from pappus.web.day._rehearsal import shown_day
from pappus.web.desk import Asked, Buckets, Desk, DeskRoute, Person, Refused, Role, needs

router = APIRouter(prefix="/api/chase", tags=["chase"], route_class=DeskRoute)

POSITIONS_PER_S, POSITIONS_BURST = 0.5, 5.0
"""Of one phone: more says nothing new of a car, and each one is kept."""
ROUGHEST_M = 500.0
"""A phone that knows its place no better has it from a mast; own choice."""
OLDEST_S = 300.0


class PositionAsked(Asked):
    """Where a phone that rides in a car is; what it does not tell is None."""

    car: Annotated[str, Field(min_length=1, max_length=80)]
    latitude_deg: Annotated[float, Field(ge=-90.0, le=90.0)]
    longitude_deg: Annotated[float, Field(ge=-180.0, le=180.0)]
    accuracy_m: Annotated[float, Field(ge=0.0, le=1e6)]
    """Radius that holds it with 95 %."""
    age_s: Annotated[float, Field(ge=0.0, le=1e6)]
    """Since it was measured."""
    speed_m_s: Annotated[float, Field(ge=0.0, le=1000.0)] | None = None
    course_deg: Annotated[float, Field(ge=0.0, le=360.0)] | None = None


@router.get("")
def read_chase(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> ChaseAnswer:
    """All cars; the event ``chase`` tells that it was worked out anew."""
    desk: Desk = request.app.state.desk
    day, rehearsal = shown_day(desk)
    if rehearsal is None:
        return chase_answer(day, desk.now(), cars_known(desk, day))
    speed = rehearsal.answer().speed if day.running else 0.0
    return chase_answer(day, rehearsal.now(), cars_known(desk, day), rehearsal=True, speed=speed)


@router.post("/position", status_code=204)
def tell_position(request: Request, asked: PositionAsked, person: Annotated[Person, needs(Role.CREW)]) -> None:
    """Take the place of a phone for that of its car, as a packet among the others: kept, and judged like them."""
    desk: Desk = request.app.state.desk
    day = flight_day(desk)
    known = cars_known(desk, day)
    if asked.car not in known:
        raise BadInput(Finding("car", asked.car, "is no car of this flight", f"Choose one of: {', '.join(known)}."))
    for name, value, most in (("accuracy_m", asked.accuracy_m, ROUGHEST_M), ("age_s", asked.age_s, OLDEST_S)):
        if value > most:
            fix = "Switch on the satellite receiver of the phone, and wait under open sky."
            raise BadInput(Finding(name, f"{value:.0f}", f"is more than {most:.0f}", fix))
    buckets = desk.keep("phone positions", None, lambda: Buckets(POSITIONS_PER_S, POSITIONS_BURST))
    if not buckets.take(person.id):
        raise Refused(429, "The phone tells its position too often", "Wait a few seconds.")
    packet = {
        "tracker": asked.car,
        "time_utc": (desk.now() - timedelta(seconds=asked.age_s)).isoformat(timespec="milliseconds"),
        "fix": "two-dimensional",
        "latitude_deg": round(asked.latitude_deg, 7),
        "longitude_deg": round(asked.longitude_deg, 7),
        "speed_m_s": asked.speed_m_s,
        "course_deg": asked.course_deg,
        "accuracy_m": asked.accuracy_m,
    }
    raw = json.dumps({key: value for key, value in packet.items() if value is not None}).encode()
    # named after the link and not after the person alone: no two computers may use one name
    receiver = f"phone of {person.name[:40]} {person.key_sha256[:8]}"
    try:
        day.hand(receiver, raw)
    except NotSafe as error:
        raise Refused(503, f"The position was not kept: {error}", "The phone sends the next one by itself.") from error


def cars_known(desk: Desk, day: FlightDay) -> list[str]:
    """Names of the plan's vehicles, then of others that were heard."""
    heard = () if day.estimate is None else day.estimate.vehicles
    return list(dict.fromkeys([*(one.name for one in desk.plan().vehicles), *(one.name for one in heard)]))
