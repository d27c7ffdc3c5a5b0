"""Map extracts written by the test: roads, directions, barriers, areas with holes, the sea."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.errors import NoSolution
from pappus.ground import RoadNetwork
from pappus.sources import MapExtract, read_map_extract
from sources.map_writer import as_pbf, osm_xml

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
    unusable = "1 buildings, settled areas or waters have no closed and simple outline"
    assert any(note.startswith(unusable) for note in extract.notes)
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
    lake = {"type": "multipolygon", "natural": "water"}
    relation = ([(101, "inner"), (102, ""), (103, "outer"), (104, "inner")], lake)
    features = read(tmp_path, osm_xml(nodes, ways, relations=[relation])).features
    inside = features.inside("water", 50.05, [10.025, 10.035, 10.05, 10.065, 10.075, 10.09])[0]
    assert inside.tolist() == [True, False, True, False, True, False]
    assert len(features.shapes["water"]) == 2
    open_ring = read(tmp_path, osm_xml(nodes, ways[:1], relations=[([(101, "outer")], lake)]))
    assert len(open_ring.features.shapes["water"]) == 0
    assert any(note.startswith("1 buildings, settled areas or waters have no closed") for note in open_ring.notes)


def test_outlines_that_cannot_be_used_are_counted(tmp_path: Path) -> None:
    """Open, without an area, crossing itself, and with a point that the file does not hold."""
    outlines = [[5, 6, 7], [1, 2, 3, 1], [5, 7, 6, 8, 5], [5, 6, 77, 8, 5], [5, 6, 7, 8, 5]]
    extract = read(tmp_path, osm_xml(NODES, [(outline, {"building": "yes"}) for outline in outlines]))
    assert len(extract.features.shapes["building"]) == 1
    assert "4 buildings, settled areas or waters have no closed and simple outline: left out." in extract.notes


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
