"""The meeting point against the plainest loop over all nodes, and what must hold whatever the map."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.earth import LocalPlane, distance_m
from pappus.errors import NoSolution
from pappus.ground import ROAD_CLASSES, GroundFeatures, MapBox, MapShapes, RoadNetwork, RoadWay, build_road_network
from pappus.landing import landing_area
from pappus.recovery import Car, Effort, Landings, Reach, StopRules, cars_of, chase_roads, meeting_point, route_to
from pappus.recovery._chains import chains_of
from pappus.recovery._graph import Graph
from pappus.tracking import VehicleSeen
from recovery.road_maps import PlainChase, scattered, street_grid

EXACT = Effort(tolerance=0.0, looks=10_000)
QUIET = {"secondary", "tertiary", "unclassified", "residential", "primary", "living street"}


def node_at(roads: RoadNetwork, latitude_deg: float | None, longitude_deg: float | None) -> int:
    assert latitude_deg is not None
    assert longitude_deg is not None
    away = distance_m(latitude_deg, longitude_deg, roads.node_latitude_deg, roads.node_longitude_deg)
    assert away.min() < 0.01
    return int(away.argmin())


@pytest.mark.parametrize("seed", range(4))
def test_the_best_of_all_nodes(seed: int) -> None:
    """Every place to wait, one by one, with heap searches of the test: no other has a higher chance."""
    roads = street_grid(9, seed)
    chase = chase_roads(roads, None)
    reach = Reach(within_s=float(300 + 100 * seed), stand_off_m=50.0)
    touchdown_s = (900.0, 900.0, 150.0, 60.0)[seed]  # the later ones come down before the car is there
    landings = scattered(roads, seed, 60, sd_deg=0.006, touchdown_s=touchdown_s, spread_s=120.0, unknown=3)
    car = Car("one", 50.001, 10.003)
    answer = meeting_point([car], landings, chase, reach=reach, effort=EXACT)
    (meeting,) = answer.meetings
    plain = PlainChase(chase.roads, landings, reach)
    middle = np.median(landings.latitude_deg), np.median(landings.longitude_deg)
    half = np.median(distance_m(*middle, landings.latitude_deg, landings.longitude_deg))
    away = distance_m(*middle, chase.roads.node_latitude_deg, chase.roads.node_longitude_deg)
    closed = away <= half + reach.stand_off_m
    closes = np.quantile(landings.touchdown_s, 0.01) - reach.quiet_s
    arrivals = plain.times(plain.from_car(car.latitude_deg, car.longitude_deg), closed, closes)
    open_ = [node for node in np.flatnonzero(chase.stop & ~closed) if node in arrivals]
    chances = {node: plain.in_reach(node, arrivals[node]).sum() / 63 for node in open_}
    best = max(chances.values())
    node = node_at(chase.roads, meeting.latitude_deg, meeting.longitude_deg)
    print(f"{len(open_)} places, best {best:.4f}, chosen {chances[node]:.4f}")
    assert meeting.chance is not None
    assert meeting.route is not None
    assert 0.0 < best < 1.0
    assert meeting.chance.p == pytest.approx(best)
    assert chances[node] == pytest.approx(best)
    assert meeting.chance_at_most == pytest.approx(best)
    worst = min(chances, key=lambda node: chances[node])
    bad = float(chase.roads.node_latitude_deg[worst]), float(chase.roads.node_longitude_deg[worst])
    for looks in (1, 2, 3, 5, 8):
        # a search that begins badly and is broken off says what it may have missed
        few = Effort(tolerance=0.0, keep=0.0, looks=looks)
        late = Car("one", car.latitude_deg, car.longitude_deg, bound_for_deg=bad)
        early = meeting_point([late], landings, chase, reach=reach, effort=few).meetings[0]
        assert early.chance is not None
        assert early.chance_at_most is not None
        assert early.chance.p <= best + 1e-12
        assert early.chance_at_most >= best - 1e-12
    assert meeting.route.drive_time_s == pytest.approx(arrivals[node], rel=1e-9)
    assert meeting.margin_s is not None
    assert meeting.margin_s.values[1] == pytest.approx(np.median(landings.touchdown_s) - arrivals[node], abs=1e-6)


@pytest.mark.parametrize("closes_s", [-100.0, 60.0, 150.0, 400.0])
@pytest.mark.parametrize("seed", range(3))
def test_no_way_leads_through_the_area_after_it_closes(seed: int, closes_s: float) -> None:
    """Times of all nodes against a heap search in which nobody may be in the area after its closing."""
    roads = street_grid(9, seed)
    reach = Reach()
    graph = Graph(roads, chains_of(roads), reach.slower)
    closed = distance_m(50.016, 10.024, roads.node_latitude_deg, roads.node_longitude_deg) < 900.0
    start = roads.nearest(50.001, 10.003, main_only=True)
    found = graph.arrivals(start, closed, closes_s)
    plain = PlainChase(roads, scattered(roads, 0, 1, sd_deg=0.0, touchdown_s=0.0, spread_s=0.0), reach)
    expected = plain.times(plain.from_car(50.001, 10.003), closed, closes_s)
    for node in np.flatnonzero(~closed):
        assert found.time_s[node] == pytest.approx(expected.get(int(node), np.inf), rel=1e-9)
    for node in np.flatnonzero(~closed & np.isfinite(found.time_s))[::7]:
        way = found.nodes(int(node))
        takes = [plain.takes(int(edge)) for edge in roads.edge_between(way[:-1], way[1:])]
        at = expected[int(node)] - np.cumsum([0.0, *takes[::-1]])[::-1]
        assert (at[closed[way]] <= closes_s + 1e-6).all()
    assert not found.starts_inside


def test_a_car_in_the_area_leaves_it_first() -> None:
    roads = street_grid(9, 1)
    chase = chase_roads(roads, None)
    landings = scattered(roads, 1, 300, sd_deg=0.004, touchdown_s=300.0, spread_s=10.0)
    car = Car("one", float(np.median(landings.latitude_deg)), float(np.median(landings.longitude_deg)))
    (meeting,) = meeting_point([car], landings, chase, reach=Reach(stand_off_m=50.0)).meetings
    assert meeting.leaves_area
    assert any("leave it first" in note for note in meeting.notes)
    assert meeting.route is not None
    middle = car.latitude_deg, car.longitude_deg
    half = np.median(distance_m(*middle, landings.latitude_deg, landings.longitude_deg))
    inside = distance_m(*middle, meeting.route.latitude_deg, meeting.route.longitude_deg) <= half
    assert inside[0]
    assert (np.diff(inside.astype(int)) <= 0).all()  # once out it stays out


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.floats(0.002, 0.01), st.booleans())
def test_never_a_forbidden_place(seed: int, sd_deg: float, own_area: bool) -> None:
    """Classes, junctions and the 50 % area, checked on the ways around the point and on the area's own polygons."""
    roads = street_grid(7, seed)
    chase = chase_roads(roads, None)
    landings = scattered(roads, seed, 100, sd_deg=sd_deg, touchdown_s=1500.0, spread_s=60.0)
    area = landing_area(landings.latitude_deg, landings.longitude_deg, unknown=0) if own_area else None
    cars = [Car("one", 50.0, 10.0), Car("two", 50.02, 10.03)]
    for meeting in meeting_point(cars, landings, chase, area=area, effort=Effort(looks=6)).meetings:
        if not meeting.by_road:
            assert meeting.why_not
            assert meeting.latitude_deg is None
            continue
        dense = chase.roads
        node = node_at(dense, meeting.latitude_deg, meeting.longitude_deg)
        touching = (dense.edge_from == node) | (dense.edge_to == node)

        classes = {ROAD_CLASSES[number] for number in dense.edge_class[touching]}
        assert not classes & {"motorway", "trunk"}
        assert classes & QUIET
        others = set(dense.edge_from[touching]) | set(dense.edge_to[touching])
        assert len(others - {node}) <= 2  # no junction
        if area is not None:
            half = area.parts[0]
            plane = LocalPlane(50.012, 10.018)
            import shapely

            for polygon in half.polygons:
                ring = np.column_stack(plane.to_east_north_m(polygon[0][:, 0], polygon[0][:, 1]))
                point = shapely.Point(*plane.to_east_north_m(meeting.latitude_deg, meeting.longitude_deg))
                assert shapely.Polygon(ring).distance(point) > 299.0


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.floats(0.0, 1500.0))
def test_margin_grows_by_as_much_as_the_landing_is_later(seed: int, later_s: float) -> None:
    """The chance never falls with a later touchdown, and at one and the same place the margin grows by just that."""
    roads = street_grid(7, seed)
    chase = chase_roads(roads, None)
    reach = Reach(within_s=500.0, stand_off_m=20.0, quiet_s=0.0)
    early = scattered(roads, seed, 80, sd_deg=0.004, touchdown_s=200.0, spread_s=40.0)
    late = Landings(early.latitude_deg, early.longitude_deg, early.touchdown_s + later_s, 0)
    (one,), (two,) = (
        meeting_point([Car("one", 50.0, 10.0)], landings, chase, reach=reach, effort=EXACT).meetings
        for landings in (early, late)
    )
    if not one.by_road:
        return
    assert one.chance is not None
    assert two.chance is not None
    assert one.route is not None
    assert two.route is not None
    assert one.margin_s is not None
    assert two.margin_s is not None
    assert two.chance.p >= one.chance.p
    gained = np.subtract(two.margin_s.values, one.margin_s.values)
    assert gained == pytest.approx(later_s + one.route.drive_time_s - two.route.drive_time_s, abs=1e-6)


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.integers(2, 4))
def test_another_car_never_lowers_the_joint_chance(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    roads = street_grid(7, seed)
    chase = chase_roads(roads, None)
    landings = scattered(roads, seed, 80, sd_deg=0.008, touchdown_s=800.0, spread_s=100.0, unknown=4)
    reach = Reach(within_s=350.0, stand_off_m=20.0)
    places = np.column_stack((50.0 + 0.024 * rng.random(count), 10.0 + 0.036 * rng.random(count)))
    cars = [Car(f"car {number}", *place) for number, place in enumerate(places.tolist())]
    before = 0.0
    for used in range(1, count + 1):
        answer = meeting_point(cars[:used], landings, chase, reach=reach, effort=Effort(looks=12))
        assert answer.joint is not None
        assert answer.joint.p >= before
        alone = [meeting.chance.p for meeting in answer.meetings if meeting.chance]
        assert answer.joint.p >= max(alone, default=0.0) - 1e-12
        assert answer.joint.p <= sum(alone) + 1e-12
        before = answer.joint.p


def test_legal_speeds_are_never_beaten() -> None:
    roads = street_grid(9, 3)
    chase = chase_roads(roads, None)
    landings = scattered(roads, 3, 200, sd_deg=0.005, touchdown_s=3000.0, spread_s=60.0)
    (meeting,) = meeting_point([Car("one", 50.0, 10.0)], landings, chase, reach=Reach(slower=1.0)).meetings
    route = meeting.route
    assert route is not None
    legal = roads.drive_times(50.0, 10.0, meeting.latitude_deg, meeting.longitude_deg, main_only=True).time_s[0]
    assert route.drive_time_s >= legal * (1.0 - 1e-9)
    assert sum(leg.drive_time_s for leg in route.legs) == pytest.approx(route.drive_time_s, rel=1e-4)
    assert sum(leg.length_m for leg in route.legs) == pytest.approx(route.length_m)
    assert max(leg.length_m / leg.drive_time_s for leg in route.legs) <= roads.edge_speed_m_s.max() * (1 + 1e-4)
    with pytest.raises(Exception, match="slowness"):
        Reach(slower=0.9)


def lines(points: list[list[tuple[float, float]]]) -> MapShapes:
    starts = np.cumsum([0, *(len(line) for line in points)])
    return MapShapes("lines", np.concatenate([np.array(line) for line in points]), starts, np.arange(len(points) + 1))


def test_keeps_away_from_rails_and_says_what_the_map_lacks() -> None:
    roads = street_grid(7, 2, classes=("tertiary",), kept=1.0)
    empty = MapShapes("areas", np.empty((0, 2)), np.array([0]), np.array([0]))
    rails = lines([[(9.99, 50.0141), (10.05, 50.0141)]])
    features = GroundFeatures(roads.box, {"railway": rails, "water": empty})
    plain, kept = chase_roads(roads, None), chase_roads(roads, features, StopRules(railway_m=200.0))
    lost = plain.stop & ~kept.stop
    away = np.abs(kept.roads.node_latitude_deg - 50.0141) * 111_250.0  # metres per degree at 50 north
    assert lost.sum() > 5
    assert away[lost].max() < 205.0
    assert away[kept.stop].min() > 195.0
    assert any("not read for sea, waterway" in note for note in kept.notes)
    assert any("no map of rails" in note for note in plain.notes)


def test_what_lands_in_water_is_not_in_reach() -> None:
    roads = street_grid(7, 2, classes=("tertiary",), kept=1.0)
    ring = np.array([[9.9, 49.9], [10.018, 49.9], [10.018, 50.2], [9.9, 50.2], [9.9, 49.9]])
    lake = MapShapes("areas", ring, np.array([0, 5]), np.array([0, 1]))
    features = GroundFeatures(roads.box, {"water": lake})
    landings = scattered(roads, 5, 400, sd_deg=0.004, touchdown_s=3000.0, spread_s=60.0)
    dry = float((landings.longitude_deg > 10.018).mean())
    (meeting,) = meeting_point([Car("one", 50.0, 10.03)], landings, chase_roads(roads, features)).meetings
    assert meeting.chance is not None
    assert meeting.chance.p == pytest.approx(dry, abs=0.005)


def test_long_straight_roads_get_places_to_wait() -> None:
    box = MapBox(49.9, 50.3, 9.9, 10.6)
    way = RoadWay(np.array([0, 1]), True, True, 25.0, 20.0, False, "secondary", "Long Road")
    one_way = RoadWay(np.array([1, 2]), True, False, 25.0, 20.0, True, "secondary", "")
    back = RoadWay(np.array([2, 0]), True, False, 25.0, 20.0, True, "secondary", "")
    roads = build_road_network(box, np.array([50.0, 50.0, 50.2]), np.array([10.0, 10.5, 10.5]), [way, one_way, back])
    chase = chase_roads(roads, None)
    dense = chase.roads
    assert dense.edge_length_m.max() <= 500.0 * (1 + 1e-9)
    assert dense.edge_length_m.sum() == pytest.approx(roads.edge_length_m.sum())
    assert dense.edge_time_s.sum() == pytest.approx(roads.edge_time_s.sum())
    assert chase.stop.sum() > 150
    for start, end in (((50.0, 10.0), (50.2, 10.5)), ((50.2, 10.5), (50.0, 10.5)), ((50.0, 10.5), (50.0, 10.0))):
        times = [net.drive_times(*start, *end).time_s[0] for net in (roads, dense)]
        assert times[0] == pytest.approx(times[1], rel=1e-6)
    assert (np.diff(dense.edge_from * len(dense.node_latitude_deg) + dense.edge_to) > 0).all()


def test_without_a_map_only_straight_lines() -> None:
    landings = Landings(np.full(30, 50.1), np.full(30, 10.2), np.full(30, 900.0), 0)
    answer = meeting_point([Car("one", 50.0, 10.0)], landings, None)
    (meeting,) = answer.meetings
    assert not meeting.by_road
    assert meeting.route is None
    assert meeting.chance is None
    assert answer.joint is None
    assert meeting.straight_m == pytest.approx(18_138.0, rel=2e-3)  # 11.12 km north, 14.33 km east of 50 north
    assert meeting.bearing_deg == pytest.approx(52.1, abs=0.5)
    assert "no map of roads" in answer.notes[0]
    assert "straight" in meeting.notes[0]
    nothing = meeting_point([Car("one", 50.0, 10.0)], Landings(np.empty(0), np.empty(0), np.empty(0), 9), None)
    assert np.isnan(nothing.meetings[0].straight_m)
    with pytest.raises(ValueError, match="at least one car"):
        meeting_point([], landings, None)


def test_the_drive_on_is_the_quickest_way() -> None:
    roads = street_grid(9, 5)
    chase = chase_roads(roads, None)
    car, reach = Car("one", 50.001, 10.003), Reach()
    plain = PlainChase(chase.roads, scattered(roads, 0, 1, sd_deg=0.0, touchdown_s=0.0, spread_s=0.0), reach)
    times = plain.times(plain.from_car(car.latitude_deg, car.longitude_deg))
    for north, east in ((50.02, 10.03), (50.03, 10.01), (50.005, 10.04)):
        route = route_to(car, north, east, chase)
        node = int(chase.roads.nearest(north, east, main_only=True).node[0])
        assert route.drive_time_s == pytest.approx(times[node], rel=1e-9)
        assert route.after_s[-1] == pytest.approx(route.drive_time_s, rel=1e-4)
        assert route.latitude_deg[-1] == chase.roads.node_latitude_deg[node]
    empty = chase_roads(build_road_network(roads.box, np.empty(0), np.empty(0), []), None)
    with pytest.raises(NoSolution, match="no road"):
        route_to(car, 50.02, 10.03, empty)
    (nowhere,) = meeting_point(
        [car], scattered(roads, 0, 9, sd_deg=0.01, touchdown_s=0.0, spread_s=0.0), empty
    ).meetings
    assert "no road near the car" in nowhere.why_not


def test_a_payload_that_is_down_or_far_off_the_map() -> None:
    roads = street_grid(9, 5)
    chase = chase_roads(roads, None)
    down = scattered(roads, 1, 60, sd_deg=0.002, touchdown_s=-900.0, spread_s=10.0)
    middle = float(np.median(down.latitude_deg)), float(np.median(down.longitude_deg))
    (meeting,) = meeting_point([Car("one", 50.001, 10.003)], down, chase).meetings
    assert meeting.down
    assert meeting.latitude_deg is not None
    assert distance_m(meeting.latitude_deg, meeting.longitude_deg, *middle) < 1000.0
    # nothing is closed any more, not even to a car that stands in the middle
    (inside,) = meeting_point([Car("one", *middle)], down, chase).meetings
    assert inside.down
    assert not inside.leaves_area
    far = Landings(np.full(40, -33.0), np.full(40, 60.0), np.full(40, 900.0), 0)
    area = landing_area(far.latitude_deg + np.linspace(0, 0.1, 40), far.longitude_deg, unknown=0)
    for known in (None, area):
        answer = meeting_point([Car("one", 50.001, 10.003)], far, chase, area=known)
        assert answer.untold is not None
        assert answer.untold.p == 1.0
        assert answer.joint is not None
        assert answer.joint.p == 0.0


def test_cars_come_from_what_the_receivers_saw() -> None:
    at = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)
    seen = [VehicleSeen("one", at, 50.0, 10.0), VehicleSeen("two", at + timedelta(seconds=50), 50.1, 10.1)]
    assert cars_of(seen, at + timedelta(seconds=60)) == (Car("one", 50.0, 10.0, 60.0), Car("two", 50.1, 10.1, 10.0))


