"""Map extracts: small files written by the test, and two real ones counted against the notes of the data folder."""

from __future__ import annotations

import gzip
import heapq
import sys
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from pappus.errors import BadFile, NoSolution
from pappus.ground import ROAD_CLASSES, RoadNetwork
from pappus.sources import MapExtract, read_map_extract
from pappus.sources._osm_shapes import kind_of_area
from sources.map_writer import as_pbf, osm_xml

pytest.importorskip("osmium", reason="osmium is not installed")

# 1 --- 2 --- 3    along 50.02 N, 4 north of 2, 5 and 6 for areas
NODES = {
    1: (50.02, 10.02), 2: (50.02, 10.04), 3: (50.02, 10.06), 4: (50.04, 10.04), 5: (50.05, 10.02), 6: (50.05, 10.04),
    7: (50.06, 10.04), 8: (50.06, 10.02), 9: (50.053, 10.025), 10: (50.053, 10.035), 11: (50.057, 10.035),
    12: (50.057, 10.025),
}  # fmt: skip
ROAD = {"highway": "secondary", "maxspeed": "60", "name": "Long Street"}


def geodesic_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Karney's algorithm, to nanometres."""
    return float(Geodesic.WGS84.Inverse(*a, *b)["s12"])


def read(folder: Path, content: bytes, name: str = "small.osm", country: str = "FI") -> MapExtract:
    (folder / name).write_bytes(content)
    return read_map_extract(folder / name, country=country)


def reachable(roads: RoadNetwork, start: int, end: int) -> bool:
    try:
        roads.route(*NODES[start], *NODES[end])
    except NoSolution:
        return False
    return True


def test_a_small_map(tmp_path: Path) -> None:
    extract = read(tmp_path, osm_xml(NODES, [([1, 2, 3], ROAD), ([2, 4], {"highway": "residential"})]))
    roads = extract.roads
    assert (len(roads.node_latitude_deg), len(roads.edge_from)) == (4, 6)
    route = roads.route(*NODES[1], *NODES[4])
    first, second = geodesic_m(NODES[1], NODES[2]), geodesic_m(NODES[2], NODES[4])
    assert route.length_m == pytest.approx(first + second, rel=1e-5)
    assert route.drive_time_s == pytest.approx(first / (60 / 3.6) + second / (50 / 3.6), rel=1e-5)
    assert route.assumed_length_m == pytest.approx(second, rel=1e-5)
    assert [(leg.name, leg.road_class) for leg in route.legs] == [("Long Street", "secondary"), ("", "residential")]
    assert "ODbL" in extract.attribution
    assert "OpenStreetMap contributors" in extract.attribution
    assert extract.box.north_deg == 50.1
    assert extract.object_counts == {"highway": 2, "railway": 0, "building": 0, "power": 0}
    assert extract.newest_edit is None
    notes = "\n".join(extract.notes)
    share = 100 * second / (2 * first + second)
    assert f"{share:.0f} % of the road length has an assumed speed, after the general limits of FI" in notes
    assert "Turn restrictions" in notes


def test_pbf_and_gzip_hold_the_same_map(tmp_path: Path) -> None:
    ways = [([1, 2, 3], ROAD), ([5, 6, 7, 8, 5], {"building": "yes"})]
    plain = read(tmp_path, osm_xml(NODES, ways))
    pbf = read_map_extract(as_pbf(tmp_path / "small.osm", tmp_path / "small.osm.pbf"), country="FI")
    packed = read(tmp_path, gzip.compress(osm_xml(NODES, ways)), "small.osm.gz")
    for other in (pbf, packed):
        np.testing.assert_array_equal(other.roads.edge_length_m, plain.roads.edge_length_m)
        building, expected = other.features.shapes["building"], plain.features.shapes["building"]
        np.testing.assert_array_equal(building.longitude_latitude_deg, expected.longitude_latitude_deg)
        assert other.notes == plain.notes
        assert other.box == plain.box


@pytest.mark.parametrize(
    ("tags", "there", "back"),
    [
        ({}, True, True),
        ({"oneway": "yes"}, True, False),
        ({"oneway": "-1"}, False, True),
        ({"junction": "roundabout"}, True, False),
        ({"highway": "motorway"}, True, False),
        ({"access": "private"}, False, False),
        ({"highway": "footway"}, False, False),
        ({"highway": "track", "tracktype": "grade2"}, True, True),
        ({"highway": "track", "tracktype": "grade5"}, False, False),
        ({"oneway": "reversible"}, False, False),
    ],
)
def test_who_may_drive_where(tags: dict[str, str], there: bool, back: bool, tmp_path: Path) -> None:
    ways = [([1, 2], ROAD), ([2, 3], {**ROAD, **tags}), ([3, 4], ROAD)]
    roads = read(tmp_path, osm_xml(NODES, ways)).roads
    assert (reachable(roads, 1, 4), reachable(roads, 4, 1)) == (there, back)


