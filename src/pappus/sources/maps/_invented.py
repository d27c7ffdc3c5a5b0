"""An invented map, airspace and zones for the example flight: the towns are real, everything else is made up.

Roads, railway, power line and lagoons are drawn between and beside real towns of La Pampa so that the answers on
people, water and roads have something to stand on. Nobody surveyed them: no real flight may use them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane, distance_m
from pappus.ground import NamedPlace, PlaceIndex

Array = NDArray[np.float64]
Point = tuple[float, float]

MAP_NAME, AIRSPACE_NAME, ZONES_NAME = "invented-map.osm", "invented-airspace.txt", "invented-zones.geojson"
REMARK = "INVENTED for the example of pappus: no survey, no real road, not for flight"
GENERATOR = "pappus, invented"
SOUTH_DEG, NORTH_DEG, WEST_DEG, EAST_DEG = -39.4, -34.9, -67.4, -61.0

_PEOPLE_PER_KM2 = 2_500.0
"""In the towns that are drawn [own guess]."""
_NEIGHBOURS = 2
_LAGOONS: tuple[tuple[float, float, float, float], ...] = (
    # latitude, longitude, half length east-west and north-south in metres
    (-37.05, -64.95, 3200.0, 1400.0),
    (-37.82, -64.15, 4200.0, 1800.0),
    (-37.30, -63.05, 2500.0, 2500.0),
    (-36.70, -63.35, 3800.0, 1200.0),
    (-36.05, -64.85, 2600.0, 1500.0),
    (-38.30, -64.60, 5200.0, 2100.0),
)
_RAILWAY = ("Santa Rosa", "General Acha")
_POWER_LINE = ("Santa Rosa", "Macachín")


def write_invented_maps(folder: Path, places: PlaceIndex) -> tuple[Path, Path, Path]:
    """Write map, airspace and zones of the example into a folder; returns the three files."""
    paths = folder / MAP_NAME, folder / AIRSPACE_NAME, folder / ZONES_NAME
    texts = invented_map_xml(places), invented_airspace_text(), invented_zones_json()
    for path, text in zip(paths, texts, strict=True):
        path.write_text(text, encoding="utf-8")
    return paths


def invented_map_xml(places: PlaceIndex) -> str:
    """An extract in the XML form of OpenStreetMap around the example flight; the same places give the same text."""
    drawing = _Drawing()
    towns = [town for town in _within(places) if town.population > 0]
    nodes = [drawing.node(town.latitude_deg, town.longitude_deg) for town in towns]
    for first, second in _roads(towns):
        small = min(towns[first].population, towns[second].population) < 4_000
        middle = _beside(towns[first], towns[second])
        drawing.way([nodes[first], drawing.node(*middle), nodes[second]], highway="secondary" if small else "primary")
    for town in towns:
        radius_m = float(np.sqrt(town.population / _PEOPLE_PER_KM2 / np.pi)) * 1000.0
        drawing.area(_ring(town.latitude_deg, town.longitude_deg, radius_m, radius_m), landuse="residential")
    for latitude, longitude, east_m, north_m in _LAGOONS:
        drawing.area(_ring(latitude, longitude, east_m, north_m), natural="water")
    by_name = {town.name: town for town in towns}
    for ends, tags in ((_RAILWAY, {"railway": "rail"}), (_POWER_LINE, {"power": "line"})):
        start, end = (by_name[name] for name in ends if name in by_name)
        line = [(start.latitude_deg + 0.02, start.longitude_deg), (end.latitude_deg + 0.02, end.longitude_deg)]
        drawing.way([drawing.node(*point) for point in line], **tags)
    return drawing.xml()


def _within(places: PlaceIndex) -> list[NamedPlace]:
    inside = (places.latitude_deg > SOUTH_DEG + 0.1) & (places.latitude_deg < NORTH_DEG - 0.1)
    inside &= (places.longitude_deg > WEST_DEG + 0.1) & (places.longitude_deg < EAST_DEG - 0.1)
    return [places.place(int(index)) for index in np.flatnonzero(inside)]


def _roads(towns: list[NamedPlace]) -> list[tuple[int, int]]:
    """Each town with its nearest towns, so that one can drive from anywhere to almost anywhere."""
    latitude, longitude = (
        np.array([getattr(town, name) for town in towns]) for name in ("latitude_deg", "longitude_deg")
    )
    pairs: set[tuple[int, int]] = set()
    joined = {0}
    apart = np.array([distance_m(latitude, longitude, latitude[i], longitude[i]) for i in range(len(towns))])
    for index in range(len(towns)):
        nearest = np.argsort(apart[index], kind="stable")[1 : _NEIGHBOURS + 1]
        pairs |= {(min(index, int(other)), max(index, int(other))) for other in nearest}
    while len(joined) < len(towns):  # a tree over all of them, so that no part is cut off
        inside = sorted(joined)
        outside = [index for index in range(len(towns)) if index not in joined]
        block = apart[np.ix_(inside, outside)]
        row, column = np.unravel_index(int(np.argmin(block)), block.shape)
        first, second = inside[int(row)], outside[int(column)]
        pairs.add((min(first, second), max(first, second)))
        joined.add(second)
    return sorted(pairs)


def _beside(first: NamedPlace, second: NamedPlace) -> Point:
    """A bend half-way, a twentieth of the way to the side."""
    north, east = second.latitude_deg - first.latitude_deg, second.longitude_deg - first.longitude_deg
    return 0.5 * (first.latitude_deg + second.latitude_deg) + 0.04 * east, (
        0.5 * (first.longitude_deg + second.longitude_deg) - 0.04 * north
    )


def _ring(latitude_deg: float, longitude_deg: float, east_m: float, north_m: float) -> list[Point]:
    turn = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    plane = LocalPlane(latitude_deg, longitude_deg)
    latitude, longitude = plane.to_latitude_longitude_deg(east_m * np.cos(turn), north_m * np.sin(turn))
    return list(zip(latitude.tolist(), longitude.tolist(), strict=True))


class _Drawing:
    """Nodes and ways in the order in which they were drawn."""

    def __init__(self) -> None:
        self.nodes: list[Point] = []
        self.ways: list[tuple[list[int], dict[str, str]]] = []

    def node(self, latitude_deg: float, longitude_deg: float) -> int:
        self.nodes.append((latitude_deg, longitude_deg))
        return len(self.nodes)

    def way(self, nodes: list[int], **tags: str) -> None:
        self.ways.append((nodes, tags))

    def area(self, ring: list[Point], **tags: str) -> None:
        nodes = [self.node(*point) for point in ring]
        self.way([*nodes, nodes[0]], **tags)

    def xml(self) -> str:
        return "\n".join(self._lines()) + "\n"

    def _lines(self) -> Iterator[str]:
        yield '<?xml version="1.0" encoding="UTF-8"?>'
        yield f'<osm version="0.6" generator="{GENERATOR}" attribution={quoteattr(REMARK)}>'
        yield f'<bounds minlat="{SOUTH_DEG}" minlon="{WEST_DEG}" maxlat="{NORTH_DEG}" maxlon="{EAST_DEG}"/>'
        stamp = 'version="1" timestamp="2027-01-01T00:00:00Z"'
        for number, (latitude, longitude) in enumerate(self.nodes, 1):
            yield f'<node id="{number}" {stamp} lat="{latitude:.6f}" lon="{longitude:.6f}"/>'
        for number, (nodes, tags) in enumerate(self.ways, 1):
            yield f'<way id="{number}" {stamp}>'
            yield from (f'<nd ref="{node}"/>' for node in nodes)
            yield from (f'<tag k="{key}" v="{value}"/>' for key, value in tags.items())
            yield "</way>"
        yield "</osm>"


def invented_airspace_text() -> str:
    """Airspace around the example flight in OpenAir text; none of it exists."""
    return f"""\
