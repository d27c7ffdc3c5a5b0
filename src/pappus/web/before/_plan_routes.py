"""Page Plan: read the plan, try changes without saving them, save them."""

from __future__ import annotations

import hashlib
import threading
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field

from pappus.errors import BadInput, Finding, PappusError
from pappus.plan import Plan, example_plan_text, load_plan
from pappus.preflight import fill_card
from pappus.web.before._plan_answers import FillAnswer, PlanAnswer, as_json, fill_answer, mission_answer, train_answer
from pappus.web.desk import (
    Asked,
    Desk,
    DeskRoute,
    Edit,
    FindingAnswer,
    Person,
    Refused,
    Role,
    edited,
    needs,
    plan_of,
    plan_tables,
    save,
)

router = APIRouter(prefix="/api/plan", tags=["plan"], route_class=DeskRoute)
_saving = threading.Lock()


class EditAsked(Asked):
    """One key and its new value; null takes the key out."""

    path: Annotated[str, Field(max_length=80, description="Such as fill.climb or package[2].mass.")]
    value: Annotated[str, Field(max_length=800)] | float | bool | None


class EditsAsked(Asked):
    """Changes to the plan as it was when the page read it."""

    digest: Annotated[str, Field(pattern="^[0-9a-f]{64}$", description="SHA-256 of the file that was read.")]
    edits: Annotated[list[EditAsked], Field(max_length=200)]


@router.get("")
def read_plan(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> PlanAnswer:
    """The plan as it is saved."""
    return plan_answer(request.app.state.desk)


@router.post("/try")
def try_edits(request: Request, asked: EditsAsked, person: Annotated[Person, needs(Role.CREW)]) -> PlanAnswer:
    """What the plan would say with these changes; nothing is saved."""
    desk: Desk = request.app.state.desk
    return _answer(desk, _edited(desk, asked))


@router.put("")
def save_edits(request: Request, asked: EditsAsked, person: Annotated[Person, needs(Role.DIRECTOR)]) -> PlanAnswer:
    """Save the changes into the plan file; a plan with mistakes is not saved."""
    desk: Desk = request.app.state.desk
    with _saving:
        text = _edited(desk, asked)
        plan_of(text, desk.plan_path.name)
        save(desk.plan_path, text)
    desk.events.publish("plan", {"digest": desk.plan_digest(), "by": person.name})
    return plan_answer(desk)


@router.post("/example")
def write_example(request: Request, person: Annotated[Person, needs(Role.DIRECTOR)]) -> PlanAnswer:
    """Write the invented example plan where there is no plan yet."""
    desk: Desk = request.app.state.desk
    with _saving:
        if desk.plan_path.exists():
            raise Refused(409, f"{desk.plan_path.name} is there already", "Load the page again.")
        save(desk.plan_path, example_plan_text())
    desk.events.publish("plan", {"digest": desk.plan_digest(), "by": person.name})
    return plan_answer(desk)


def plan_answer(desk: Desk) -> PlanAnswer:
    """The plan as it is saved; kept until the file or the pack changes."""
    if desk.plan_digest() is None:
        return PlanAnswer(
            file=desk.plan_path.name, exists=False, digest=None, tables={}, findings=[], mission=None, fill=None,
            fill_problem=None, train=None,
        )  # fmt: skip
    return desk.keep("plan answer", (desk.plan_digest(), desk.pack_stamp()), lambda: _answer(desk, None))


def _edited(desk: Desk, asked: EditsAsked) -> str:
    try:
        data = desk.plan_path.read_bytes()
    except OSError as error:
        raise Refused(409, f"{desk.plan_path.name} cannot be read any more", "Load the page again.") from error
    if hashlib.sha256(data).hexdigest() != asked.digest:
        raise Refused(409, "The plan file was changed meanwhile", "Load the plan again; your changes are listed.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(Finding(desk.plan_path.name, "", "not UTF-8 text", "Save it as UTF-8.")) from error
    return edited(text, [Edit(one.path, one.value) for one in asked.edits])


def _answer(desk: Desk, draft: str | None) -> PlanAnswer:
    """The plan file, or a draft of it, with all that can be said of it."""
    digest = desk.plan_digest()
    try:
        plan = load_plan(desk.plan_path) if draft is None else plan_of(draft, desk.plan_path.name)
    except BadInput as error:
        return PlanAnswer(
            file=desk.plan_path.name,
            exists=True,
            digest=digest,
            tables=as_json(plan_tables(desk.plan_path)),
            findings=[FindingAnswer.of(finding) for finding in error.findings],
            mission=None,
            fill=None,
            fill_problem=None,
            train=None,
        )
    fill, trouble = _fill(desk, plan)
    return PlanAnswer(
        file=desk.plan_path.name,
        exists=True,
        digest=digest,
        tables=as_json(plan_tables(desk.plan_path)),
        findings=[],
        mission=mission_answer(plan),
        fill=fill,
        fill_problem=trouble,
        train=train_answer(plan.flight_train, None if fill is None else fill.diameter_m),
    )


def _fill(desk: Desk, plan: Plan) -> tuple[FillAnswer | None, str | None]:
    try:
        return fill_answer(fill_card(plan, desk.winds(), desk.prior())), None
    except PappusError as error:
        return None, str(error)