@pytest.mark.parametrize(
    ("tags", "passes", "said"),
    [
        ({"barrier": "bollard"}, False, "1 barriers cut a road"),
        ({"barrier": "gate"}, True, "1 gates are taken as open"),
        ({"barrier": "gate", "access": "private"}, False, "1 barriers cut a road"),
    ],
)
def test_a_barrier_stops_cars_on_both_sides(tags: dict[str, str], passes: bool, said: str, tmp_path: Path) -> None:
    extract = read(tmp_path, osm_xml(NODES, [([1, 2, 3], ROAD)], node_tags={2: tags}))
    assert reachable(extract.roads, 1, 3) is passes
    assert extract.roads.nearest(50.02, 10.0399).distance_m[0] < 0.5  # the road up to it is still there
    assert any(note.startswith(said) for note in extract.notes)


def test_areas_with_holes_and_their_lines(tmp_path: Path) -> None:
    ways = [
        ([5, 6, 7, 8, 5], {}),
        ([9, 10, 11, 12, 9], {}),
        ([1, 2, 3], {"power": "line"}),
        ([3, 4], {"railway": "rail"}),
    ]
    lake = ([(101, "outer"), (102, "inner")], {"type": "multipolygon", "natural": "water"})
    broken = ([(101, "outer"), (999, "outer")], {"type": "multipolygon", "building": "yes"})
    node_tags = {1: {"power": "tower"}, 4: {"building": "yes"}}
    extract = read(tmp_path, osm_xml(NODES, ways, relations=[lake, broken], node_tags=node_tags))
    features = extract.features
    inside, known = features.inside("water", [50.0515, 50.055, 50.03], [10.03, 10.03, 10.03])
    assert inside.tolist() == [True, False, False]  # in the lake, on its island, on land
    assert known.all()
    assert np.diff(features.shapes["water"].ring_start).tolist() == [5, 5]
    assert {kind: len(shape) for kind, shape in features.shapes.items() if len(shape)} == {
        "water": 1, "power_line": 1, "power_tower": 1, "railway": 1, "building_point": 1,
    }  # fmt: skip
    assert features.nearest("power_line", 50.0201, 10.03).distance_m == pytest.approx(
        geodesic_m((50.0201, 10.03), (50.02, 10.03)), abs=0.1
    )
    assert any(note.startswith("1 buildings or waters have no closed and simple outline") for note in extract.notes)
    assert extract.object_counts["building"] == 2


def test_islands_in_holes_and_outlines_of_many_ways(tmp_path: Path) -> None:
    """Three squares in each other, the outer one of two ways drawn against each other; roles are wrong on purpose."""
    corners = [(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0)]
    nodes = {
        10 * ring + corner + 1: (50.05 + (north - 0.5) * width, 10.05 + (east - 0.5) * width)
        for ring, width in enumerate((0.06, 0.04, 0.02))
        for corner, (north, east) in enumerate(corners)
    }
    ways = [([1, 2, 3], {}), ([1, 4, 3], {}), ([11, 12, 13, 14, 11], {}), ([21, 22, 23, 24, 21], {})]
    relation = (
        [(101, "inner"), (102, ""), (103, "outer"), (104, "inner")],
        {"type": "multipolygon", "natural": "water"},
    )
    features = read(tmp_path, osm_xml(nodes, ways, relations=[relation])).features
    inside = features.inside("water", 50.05, [10.025, 10.035, 10.05, 10.065, 10.075, 10.09])[0]
    assert inside.tolist() == [True, False, True, False, True, False]
    assert len(features.shapes["water"]) == 2
    open_ring = read(tmp_path, osm_xml(nodes, ways[:1], relations=[([(101, "outer")], relation[1])]))
    assert len(open_ring.features.shapes["water"]) == 0
    assert any(note.startswith("1 buildings or waters have no closed") for note in open_ring.notes)


def test_outlines_that_cannot_be_used_are_counted(tmp_path: Path) -> None:
    """Open, without an area, crossing itself, and with a point that the file does not hold."""
    outlines = [[5, 6, 7], [1, 2, 3, 1], [5, 7, 6, 8, 5], [5, 6, 77, 8, 5], [5, 6, 7, 8, 5]]
    extract = read(tmp_path, osm_xml(NODES, [(outline, {"building": "yes"}) for outline in outlines]))
    assert len(extract.features.shapes["building"]) == 1
    assert "4 buildings or waters have no closed and simple outline and are left out." in extract.notes


