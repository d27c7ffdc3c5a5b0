"""Page Review: predicted against flown, from the record of the flight or of one of its rehearsals."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request

from pappus.web.day._review_answers import ReviewAnswer, record_paths, review_answer
from pappus.web.day._review_plan import PlanReviewAnswer, plan_review_answer
from pappus.web.desk import Desk, DeskRoute, Person, Refused, Role, needs

router = APIRouter(prefix="/api/review", tags=["review"], route_class=DeskRoute)

RecordName = Annotated[str | None, Query(max_length=200)]
"""Name of a record beside the plan; None: that of the flight."""


@router.get("")
def read_review(
    request: Request, person: Annotated[Person, needs(Role.VIEWER)], flight: RecordName = None
) -> ReviewAnswer:
    """The record as it is now; while the watch runs it grows."""
    desk: Desk = request.app.state.desk
    path = _path(desk, flight)
    key = path, _stamp(path), tuple(record_paths(desk.store_path))
    return desk.keep("review", key, lambda: review_answer(desk.store_path, path))


@router.get("/plan")
def read_plan_review(
    request: Request, person: Annotated[Person, needs(Role.VIEWER)], flight: RecordName = None
) -> PlanReviewAnswer:
    """The planned flight and its winds beside what was flown; the first time it takes some seconds."""
    desk: Desk = request.app.state.desk
    path = _path(desk, flight)
    key = path, _stamp(path), desk.plan_digest(), desk.pack_stamp()
    return desk.keep("review of the plan", key, lambda: plan_review_answer(desk, path))


def _path(desk: Desk, name: str | None) -> Path:
    """A name is looked up and never opened as it came."""
    path = desk.store_path if name is None else record_paths(desk.store_path).get(name)
    if path is None:
        raise Refused(
            404, f"There is no record {name[:60] if name else ''!r}", "Choose one of the list on page Review."
        )
    return path


def _stamp(path: Path) -> tuple[tuple[int, int], ...]:
    """Changes when the record does; what was written last may still lie in the log beside it."""
    return tuple((one.stat().st_mtime_ns, one.stat().st_size) for one in (path, Path(f"{path}-wal")) if one.is_file())
