"""Road graph: lengths against geographiclib, times against Floyd-Warshall, one-way streets, roads apart."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.errors import NoSolution
from pappus.ground import MapBox, RoadNetwork, RoadWay, build_road_network

BOX = MapBox(50.0, 50.1, 10.0, 10.1)
SPEED = 10.0


def way(
    *nodes: int,
    back: bool = True,
    speed: float = SPEED,
    name: str = "",
    road_class: str = "tertiary",
    ahead: bool = True,
) -> RoadWay:
    return RoadWay(np.array(nodes), ahead, back, speed, speed, False, road_class, name)


def geodesic_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Karney's algorithm, to nanometres."""
    return float(Geodesic.WGS84.Inverse(*a, *b)["s12"])


# A square with a tail:   3 --- 2
#                         |     |
#                         0 --- 1 --- 4      and 5 --- 6 apart
PLACES = [
    (50.02, 10.02),
    (50.02, 10.04),
    (50.03, 10.04),
    (50.03, 10.02),
    (50.02, 10.06),
    (50.07, 10.07),
    (50.07, 10.08),
]


def network(*ways: RoadWay, places: list[tuple[float, float]] = PLACES) -> RoadNetwork:
    latitude, longitude = np.array(places).T
    return build_road_network(BOX, latitude, longitude, ways)


SQUARE = (way(0, 1, name="South"), way(1, 2), way(2, 3), way(3, 0, name="West"), way(1, 4), way(5, 6))


def floyd_warshall(count: int, edges: list[tuple[int, int, float]]) -> np.ndarray:
    time = np.full((count, count), np.inf)
    np.fill_diagonal(time, 0.0)
    for start, end, seconds in edges:
        time[start, end] = min(time[start, end], seconds)
    for middle in range(count):
        time = np.minimum(time, time[:, middle, None] + time[None, middle, :])
    return time


def test_length_is_that_of_the_geodesic() -> None:
    roads = network(*SQUARE)
    for number in range(len(roads.edge_from)):
        start, end = PLACES[roads.edge_from[number]], PLACES[roads.edge_to[number]]
        assert roads.edge_length_m[number] == pytest.approx(geodesic_m(start, end), rel=1e-5)
    assert len(roads.edge_from) == 12


def test_times_of_random_networks_agree_with_floyd_warshall() -> None:
    """Lengths of the test by geographiclib, times by Floyd and Warshall's algorithm (1962), one way in three."""
    worst = 0.0
    for seed in range(4):
        random = np.random.default_rng(seed)
        places = [tuple(place) for place in random.uniform((50.01, 10.01), (50.09, 10.09), (30, 2))]
        ways, edges = [], []
        for _ in range(45):
            a, b = random.choice(30, 2, replace=False)
            speed, both = float(random.uniform(3, 30)), bool(random.integers(3))
            ways.append(way(a, b, back=both, speed=speed))
            seconds = geodesic_m(places[a], places[b]) / speed
            edges += [(a, b, seconds)] + [(b, a, seconds)] * both
        roads = network(*ways, places=places)
        expected = floyd_warshall(30, edges)
        on_road = [n for n in range(30) if n in roads.edge_from or n in roads.edge_to]
        latitude, longitude = np.array([places[n] for n in on_road]).T
        for target in on_road[:8]:
            to = roads.drive_times(latitude, longitude, *places[target])
            away = roads.drive_times(*places[target], latitude, longitude)
            for result, truth in ((to, expected[on_road, target]), (away, expected[target, on_road])):
                assert result.reached.tolist() == np.isfinite(truth).tolist()
                assert np.isnan(result.time_s[~result.reached]).all()
                assert result.time_s[result.reached] == pytest.approx(truth[result.reached], rel=2e-5, abs=1e-3)
                worst = max(worst, float(np.nanmax(np.abs(result.time_s - truth)[result.reached])))
                missing = int((~result.reached).sum())
                assert (f"{missing} of {len(on_road)} places cannot be reached" in result.text) == (missing > 0)
    print(f"largest difference {worst:.6f} s")


