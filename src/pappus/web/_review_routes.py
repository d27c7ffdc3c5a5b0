"""Page Review: predicted against flown, from the record."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request

from pappus.web._access import DeskRoute, needs
from pappus.web._desk import Desk
from pappus.web._people import Person, Role
from pappus.web._review_answers import ReviewAnswer, review_answer

router = APIRouter(prefix="/api/review", tags=["review"], route_class=DeskRoute)


@router.get("")
def read_review(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> ReviewAnswer:
    """The record as it is now; while the watch runs it grows."""
    desk: Desk = request.app.state.desk
    return review_answer(desk.store_path)
