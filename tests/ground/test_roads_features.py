"""Shapes on the ground: distances against geographiclib, inside against ray casting, and what a map cannot tell."""

from __future__ import annotations

import time
from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.errors import OutOfRange
from pappus.ground import GroundFeatures, MapBox, MapShapes

BOX = MapBox(50.0, 50.1, 10.0, 10.2)
Rings = list[list[tuple[float, float]]]

# longitude and latitude; the second outline is a lake with an island in it
HOUSE = [[(10.05, 50.05), (10.06, 50.05), (10.06, 50.06), (10.05, 50.06), (10.05, 50.05)]]
LAKE = [
    [(10.1, 50.02), (10.14, 50.02), (10.16, 50.05), (10.12, 50.07), (10.1, 50.02)],
    [(10.12, 50.03), (10.13, 50.03), (10.13, 50.04), (10.12, 50.04), (10.12, 50.03)],
]


def shapes(form: str, *parts: Rings) -> MapShapes:
    rings = [ring for part in parts for ring in part]
    points = np.array([point for ring in rings for point in ring], dtype=float).reshape(-1, 2)
    ring_start = np.cumsum([0, *(len(ring) for ring in rings)])
    return MapShapes(form, points, ring_start, np.cumsum([0, *(len(part) for part in parts)]))


FEATURES = GroundFeatures(
    BOX,
    {
        "water": shapes("areas", HOUSE, LAKE),
        "power_line": shapes("lines", [[(10.02, 50.09), (10.18, 50.09)]], [[(10.02, 50.01), (10.02, 50.08)]]),
        "power_tower": shapes("points", [[(10.02, 50.09)]], [[(10.18, 50.09)]]),
        "railway": shapes("lines"),
    },
)


def geodesic_m(latitude1: float, longitude1: float, latitude2: float, longitude2: float) -> float:
    """Karney's algorithm, to nanometres."""
    return float(Geodesic.WGS84.Inverse(latitude1, longitude1, latitude2, longitude2)["s12"])


def test_distance_to_points_lines_and_areas() -> None:
    latitude, longitude = np.array([50.03, 50.085, 50.055]), np.array([10.021, 10.15, 10.07])
    towers = FEATURES.nearest("power_tower", latitude, longitude)
    expected = [geodesic_m(50.03, 10.021, 50.09, 10.02), geodesic_m(50.085, 10.15, 50.09, 10.18)]
    assert towers.distance_m[:2] == pytest.approx(expected, rel=1e-5)
    assert towers.shape[:2].tolist() == [0, 1]
    lines = FEATURES.nearest("power_line", latitude, longitude)
    assert lines.distance_m[0] == pytest.approx(geodesic_m(50.03, 10.021, 50.03, 10.02), rel=1e-4)
    assert lines.shape.tolist() == [1, 0, 1]
    # straight on the flat map, the line bows to the north of its parallel by s^2 tan(50 deg) / 8 R: 3 m in 11.5 km
    assert lines.distance_m[1] == pytest.approx(geodesic_m(50.085, 10.15, 50.09, 10.15), abs=3.1)
    house = FEATURES.nearest("water", latitude, longitude)
    assert house.distance_m[2] == pytest.approx(geodesic_m(50.055, 10.07, 50.055, 10.06), rel=1e-4)


def test_distance_agrees_with_fine_sampling_over_the_whole_map() -> None:
    """Outlines sampled each 3 m against the answer; the bow of a long line on the flat map is within the 3 m."""
    outlines = HOUSE + LAKE
    pieces = [piece for ring in outlines for piece in pairwise(ring)]
    samples = np.concatenate([np.linspace(start, end, 1500) for start, end in pieces])
    random = np.random.default_rng(5)
    latitude, longitude = random.uniform(50.0, 50.1, 60), random.uniform(10.0, 10.2, 60)
    found = FEATURES.nearest("water", latitude, longitude).distance_m
    inside = FEATURES.inside("water", latitude, longitude)[0]
    for number in range(60):
        flat = (samples - (longitude[number], latitude[number])) * (np.cos(np.radians(50.05)), 1.0)
        east, north = samples[np.argmin((flat**2).sum(axis=1))]
        to_edge = geodesic_m(latitude[number], longitude[number], north, east)
        assert found[number] == pytest.approx(0.0 if inside[number] else to_edge, abs=3.0)


def crossings_are_odd(latitude: float, longitude: float, rings: Rings) -> bool:
    """Ray casting by hand: a ray to the east crosses the outlines and holes of an area an odd number of times."""
    odd = False
    for ring in rings:
        for (x1, y1), (x2, y2) in pairwise(ring):
            if (y1 > latitude) != (y2 > latitude) and longitude < x1 + (latitude - y1) / (y2 - y1) * (x2 - x1):
                odd = not odd
    return odd


def test_inside_agrees_with_ray_casting_and_knows_holes() -> None:
    random = np.random.default_rng(6)
    latitude, longitude = random.uniform(50.0, 50.1, 3000), random.uniform(10.0, 10.2, 3000)
    inside, known = FEATURES.inside("water", latitude, longitude)
    expected = [
        any(crossings_are_odd(north, east, rings) for rings in (HOUSE, LAKE))
        for north, east in zip(latitude, longitude, strict=True)
    ]
    # the flat map bends a side of 4 km by 0.4 m, so one point in thousands may fall on the other side of it
    assert (inside != expected).sum() <= 1
    assert inside.sum() > 200
    assert known.all()
    assert FEATURES.inside("water", [50.035, 50.025], [10.125, 10.125])[0].tolist() == [False, True]
    distance = FEATURES.nearest("water", latitude, longitude).distance_m
    assert ((distance == 0.0) == inside).all()


