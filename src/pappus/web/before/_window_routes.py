"""Page Window: the launch matrix of the plan, and any of its cells in full."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request

from pappus.web.before._release_work import Chosen, again, curves_job, flown_window, release_job, window_job
from pappus.web.before._window_answers import (
    CellJobAnswer,
    CurvesAnswer,
    WindowAnswer,
    delay_answer,
    levels,
    lift_answer,
    opened_answer,
    window_table,
)
from pappus.web.desk import Desk, DeskRoute, Person, Role, needs

router = APIRouter(prefix="/api/window", tags=["window"], route_class=DeskRoute)


@router.get("")
def read_window(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> WindowAnswer:
    """The launch matrix; asking for it begins it."""
    desk: Desk = request.app.state.desk
    job = window_job(desk, person)
    job_answer = job.answer()
    done = job_answer.state == "done"
    return WindowAnswer(job=job_answer, window=window_table(job.result, desk.plan().window.release) if done else None)


@router.post("/again")
def fly_again(request: Request, person: Annotated[Person, needs(Role.CREW)]) -> WindowAnswer:
    """Fly the matrix anew, as things are now."""
    again(request.app.state.desk)
    return read_window(request, person)


@router.get("/cell")
def read_cell(
    request: Request,
    person: Annotated[Person, needs(Role.VIEWER)],
    choice: Chosen,
) -> CellJobAnswer:
    """One cell in full; what is not named is as planned. Asking for it begins it."""
    desk: Desk = request.app.state.desk
    job = release_job(desk, person, choice)
    job_answer = job.answer()
    if job_answer.state != "done":
        return CellJobAnswer(job=job_answer, opened=None)
    flown = flown_window(desk)
    return CellJobAnswer(job=job_answer, opened=opened_answer(job.result, None if flown is None else flown.window))


@router.get("/curves")
def read_curves(
    request: Request,
    person: Annotated[Person, needs(Role.VIEWER)],
    choice: Chosen,
) -> CurvesAnswer:
    """What a later release and another reading on the scale do to a cell. Asking for it begins it."""
    desk: Desk = request.app.state.desk
    job = curves_job(desk, person, choice)
    job_answer = job.answer()
    delay, lift = job.result if job_answer.state == "done" else (None, None)
    return CurvesAnswer(
        job=job_answer,
        levels=levels(),
        delay=None if delay is None else delay_answer(delay),
        lift=None if lift is None else lift_answer(lift),
    )
