"""Keep-out zones drawn on the map of the desk: a file of their own beside the plan, carried in its field pack."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from pappus.errors import BadInput, Finding
from pappus.ground import Outline
from pappus.preflight import make_pack
from pappus.sources import read_pack, read_zones, write_pack
from pappus.web.desk import Answer, Asked, Desk, Refused

MOST_ZONES, MOST_POINTS = 50, 200
DIGITS = 6

ZoneName = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f\x7f/]+$")]
Point = tuple[Annotated[float, Field(ge=-360.0, le=360.0)], Annotated[float, Field(ge=-89.0, le=89.0)]]
"""Longitude and latitude in degrees."""


class ZoneAsked(Asked):
    """A keep-out zone by the corners of its edge, not closed."""

    name: ZoneName
    ring: Annotated[list[Point], Field(min_length=3, max_length=MOST_POINTS)]


class DrawnZoneAnswer(Answer):
    """One zone that was drawn here."""

    name: str
    ring: list[tuple[float, float]]


class ZonesAnswer(Answer):
    """All of them; zones of other files are on the map and not in this list."""

    file: str
    zones: list[DrawnZoneAnswer]


def zones_file(desk: Desk) -> Path:
    """Where they lie: GeoJSON, so that any other program reads them."""
    return desk.plan_path.with_suffix(".zones.geojson")


def zones_answer(desk: Desk) -> ZonesAnswer:
    """Raises BadFile for a file that somebody has damaged."""
    path = zones_file(desk)
    if not path.is_file():
        return ZonesAnswer(file=path.name, zones=[])
    found = [
        DrawnZoneAnswer(name=zone.name, ring=[(float(x), float(y)) for y, x in rings[0]])
        for zone in read_zones(path).zones
        for rings in zone.outline.polygons
    ]
    return ZonesAnswer(file=path.name, zones=found)


def add_zone(desk: Desk, asked: ZoneAsked) -> ZonesAnswer:
    """Keep one more zone. Raises BadInput for a shape or a name that cannot be used."""
    with _lock(desk):
        before = zones_answer(desk).zones
        if any(one.name == asked.name for one in before):
            raise BadInput(Finding("name", asked.name, "is the name of another zone", "Give it a name of its own."))
        if len(before) >= MOST_ZONES:
            fix = "Put them into a zones file of your own and pack it."
            raise BadInput(Finding("name", asked.name, f"{MOST_ZONES} zones are drawn already", fix))
        # a map that was turned once around the world tells longitudes beyond half a turn
        ring = [(round((x + 180.0) % 360.0 - 180.0, DIGITS), round(y, DIGITS)) for x, y in asked.ring]
        Outline(((np.array(ring)[:, ::-1],),))  # raises for an edge that no zone can have
        _write(desk, [*before, DrawnZoneAnswer(name=asked.name, ring=ring)])
    return _told(desk)


def remove_zone(desk: Desk, name: str) -> ZonesAnswer:
    """Raises Refused where there is none of that name."""
    with _lock(desk):
        before = zones_answer(desk).zones
        left = [one for one in before if one.name != name]
        if len(left) == len(before):
            raise Refused(404, "There is no such zone among those drawn here", "Load the page again.")
        _write(desk, left)
    return _told(desk)


def _write(desk: Desk, zones: list[DrawnZoneAnswer]) -> None:
    path, folder = zones_file(desk), desk.pack_folder
    if zones:
        part = path.with_suffix(".part")
        part.write_text(
            json.dumps({"type": "FeatureCollection", "features": [_feature(one) for one in zones]}, indent=1)
        )
        part.replace(path)
        make_pack(
            desk.plan(), desk.plan_path, folder, (), {"zones": [path]}, now=desk.now(), step=lambda _: None
        )  # fmt: skip
        return
    # a file without any zone would say that there are none at all, which nobody has said
    pack = read_pack(folder)
    gone = [file for file in pack.files if (file.kind, file.origin) == ("zones", path.name)]
    write_pack(replace(pack, files=tuple(file for file in pack.files if file not in gone)))
    for file in gone:
        (folder / file.path).unlink(missing_ok=True)
    path.unlink()


def _feature(zone: DrawnZoneAnswer) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"name": zone.name, "role": "keep-out"},
        "geometry": {"type": "Polygon", "coordinates": [[*zone.ring, zone.ring[0]]]},
    }


def _told(desk: Desk) -> ZonesAnswer:
    desk.events.publish("plan", {})
    return zones_answer(desk)


def _lock(desk: Desk) -> threading.Lock:
    return desk.keep("lock of the drawn zones", None, threading.Lock)
