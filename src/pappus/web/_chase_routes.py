"""Page Chase: what each car is told now."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request

from pappus.web._access import DeskRoute, needs
from pappus.web._chase_answers import ChaseAnswer, chase_answer
from pappus.web._desk import Desk
from pappus.web._flight_day import flight_day
from pappus.web._people import Person, Role

router = APIRouter(prefix="/api/chase", tags=["chase"], route_class=DeskRoute)


@router.get("")
def read_chase(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> ChaseAnswer:
    """All cars; the event ``chase`` tells that it was worked out anew."""
    desk: Desk = request.app.state.desk
    return chase_answer(flight_day(desk), desk.now())