def test_points_that_the_file_does_not_hold_cut_a_way(tmp_path: Path) -> None:
    extract = read(tmp_path, osm_xml(NODES, [([1, 2, 77, 3, 4], ROAD)]))
    assert len(extract.roads.edge_from) == 4
    assert not reachable(extract.roads, 1, 4)
    assert any(note.startswith("1 ways have points that the file does not hold") for note in extract.notes)


def test_a_file_that_does_not_say_what_it_covers(tmp_path: Path) -> None:
    extract = read(tmp_path, osm_xml(NODES, [([1, 2, 4], ROAD)], bounds=None))
    box = extract.box
    assert (box.south_deg, box.north_deg, box.west_deg, box.east_deg) == (50.02, 50.04, 10.02, 10.04)
    assert any("does not say what area" in note for note in extract.notes)


def test_a_map_over_the_date_line(tmp_path: Path) -> None:
    nodes = {1: (-16.5, 179.9), 2: (-16.5, -179.9)}
    for bounds in (None, (-17.0, -16.0, 179.5, -179.5)):
        extract = read(tmp_path, osm_xml(nodes, [([1, 2], ROAD)], bounds=bounds))
        assert extract.roads.route(*nodes[1], *nodes[2]).length_m == pytest.approx(
            geodesic_m(nodes[1], nodes[2]), rel=1e-5
        )
        assert extract.box.holds(-16.5, 180.0).all()


# --- the sea

CORNERS = {1: (50.05, 9.999), 2: (50.05, 10.05), 3: (50.05, 10.101), 4: (50.08, 10.04), 5: (50.09, 10.04),
           6: (50.09, 10.06), 7: (50.08, 10.06)}  # fmt: skip
COAST = {"natural": "coastline"}
SOUTH, NORTH, ISLAND = (50.02, 10.05), (50.07, 10.05), (50.085, 10.05)


def wet(extract: MapExtract, kind: str = "sea") -> list[bool]:
    return [bool(extract.features.inside(kind, *place)[0][0]) for place in (SOUTH, NORTH, ISLAND)]


def test_the_sea_is_to_the_right_of_the_coast(tmp_path: Path) -> None:
    """Heading east, the right hand is the south; an island is drawn against the clock."""
    coast = [([1, 2], COAST), ([2, 3], COAST)]
    assert wet(read(tmp_path, osm_xml(CORNERS, coast))) == [True, False, False]
    with_island = [([3, 2], COAST), ([2, 1], COAST), ([4, 7, 6, 5, 4], COAST)]
    extract = read(tmp_path, osm_xml(CORNERS, with_island))
    assert wet(extract) == [False, True, False]
    assert not any("gaps" in note for note in extract.notes)


def test_a_coast_that_ends_near_the_edge_goes_on_to_it(tmp_path: Path) -> None:
    """The file lacks the points beyond its edge: 350 m are left open at each end."""
    nodes = {1: (50.05, 10.005), 2: (50.05, 10.095)}
    assert wet(read(tmp_path, osm_xml(nodes, [([1, 2], COAST)]))) == [True, False, False]


def test_a_coast_with_a_gap_tells_nothing(tmp_path: Path) -> None:
    extract = read(tmp_path, osm_xml(CORNERS, [([1, 2], COAST)]))
    assert wet(extract) == [False, False, False]
    assert wet(extract, "sea_or_land") == [True, True, True]
    assert any("may be sea or land" in note for note in extract.notes)


# --- two real maps

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
    assert "55 buildings or waters have no closed and simple outline and are left out." in helsinki.notes
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
    """Its own assembler of areas is not used by the reader; square degrees stretched to squares at 60.17 N."""
    import osmium

    ours = helsinki.features.shapes["building"]
    longitude, latitude = ours.longitude_latitude_deg.T
    stretched = np.column_stack((longitude * np.cos(np.radians(60.17)), latitude))
    polygons = shapely.from_ragged_array(shapely.GeometryType.POLYGON, stretched, (ours.ring_start, ours.shape_start))
    theirs = []
    for area in osmium.FileProcessor(str(shared_data(HELSINKI))).with_areas():
        tags = {tag.k: tag.v for tag in area.tags}
        if area.is_area() and kind_of_area(tags) == "building":
            for outer in area.outer_rings():
                rings = [[(node.lon * np.cos(np.radians(60.17)), node.lat) for node in outer]]
                rings += [
                    [(n.lon * np.cos(np.radians(60.17)), n.lat) for n in hole] for hole in area.inner_rings(outer)
                ]
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


def test_without_osmium_the_message_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "osmium", None)
    with pytest.raises(BadFile, match=r"pip install 'pappus\[map\]'"):
        read(tmp_path, osm_xml(NODES, [([1, 2], ROAD)]))
