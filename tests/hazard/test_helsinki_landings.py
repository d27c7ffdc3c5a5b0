"""A real extract of a city: chances by another way through the same shapes, retrieval, and the time that it takes."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pappus.ground import ROAD_CLASSES
from pappus.hazard import Descents, Surroundings, ground_hazard
from pappus.sources import MapExtract, read_map_extract

FLIGHTS = 1500


@pytest.fixture(scope="module")
def city(shared_data: Callable[[str], Path]) -> MapExtract:
    return read_map_extract(shared_data("geo/osm_helsinki_centre.osm.pbf"), country="FI")


def landings(seed: int = 3) -> Descents:
    """Invented landings over and around the extract, whose edges lie 0.8 km north and south of its middle."""
    rng = np.random.default_rng(seed)
    whole = np.ones(FLIGHTS)
    return Descents(
        landed=rng.random(FLIGHTS) > 0.02,
        latitude_deg=60.1716 + 0.004 * rng.standard_normal(FLIGHTS),
        longitude_deg=24.944 + 0.005 * rng.standard_normal(FLIGHTS),
        height_msl_m=10.0 * whole,
        touchdown_m_s=5.0 * whole,
        mass_kg=2.0 * whole,
        branch=np.zeros(FLIGHTS, np.int8),
        member=np.arange(FLIGHTS) % 20,
    )


def test_chances_agree_with_the_distances_of_the_map(city: MapExtract) -> None:
    """``GroundFeatures.nearest`` measures on the ellipsoid; the room counts on the flat map: 0.07 % at its edge."""
    descents = landings()
    hazard = ground_hazard(descents, Surroundings(city.features, city.roads))
    there = descents.latitude_deg[descents.landed], descents.longitude_deg[descents.landed]
    for kinds, clearance, chance in (
        (("building", "building_point"), 50.0, hazard.built_up),
        (("railway",), 15.0, hazard.rail),
        (("power_line", "power_tower", "substation"), 50.0, hazard.power_line),
        (("sea",), 0.0, hazard.sea),
    ):
        nearest = [city.features.nearest(kind, *there) for kind in kinds]
        away = np.min([np.where(np.isnan(one.distance_m), np.inf, one.distance_m) for one in nearest], axis=0)
        hits = (away <= clearance).sum()
        assert chance.share.p * FLIGHTS == pytest.approx(hits, abs=1)
        assert hits > 0
        covered = city.features.box.holds(*there)
        clear = np.all([one.surely_beyond(clearance) & covered for one in nearest], axis=0).sum()
        assert (1.0 - chance.at_most.p) * FLIGHTS == pytest.approx(clear, abs=1)
    within, known = city.features.inside("water", *there)
    assert hazard.water.at_most.p * FLIGHTS >= within.sum() + (~known).sum()
    assert hazard.acceptable.share.p < 0.2
    assert hazard.acceptable.share.p + hazard.acceptable.unknown.p < 1.0


def test_roads_with_traffic_against_the_lines_themselves(city: MapExtract) -> None:
    import shapely

    descents = landings(4)
    roads, plane = city.roads, city.roads.box.plane
    wide = roads.edge_class <= ROAD_CLASSES.index("living street")
    ends = np.stack((roads.edge_from[wide], roads.edge_to[wide]), axis=1)
    nodes = np.column_stack(plane.to_east_north_m(roads.node_latitude_deg, roads.node_longitude_deg))
    lines = shapely.union_all(shapely.linestrings(nodes[ends]))
    points = shapely.points(
        np.column_stack(
            plane.to_east_north_m(descents.latitude_deg[descents.landed], descents.longitude_deg[descents.landed])
        )
    )
    expected = (shapely.distance(points, lines) <= 15.0).sum()
    hazard = ground_hazard(descents, Surroundings(city.features, roads))
    assert hazard.road.share.p * FLIGHTS == pytest.approx(expected, abs=1)
    assert wide.any()
    assert not wide.all()


def test_retrieval(city: MapExtract) -> None:
    descents, surroundings = landings(5), Surroundings(city.features, city.roads)
    start = 60.1716, 24.944
    fetched = ground_hazard(descents, surroundings, with_retrieval=True, drive_from_deg=start).retrieval
    # one of them by the router
    some = np.flatnonzero(descents.landed)[:400]
    latitude, longitude = descents.latitude_deg[some], descents.longitude_deg[some]
    inside = city.roads.box.holds(latitude, longitude)
    route = city.roads.route(*start, latitude[inside][0], longitude[inside][0], main_only=True)
    times = city.roads.drive_times(*start, latitude[inside][:1], longitude[inside][:1], main_only=True)
    assert route.drive_time_s == pytest.approx(times.time_s[0])
    assert fetched.drive_time_s.values[0] < fetched.drive_time_s.values[1] < fetched.drive_time_s.values[2] < 1200.0
    assert fetched.road_m.values[1] < 60.0
    assert fetched.road_m.unknown == FLIGHTS - fetched.road_m.landed
    assert fetched.road_m.unknown > (~descents.landed).sum()
    assert "where the map of roads ends" in fetched.road_m.note
    assert fetched.reached.share.p + fetched.reached.unknown.p == pytest.approx(1.0)
    outside = ground_hazard(descents, surroundings, with_retrieval=True, drive_from_deg=(61.0, 24.9)).retrieval
    assert outside.drive_time_s is None
    assert "outside the map" in outside.why_no_drive
    nowhere = ground_hazard(descents, surroundings, with_retrieval=True).retrieval
    assert nowhere.road_m == fetched.road_m
    assert nowhere.reached is None


def test_a_launch_window_of_calls_is_quick(city: MapExtract) -> None:
    """Processor time without the first call, generous: a shared machine. Alone some 10 ms a call were measured."""
    surroundings = Surroundings(city.features)
    clouds = [landings(seed) for seed in range(12)]
    ground_hazard(clouds[0], surroundings)
    before = time.process_time()
    for cloud in clouds[1:]:
        ground_hazard(cloud, surroundings, people_per_km2=300.0, objects_m2=(0.05,))
    assert (time.process_time() - before) / 11.0 < 0.1