@settings(max_examples=30)
@given(st.integers(0, 10_000), st.integers(2, 8), st.floats(0.3, 1.0), st.floats(20.0, 2000.0))
def test_times_by_way_of_junctions_are_those_of_the_whole_network(
    seed: int, side: int, kept: float, limit_s: float
) -> None:
    """Heap searches over every node, to and fro; networks with dead ends, one-way chains, rings and lone roads."""
    roads = street_grid(side, seed, kept=kept)
    chains = chains_of(roads)
    plain = PlainChase(roads, scattered(roads, 0, 1, sd_deg=0.0, touchdown_s=0.0, spread_s=0.0), Reach(slower=1.0))
    rng = np.random.default_rng(seed)
    count = len(roads.node_latitude_deg)
    times = {int(node): plain.times({int(node): 0.0}) for node in rng.choice(count, min(count, 12), replace=False)}
    for node, expected in times.items():
        row = np.array([expected.get(other, np.inf) for other in range(count)])
        row[row > limit_s] = np.inf
        assert chains.from_node(node, limit_s) == pytest.approx(row, rel=1e-9, abs=1e-9)
    for node in times:
        back = chains.to_node(node, np.inf)
        for other, expected in times.items():
            assert back[other] == pytest.approx(expected.get(node, np.inf), rel=1e-9, abs=1e-9)


