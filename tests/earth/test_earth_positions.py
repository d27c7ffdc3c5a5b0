"""Ellipsoid, geodesics and the local map, against geographiclib's ellipsoid and known lengths."""

from __future__ import annotations

import numpy as np
import pytest

from pappus.earth import (
    LocalPlane,
    Position,
    distance_m,
    geocentric_m,
    geodesic_direct,
    geodesic_inverse,
    look_angle,
    radii_of_curvature_m,
)
from pappus.errors import OutOfRange


def test_radii_at_equator_and_pole() -> None:
    """NIMA TR 8350.2 (from memory): a = 6 378 137 m, b = 6 356 752.3142 m, polar radius 6 399 593.6258 m."""
    meridional, prime_vertical = radii_of_curvature_m([0.0, 90.0, -90.0])
    assert prime_vertical[0] == pytest.approx(6_378_137.0, abs=1e-6)
    assert meridional[0] == pytest.approx(6_356_752.3142**2 / 6_378_137.0, abs=1e-3)
    assert meridional[1:] == pytest.approx([6_399_593.6258] * 2, abs=1e-3)
    assert prime_vertical[1:] == pytest.approx([6_399_593.6258] * 2, abs=1e-3)


@pytest.mark.parametrize("latitude", [0.0, 23.5, 47.0, 69.9])
def test_radii_are_the_slopes_of_geodesics(latitude: float) -> None:
    """A short geodesic north and one east, by geographiclib, have the curvature that the radii state."""
    meridional, prime_vertical = radii_of_curvature_m(latitude)
    north_deg = geodesic_direct(latitude, 0, 0, 50)[0] - geodesic_direct(latitude, 0, 180, 50)[0]
    east_deg = geodesic_direct(latitude, 0, 90, 100)[1]
    assert 100 / np.radians(north_deg) == pytest.approx(meridional, rel=1e-6)
    assert 100 / np.radians(east_deg) == pytest.approx(prime_vertical * np.cos(np.radians(latitude)), rel=1e-6)


def test_geocentric_positions_broadcast() -> None:
    assert geocentric_m([0.0, 10.0], 20.0, [[0.0], [1.0], [2.0]]).shape == (3, 2, 3)


def test_look_straight_up_and_to_the_horizon() -> None:
    overhead = look_angle(Position(47, 8, 500), Position(47, 8, 30_500))
    assert (overhead.elevation_deg, overhead.range_m) == pytest.approx((90, 30_000), abs=1e-5)
    west = look_angle(Position(0, 0, 0), Position(0, -1, 0))
    assert west.azimuth_deg == pytest.approx(270, abs=1e-9)
    assert west.elevation_deg == pytest.approx(-0.5, abs=1e-9), "the chord of one degree dips by half of it"


@pytest.mark.parametrize(("distance", "short_by"), [(50_000, 0.513), (200_000, 32.8), (490_000, 483.1)])
def test_local_map_shortens_by_the_cube_of_the_distance(distance: float, short_by: float) -> None:
    """s^3 / 6 R^2 with R = 6371 km, computed by hand; geodesics by geographiclib. The ellipsoid changes it by < 1 %."""
    plane = LocalPlane(46.9, -114.1)
    for azimuth in range(0, 360, 30):
        east, north = plane.to_east_north_m(*geodesic_direct(46.9, -114.1, azimuth, distance)[:2])
        assert distance - np.hypot(east, north) == pytest.approx(short_by, rel=0.01)
        turned = (np.degrees(np.arctan2(east, north)) - azimuth + 180) % 360 - 180
        assert turned == pytest.approx(0, abs=0.02)


@pytest.mark.parametrize("origin", [(89.9, 10.0), (-90.0, 0.0), (0.0, 179.9)])
def test_local_map_works_at_poles_and_the_date_line(origin: tuple[float, float]) -> None:
    latitude, longitude = LocalPlane(*origin).to_latitude_longitude_deg(60_000.0, 80_000.0)
    distance = geodesic_inverse(*origin, float(latitude), float(longitude))[0]
    assert distance == pytest.approx(100_000, abs=5)
    assert -180 <= longitude <= 180


def test_local_map_refuses_what_is_too_far() -> None:
    plane = LocalPlane(46.9, -114.1)
    with pytest.raises(OutOfRange, match="distance from the origin"):
        plane.to_east_north_m(*geodesic_direct(46.9, -114.1, 77, 501_000)[:2])
    with pytest.raises(OutOfRange, match="distance from the origin"):
        plane.to_east_north_m(-46.9, 65.9)  # the antipode, which also falls on the middle of the map
    with pytest.raises(OutOfRange, match="distance from the origin"):
        plane.to_latitude_longitude_deg(400_000, 400_000)
    with pytest.raises(OutOfRange, match="distance from the origin"):
        plane.to_latitude_longitude_deg(np.nan, 0)


def test_latitudes_beyond_the_pole_are_refused() -> None:
    for call in (
        lambda: radii_of_curvature_m([0, 90.1]),
        lambda: geodesic_inverse(0, 0, -91, 0),
        lambda: geodesic_direct(91, 0, 0, 1),
        lambda: LocalPlane(91, 0),
    ):
        with pytest.raises(OutOfRange, match="latitude"):
            call()


def test_distance_of_many_points_against_the_geodesic() -> None:
    """Karney's geodesic (geographiclib) on points drawn around the earth, near and far."""
    rng = np.random.default_rng(7)
    start = np.stack([rng.uniform(-89.0, 89.0, 400), rng.uniform(-180.0, 180.0, 400)])
    end = np.stack(
        [np.clip(start[0] + rng.uniform(-8.0, 8.0, 400), -90.0, 90.0), start[1] + rng.uniform(-9.0, 9.0, 400)]
    )
    quick = distance_m(*start, *end)
    exact = np.array([geodesic_inverse(*map(float, ends))[0] for ends in zip(*start, *end, strict=True)])
    assert np.abs(quick / exact - 1.0)[exact < 1.0e6].max() < 1.0e-5
    assert np.abs(quick / exact - 1.0).max() < 2.0e-4
