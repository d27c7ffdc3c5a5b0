"""What every map of the desk lies on: land, borders, towns, and what the field pack holds of roads, water and zones."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Request, Response
from numpy.typing import NDArray

from pappus.export import MapLayers
from pappus.plan import Plan
from pappus.preflight import layers_of, read_maps
from pappus.sources import load_countries, load_map_lines, load_places
from pappus.web.desk._access import DeskRoute, needs
from pappus.web.desk._desk import Desk
from pappus.web.desk._models import Answer
from pappus.web.desk._people import Person, Role

router = APIRouter(prefix="/api/map", tags=["map"], route_class=DeskRoute)

AROUND_DEG = 4.0
"""How far the map goes beyond the sites; a flight of 300 km stays on it."""
MOST_PLACES = 400
PLACES_WITHIN_M = 350_000.0
DIGITS = 5
"""Of a degree: one metre."""

Line = list[list[float]]
"""Points as longitude and latitude in degrees, as GeoJSON has them."""


class PlaceAnswer(Answer):
    """A named place."""

    name: str
    population: int
    latitude_deg: float
    longitude_deg: float


class SiteAnswer(Answer):
    """A launch site of the plan."""

    name: str
    place: str
    latitude_deg: float
    longitude_deg: float


class AreaAnswer(Answer):
    """An area with its holes: water, airspace or a zone of the crew."""

    kind: str
    name: str
    limits: str
    rings: list[Line]


class MapAnswer(Answer):
    """The map under everything; where nothing is known nothing is drawn, and the notes say so."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float
    land: list[list[Line]]
    """Polygons: outline, then holes; cut at the edges of the map."""
    coast: list[Line]
    borders: list[Line]
    places: list[PlaceAnswer]
    sites: list[SiteAnswer]
    lines: dict[str, list[Line]]
    """Roads, railways, power lines and waterways of the field pack by kind."""
    areas: list[AreaAnswer]
    known: list[Line]
    """Outlines of where the field pack knows roads and water."""
    attributions: list[str]
    notes: list[str]


@router.get("", response_model=MapAnswer)
def read_map(request: Request, person: Annotated[Person, needs(Role.VIEWER)]) -> Response:
    """The map around the plan's sites; it changes with the sites and the pack alone."""
    return Response(map_text(request.app.state.desk), media_type="application/json")


def map_text(desk: Desk) -> str:
    """The map as it is sent, made once for these sites and this pack."""
    plan = desk.plan()
    key = (tuple((site.name, site.latitude_deg, site.longitude_deg) for site in plan.sites), desk.pack_stamp())
    return desk.keep("map", key, lambda: map_answer(desk, plan).model_dump_json())


def map_answer(desk: Desk, plan: Plan) -> MapAnswer:
    """Land, lines and places around the sites, and the layers of the pack."""
    latitudes = [site.latitude_deg for site in plan.sites]
    first = plan.sites[0].longitude_deg
    longitudes = [first + (site.longitude_deg - first + 180.0) % 360.0 - 180.0 for site in plan.sites]
    wider = AROUND_DEG / max(0.2, float(np.cos(np.radians(max(map(abs, latitudes))))))
    south, north = max(-85.0, min(latitudes) - AROUND_DEG), min(85.0, max(latitudes) + AROUND_DEG)
    west, east = min(longitudes) - wider, max(longitudes) + wider
    lines = load_map_lines().clip(south, north, west, east)
    pack = desk.pack()
    layers = None if pack is None else layers_of(read_maps(pack))
    places = {
        (one.name, one.latitude_deg): one
        for site in plan.sites
        for one in load_places().within(site.latitude_deg, site.longitude_deg, PLACES_WITHIN_M, MOST_PLACES)
    }
    return MapAnswer(
        south_deg=south,
        north_deg=north,
        west_deg=west,
        east_deg=east,
        land=_land(south, north, west, east),
        coast=[_points(line) for line in lines.coast],
        borders=[_points(line) for line in lines.borders],
        places=[
            PlaceAnswer(
                name=one.name, population=one.population, latitude_deg=one.latitude_deg,
                longitude_deg=_turned(one.longitude_deg, first),
            )
            for one in sorted(places.values(), key=lambda one: -one.population)
        ],
        sites=[
            SiteAnswer(name=site.name, place=site.place, latitude_deg=site.latitude_deg, longitude_deg=longitude)
            for site, longitude in zip(plan.sites, longitudes, strict=True)
        ],
        **_of_pack(layers, first),
    )  # fmt: skip


def _of_pack(layers: MapLayers | None, first: float) -> dict[str, Any]:
    own = ["Made with Natural Earth", "GeoNames (geonames.org), CC BY 4.0"]
    if layers is None:
        notes = ["There is no field pack: no roads, water, airspace or zones are drawn. pappus fetch makes one."]
        return {"lines": {}, "areas": [], "known": [], "attributions": own, "notes": notes}
    areas = [
        AreaAnswer(
            kind=area.kind,
            name=area.name,
            limits=area.limits,
            rings=[_points(ring[:, ::-1], first) for ring in area.rings],
        )
        for area in layers.areas
    ]
    known = [
        _points(np.array([(west, south), (east, south), (east, north), (west, north), (west, south)]), first)
        for south, north, west, east in layers.boxes_deg
    ]
    return {
        "lines": {kind: [_points(part, first) for part in _parts(points)] for kind, points in layers.lines.items()},
        "areas": areas,
        "known": known,
        "attributions": [*own, *layers.attributions],
        "notes": list(layers.notes),
    }


def _land(south: float, north: float, west: float, east: float) -> list[list[Line]]:
    import shapely

    found: list[list[Line]] = []
    for polygons in load_countries().polygons:
        for rings in polygons:
            outline = np.asarray(rings[0])
            if outline[:, 1].max() < south or outline[:, 1].min() > north:
                continue
            for turn in (-360.0, 0.0, 360.0):
                if outline[:, 0].max() + turn < west or outline[:, 0].min() + turn > east:
                    continue
                shift = np.array((turn, 0.0))
                shape = shapely.Polygon(outline + shift, [np.asarray(hole) + shift for hole in rings[1:]])
                cut = shapely.clip_by_rect(shapely.make_valid(shape), west, south, east, north)
                found += [
                    [_points(np.asarray(ring.coords)) for ring in (part.exterior, *part.interiors)]
                    for part in shapely.get_parts(cut)
                    if part.geom_type == "Polygon" and not part.is_empty
                ]
    return found


def _parts(points: NDArray[np.float64]) -> Iterable[NDArray[np.float64]]:
    """Lines of (latitude, longitude) with a row of NaN between two, apart, as (longitude, latitude)."""
    gaps = np.flatnonzero(np.isnan(points[:, 0]))
    for part in np.split(points, gaps):
        line = part[~np.isnan(part[:, 0])]
        if len(line) > 1:
            yield line[:, ::-1]


def _points(line: NDArray[np.float64], first: float | None = None) -> Line:
    if first is not None:
        line = np.column_stack((_turned(line[:, 0], first), line[:, 1]))
    points: Line = np.round(line, DIGITS).tolist()
    return points


def _turned(longitude: Any, first: float) -> Any:
    """On the turn of the first site, so that a map over the date line is one piece."""
    return first + (longitude - first + 180.0) % 360.0 - 180.0
