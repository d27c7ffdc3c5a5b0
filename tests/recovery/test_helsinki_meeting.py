"""A real extract of a city: the meeting point against every node, by the drive times of the ground room."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pappus.earth import distance_m
from pappus.ground import ROAD_CLASSES
from pappus.recovery import Car, Effort, Landings, Reach, chase_roads, meeting_point
from pappus.sources import MapExtract, read_map_extract

REACH = Reach(within_s=150.0, stand_off_m=30.0)
CAR = Car("one", 60.1655, 24.9365)


@pytest.fixture(scope="module")
def city(shared_data: Callable[[str], Path]) -> MapExtract:
    return read_map_extract(shared_data("geo/osm_helsinki_centre.osm.pbf"), country="FI")


def invented_landings(count: int, sd_deg: float) -> Landings:
    rng = np.random.default_rng(7)
    return Landings(
        60.1716 + sd_deg * rng.standard_normal(count),
        24.944 + 2.0 * sd_deg * rng.standard_normal(count),
        3000.0 + 60.0 * rng.standard_normal(count),
        2,
    )


def test_the_best_of_every_node(city: MapExtract) -> None:
    """One landing at a time: drive times from all nodes to it, walk, sum; then the best of the places to wait."""
    chase = chase_roads(city.roads, city.features)
    landings = invented_landings(60, 0.0022)
    effort = Effort(tolerance=0.0, looks=100_000)
    (meeting,) = meeting_point([CAR], landings, chase, reach=REACH, effort=effort).meetings
    roads = chase.roads
    nodes = np.flatnonzero(roads.main_node)
    north, east = roads.node_latitude_deg[nodes], roads.node_longitude_deg[nodes]
    spots = roads.nearest(landings.latitude_deg, landings.longitude_deg, main_only=True)
    reach_m = roads.box.reach_m(landings.latitude_deg, landings.longitude_deg)
    wet = np.zeros(landings.landed, dtype=bool)
    for kind in ("water", "sea"):
        wet |= city.features.inside(kind, landings.latitude_deg, landings.longitude_deg)[0]
    count = np.zeros(len(nodes))
    for number in range(landings.landed):
        away = spots.distance_m[number]
        if wet[number] or away > reach_m[number] or away > REACH.walk_most_m:
            continue
        place = spots.latitude_deg[number], spots.longitude_deg[number]
        drive = REACH.slower * roads.drive_times(north, east, *place, main_only=True).time_s
        count += np.nan_to_num(drive, nan=np.inf) + away / REACH.walk_m_s <= REACH.within_s
    middle = np.median(landings.latitude_deg), np.median(landings.longitude_deg)
    half = np.median(distance_m(*middle, landings.latitude_deg, landings.longitude_deg))
    allowed = chase.stop[nodes] & (distance_m(*middle, north, east) > half + REACH.stand_off_m)
    best = count[allowed].max() / landings.flights
    ties = int((count[allowed] == count[allowed].max()).sum())
    assert meeting.chance is not None
    print(f"{allowed.sum()} of {len(nodes)} nodes may be waited at; best {best:.4f} ({ties} nodes), "
          f"found {meeting.chance.p:.4f}, none above {meeting.chance_at_most:.4f}")  # fmt: skip
    assert 0.05 < best < 0.95
    assert meeting.chance.p == pytest.approx(best)
    assert meeting.chance_at_most == pytest.approx(best)


def test_the_place_is_lawful_on_the_real_map(city: MapExtract) -> None:
    chase = chase_roads(city.roads, city.features)
    landings = invented_landings(500, 0.001)
    (meeting,) = meeting_point([CAR], landings, chase, reach=REACH).meetings
    assert meeting.latitude_deg is not None
    assert meeting.route is not None
    for kinds, clearance in ((("railway",), 30.0), (("water", "sea"), 20.0), (("power_line", "power_tower"), 50.0)):
        for kind in kinds:
            nearest = city.features.nearest(kind, meeting.latitude_deg, meeting.longitude_deg)
            assert np.isnan(nearest.distance_m[0]) or nearest.distance_m[0] >= clearance - 0.1
    ends = distance_m(
        meeting.latitude_deg, meeting.longitude_deg, chase.roads.node_latitude_deg, chase.roads.node_longitude_deg
    )
    node = int(ends.argmin())
    touching = (chase.roads.edge_from == node) | (chase.roads.edge_to == node)
    classes = {ROAD_CLASSES[number] for number in chase.roads.edge_class[touching]}
    assert not classes & {"motorway", "trunk"}
    assert classes - {"service", "track"}
    names = [leg.name for leg in meeting.route.legs if leg.name]
    print(f"{meeting.route.length_m:.0f} m in {meeting.route.drive_time_s:.0f} s by {', '.join(names)}")
    assert names


def test_a_city_takes_no_time(city: MapExtract) -> None:
    chase = chase_roads(city.roads, city.features)
    landings = invented_landings(2000, 0.002)
    spent = []
    for _ in range(3):
        start = time.perf_counter()
        meeting_point([CAR], landings, chase, reach=REACH)
        spent.append(time.perf_counter() - start)
    print(f"{len(chase.roads.node_latitude_deg)} nodes, 2000 landings: {1000 * min(spent):.0f} ms")
    assert min(spent) < 3.0
