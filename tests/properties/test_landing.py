"""What must hold for the landing area of any cloud of flights."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from pappus.earth import LocalPlane
from pappus.landing import AreaLevel, LandingArea, landing_area

Points = NDArray[np.float64]
HOME = LocalPlane(46.9, -113.9)
quick = settings(max_examples=15, deadline=None)


@st.composite
def clouds(draw: st.DrawFn) -> Points:
    """One to three bent parts of any size and direction, within some 100 km."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    n = draw(st.integers(40, 150))
    part = rng.integers(draw(st.integers(1, 3)), size=n)
    centres = rng.uniform(-30_000.0, 30_000.0, (3, 2))
    along, across, bend = draw(st.floats(50.0, 12_000.0)), draw(st.floats(50.0, 2_000.0)), draw(st.floats(0.0, 3e-5))
    x, y = rng.normal(scale=along, size=n), rng.normal(scale=across, size=n)
    turn = draw(st.floats(0.0, 2.0 * np.pi))
    bent = np.column_stack((x, y + bend * x**2))
    return centres[part] + bent @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])


def area_of(points: Points, unknown: int = 0, plane: LocalPlane = HOME) -> LandingArea:
    return landing_area(*plane.to_latitude_longitude_deg(*points.T), unknown=unknown)


def shape(part: AreaLevel) -> MultiPolygon:
    return MultiPolygon([Polygon(rings[0][:, ::-1], [hole[:, ::-1] for hole in rings[1:]]) for rings in part.polygons])


@quick
@given(points=clouds(), seed=st.integers(0, 2**32 - 1))
def test_order_of_the_flights_is_irrelevant(points: Points, seed: int) -> None:
    shuffled = area_of(np.random.default_rng(seed).permutation(points))
    for part, other in zip(area_of(points).parts, shuffled.parts, strict=True):
        assert (part.area_km2, part.area_sd_km2, part.why_not) == (other.area_km2, other.area_sd_km2, other.why_not)
        ours, theirs = ([ring for rings in p.polygons for ring in rings] for p in (part, other))
        assert len(ours) == len(theirs)
        assert all(np.array_equal(a, b) for a, b in zip(ours, theirs, strict=True))


@quick
@given(points=clouds(), latitude=st.floats(-80.0, 80.0), longitude=st.floats(-180.0, 180.0))
def test_the_area_moves_with_the_landings(points: Points, latitude: float, longitude: float) -> None:
    """The planes of both places are the same map, but for the flattening of the ellipsoid."""
    there = LocalPlane(latitude, longitude)
    here, moved = area_of(points), area_of(points, plane=there)
    assert here.mean_deg is not None
    assert moved.mean_deg is not None
    at_home, at_there = HOME.to_east_north_m(*here.mean_deg), there.to_east_north_m(*moved.mean_deg)
    assert np.hypot(*np.subtract(at_home, at_there)) < 5.0
    for part, other in zip(here.parts, moved.parts, strict=True):
        assert other.area_km2 == pytest.approx(part.area_km2, rel=0.02)


@quick
@given(points=clouds(), unknown=st.integers(0, 20))
def test_levels_are_nested(points: Points, unknown: int) -> None:
    parts = [part for part in area_of(points, unknown).parts if part.exists]
    assert parts
    for inner, outer in pairwise(parts):
        # straight edges between grid points may overlap by a hair
        assert shape(inner).difference(shape(outer)).area < 1e-6 * shape(outer).area
        assert inner.area_km2 <= outer.area_km2  # type: ignore[operator]  # None would fail the test


@quick
@given(points=clouds(), unknown=st.integers(0, 60), more=st.integers(1, 60))
def test_unknown_flights_never_shrink_an_area(points: Points, unknown: int, more: int) -> None:
    for few, many in zip(area_of(points, unknown).parts, area_of(points, unknown + more).parts, strict=True):
        if many.exists:
            assert few.exists
            assert many.area_km2 >= few.area_km2  # type: ignore[operator]  # None would fail the test
        else:
            assert f"no area for {100 * many.probability:g} % of all flights" in many.why_not


@quick
@given(points=clouds(), unknown=st.integers(0, 5))
def test_rings_are_closed_and_turn_the_right_way(points: Points, unknown: int) -> None:
    for rings in (rings for part in area_of(points, unknown).parts for rings in part.polygons):
        for number, ring in enumerate(rings):
            assert len(ring) >= 4
            assert np.array_equal(ring[0], ring[-1])
            latitude, longitude = ring.T
            twice = np.sum(longitude[:-1] * latitude[1:] - longitude[1:] * latitude[:-1])
            assert (twice > 0.0) == (number == 0)


@quick
@given(points=clouds(), unknown=st.integers(0, 60))
def test_shares_of_all_flights_add_up(points: Points, unknown: int) -> None:
    """Everywhere on Earth, less the outline of the area, is the rest."""
    area = area_of(points, unknown)
    everywhere = np.array([(-90.0, -179.0), (90.0, -179.0), (90.0, 0.0), (-90.0, 0.0)])
    whole = area.probability_inside([everywhere])
    assert whole.p + area.share_unknown.p == pytest.approx(1.0, abs=1e-12)
    rings = [ring for rings in area.parts[0].polygons for ring in rings]
    inside, outside = area.probability_inside(rings), area.probability_inside([everywhere, *rings])
    assert inside.p + outside.p == pytest.approx(whole.p, abs=1e-12)
    assert inside.low <= inside.p <= inside.high
