"""Page Watch: the flight day on one screen, or a rehearsal of it. The director starts and stops, the crew acts."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field

from pappus.web.day._flight_day import flight_day
from pappus.web.day._rehearsal import acting_day, rehearsals, shown_day, wish_of
from pappus.web.day._watch_answers import WatchAnswer
from pappus.web.desk import Asked, Desk, DeskRoute, Person, Role, needs

router = APIRouter(prefix="/api/watch", tags=["watch"], route_class=DeskRoute)


class StartAsked(Asked):
    """From where the balloon leaves; None: the first site of the plan."""

    site: Annotated[str, Field(max_length=200)] | None = None


class RehearsalAsked(Asked):
    """A rehearsal; faults by name, or drawn by the tool so that nobody knows them."""

    site: Annotated[str, Field(max_length=200)] | None = None
    speed: Annotated[float, Field(ge=1.0, le=200.0)] = 50.0
    """Times as fast as in life."""
    faults: list[Annotated[str, Field(max_length=40)]] = Field(default_factory=list, max_length=20)
    drawn: bool = False
    seed: Annotated[int, Field(ge=0, lt=2**31)] | None = None
    """Another number, another flight; None: any."""


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
    return _answer(request.app.state.desk)


@router.post("/start")
def start_watch(request: Request, asked: StartAsked, person: Annotated[Person, needs(Role.DIRECTOR)]) -> WatchAnswer:
    """Hear what the plan's receivers hear, and keep it."""
    desk: Desk = request.app.state.desk
    rehearsals(desk).start_watch(asked.site, person.name)
    return _answer(desk)


@router.post("/stop")
def stop_watch(request: Request, person: Annotated[Person, needs(Role.DIRECTOR)]) -> WatchAnswer:
    """End the watch; what was heard is kept, and starting again goes on from there."""
    desk: Desk = request.app.state.desk
    flight_day(desk).stop(person.name)
    return _answer(desk)


@router.post("/rehearsal")
def start_rehearsal(
    request: Request, asked: RehearsalAsked, person: Annotated[Person, needs(Role.DIRECTOR)]
) -> WatchAnswer:
    """Fly a simulated flight against real receivers of this computer, with a record of its own."""
    desk: Desk = request.app.state.desk
    wish = wish_of(asked.site, asked.speed, asked.faults, asked.drawn, asked.seed)
    rehearsals(desk).start(wish, person.name)
    return _answer(desk)


@router.post("/rehearsal/stop")
def stop_rehearsal(request: Request, person: Annotated[Person, needs(Role.DIRECTOR)]) -> WatchAnswer:
    """End it early; what was heard until then is judged."""
    desk: Desk = request.app.state.desk
    rehearsals(desk).stop()
    return _answer(desk)


@router.post("/rehearsal/away")
def put_rehearsal_away(request: Request, person: Annotated[Person, needs(Role.DIRECTOR)]) -> WatchAnswer:
    """Show the real day again; the record of the rehearsal stays."""
    desk: Desk = request.app.state.desk
    rehearsals(desk).put_away()
    return _answer(desk)


@router.post("/cut-down")
def ask_cut_down(request: Request, person: Annotated[Person, needs(Role.CREW)]) -> WatchAnswer:
    """What a cut-down at this moment would do, beside the landing area. It commands nothing."""
    desk: Desk = request.app.state.desk
    acting_day(desk).cut_down(person.name)
    return _answer(desk)


@router.post("/acknowledge")
def acknowledge(request: Request, asked: TakenAsked, person: Annotated[Person, needs(Role.CREW)]) -> WatchAnswer:
    """Take note of a warning, with name and time in the record; it stays on the page while it stands."""
    desk: Desk = request.app.state.desk
    acting_day(desk).acknowledge(asked.kind, asked.subject, person.name)
    return _answer(desk)


@router.post("/note")
def write_note(request: Request, asked: NoteAsked, person: Annotated[Person, needs(Role.CREW)]) -> WatchAnswer:
    """Write a line into the decision log."""
    desk: Desk = request.app.state.desk
    acting_day(desk).note(asked.words, person.name)
    return _answer(desk)


def _answer(desk: Desk) -> WatchAnswer:
    day, rehearsal = shown_day(desk)
    return day.answer(None if rehearsal is None else rehearsal.answer())
