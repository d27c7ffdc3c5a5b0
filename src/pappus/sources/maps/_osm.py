"""Ground data from an extract of OpenStreetMap, ``.osm.pbf`` or ``.osm`` (XML): roads and what stands on the ground."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from pappus.errors import OutOfRange
from pappus.ground import GroundFeatures, MapBox, MapShapes, RoadNetwork
from pappus.sources._files import FileBytes, bad_file, read_file
from pappus.sources.maps._invented import GENERATOR, REMARK
from pappus.sources.maps._osm_areas import AreaCollector
from pappus.sources.maps._osm_blocks import unpacked_size_bytes
from pappus.sources.maps._osm_roads import RoadCollector
from pappus.sources.maps._osm_sea import sea_areas
from pappus.sources.maps._osm_shapes import ShapeCollector, kind_of_area
from pappus.sources.maps._osm_speed import GENERAL_KM_H

ATTRIBUTION = "© OpenStreetMap contributors, Open Database License (ODbL) 1.0, https://www.openstreetmap.org/copyright"
"""What a map, a print or a file made from the data has to show (terms of OpenStreetMap)."""

LARGEST_FILE_BYTES = 300_000_000
LARGEST_UNPACKED_BYTES = 2_000_000_000
LARGEST_POINTS = 20_000_000
_COUNTED = ("highway", "railway", "building", "power")
_KEYS = (*_COUNTED, "natural", "waterway", "landuse", "barrier")
_WANTED = frozenset(_KEYS)
_CUT_OUT = "Cut out the area of the flight."


@dataclass(frozen=True, eq=False)
class MapExtract:
    """Roads and ground features of one map file."""

    name: str
    sha256: str
    attribution: str
    """To be shown wherever the data are."""
    newest_edit: datetime | None
    """Time of the newest object that was read, UTC: the map is at least that new. None when the file does not say."""
    roads: RoadNetwork
    features: GroundFeatures
    object_counts: dict[str, int]
    """Nodes, ways and relations together that carry the key highway, railway, building or power."""
    notes: tuple[str, ...]
    """What was left out or assumed, in words."""

    @property
    def box(self) -> MapBox:
        """The part of the earth that the file covers."""
        return self.features.box


def read_map_extract(path: str | Path, *, country: str = "") -> MapExtract:
    """Roads, buildings, water, railways and power lines of an OpenStreetMap extract.

    ``country`` (two letters of ISO 3166-1) chooses the general speed limits where no sign is recorded. The file may
    be packed with gzip; it may have 300 MB (2 GB unpacked), 20 million points of ways and areas, and reach 400 km from
    its middle. Raises BadFile for anything else. A PBF file that was cut just between two of its blocks
    cannot be told from a smaller map.
    """
    import osmium  # slow to load, and only maps need it

    file = read_file(path, largest_bytes=LARGEST_FILE_BYTES)
    kind = _format(file)
    reading = _Reading(file, country)
    try:
        with osmium.io.Reader(osmium.io.FileBuffer(file.content, kind)) as reader:
            header = reader.header()
            several, stated = header.has_multiple_object_versions, header.box()
            invented = header.get("generator", "") == GENERATOR
        if several:
            raise bad_file(file.name, "it holds the history of objects or changes to them", "Give a plain extract.")
        reading.take_all(osmium, kind)
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as error:
        line = " ".join(str(error).split())
        raise bad_file(file.name, f"it is damaged or cut short ({line})", "Get the file again.") from None
    return reading.result(_stated_box(stated), REMARK if invented else ATTRIBUTION)


def _format(file: FileBytes) -> str:
    """The two formats by their first bytes, whatever the file is called."""
    if file.content[4:64].find(b"OSMHeader") >= 0:
        unpacked = unpacked_size_bytes(file.content)
        if unpacked > LARGEST_UNPACKED_BYTES:
            reason = f"the map unpacks to more than {LARGEST_UNPACKED_BYTES / 1e9:.0f} GB"
            raise bad_file(file.name, reason, _CUT_OUT, value=f"{unpacked / 1e9:.1f} GB")
        return "pbf"
    if file.content[:3_000].lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"<") and b"<osm" in file.content[:3_000]:
        if b"<osmChange" in file.content[:3_000]:
            raise bad_file(file.name, "it holds changes to a map, not a map", "Give a plain extract.")
        return "osm"
    reason = "this is neither a .osm.pbf nor a .osm file of OpenStreetMap"
    raise bad_file(file.name, reason, "Give an extract of the area of the flight.")


class _Reading:
    """What two passes over a file gather."""

    def __init__(self, file: FileBytes, country: str) -> None:
        self.file, self.country = file, country
        self.roads, self.shapes, self.areas = RoadCollector(country), ShapeCollector(), AreaCollector()
        self.counts: Counter[str] = Counter()
        self.objects: Counter[str] = Counter()
        self.newest: datetime | None = None

    def take_all(self, osmium: Any, kind: str) -> None:
        """The relations, which say what ways make areas, then every object with a key of interest."""
        for item in osmium.FileProcessor(osmium.io.FileBuffer(self.file.content, kind), osmium.osm.RELATION):
            self.counts["relations"] += 1
            tags = {tag.k: tag.v for tag in item.tags}
            area = kind_of_area(tags)
            if area and tags.get("type") == "multipolygon":
                self.areas.take_relation(area, [member.ref for member in item.members if member.type == "w"])
        wanted = osmium.filter.KeyFilter(*_KEYS).enable_for(osmium.osm.NODE | osmium.osm.RELATION)
        content = osmium.io.FileBuffer(self.file.content, kind)
        for item in osmium.FileProcessor(content).with_locations().with_filter(wanted):
            tags = {tag.k: tag.v for tag in item.tags}
            if item.is_way():
                self.counts["ways"] += 1
                if self.areas.is_member(item.id) or not _WANTED.isdisjoint(tags):
                    self._count(tags, item)
                    self._take_way(tags, item)
                continue
            self._count(tags, item)
            if item.is_node():
                self._take_node(tags, item)

    def _count(self, tags: dict[str, str], item: Any) -> None:
        self.counts["objects"] += 1
        self.objects.update(key for key in _COUNTED if key in tags)
        edited = item.timestamp
        if edited.year > 1970 and (self.newest is None or edited > self.newest):
            self.newest = edited

    def _take_node(self, tags: dict[str, str], node: Any) -> None:
        if not node.location.valid():
            self.counts["nowhere"] += 1
            return
        self._points(1)
        if "barrier" in tags:
            self.roads.take_barrier(node.id, tags)
        self.shapes.take_point(tags, node.lon, node.lat)

    def _take_way(self, tags: dict[str, str], way: Any) -> None:
        runs: list[list[tuple[int, float, float]]] = [[]]
        for node in way.nodes:
            if node.location.valid():
                runs[-1].append((node.ref, node.lon, node.lat))
            elif runs[-1]:
                runs.append([])
        known = sum(len(run) for run in runs)
        self.counts["cut ways"] += known < len(way.nodes)
        self._points(known)
        if "highway" in tags:
            self.roads.take_way(tags, runs)
        self.shapes.take_line(tags, [[(lon, lat) for _, lon, lat in run] for run in runs])
        whole = known == len(way.nodes)
        self.areas.take_way(way.id, kind_of_area(tags), [(lon, lat) for _, lon, lat in runs[0]] if whole else ())

    def _points(self, number: int) -> None:
        self.counts["points"] += number
        if self.counts["points"] > LARGEST_POINTS:
            raise bad_file(self.file.name, f"it has more than {LARGEST_POINTS / 1e6:.0f} million points", _CUT_OUT)

    def result(self, stated: tuple[float, float, float, float] | None, attribution: str) -> MapExtract:
        """The map, with notes on what was left out or assumed."""
        if self.counts["ways"] == 0 or self.counts["points"] == 0:
            # places without their lines would read as clear ground
            reason = "it holds no roads, buildings or other lines that can be used: it is empty or cut short"
            raise bad_file(self.file.name, reason, "Give an extract of the area of the flight.")
        for kind, rings in self.areas.areas():
            self.shapes.take_area(kind, rings)
        shapes = self.shapes.shapes()
        limits = stated or extent_deg(self._all_points(shapes))
        try:
            box = MapBox(*limits)
        except OutOfRange as error:
            raise bad_file(self.file.name, f"the map is too wide or nowhere ({error})", _CUT_OUT) from None
        for points in self._all_points(shapes):
            if not box.measurable(points[:, 1], points[:, 0]).all():
                reason = "it holds points more than 400 km from the middle of the area that it covers"
                raise bad_file(self.file.name, reason, _CUT_OUT)
        shapes["sea"], shapes["sea_or_land"] = sea_areas(shapes["coastline"], box)
        roads = self.roads.network(box)
        return MapExtract(
            name=self.file.name,
            sha256=self.file.sha256,
            attribution=attribution,
            newest_edit=self.newest.astimezone(UTC) if self.newest else None,
            roads=roads,
            features=GroundFeatures(box, shapes),
            object_counts={key: self.objects[key] for key in _COUNTED},
            notes=tuple(self._notes(roads, shapes, stated is not None)),
        )

    def _all_points(self, shapes: dict[str, MapShapes]) -> list[np.ndarray]:
        return [self.roads.points(), *(shape.longitude_latitude_deg for shape in shapes.values())]

    def _notes(self, roads: RoadNetwork, shapes: dict[str, MapShapes], stated: bool) -> list[str]:
        notes = self.roads.notes()
        length = float(roads.edge_length_m.sum())
        if length == 0.0:
            notes.append("The map holds no road for cars.")
        else:
            share = float(roads.edge_length_m[roads.edge_assumed].sum()) / length
            limits = f"the general limits of {self.country}" if self._known_country() else "limits of no one country"
            notes.append(f"{100 * share:.0f} % of the road length has an assumed speed, after {limits}.")
            main = roads.main_node[roads.edge_from] & roads.main_node[roads.edge_to]
            loose = float(roads.edge_length_m[~main].sum()) / length
            notes.append(f"{100 * (1 - loose):.0f} % of the road length hangs together as one network.")
        if not stated:
            notes.append("The file does not say what area it covers: taken as that of its points.")
        counts = self.counts
        if counts["relations"] == 0:
            notes.append("The file holds no relations, which come last: it may be cut short.")
        said = (
            (counts["cut ways"], "ways have points that the file does not hold, and end there"),
            (self.areas.unusable, "buildings, settled areas or waters have no closed and simple outline: left out"),
            (len(shapes["building_point"]), "buildings are single points without an outline (kind building_point)"),
            (self.shapes.counts["hidden"], "railways, power lines and waterways under the ground are left out"),
            (counts["nowhere"], "objects have no position and are left out"),
        )
        notes += [f"{number} {text}." for number, text in said if number]
        if len(shapes["coastline"]):
            notes.append("The sea is drawn from its coast, straight on where that is cut at the edge (kind sea).")
            if len(shapes["sea_or_land"]):
                notes.append("The coast has gaps: parts of the map may be sea or land (kind sea_or_land).")
        return notes

    def _known_country(self) -> bool:
        return self.country.upper() in GENERAL_KM_H


def _stated_box(box: Any) -> tuple[float, float, float, float] | None:
    """South, north, west, east as the header says, if it does."""
    if not (box.valid() and box.bottom_left.valid() and box.top_right.valid()):
        return None
    west, east = box.bottom_left.lon, box.top_right.lon
    if east - west > 180.0:  # osmium puts the corners in the order of their numbers, also over the date line
        west, east = east, west
    return box.bottom_left.lat, box.top_right.lat, west, east


def extent_deg(points: Sequence[np.ndarray]) -> tuple[float, float, float, float]:
    """South, north, west and east of points of longitude and latitude, on the shorter way around the earth."""
    every = np.concatenate(points)
    turned = every[:, 0] % 360.0
    plain = (float(every[:, 0].min()), float(every[:, 0].max()))
    west, east = plain if np.ptp(every[:, 0]) <= np.ptp(turned) else (float(turned.min()), float(turned.max()))
    return float(every[:, 1].min()), float(every[:, 1].max()), west, east
