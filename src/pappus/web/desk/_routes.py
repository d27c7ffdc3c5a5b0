"""What every page asks of the desk: who am I, what happened, how far is the work; and the people with a link."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi.responses import StreamingResponse
from pydantic import Field

from pappus.web.desk._access import DeskRoute, cookie_name, hide, needs
from pappus.web.desk._desk import Desk
from pappus.web.desk._events import MOST_STREAMS
from pappus.web.desk._models import Answer, Asked, JobAnswer
from pappus.web.desk._people import Person, Role
from pappus.web.desk._problems import Refused
from pappus.web.desk._share import qr_svg

router = APIRouter(prefix="/api", tags=["desk"], route_class=DeskRoute)
COOKIE_DAYS = 30


class KeyAsked(Asked):
    """The key of a personal link."""

    key: Annotated[str, Field(min_length=16, max_length=200)]


class PersonAsked(Asked):
    """Whom a link is for."""

    name: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[^\x00-\x1f\x7f]+$")]
    role: Role


class MeAnswer(Answer):
    """Who the page belongs to; ``token`` goes along with every change."""

    name: str
    role: Role
    token: str
    now_utc: str
    flight: str
    shared: bool


class PersonAnswer(Answer):
    """One person with a link."""

    id: str
    name: str
    role: Role
    since_utc: str
    revoked_utc: str | None


class PeopleAnswer(Answer):
    """Everybody, and how the desk is shared."""

    people: list[PersonAnswer]
    address: str | None
    """None: the desk is open to this laptop alone."""
    fingerprint: str | None


class LinkAnswer(Answer):
    """A new link; it is shown this once."""

    person: PersonAnswer
    link: str
    qr_svg: str
    fingerprint: str | None


@router.post("/enter", status_code=204)
def enter(request: Request, asked: KeyAsked) -> Response:
    """Take the key of a link and leave a cookie; the only route that asks for no role."""
    person = request.app.state.desk.people.by_key(asked.key)
    if person is None:
        raise Refused(401, "This link does not hold any more", "Ask the flight director for a new one.")
    response = Response(status_code=204)
    response.set_cookie(
        cookie_name(request), asked.key, max_age=COOKIE_DAYS * 86400, httponly=True, samesite="strict",
        secure=request.url.scheme == "https", path="/",
    )  # fmt: skip
    return response


@router.get("/me")
def me(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> MeAnswer:
    """Who asks, and the token for changes."""
    desk: Desk = request.app.state.desk
    return MeAnswer(
        name=person.name,
        role=person.role,
        token=desk.people.page_token(person),
        now_utc=desk.now().strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
        flight=desk.plan_path.stem,
        shared=desk.share is not None,
    )


@router.get("/events", response_class=StreamingResponse)
def events(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> StreamingResponse:
    """Server-sent events; a page that comes back gets what it missed."""
    desk: Desk = request.app.state.desk
    if desk.events.listeners >= MOST_STREAMS:
        raise Refused(503, "Too many pages are open", "Close some.")
    key = request.cookies.get(cookie_name(request))

    def may_see(least: Role) -> bool:
        still = desk.people.by_key(key)
        return still is not None and still.role.may(least)

    def shown(text: str) -> str:
        return text if person.role.may(Role.CREW) else hide(text, desk.phones())

    stream = desk.events.stream(request.headers.get("last-event-id"), may_see, shown)
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(stream, media_type="text/event-stream", headers=headers)


@router.get("/jobs")
def jobs(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> list[JobAnswer]:
    """How far every piece of heavy work is."""
    desk: Desk = request.app.state.desk
    return desk.jobs.all()


@router.get("/people")
def people(request: Request, person: Annotated[Person, needs(Role.DIRECTOR)]) -> PeopleAnswer:
    """Everybody with a link."""
    desk: Desk = request.app.state.desk
    return PeopleAnswer(
        people=[_answer(one) for one in desk.people.all()],
        address=None if desk.share is None else desk.share.address,
        fingerprint=None if desk.share is None else desk.share.fingerprint,
    )


@router.post("/people")
def add_person(request: Request, asked: PersonAsked, person: Annotated[Person, needs(Role.DIRECTOR)]) -> LinkAnswer:
    """A link for one more person."""
    desk: Desk = request.app.state.desk
    added, key = desk.people.add(asked.name.strip() or "no name", asked.role)
    base = desk.share.address if desk.share is not None else f"{request.url.scheme}://{request.url.netloc}"
    link = f"{base}/#enter={key}"
    fingerprint = None if desk.share is None else desk.share.fingerprint
    return LinkAnswer(person=_answer(added), link=link, qr_svg=qr_svg(link), fingerprint=fingerprint)


@router.delete("/people/{person_id}")
def revoke_person(request: Request, person_id: str, person: Annotated[Person, needs(Role.DIRECTOR)]) -> PersonAnswer:
    """End a link; its open pages go quiet with the next event."""
    desk: Desk = request.app.state.desk
    ended = desk.people.revoke(person_id)
    if ended is None:
        raise Refused(404, "There is no such person, or it is the laptop itself", "Load the list again.")
    desk.events.publish("people", {})
    return _answer(ended)


def _answer(person: Person) -> PersonAnswer:
    return PersonAnswer(
        id=person.id, name=person.name, role=person.role, since_utc=person.since_utc, revoked_utc=person.revoked_utc
    )
