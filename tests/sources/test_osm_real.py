"""Two real map extracts, counted against the notes of the data folder and checked against osmium and plain readings."""

from __future__ import annotations

import heapq
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from pappus.ground import ROAD_CLASSES, RoadNetwork
from pappus.sources import MapExtract, read_map_extract
from pappus.sources.maps._osm_shapes import kind_of_area


def geodesic_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Karney's algorithm, to nanometres."""
    return float(Geodesic.WGS84.Inverse(*a, *b)["s12"])


HELSINKI, VILLAGE = "geo/osm_helsinki_centre.osm.pbf", "geo/osm_bavaria_village_edge.osm"


@pytest.fixture(scope="module")
def helsinki(shared_data: Callable[[str], Path]) -> MapExtract:
    return read_map_extract(shared_data(HELSINKI), country="FI")


def test_real_city_holds_what_its_notes_say(helsinki: MapExtract) -> None:
    """4148 highways, 586 railways, 536 buildings, 6 power features, 24.935-24.953 E, 60.164-60.179 N (data folder)."""
    assert helsinki.object_counts == {"highway": 4148, "railway": 586, "building": 536, "power": 6}
    box = (helsinki.box.west_deg, helsinki.box.east_deg, helsinki.box.south_deg, helsinki.box.north_deg)
    assert box == pytest.approx((24.935, 24.953, 60.164, 60.179), abs=1e-3)
    buildings = len(helsinki.features.shapes["building"]) + len(helsinki.features.shapes["building_point"])
    print(f"{len(helsinki.roads.edge_from)} edges, {buildings} buildings with a place of 536, {helsinki.newest_edit}")
    assert 400 < buildings <= 536
    assert "77 buildings, settled areas or waters have no closed and simple outline: left out." in helsinki.notes
    assert helsinki.newest_edit is not None
    assert helsinki.newest_edit.year == 2019


def test_real_city_lies_where_it_should(helsinki: MapExtract) -> None:
    """Central railway station 60.1719 N 24.9414 E and the bay Kaisaniemenlahti 60.1785 N 24.9425 E (from memory)."""
    station, bay = (60.1719, 24.9414), (60.1785, 24.9425)
    assert helsinki.features.nearest("railway", *station).distance_m[0] < 100.0
    assert helsinki.features.nearest("building", *station).distance_m[0] < 100.0
    assert helsinki.features.inside("sea", *bay)[0].all()
    assert not helsinki.features.inside("sea", *station)[0].any()
    roads = helsinki.roads
    streets = np.unique(roads.edge_from[roads.edge_class < ROAD_CLASSES.index("service")])
    nodes = roads.node_latitude_deg[streets], roads.node_longitude_deg[streets]
    assert helsinki.features.inside("sea", *nodes)[0].mean() < 0.005  # bridges alone
    assert helsinki.features.inside("building", *nodes)[0].mean() < 0.02  # gateways; buildings cover 30 % of the map


def test_areas_of_a_real_city_are_those_that_osmium_makes(
    helsinki: MapExtract, shared_data: Callable[[str], Path]
) -> None:
    """Its own assembler of areas is not used by the reader. Areas in square degrees."""
    import osmium

    ours = helsinki.features.shapes["building"]
    polygon = shapely.GeometryType.POLYGON
    polygons = shapely.from_ragged_array(polygon, ours.longitude_latitude_deg, (ours.ring_start, ours.shape_start))
    theirs = []
    for area in osmium.FileProcessor(str(shared_data(HELSINKI))).with_areas():
        if area.is_area() and kind_of_area({tag.k: tag.v for tag in area.tags}) == "building":
            for outer in area.outer_rings():
                rings = [[(node.lon, node.lat) for node in ring] for ring in (outer, *area.inner_rings(outer))]
                theirs.append(shapely.Polygon(rings[0], rings[1:]))
    print(f"{len(polygons)} buildings, osmium makes {len(theirs)}")
    assert len(theirs) > 400
    difference = shapely.union_all(polygons).symmetric_difference(shapely.union_all(theirs))
    assert difference.area < 1e-6 * shapely.union_all(theirs).area


