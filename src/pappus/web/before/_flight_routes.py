"""Page Flight: one release with its flights, its landing area, its times and its winds."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request, Response

from pappus.web.before._flight_answers import FlightAnswer, flown_answer
from pappus.web.before._flight_zones import (
    ZoneAsked,
    ZonesAnswer,
    add_zone,
    remove_zone,
    zones_answer,
    zones_file,
)
from pappus.web.before._release_work import Chosen, papers_job, release_job
from pappus.web.desk import Desk, DeskRoute, Person, Refused, Role, needs

router = APIRouter(prefix="/api/flight", tags=["flight"], route_class=DeskRoute)


@router.get("", response_model=FlightAnswer)
def read_flight(
    request: Request,
    person: Annotated[Person, needs(Role.VIEWER)],
    choice: Chosen,
) -> Response:
    """A release as the page draws it; what is not named is as planned. Asking for it begins it."""
    desk: Desk = request.app.state.desk
    job = release_job(desk, person, choice)
    job_answer = job.answer()
    if job_answer.state != "done":
        text = FlightAnswer(job=job_answer, flight=None).model_dump_json()
    else:
        text = desk.keep(
            "flight drawn", job.key,
            lambda: FlightAnswer(job=job_answer, flight=flown_answer(job.result)).model_dump_json(),
        )  # fmt: skip
    return Response(text, media_type="application/json")


@router.get("/map.png", response_class=Response, responses={200: {"content": {"image/png": {}}}})
def read_picture(
    request: Request,
    person: Annotated[Person, needs(Role.VIEWER)],
    choice: Chosen,
) -> Response:
    """The map as the desk draws it, for a browser that draws none."""
    desk: Desk = request.app.state.desk
    job = papers_job(desk, person, choice)
    if job.answer().state != "done":
        raise Refused(409, "The picture is being drawn", "It is there as soon as the papers are.")
    return Response((job.result / "map.png").read_bytes(), media_type="image/png")


@router.get("/zones")
def read_drawn_zones(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> ZonesAnswer:
    """Keep-out zones that were drawn on this map."""
    return zones_answer(request.app.state.desk)


@router.post("/zones")
def draw_zone(request: Request, asked: ZoneAsked, person: Annotated[Person, needs(Role.DIRECTOR)]) -> ZonesAnswer:
    """One more; every flight is judged with it from now on."""
    return add_zone(request.app.state.desk, asked)


@router.delete("/zones/{name}")
def take_zone_away(request: Request, name: str, person: Annotated[Person, needs(Role.DIRECTOR)]) -> ZonesAnswer:
    """One fewer."""
    return remove_zone(request.app.state.desk, name)


@router.get(
    "/zones.geojson", response_class=Response, responses={200: {"content": {"application/geo+json": {}}}}
)  # fmt: skip
def read_zones_file(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> Response:
    """The drawn zones as a file to take along."""
    path = zones_file(request.app.state.desk)
    if not path.is_file():
        raise Refused(404, "No zone was drawn here", "Draw one on page Flight.")
    headers = {"Content-Disposition": f'attachment; filename="{path.name}"'}
    return Response(path.read_bytes(), media_type="application/geo+json", headers=headers)
