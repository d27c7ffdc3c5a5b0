"""Circles, arcs, corridors and geodesic edges against geographiclib, point by point."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.airspace import SHAPE_TOLERANCE_M, arc_between, arc_points, circle_points, corridor, geodesic_ring
from pappus.errors import BadInput, OutOfRange
from pappus.ground import Outline

CENTRES = [(45.5, 7.258333), (-37.0, 179.98), (71.0, -25.0), (0.0, 0.0)]


@pytest.mark.parametrize("place", [*CENTRES, (89.99, 10.0), (-90.0, 20.0), (90.0, -70.0)])
def test_points_ahead_agree_with_a_reference_library(place: tuple[float, float]) -> None:
    """Karney 2013, J. Geodesy 87, 43-55, through geographiclib; arcs are made of these points."""
    worst = 0.0
    for metres in (10.0, 9_260.0, 400_000.0, 2_000_000.0):
        found = arc_points(place, metres, 0.0, 355.0)
        for point, bearing in zip(found, np.linspace(0.0, 355.0, len(found)), strict=True):
            line = Geodesic.WGS84.Direct(*place, bearing, metres)
            worst = max(worst, Geodesic.WGS84.Inverse(line["lat2"], line["lon2"], *point)["s12"])
    print(f"worst {1000 * worst:.4f} mm")
    assert worst < 1e-4


def inverse(start: object, end: object) -> dict[str, float]:
    return Geodesic.WGS84.Inverse(*start, *end)  # type: ignore[misc]  # pairs


@pytest.mark.parametrize("centre", CENTRES)
@pytest.mark.parametrize("radius_m", [500.0, 9260.0, 200_000.0])
def test_circle(centre: tuple[float, float], radius_m: float) -> None:
    ring = circle_points(centre, radius_m)
    away = [inverse(centre, point)["s12"] for point in ring]
    assert np.abs(np.array(away) - radius_m).max() < 1e-3
    after = np.roll(ring, -1, axis=0)
    after[:, 1] = ring[:, 1] + (after[:, 1] - ring[:, 1] + 180.0) % 360.0 - 180.0
    gaps = [radius_m - inverse(centre, middle)["s12"] for middle in 0.5 * (ring + after)]
    # between two points the edge bends a little on its way over latitudes, to either side of the chord
    assert min(gaps) > 0.0
    assert max(gaps) < 1.2 * SHAPE_TOLERANCE_M
    # a small circle on a curved surface: pi r^2 (1 - K r^2 / 12) (Bertrand and Diguet 1848; K is 1 / M N)
    curvature = 1.0 / 6.37e6**2
    area = np.pi * radius_m**2 * (1.0 - curvature * radius_m**2 / 12.0)
    assert Outline(((ring,),)).area_m2 == pytest.approx(area, rel=0.013)
    assert Outline(((ring,),)).area_m2 < area


@pytest.mark.parametrize(("sweep", "through"), [(90.0, 45.0), (-270.0, 225.0)])
def test_arc_runs_the_way_it_should(sweep: float, through: float) -> None:
    arc = arc_points((45.0, 7.0), 18_520.0, 0.0, sweep)
    bearings = np.array([inverse((45.0, 7.0), point)["azi1"] % 360.0 for point in arc])
    assert bearings[[0, -1]] == pytest.approx([0.0, 90.0], abs=1e-6)
    assert np.abs(bearings - through).min() < 5.0
    assert len(arc) == pytest.approx(abs(sweep) / 3.77, abs=1.5)  # 2 acos(1 - 10 m / 18520 m)


def test_arc_between_keeps_its_ends_and_turns_the_right_way() -> None:
    centre = (45.0, 7.0)
    start, end = (45.1, 7.0), (45.0, 7.1412)
    for clockwise, points in ((True, 22), (False, 66)):
        arc = arc_between(centre, start, end, clockwise=clockwise)
        assert arc[[0, -1]].tolist() == [list(start), list(end)]
        away = np.array([inverse(centre, point)["s12"] for point in arc])
        ends = inverse(centre, start)["s12"], inverse(centre, end)["s12"]
        assert (away >= min(ends) - 1e-3).all()
        assert (away <= max(ends) + 1e-3).all()
        assert len(arc) == pytest.approx(points, rel=0.2)


@pytest.mark.parametrize(
    ("start", "end", "reason"),
    [
        ((45.1, 7.0), (45.0, 7.3), "different distances"),
        ((45.1, 7.0), (45.1, 7.0), "one point"),
    ],
)
def test_arcs_that_fit_no_circle(start: tuple[float, float], end: tuple[float, float], reason: str) -> None:
    with pytest.raises(BadInput, match=reason):
        arc_between((45.0, 7.0), start, end, clockwise=True)


@pytest.mark.parametrize("radius_m", [0.0, -5.0, 3e6, float("nan")])
def test_radii_that_are_none(radius_m: float) -> None:
    with pytest.raises(OutOfRange, match="radius"):
        circle_points((45.0, 7.0), radius_m)
    with pytest.raises(OutOfRange, match="sweep"):
        arc_points((45.0, 7.0), 1000.0, 0.0, 400.0)


@pytest.mark.parametrize("north", [0.0, 45.0, -67.0, 84.0])
def test_long_edges_follow_the_geodesic(north: float) -> None:
    corners = np.array([[north, 176.0], [north - 1.0, -175.0], [north - 4.0, 177.0]])
    ring = geodesic_ring(corners)
    east = np.unwrap(ring[:, 1], period=360.0)
    for start, end in ((0, 1), (1, 2)):
        line = Geodesic.WGS84.InverseLine(*corners[start], *corners[end])
        first = int(np.flatnonzero((ring == corners[start]).all(axis=1))[0])
        last = int(np.flatnonzero((ring == corners[end]).all(axis=1))[0])
        worst = 0.0
        for share in np.linspace(0.01, 0.99, 40):
            place = line.Position(share * line.s13)
            place_east = np.unwrap([east[first], place["lon2"]], period=360.0)[1]
            away = min(away_m(ring, east, i, place["lat2"], place_east) for i in range(first, last))
            worst = max(worst, away)
        assert worst < SHAPE_TOLERANCE_M, worst
    assert Outline(((ring,),)).area_m2 > 0.0


def away_m(ring: np.ndarray, east: np.ndarray, i: int, north: float, place_east: float) -> float:
    """Distance from a place to part ``i`` of a line that is straight in latitude and longitude, on a local plane."""
    scale = 111_320.0 * np.array([1.0, np.cos(np.radians(north))])
    start = (np.array([ring[i, 0], east[i]]) - [north, place_east]) * scale
    step = (np.array([ring[i + 1, 0], east[i + 1]]) - [north, place_east]) * scale - start
    share = np.clip(-(start @ step) / (step @ step), 0.0, 1.0)
    return float(np.hypot(*(start + share * step)))


def test_neighbours_on_other_continents_are_refused() -> None:
    with pytest.raises(BadInput, match="too far apart"):
        geodesic_ring(np.array([[45.0, 7.0], [45.0, 8.0], [-45.0, 7.0]]))


def test_a_straight_corridor() -> None:
    ((ring, *holes),) = corridor(np.array([[50.0, 179.5], [50.0, -179.5]]), 10_000.0)
    assert not holes
    length = inverse((50.0, 179.5), (50.0, -179.5))["s12"]
    assert Outline(((ring,),)).area_m2 == pytest.approx(10_000.0 * length, rel=1e-3)
    # the geodesic runs 105 m north of the parallel in its middle
    places = Outline(((ring,),)).contains(50.0 + np.array([4900.0, 5200.0, -4800.0, -5000.0]) / 111_250.0, 180.0)
    assert places.tolist() == [True, False, True, False]
    assert not Outline(((ring,),)).contains(50.0, 179.49)


def test_a_bent_corridor_has_no_gap_at_its_bend() -> None:
    line = np.array([[50.0, 8.0], [50.0, 9.0], [51.0, 9.0]])
    outline = Outline(corridor(line, 20_000.0))
    around = [Geodesic.WGS84.Direct(50.0, 9.0, azimuth, 9_900.0) for azimuth in range(0, 360, 10)]
    assert outline.contains([p["lat2"] for p in around], [p["lon2"] for p in around]).all()
    legs = sum(inverse(line[i], line[i + 1])["s12"] for i in (0, 1))
    # two legs, less the square they share, plus a quarter of a disc outside the bend
    expected = 20_000.0 * legs - 10_000.0**2 + np.pi * 10_000.0**2 / 4.0
    assert outline.area_m2 == pytest.approx(expected, rel=2e-3)


def test_a_closed_corridor_has_a_hole() -> None:
    line = np.array([[50.0, 8.0], [50.0, 9.0], [50.7, 9.0], [50.7, 8.0], [50.0, 8.0]])
    ((_, hole),) = corridor(line, 5_000.0)
    assert len(hole) >= 4
    assert Outline(corridor(line, 5_000.0)).contains([50.35, 50.35], [8.5, 8.0]).tolist() == [False, True]


def test_corridors_that_are_none() -> None:
    with pytest.raises(BadInput, match="two or more"):
        corridor(np.array([[50.0, 8.0]]), 1000.0)
    with pytest.raises(OutOfRange, match="corridor"):
        corridor(np.array([[50.0, 8.0], [89.0, 8.0]]), 1000.0)
    with pytest.raises(OutOfRange, match="part of a corridor"):
        corridor(np.array([[50.0, 8.0], [50.0, 8.0]]), 1000.0)
