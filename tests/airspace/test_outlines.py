"""Outlines: even-odd test against shapely and countries, area against geographiclib, date line, poles, bad rings."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from pappus.airspace import circle_points, geodesic_ring
from pappus.errors import BadInput, OutOfRange
from pappus.ground import Outline

SQUARE = np.array([[0.0, 0.0], [0.0, 10.0], [10.0, 10.0], [10.0, 0.0]])
HOLE = np.array([[4.0, 4.0], [4.0, 6.0], [6.0, 6.0], [6.0, 4.0]])


def moved(ring: np.ndarray, north_deg: float, east_deg: float) -> np.ndarray:
    return np.column_stack((ring[:, 0] + north_deg, ring[:, 1] + east_deg))


def star(random: np.random.Generator, points: int, north: float, east: float) -> np.ndarray:
    """A ring that does not cross itself, with points at growing angles round its middle."""
    angle = np.sort(random.uniform(0.0, 2.0 * np.pi, points))
    reach = random.uniform(1.0, 8.0, points)
    return np.column_stack((north + reach * np.sin(angle), east + reach * np.cos(angle)))


def geodesic_area_m2(ring: np.ndarray) -> float:
    """Area inside geodesic edges: Karney 2013, J. Geodesy 87, 43-55, section 6, through geographiclib."""
    polygon = Geodesic.WGS84.Polygon()
    for latitude, longitude in ring:
        polygon.AddPoint(latitude, longitude)
    return abs(polygon.Compute()[2])


def test_places_inside_agree_with_shapely() -> None:
    random = np.random.default_rng(11)
    checked = 0
    for _ in range(20):
        ring = star(random, 30, random.uniform(-60, 60), random.uniform(-150, 150))
        north = ring[:, 0].mean() + random.uniform(-9.0, 9.0, 500)
        east = ring[:, 1].mean() + random.uniform(-9.0, 9.0, 500)
        expected = shapely.contains_xy(shapely.Polygon(ring[:, ::-1]), east, north)
        assert (Outline(((ring,),)).contains(north, east) == expected).all()
        checked += int(expected.sum())
    assert checked > 1000


@pytest.mark.parametrize("turn", [-360.0, 0.0, 360.0, 720.0])
@pytest.mark.parametrize("middle", [0.0, 179.0, -179.5, 180.0])
def test_longitudes_of_every_convention(middle: float, turn: float) -> None:
    ring = moved(SQUARE, 0.0, middle - 5.0)
    ring[:, 1] = (ring[:, 1] + 180.0) % 360.0 - 180.0
    outline = Outline(((ring,),))
    east = middle + turn + np.array([-5.1, -4.9, 0.0, 4.9, 5.1, 180.0])
    assert outline.contains(5.0, east).tolist() == [False, True, True, True, False, False]
    assert outline.area_m2 == pytest.approx(Outline(((SQUARE,),)).area_m2, rel=1e-12)
    south, north, west, east_edge = outline.bounds_deg
    assert (south, north) == (0.0, 10.0)
    assert east_edge - west == pytest.approx(10.0)
    assert -180.0 <= west < 180.0


def test_holes_and_several_polygons() -> None:
    outline = Outline(((SQUARE, HOLE), (moved(SQUARE, 0.0, 20.0),)))
    north = [5.0, 5.0, 5.0, 5.0, 5.0, 3.0]
    east = [1.0, 5.0, 9.0, 15.0, 25.0, 5.0]
    assert outline.contains(north, east).tolist() == [True, False, True, False, True, True]
    assert outline.contains(np.reshape(north, (2, 3)), np.reshape(east, (2, 3))).shape == (2, 3)
    whole = Outline(((SQUARE,),)).area_m2
    assert outline.area_m2 == pytest.approx(2.0 * whole - Outline(((HOLE,),)).area_m2)


def test_a_hole_over_the_date_line_in_another_convention() -> None:
    hole = moved(HOLE, 0.0, 175.0)
    hole[:, 1] = np.where(hole[:, 1] > 180.0, hole[:, 1] - 360.0, hole[:, 1])
    outline = Outline(((moved(SQUARE, 0.0, -185.0), hole),))
    assert outline.contains(5.0, [180.0, -180.0, 177.0, -177.0]).tolist() == [False, False, True, True]


@pytest.mark.parametrize("north", [-75.0, 0.0, 38.0, 61.0])
def test_area_with_geodesic_edges(north: float) -> None:
    random = np.random.default_rng(5)
    ring = star(random, 12, north, 179.0)
    assert Outline(((geodesic_ring(ring),),)).area_m2 == pytest.approx(geodesic_area_m2(ring), rel=2e-4)


@pytest.mark.parametrize(("latitude", "hemisphere"), [(70.0, 1), (-60.0, -1)])
def test_a_ring_round_a_pole_holds_the_pole(latitude: float, hemisphere: int) -> None:
    ring = np.array([[latitude, east] for east in range(-180, 180, 20)], dtype=float)
    outline = Outline(((ring,),))
    places = np.array([90.0, 71.0, 69.0, 0.0, -59.0, -61.0, -90.0])
    expected = places * hemisphere > latitude * hemisphere
    for east in (-180.0, -10.0, 77.0, 180.0, 350.0):
        assert outline.contains(places, east).tolist() == expected.tolist()
    # triangles of a reference library up to the pole; their short edges hardly leave the parallel
    fine = 3600 * geodesic_area_m2(np.array([[latitude, 0.0], [latitude, 0.1], [90.0 * hemisphere, 0.0]]))
    assert outline.area_m2 == pytest.approx(fine, rel=1e-5)


def test_a_circle_round_the_pole() -> None:
    outline = Outline(((circle_points((89.5, 30.0), 300_000.0),),))
    assert outline.contains([89.9, 88.0, 86.0], [-150.0, 100.0, 30.0]).tolist() == [True, True, False]
    assert outline.area_m2 == pytest.approx(np.pi * 300_000.0**2, rel=2e-3)


@pytest.mark.parametrize(
    ("ring", "reason"),
    [
        (SQUARE[[0, 2, 1, 3]], "its parts cancel"),
        (np.array([[0.0, 0.0], [10.0, 10.0], [0.0, 10.0], [6.0, 0.0]]), "crosses itself"),
        (np.vstack((SQUARE, SQUARE + 3.0)), "crosses itself"),
        (SQUARE[:2], "three different"),
        (SQUARE[[0, 1, 0, 1, 0]], "encloses no area"),
        (SQUARE * 0.0, "three different"),
        (SQUARE * (1.0, 0.0), "three different"),
        (np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]), "encloses no area"),
        (moved(SQUARE, 85.0, 0.0), "no latitude"),
        (SQUARE * np.nan, "no latitude"),
        (np.full((4, 2), np.inf), "no latitude"),
        (SQUARE * (1.0, 20.0), "read in two ways"),
        (np.array([[-5.0, -170.0], [5.0, -60.0], [5.0, 60.0], [-5.0, 170.0]]), "stay in one hemisphere"),
        (SQUARE[:, :1], "pairs"),
        (
            np.array([[5.0 + i / 100.0, 100.0 * i % 360.0 - 180.0] for i in range(9)]),
            "more than once|hemisphere|two ways",
        ),
        (np.zeros((0, 2)), "three different"),
    ],
)
def test_rings_that_cannot_be_used(ring: np.ndarray, reason: str) -> None:
    with pytest.raises(BadInput, match=reason):
        Outline(((ring,),))


@pytest.mark.parametrize("polygons", [(), ((),)])
def test_no_ring(polygons: Any) -> None:
    with pytest.raises(BadInput, match="no ring"):
        Outline(polygons)


def test_a_hole_outside_is_refused_and_not_taken_for_land() -> None:
    with pytest.raises(BadInput, match="hole reaches beyond"):
        Outline(((SQUARE, HOLE + 20.0),))


def test_a_kink_of_metres_is_forgiven() -> None:
    kink = np.array([[10.0, 10.0], [10.001, 9.999], [10.001, 10.001], [9.9995, 9.9985]])
    ring = np.vstack((SQUARE[:2], kink, SQUARE[3:]))
    assert not shapely.Polygon(ring[:, ::-1]).is_valid
    assert Outline(((ring,),)).contains(5.0, 5.0)


@pytest.mark.parametrize(("north", "east"), [(91.0, 0.0), (np.nan, 0.0), (0.0, np.nan), (0.0, np.inf)])
def test_places_that_are_none(north: float, east: float) -> None:
    with pytest.raises(OutOfRange):
        Outline(((SQUARE,),)).contains([5.0, north], [5.0, east])


@given(
    st.lists(st.tuples(st.floats(-90, 90), st.floats(-360, 360)), max_size=12),
    st.floats(-90, 90),
    st.floats(-1000, 1000),
)
def test_any_ring_is_used_or_refused(ring: list[tuple[float, float]], north: float, east: float) -> None:
    """What is accepted holds no more than the earth, and answers the same from either direction of turn."""
    try:
        outline = Outline(((np.array(ring).reshape(-1, 2),),))
    except BadInput:
        return
    turned = Outline(((np.array(ring[::-1]),),))
    assert 0.0 < outline.area_m2 < 5.2e14
    assert turned.area_m2 == pytest.approx(outline.area_m2, rel=1e-6)
    assert outline.contains(north, east) == turned.contains(north, east)


def country(topology: dict[str, Any], name: str) -> Outline:
    """The polygons of a country: TopoJSON arcs are differences of whole numbers, a negative index runs backwards."""
    scale, origin = (np.array(topology["transform"][key]) for key in ("scale", "translate"))
    arcs = [np.cumsum(arc, axis=0) * scale + origin for arc in topology["arcs"]]
    shape = next(one for one in topology["objects"]["countries"]["geometries"] if one["properties"]["name"] == name)
    polygons = [shape["arcs"]] if shape["type"] == "Polygon" else shape["arcs"]
    return Outline(
        tuple(
            tuple(
                np.vstack([arcs[i] if i >= 0 else arcs[~i][::-1] for i in ring])[:, ::-1].clip([-90, -180], [90, 180])
                for ring in polygon
            )
            for polygon in polygons
        )
    )


@pytest.mark.parametrize(
    ("name", "code", "area_km2"),
    [
        ("Switzerland", "CH", 41_285),
        ("South Africa", "ZA", 1_221_037),  # has a hole, which is Lesotho
        ("Lesotho", "LS", 30_355),
        ("Fiji", "FJ", 18_272),  # on both sides of the date line
    ],
)
def test_towns_lie_in_their_country(name: str, code: str, area_km2: float, shared_data: Callable[[str], Path]) -> None:
    """GeoNames towns against Natural Earth 1:50m; areas from the United Nations Demographic Yearbook (from memory)."""
    topology = json.loads(shared_data("geo/naturalearth_countries-50m.json").read_text(encoding="utf-8"))
    with gzip.open(shared_data("geo/geonames_cities1000.csv.gz"), "rt", encoding="utf-8") as text:
        head, *rows = (line.rstrip("\n").split(",") for line in text)
    columns = [head.index(key) for key in ("country", "lat", "lon")]
    towns = [[row[i] for i in columns] for row in rows if len(row) == len(head)]
    north, east = (np.array([float(town[i]) for town in towns]) for i in (1, 2))
    own = np.array([town[0] == code for town in towns])
    outline = country(topology, name)
    inside = outline.contains(north, east)
    print(f"{name}: {inside[own].mean():.3f} of {own.sum()} towns, {outline.area_m2 / 1e6:.0f} km2")
    assert inside[own].mean() >= 0.8  # islands and coasts are coarse at 1:50m
    assert own[inside].mean() > 0.97
    assert outline.area_m2 / 1e6 == pytest.approx(area_km2, rel=0.06)