def test_ten_thousand_points_are_quick() -> None:
    """A limit ten times above what two shared cores took, so that only a loop over points would break it."""
    random = np.random.default_rng(7)
    corner = random.uniform((10.0, 50.0), (10.19, 50.09), (5000, 2))
    square = np.array([(0, 0), (1e-4, 0), (1e-4, 1e-4), (0, 1e-4), (0, 0)])
    houses = [[[(float(x), float(y)) for x, y in place + square]] for place in corner]
    features = GroundFeatures(BOX, {"building": shapes("areas", *houses)})
    latitude, longitude = random.uniform(50.0, 50.1, 10_000), random.uniform(10.0, 10.2, 10_000)
    start = time.perf_counter()
    nearest = features.nearest("building", latitude, longitude)
    inside, _ = features.inside("building", latitude, longitude)
    seconds = time.perf_counter() - start
    print(f"10000 points among 5000 buildings: {seconds:.2f} s")
    assert seconds < 5.0
    assert np.isfinite(nearest.distance_m).all()
    assert ((nearest.distance_m == 0.0) == inside).all()


def test_what_lies_beyond_the_map_stays_unknown() -> None:
    """A point 0.01 deg from the southern edge, one outside, one on another continent."""
    latitude, longitude = [50.01, 49.99, -30.0], [10.1, 10.1, 60.0]
    nearest = FEATURES.nearest("power_line", latitude, longitude)
    to_edge = geodesic_m(50.01, 10.1, 50.0, 10.1)
    assert nearest.reach_m == pytest.approx([to_edge, 0.0, 0.0], rel=1e-3)
    assert not nearest.certain.any()
    assert np.isnan(nearest.distance_m).tolist() == [False, False, True]
    assert nearest.surely_beyond(1000.0).tolist() == [True, False, False]
    assert nearest.surely_beyond(1200.0).tolist() == [False, False, False]  # the map ends at 1112 m
    assert FEATURES.inside("water", latitude, longitude)[1].tolist() == [True, False, False]
    close = FEATURES.nearest("power_line", 50.05, 10.021)
    assert close.certain.all()
    assert not close.surely_beyond(100.0).any()


def test_a_kind_without_shapes_is_not_a_clear_ground_beyond_the_map() -> None:
    none = FEATURES.nearest("railway", [50.05, 49.0], [10.1, 10.1])
    assert np.isnan(none.distance_m).all()
    assert none.shape.tolist() == [-1, -1]
    assert none.surely_beyond(3000.0).tolist() == [True, False]
    assert not none.certain.any()
    with pytest.raises(ValueError, match="not read for tram; it knows water"):
        FEATURES.nearest("tram", 50.05, 10.1)
    with pytest.raises(ValueError, match="made of lines"):
        FEATURES.inside("power_line", 50.05, 10.1)


def test_bounds_of_each_shape() -> None:
    water = FEATURES.shapes["water"]
    assert water.bounds_deg.tolist() == [[50.05, 50.06, 10.05, 10.06], [50.02, 50.07, 10.1, 10.16]]
    assert FEATURES.shapes["railway"].bounds_deg.shape == (0, 4)
    assert FEATURES.kinds == ("water", "power_line", "power_tower", "railway")


@pytest.mark.parametrize("turn", [-360.0, 0.0, 360.0])
def test_maps_over_the_date_line(turn: float) -> None:
    box = MapBox(-17.0, -16.0, 179.5, -179.5)
    line = shapes("lines", [[(179.9, -16.5), (-179.9, -16.5)]])
    features = GroundFeatures(box, {"power_line": line})
    nearest = features.nearest("power_line", [-16.4, -16.4], np.array([180.0, -179.95]) + turn)
    assert nearest.distance_m == pytest.approx(geodesic_m(-16.4, 180.0, -16.5, 180.0), abs=3.0)
    assert box.holds(-16.5, np.array([179.4, 179.6, -179.6, -179.4]) + turn).tolist() == [False, True, True, False]


def test_reach_is_the_distance_to_the_nearest_edge() -> None:
    reach = BOX.reach_m([50.05, 50.09], [10.01, 10.1])
    expected = [geodesic_m(50.05, 10.01, 50.05, 10.0), geodesic_m(50.09, 10.1, 50.1, 10.1)]
    assert reach == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    "box", [(50.0, 40.0, 0.0, 1.0), (-91.0, 0.0, 0.0, 1.0), (40.0, 50.0, 0.0, 1.0), (0.0, 1.0, 5.0, 4.0)]
)
def test_boxes_too_wide_or_nowhere_are_refused(box: tuple[float, float, float, float]) -> None:
    with pytest.raises(OutOfRange):
        MapBox(*box)


def test_arrays_that_do_not_fit_are_refused() -> None:
    points = np.zeros((3, 2))
    with pytest.raises(ValueError, match="do not fit"):
        MapShapes("lines", points, np.array([0, 2]), np.array([0, 1]))
    with pytest.raises(ValueError, match="one ring a shape"):
        MapShapes("lines", points, np.array([0, 1, 3]), np.array([0, 2]))
    with pytest.raises(ValueError, match="not blobs"):
        MapShapes("blobs", points, np.array([0, 3]), np.array([0, 1]))
    with pytest.raises(ValueError, match="one row"):
        FEATURES.nearest("water", np.zeros((2, 2)), 0.0)
