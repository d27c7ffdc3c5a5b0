"""The door of every route: the role it asks for, the token of a change, and no telephone numbers for viewers."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Coroutine
from typing import Any

from fastapi import Depends, Request, Response
from fastapi.routing import APIRoute

from pappus.web.desk._people import People, Person, Role
from pappus.web.desk._problems import Refused

SAFE = ("GET", "HEAD", "OPTIONS")
TOKEN_HEADER = "x-pappus-token"
HIDDEN = "hidden"


def cookie_name(request: Request) -> str:
    """Cookies do not know ports, and two desks may run on one laptop."""
    return f"pappus-{request.url.port or request.url.scheme}"


def person_of(request: Request) -> Person | None:
    """Who asks, by the cookie that their link left."""
    people: People = request.app.state.desk.people
    return people.by_key(request.cookies.get(cookie_name(request)))


class Needs:
    """A dependency that refuses who is below ``role``; a change also needs the token of a page of ours."""

    def __init__(self, role: Role) -> None:
        self.role = role

    def __call__(self, request: Request) -> Person:
        person = person_of(request)
        if person is None:
            raise Refused(401, "This page does not know you", "Open the link that you were given, or ask for one.")
        if not person.role.may(self.role):
            what = f"This needs the role {self.role.value}; you are {person.role.value}"
            raise Refused(403, what, "Ask the flight director.")
        if request.method not in SAFE and not request.app.state.desk.people.token_fits(
            person, request.headers.get(TOKEN_HEADER)
        ):
            raise Refused(403, "The change did not come from a page of this desk", "Load the page again.")
        request.state.person = person
        return person


def needs(role: Role) -> Any:
    """``person: Annotated[Person, needs(Role.CREW)]`` in the arguments of a route, or in its ``dependencies``."""
    return Depends(Needs(role))


def role_of(route: APIRoute) -> Role | None:
    """The role that a route asks for; None when it asks for none."""
    roles = [one.call.role for one in route.dependant.dependencies if isinstance(one.call, Needs)]
    return max(roles, key=list(Role).index, default=None)


class DeskRoute(APIRoute):
    """Every route of the desk: what it answers to a viewer holds no telephone number of the plan."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """FastAPI's own handler, and the answer looked over afterwards."""
        inner = super().get_route_handler()

        async def handler(request: Request) -> Response:
            response = await inner(request)
            person = getattr(request.state, "person", None)
            if person is not None and not person.role.may(Role.CREW) and response.media_type == "application/json":
                text = hide(bytes(response.body).decode("utf-8"), request.app.state.desk.phones())
                return Response(text, response.status_code, media_type="application/json")
            return response

        return handler


def hide(text: str, phones: tuple[str, ...]) -> str:
    """JSON text without these telephone numbers, wherever in its strings they stand."""
    quoted = [json.dumps(phone, ensure_ascii=False)[1:-1] for phone in phones]
    if not any(phone in text for phone in quoted):
        return text
    found = re.compile("|".join(rf"(?<!\d){re.escape(phone)}(?!\d)" for phone in sorted(phones, key=len, reverse=True)))

    def cleaned(value: Any) -> Any:
        if isinstance(value, str):
            return found.sub(HIDDEN, value)
        if isinstance(value, list):
            return [cleaned(one) for one in value]
        if isinstance(value, dict):
            return {cleaned(key): cleaned(one) for key, one in value.items()}
        return value

    return json.dumps(cleaned(json.loads(text)), ensure_ascii=False, separators=(",", ":"))