def test_rings_without_a_junction_have_times_too() -> None:
    """A one-way ring of four nodes, and a loop road that begins and ends at one junction."""
    places = np.array([(50.0, 10.0), (50.01, 10.0), (50.01, 10.01), (50.0, 10.01), (50.05, 10.05), (50.06, 10.05),
                       (50.06, 10.06), (50.05, 10.04)])  # fmt: skip
    ring = RoadWay(np.array([0, 1, 2, 3, 0]), True, False, 10.0, 10.0, False, "residential", "")
    loop = RoadWay(np.array([4, 5, 6, 4]), True, True, 10.0, 10.0, False, "residential", "")
    lane = RoadWay(np.array([4, 7]), True, True, 10.0, 10.0, False, "residential", "")
    roads = build_road_network(MapBox(49.9, 50.1, 9.9, 10.1), places[:, 0], places[:, 1], [ring, loop, lane])
    chains = chains_of(roads)
    plain = PlainChase(roads, scattered(roads, 0, 1, sd_deg=0.0, touchdown_s=0.0, spread_s=0.0), Reach(slower=1.0))
    for node in range(8):
        expected = plain.times({node: 0.0})
        row = [expected.get(other, np.inf) for other in range(8)]
        assert chains.from_node(node, np.inf) == pytest.approx(np.array(row), rel=1e-9, abs=1e-9)
        for other in range(8):
            assert chains.to_node(other, np.inf)[node] == pytest.approx(row[other], rel=1e-9, abs=1e-9)
