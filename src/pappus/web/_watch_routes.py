"""Page Watch: the flight day on one screen. The director starts and stops, the crew acknowledges and notes."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field

from pappus.web._access import DeskRoute, needs
from pappus.web._flight_day import flight_day
from pappus.web._models import Asked
from pappus.web._people import Person, Role
from pappus.web._watch_answers import WatchAnswer

router = APIRouter(prefix="/api/watch", tags=["watch"], route_class=DeskRoute)


class StartAsked(Asked):
    """From where the balloon leaves; None: the first site of the plan."""

    site: Annotated[str, Field(max_length=200)] | None = None


class NoteAsked(Asked):
    """A line for the decision log."""

    words: Annotated[str, Field(min_length=1, max_length=500, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]+$")]


class TakenAsked(Asked):
    """A warning that somebody has taken note of."""

    kind: Annotated[str, Field(max_length=100)]
    subject: Annotated[str, Field(max_length=200)]


@router.get("")
def read_watch(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> WatchAnswer:
    """Everything on the page; the events ``watch`` and ``watch-ahead`` tell what changed since."""
    return flight_day(request.app.state.desk).answer()


@router.post("/start")
def start_watch(request: Request, asked: StartAsked, person: Annotated[Person, needs(Role.DIRECTOR)]) -> WatchAnswer:
    """Hear what the plan's receivers hear, and keep it."""
    day = flight_day(request.app.state.desk)
    day.start(asked.site, person.name)
    return day.answer()


@router.post("/stop")
def stop_watch(request: Request, person: Annotated[Person, needs(Role.DIRECTOR)]) -> WatchAnswer:
    """End the watch; what was heard is kept, and starting again goes on from there."""
    day = flight_day(request.app.state.desk)
    day.stop(person.name)
    return day.answer()


@router.post("/acknowledge")
def acknowledge(request: Request, asked: TakenAsked, person: Annotated[Person, needs(Role.CREW)]) -> WatchAnswer:
    """Take note of a warning, with name and time in the record; it stays on the page while it stands."""
    day = flight_day(request.app.state.desk)
    day.acknowledge(asked.kind, asked.subject, person.name)
    return day.answer()


@router.post("/note")
def write_note(request: Request, asked: NoteAsked, person: Annotated[Person, needs(Role.CREW)]) -> WatchAnswer:
    """Write a line into the decision log."""
    day = flight_day(request.app.state.desk)
    day.note(asked.words, person.name)
    return day.answer()