def test_a_route_is_the_sum_of_its_parts() -> None:
    roads = network(*SQUARE)
    route = roads.route(*PLACES[4], *PLACES[3])
    sides = [(4, 1), (1, 0), (0, 3)], [(4, 1), (1, 2), (2, 3)]
    lengths = [sum(geodesic_m(PLACES[a], PLACES[b]) for a, b in side) for side in sides]
    assert route.length_m == pytest.approx(min(lengths), rel=1e-5)  # the northern side of the square is the shorter
    assert route.drive_time_s == pytest.approx(min(lengths) / SPEED, rel=1e-5)
    assert 50.03 in route.latitude_deg
    assert sum(leg.length_m for leg in route.legs) == pytest.approx(route.length_m)
    assert sum(leg.drive_time_s for leg in route.legs) == pytest.approx(route.drive_time_s, rel=1e-5)
    assert (route.from_road_m, route.to_road_m) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert route.assumed_length_m == 0.0


def test_one_way_streets_are_obeyed() -> None:
    """Round the square against the clock only: three sides back for one side there."""
    one_way = [way(0, 1, back=False), way(1, 2, back=False), way(2, 3, back=False), way(0, 3, ahead=False)]
    roads = network(*one_way)
    there, back = roads.route(*PLACES[0], *PLACES[1]), roads.route(*PLACES[1], *PLACES[0])
    side = {pair: geodesic_m(PLACES[pair[0]], PLACES[pair[1]]) for pair in [(0, 1), (1, 2), (2, 3), (3, 0)]}
    assert there.length_m == pytest.approx(side[0, 1], rel=1e-5)
    assert back.length_m == pytest.approx(side[1, 2] + side[2, 3] + side[3, 0], rel=1e-5)
    # between two spots on the same piece: onward along it, and round the whole block to get back
    west, east = (50.02, 10.025), (50.02, 10.035)
    assert roads.route(*west, *east).length_m == pytest.approx(geodesic_m(west, east), rel=1e-4)
    assert roads.route(*east, *west).length_m == pytest.approx(sum(side.values()) - geodesic_m(west, east), rel=1e-4)
    times = roads.drive_times([west[0], east[0]], [west[1], east[1]], *east)
    assert times.time_s == pytest.approx([geodesic_m(west, east) / SPEED, 0.0], rel=1e-4, abs=1e-6)


def test_a_one_way_street_drawn_backwards_is_the_same_street() -> None:
    onward, backward = network(way(0, 1, back=False)), network(way(1, 0, ahead=False))
    assert onward.edge_from.tolist() == backward.edge_from.tolist() == [0]
    with pytest.raises(NoSolution, match=r"no way by car.*main road network is empty"):
        onward.route(*PLACES[1], *PLACES[0])


def test_places_beside_the_road_start_at_the_nearest_spot() -> None:
    roads = network(*SQUARE)
    spots = roads.nearest([50.021, 50.02, 50.0195], [10.03, 10.07, 10.0401])
    assert roads.nearest(50.02, [10.03, 10.07]).distance_m[1] == spots.distance_m[1]
    assert spots.distance_m[0] == pytest.approx(geodesic_m((50.021, 10.03), (50.02, 10.03)), abs=0.1)
    assert spots.distance_m[1] == pytest.approx(geodesic_m((50.02, 10.07), PLACES[4]), rel=1e-5)
    assert spots.node[1:].tolist() == [4, 1]
    assert spots.share[0] == pytest.approx(0.5, abs=1e-3)
    route = roads.route(50.021, 10.03, 50.02, 10.07)
    assert route.length_m == pytest.approx(geodesic_m((50.02, 10.03), PLACES[4]), rel=1e-4)
    assert route.from_road_m == spots.distance_m[0]
    assert route.to_road_m == spots.distance_m[1]


