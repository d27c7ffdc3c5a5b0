"""Pointing against a check value and against earth-centred vectors of the test; loss of signal on known descents."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.earth import Geoid
from pappus.ground import FlatGround, TerrainGrid
from pappus.recovery import DescentTracks, Station, last_heard_height_m, look_angles, signal_lost

SEA = FlatGround(0.0, "sea level")
A_M, B_M = 6_378_137.0, 6_356_752.314245
"""Semi-axes of WGS84 (NIMA TR 8350.2)."""


def vector_m(latitude_deg: float, longitude_deg: float, height_m: float) -> np.ndarray:
    """Earth-centred, from the two axes (textbook form with a^2 and b^2)."""
    north, east = np.radians(latitude_deg), np.radians(longitude_deg)
    n = A_M**2 / np.sqrt((A_M * np.cos(north)) ** 2 + (B_M * np.sin(north)) ** 2)
    return np.array(
        [
            (n + height_m) * np.cos(north) * np.cos(east),
            (n + height_m) * np.cos(north) * np.sin(east),
            (n * B_M**2 / A_M**2 + height_m) * np.sin(north),
        ]
    )


def test_the_check_value() -> None:
    """From (50, 10, 200 m) to (50.5, 11.2, 30 km): az 56.5227, el 15.7810, range 106560.9 m (by pyproj)."""
    (point,) = look_angles([Station("mast", 50.0, 10.0, 190.0, 10.0)], 50.5, 11.2, 30_000.0)
    assert point.azimuth_deg == pytest.approx(56.5227, abs=5e-5)
    assert point.elevation_deg == pytest.approx(15.7810, abs=5e-5)
    assert point.range_m == pytest.approx(106_560.9, abs=0.05)
    assert point.clear
    assert point.blocked_at_m is None
    assert any("heights above the ellipsoid" in note for note in point.notes)


@given(
    st.floats(-85, 85), st.floats(-180, 180), st.floats(-3, 3), st.floats(-3, 3), st.floats(0, 3000),
    st.floats(100, 40_000),
)  # fmt: skip
def test_angles_agree_with_vectors_of_the_test(
    latitude: float, longitude: float, north: float, east: float, ground: float, height: float
) -> None:
    (point,) = look_angles([Station("s", latitude, longitude, ground)], latitude + north, longitude + east, height)
    line = vector_m(latitude + north, longitude + east, height) - vector_m(latitude, longitude, ground + 2.0)
    assert point.range_m == pytest.approx(float(np.linalg.norm(line)), abs=1e-3)
    phi, lam = np.radians(latitude), np.radians(longitude)
    up = np.array([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)])
    if point.range_m > 1.0:
        # the angle to the vertical, by the cosine of two vectors; the azimuth by rebuilding the line from the angles
        assert np.sin(np.radians(point.elevation_deg)) == pytest.approx(float(line @ up) / point.range_m, abs=1e-9)
        eastward = np.array([-np.sin(lam), np.cos(lam), 0.0])
        northward = np.cross(up, eastward)
        azimuth, elevation = np.radians(point.azimuth_deg), np.radians(point.elevation_deg)
        again = point.range_m * (
            np.cos(elevation) * (np.sin(azimuth) * eastward + np.cos(azimuth) * northward) + np.sin(elevation) * up
        )
        assert np.linalg.norm(again - line) < 1e-3
    assert 0.0 <= point.azimuth_deg <= 360.0


def test_a_geoid_lifts_both_ends() -> None:
    """48.03 m of undulation everywhere: the range of two points 30 km apart in height stays, the station moves up."""
    geoid = Geoid("level", np.full((721, 1440), 48.03))
    plain, lifted = (
        look_angles([Station("s", 50.0, 10.0, 200.0)], 50.5, 11.2, 30_000.0, geoid=one)[0] for one in (None, geoid)
    )
    line = vector_m(50.5, 11.2, 30_048.03) - vector_m(50.0, 10.0, 250.03)
    assert lifted.range_m == pytest.approx(float(np.linalg.norm(line)), abs=1e-3)
    assert lifted.range_m > plain.range_m
    assert not any("ellipsoid" in note for note in lifted.notes)


def falling(latitude_deg: float, longitude_deg: float, top_m: float, tracks: int = 1) -> DescentTracks:
    """Straight down at 10 m/s from the top to the sea, after a climb that is to be ignored."""
    height = np.concatenate((np.linspace(0.0, top_m, 20)[:-1], np.linspace(top_m, 0.0, 60)))
    time = np.concatenate((np.linspace(-1000.0, 0.0, 20)[:-1], np.linspace(0.0, top_m / 10.0, 60)))
    whole = np.ones((tracks, 1))
    return DescentTracks(whole * time, whole * latitude_deg + 0 * height, whole * longitude_deg + 0 * height,
                         whole * height)  # fmt: skip


def test_lost_at_the_horizon_of_flat_ground() -> None:
    """115.0 m at 50 km from 2 m above flat ground, common practice (4.12 km rule); 0.4495 deg north of 45 is 50 km."""
    from geographiclib.geodesic import Geodesic

    place = Geodesic.WGS84.Direct(45.0, 7.0, 0.0, 50_000.0)
    tracks = falling(place["lat2"], place["lon2"], 6_000.0)
    (loss,) = signal_lost([Station("car", 45.0, 7.0, 0.0)], tracks, terrain=SEA)
    assert loss.lost.p == 1.0
    assert loss.height_msl_m is not None
    assert loss.time_s is not None
    assert loss.height_msl_m.values[1] == pytest.approx(115.0, abs=1.0)
    assert loss.height_msl_m.values[1] == pytest.approx(last_heard_height_m(50_000.0, 2.0), abs=0.5)
    assert loss.time_s.values[1] == pytest.approx((6_000.0 - loss.height_msl_m.values[1]) / 10.0, abs=1.0)
    assert loss.never_seen == 0


def test_heard_to_the_ground_nearby_and_never_seen_far_away() -> None:
    stations = [Station("near", 45.0, 7.0, 0.0, 10.0), Station("far", 60.0, 60.0, 0.0)]
    near, far = signal_lost(stations, falling(45.02, 7.0, 5_000.0), terrain=SEA)
    assert near.lost.p == 0.0
    assert near.height_msl_m is None
    assert far.never_seen == 1
    assert far.height_msl_m is not None
    assert far.height_msl_m.values[1] == 5_000.0


def test_a_hill_between_costs_height() -> None:
    latitude = np.array([40.0, 45.09, 45.1, 45.11, 50.0])
    heights = np.repeat(np.array([0.0, 0.0, 600.0, 0.0, 0.0])[:, None], 2, axis=1)
    hill = TerrainGrid(latitude, np.array([0.0, 10.0]), heights, "hill", SEA)
    tracks = falling(45.4, 7.0, 8_000.0, tracks=3)
    (open_,), (behind,) = (
        signal_lost([Station("car", 45.0, 7.0, 0.0)], tracks, terrain=ground) for ground in (SEA, hill)
    )
    assert open_.height_msl_m is not None
    assert behind.height_msl_m is not None
    # by hand: four times as far away as the hill, the ray stands four times as high
    assert behind.height_msl_m.values[1] == pytest.approx(4.0 * 600.0, rel=0.1)
    assert open_.height_msl_m.values[1] < 100.0


def test_behind_a_hill_for_a_while_is_not_lost() -> None:
    """A track that passes low behind a hill and comes down in front of it."""
    hill = TerrainGrid(
        np.array([40.0, 45.09, 45.1, 45.11, 50.0]),
        np.array([0.0, 10.0]),
        np.repeat(np.array([0.0, 0.0, 600.0, 0.0, 0.0])[:, None], 2, axis=1),
        "hill",
        SEA,
    )
    time, north = np.array([[0.0, 100.0, 200.0, 300.0]]), np.array([[45.3, 45.2, 45.05, 45.04]])
    height = np.array([[4000.0, 700.0, 400.0, 0.0]])
    tracks = DescentTracks(time, north, np.full((1, 4), 7.0), height)
    (loss,) = signal_lost([Station("car", 45.0, 7.0, 0.0, 10.0)], tracks, terrain=hill)
    assert loss.lost.p == 0.0


def test_without_terrain_it_says_so() -> None:
    station = Station("car", 45.0, 7.0, 300.0)
    (point,) = look_angles([station], 45.1, 7.0, 1000.0)
    assert any("no terrain" in note for note in point.notes)
    (loss,) = signal_lost([station], falling(45.4, 7.0, 5_000.0))
    assert any("no terrain" in note for note in loss.notes)
    assert any("geometry only" in note for note in loss.notes)
    with pytest.raises(ValueError, match="one shape"):
        DescentTracks(np.zeros((1, 3)), np.zeros((1, 2)), np.zeros((1, 3)), np.zeros((1, 3)))


def test_a_coarse_terrain_does_not_bury_the_station() -> None:
    """A valley that the terrain lacks: 150 m of difference are told, and the ray begins above the ground."""
    plain = TerrainGrid(np.array([40.0, 50.0]), np.array([0.0, 10.0]), np.full((2, 2), 450.0), "coarse", SEA)
    (point,) = look_angles([Station("valley", 45.0, 7.0, 300.0)], 45.1, 7.0, 3000.0, terrain=plain)
    assert point.clear
    assert any("150 m higher than stated" in note for note in point.notes)
    (fits,) = look_angles([Station("plain", 45.0, 7.0, 445.0)], 45.1, 7.0, 3000.0, terrain=plain)
    assert not any("stated" in note for note in fits.notes)