* {REMARK}
AC C
AY TMA
AN INVENTED TMA SANTA ROSA
AL GND
AH FL195
V X=36:35:20 S 064:16:33 W
DC 25

AC R
AN INVENTED RANGE EAST
AL GND
AH UNL
DP 36:54:00 S 062:36:00 W
DP 36:54:00 S 061:30:00 W
DP 37:45:00 S 061:30:00 W
DP 37:45:00 S 062:36:00 W
"""


def invented_zones_json() -> str:
    """Zones of the example flight in GeoJSON: where it may fly, and where nothing may come down."""
    zones = [
        _zone("permit area: invented permit 12/27", "permit area",
              [(-39.2, -67.2), (-39.2, -61.6), (-35.0, -61.6), (-35.0, -67.2)]),
        _zone("keep-out: invented bird reserve", "keep-out", _ring(-37.45, -63.02, 12_000.0, 16_000.0)),
    ]  # fmt: skip
    return json.dumps({"type": "FeatureCollection", "description": REMARK, "features": zones}, indent=1) + "\n"


def _zone(name: str, role: str, corners: list[Point]) -> dict[str, object]:
    ring = [[round(longitude, 5), round(latitude, 5)] for latitude, longitude in corners]
    return {
        "type": "Feature",
        "properties": {"name": name, "role": role},
        "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
    }