def dijkstra_s(roads: RoadNetwork, start: int) -> np.ndarray:
    """Dijkstra's algorithm with a heap, on lists; shares no code with the network."""
    onward: dict[int, list[tuple[int, float]]] = {}
    for a, b, length, speed in zip(
        roads.edge_from.tolist(), roads.edge_to.tolist(), roads.edge_length_m, roads.edge_speed_m_s, strict=True
    ):
        onward.setdefault(a, []).append((b, length / speed))
    times = np.full(len(roads.node_latitude_deg), np.inf)
    times[start] = 0.0
    queue = [(0.0, start)]
    while queue:
        so_far, node = heapq.heappop(queue)
        for neighbour, step in onward.get(node, []) if so_far <= times[node] else []:
            if so_far + step < times[neighbour]:
                times[neighbour] = so_far + step
                heapq.heappush(queue, (float(times[neighbour]), neighbour))
    return times


def test_routes_in_a_real_city_agree_with_a_plain_dijkstra(helsinki: MapExtract) -> None:
    roads = helsinki.roads
    nodes = np.flatnonzero(roads.main_node)
    start = int(nodes[100])
    expected = dijkstra_s(roads, start)[nodes]
    begin = time.perf_counter()
    found = roads.drive_times(
        roads.node_latitude_deg[start], roads.node_longitude_deg[start],
        roads.node_latitude_deg[nodes], roads.node_longitude_deg[nodes], main_only=True,
    )  # fmt: skip
    print(f"{len(nodes)} drive times in {time.perf_counter() - begin:.3f} s, the longest {expected.max():.0f} s")
    assert found.reached.all()
    # two nodes at crossings of bridges or within 0.1 m of each other may be taken for one another
    differs = np.abs(found.time_s - expected) > 0.05
    print(f"{differs.sum()} differ, largest {np.abs(found.time_s - expected).max():.3f} s")
    assert differs.sum() <= 2
    far = int(nodes[np.argmax(expected)])
    route = roads.route(
        roads.node_latitude_deg[start], roads.node_longitude_deg[start],
        roads.node_latitude_deg[far], roads.node_longitude_deg[far], main_only=True,
    )  # fmt: skip
    assert route.drive_time_s == pytest.approx(expected.max(), abs=0.05)


def test_real_village_agrees_with_a_reading_of_its_xml(shared_data: Callable[[str], Path]) -> None:
    """32 building=yes, 11 service roads (all private driveways), 6 residential, 2 tracks (data folder)."""
    path = shared_data(VILLAGE)
    extract = read_map_extract(path, country="DE")
    root = ET.parse(path).getroot()
    place = {node.get("id"): (float(node.get("lat", "")), float(node.get("lon", ""))) for node in root.iter("node")}
    length, yes = 0.0, 0
    for item in [*root.iter("way"), *root.iter("relation")]:
        tags = {tag.get("k"): tag.get("v") for tag in item.iter("tag")}
        yes += tags.get("building") == "yes"
        if item.tag == "way" and tags.get("highway") in {"residential", "track"}:
            points = [place.get(ref.get("ref")) for ref in item.iter("nd")]
            pairs = pairwise(points)
            length += sum(geodesic_m(a, b) for a, b in pairs if a and b)
    assert yes == 32
    assert extract.object_counts == {"highway": 20, "railway": 0, "building": 34, "power": 0}
    assert extract.roads.edge_length_m.sum() == pytest.approx(2.0 * length, rel=1e-5)
    assert "11 roads are closed to cars or too soft for them and left out." in extract.notes
    signed = extract.roads.edge_speed_m_s[~extract.roads.edge_assumed]
    assert signed == pytest.approx(np.full(len(signed), 30 / 3.6))
    centre = 48.136, 10.0695
    assert extract.features.nearest("building", *centre).certain.all()
