"""What the field pack holds for the map, as plain lines and areas."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.export import AreaKind, LineKind, MapArea, MapLayers
from pappus.ground import ROAD_CLASSES, MapShapes, Outline, RoadNetwork
from pappus.preflight.pack._maps import PackMaps
from pappus.sources import AirspaceFile, MapExtract, PackFile, ZonesFile

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]

_ROADS: dict[LineKind, tuple[str, ...]] = {
    "wide road": ("motorway", "trunk"),
    "main road": ("primary", "secondary", "tertiary"),
    "small road": ("unclassified", "residential", "living street", "service", "track"),
}
_LINES: dict[LineKind, str] = {"railway": "railway", "power line": "power_line", "waterway": "waterway"}
_GAP = np.full((1, 2), np.nan)


def layers_of(held: PackMaps) -> MapLayers:
    """Layers from the map, airspace and zones of a pack; a file that cannot be used becomes a note.

    A map without its roads is still a map: nothing of this may stop a briefing.
    """
    gathered = _Gathered()
    gathered.notes += [f"{file.origin} is not on this map: {why}" for file, why in held.unusable]
    for _, extract in held.maps:
        gathered.take_map(extract)
    for file, airspace in held.airspace:
        gathered.take_airspace(file, airspace)
    for file, zones in held.zones:
        gathered.take_zones(file, zones)
    kinds = {file.kind for part in (held.maps, held.airspace, held.zones, held.unusable) for file, _ in part}
    lacking = [words for kind, words in (("map", "roads and water"), ("airspace", "airspace")) if kind not in kinds]
    if lacking:
        gathered.notes.append(f"not on this map, for the field pack holds none: {'; '.join(lacking)}")
    return gathered.layers()


class _Gathered:
    """Layers while files are read."""

    def __init__(self) -> None:
        self.lines: dict[LineKind, list[Array]] = {}
        self.areas: list[MapArea] = []
        self.boxes: list[Box] = []
        self.attributions: list[str] = []
        self.notes: list[str] = []

    def take_map(self, extract: MapExtract) -> None:
        shapes, box = extract.features.shapes, extract.box
        for kind, classes in _ROADS.items():
            self._add(kind, _roads(extract.roads, classes))
        for kind, name in _LINES.items():
            self._add(kind, _separate(shapes[name]))
        for name in ("water", "sea"):
            self.areas += [MapArea("water", rings, "", "") for rings in _areas(shapes[name])]
        self.areas += [MapArea("water or land", rings, "", "") for rings in _areas(shapes["sea_or_land"])]
        if "built_up" in shapes:
            self.areas += [MapArea("built-up", rings, "", "") for rings in _areas(shapes["built_up"])]
        self.boxes.append((box.south_deg, box.north_deg, box.west_deg, box.east_deg))
        newest = "" if extract.newest_edit is None else f" Newest edit {extract.newest_edit:%Y-%m-%d}."
        self.attributions.append(f"Map data: {extract.attribution}.{newest}")

    def take_airspace(self, file: PackFile, airspace: AirspaceFile) -> None:
        for volume in airspace.volumes:
            limits = f"{volume.kind}, {volume.floor.text} to {volume.ceiling.text}"
            self._take_outline("airspace", volume.outline, volume.name, limits)
        packed = "" if file.issued is None else f", packed {file.issued:%Y-%m-%d}"
        until = "" if file.expires is None else f", newer data due {file.expires:%Y-%m-%d}"
        self.attributions.append(f"Airspace: {file.origin}{packed}{until}.")
        if lost := len(airspace.not_understood):
            self.notes.append(f"{file.origin}: not understood and not on this map: {lost} of its blocks")

    def take_zones(self, file: PackFile, zones: ZonesFile) -> None:
        for zone in zones.zones:
            self._take_outline(zone.role, zone.outline, zone.name, "")
        self.attributions.append(f"Zones: {file.origin}.")
        if lost := len(zones.not_used):
            self.notes.append(f"{file.origin}: no zone and not on this map: {lost} of its parts")

    def layers(self) -> MapLayers:
        lines = {kind: np.concatenate(parts) for kind, parts in self.lines.items()}
        return MapLayers(
            lines, tuple(self.areas), tuple(self.boxes), tuple(dict.fromkeys(self.attributions)), tuple(self.notes)
        )

    def _add(self, kind: LineKind, points: Array) -> None:
        if len(points):
            self.lines.setdefault(kind, []).append(np.concatenate((points, _GAP)))

    def _take_outline(self, kind: AreaKind, outline: Outline, name: str, limits: str) -> None:
        for rings in outline.polygons:
            if _goes_round_a_pole(rings[0]):
                self.notes.append(f"{name} goes round a pole and cannot be drawn on this map")
            else:
                self.areas.append(MapArea(kind, rings, name, limits))


def _roads(roads: RoadNetwork, classes: tuple[str, ...]) -> Array:
    """Pieces of road of some classes, a gap behind each."""
    pieces = roads.segments
    edge = np.where(pieces[:, 2] >= 0, pieces[:, 2], pieces[:, 3])
    chosen = pieces[np.isin(roads.edge_class[edge], [ROAD_CLASSES.index(name) for name in classes]), :2]
    points = np.full((len(chosen), 3, 2), np.nan)
    points[:, :2, 0], points[:, :2, 1] = roads.node_latitude_deg[chosen], roads.node_longitude_deg[chosen]
    return points.reshape(-1, 2)


def _separate(shapes: MapShapes) -> Array:
    """Latitude and longitude of lines, a gap between two."""
    return np.insert(shapes.longitude_latitude_deg[:, ::-1], shapes.ring_start[1:-1], np.nan, axis=0)


def _areas(shapes: MapShapes) -> Iterator[tuple[Array, ...]]:
    """The rings of each area, latitude first."""
    rings = np.split(shapes.longitude_latitude_deg[:, ::-1], shapes.ring_start[1:-1])
    for first, after in pairwise(shapes.shape_start.tolist()):
        yield tuple(rings[first:after])


def _goes_round_a_pole(ring: Array) -> bool:
    """Its longitudes come back to their beginning a whole turn further on."""
    longitude = np.unwrap(np.append(ring[:, 1], ring[0, 1]), period=360.0)
    return abs(float(longitude[-1] - longitude[0])) > 180.0
