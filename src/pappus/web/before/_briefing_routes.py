"""Page Briefing: the decision of a release with its reasons, and its papers."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request, Response

from pappus.web.before._briefing_answers import (
    PAPERS,
    BriefingAnswer,
    PaperName,
    PapersAnswer,
    briefed_answer,
    paper_answers,
)
from pappus.web.before._release_work import Chosen, papers_job, release_job
from pappus.web.desk import Desk, DeskRoute, Person, Refused, Role, needs

router = APIRouter(prefix="/api/briefing", tags=["briefing"], route_class=DeskRoute)


@router.get("")
def read_briefing(
    request: Request,
    person: Annotated[Person, needs(Role.VIEWER)],
    choice: Chosen,
) -> BriefingAnswer:
    """A release as it is briefed; what is not named is as planned. Asking for it begins it."""
    desk: Desk = request.app.state.desk
    job = release_job(desk, person, choice)
    job_answer = job.answer()
    done = job_answer.state == "done"
    return BriefingAnswer(job=job_answer, briefing=briefed_answer(job.result) if done else None)


@router.get("/papers")
def read_papers(
    request: Request,
    person: Annotated[Person, needs(Role.CREW)],
    choice: Chosen,
) -> PapersAnswer:
    """Documents, maps and tracks of a release. Asking for them makes them."""
    desk: Desk = request.app.state.desk
    job = papers_job(desk, person, choice)
    job_answer = job.answer()
    return PapersAnswer(job=job_answer, papers=paper_answers(job.result) if job_answer.state == "done" else [])


@router.get("/papers/{name}", response_class=Response)
def read_paper(
    request: Request,
    person: Annotated[Person, needs(Role.CREW)],
    name: PaperName,
    choice: Chosen,
) -> Response:
    """One of the papers; they hold telephone numbers, so viewers get none. Saved and not shown: a document is styled
    in itself, which no page of the desk may be.
    """
    desk: Desk = request.app.state.desk
    job = papers_job(desk, person, choice)
    if job.answer().state != "done":
        raise Refused(409, "The papers are being made", "They are there as soon as the list shows them.")
    path = job.result / name
    if not path.is_file():
        raise Refused(404, f"This briefing has no {name}", "The list shows what there is.")
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(path.read_bytes(), media_type=PAPERS[name][1], headers=headers)