def test_nearest_road_agrees_with_fine_sampling() -> None:
    """Every road sampled each 2 m, straight in latitude and longitude: the sagitta of 2 km is below 0.1 m there."""
    roads = network(*SQUARE)
    random = np.random.default_rng(3)
    points = random.uniform((50.0, 10.0), (50.1, 10.1), (40, 2))
    samples = np.concatenate(
        [np.linspace(PLACES[a], PLACES[b], 1000) for a, b in [(0, 1), (1, 2), (2, 3), (3, 0), (1, 4), (5, 6)]]
    )
    found = roads.nearest(*points.T).distance_m
    for point, distance in zip(points, found, strict=True):
        flat = (samples - point) * (1.0, np.cos(np.radians(50.05)))
        nearest = samples[np.argmin((flat**2).sum(axis=1))]
        assert distance == pytest.approx(geodesic_m(tuple(point), tuple(nearest)), abs=1.0)


def test_what_cannot_be_reached_is_said() -> None:
    roads = network(*SQUARE)
    with pytest.raises(NoSolution, match=r"no way by car.*main road network passes \d+ m"):
        roads.route(*PLACES[0], *PLACES[6])
    assert roads.main_node.tolist() == [True] * 5 + [False] * 2
    route = roads.route(*PLACES[0], *PLACES[6], main_only=True)
    assert route.to_road_m > 3000.0
    times = roads.drive_times([PLACES[0][0], PLACES[5][0]], [PLACES[0][1], PLACES[5][1]], *PLACES[6])
    assert times.reached.tolist() == [False, True]
    assert times.text == "1 of 2 places cannot be reached by car in this map"
    all_reached = roads.drive_times([PLACES[0][0]], [PLACES[0][1]], *PLACES[6], main_only=True)
    assert all_reached.text == ""
    assert all_reached.off_road_m == pytest.approx([0.0], abs=1e-6)


def test_a_street_that_only_leads_out_is_not_of_the_main_network() -> None:
    roads = network(*SQUARE[:4], way(1, 4, back=False))
    assert roads.main_node.tolist() == [True] * 4 + [False] * 3
    assert roads.nearest(*PLACES[4]).distance_m[0] == pytest.approx(0.0, abs=1e-6)
    assert roads.nearest(*PLACES[4], main_only=True).distance_m[0] == pytest.approx(
        geodesic_m(PLACES[1], PLACES[4]), rel=1e-5
    )


def test_of_two_roads_between_the_same_nodes_the_faster_stays() -> None:
    roads = network(way(0, 1, speed=5.0), way(1, 0, speed=20.0, name="Fast"), way(1, 1, 2, 2))
    assert len(roads.edge_from) == 4
    assert roads.edge_speed_m_s[roads.edge_between(0, 1)] == 20.0
    assert roads.edge_between([0, 0], [2, 1]).tolist() == [-1, 0]
    assert roads.route(*PLACES[0], *PLACES[1]).legs[0].name == "Fast"


def test_pieces_without_length_do_not_break_a_route() -> None:
    places = [(50.02, 10.02), (50.02, 10.04), (50.02, 10.04), (50.02, 10.06)]
    roads = network(way(0, 1), way(1, 2), way(2, 3), places=places)
    route = roads.route(*places[0], *places[3])
    assert route.length_m == pytest.approx(
        geodesic_m(places[0], places[1]) + geodesic_m(places[2], places[3]), rel=1e-5
    )
    assert roads.drive_times(*places[3], *places[0]).time_s == pytest.approx([route.drive_time_s])


def test_a_map_without_roads_says_so() -> None:
    roads = network()
    assert np.isnan(roads.nearest(50.05, 10.05).distance_m).all()
    with pytest.raises(NoSolution, match="no road"):
        roads.route(50.05, 10.05, 50.06, 10.06)
    times = roads.drive_times([50.05, 50.06], [10.05, 10.05], 50.06, 10.06)
    assert not times.reached.any()
    assert "2 of 2" in times.text
    assert roads.main_node.sum() <= 1


def test_bad_use_is_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        network(way(0, 1, speed=0.0))
    with pytest.raises(ValueError, match="single place"):
        network(*SQUARE).drive_times([50.0, 50.1], [10.0, 10.1], [50.0, 50.1], [10.0, 10.1])
    with pytest.raises(ValueError, match="tuple"):
        network(way(0, 1, road_class="bridleway"))
