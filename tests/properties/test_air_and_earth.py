"""Properties of earth and air that hold for every input."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.atmosphere import Profile, standard_air, standard_height_msl_m
from pappus.earth import (
    Geoid,
    LocalPlane,
    geodesic_direct,
    geodesic_inverse,
    geometric_height_msl_m,
    geopotential_height_m,
)

latitudes = st.floats(-90, 90)
longitudes = st.floats(-180, 180)
heights = st.floats(-5_000, 86_000)


@given(latitudes, longitudes, st.floats(0, 499_900), st.floats(0, 360))
def test_local_map_round_trip(latitude: float, longitude: float, distance: float, azimuth: float) -> None:
    plane = LocalPlane(latitude, longitude)
    east, north = distance * np.sin(np.radians(azimuth)), distance * np.cos(np.radians(azimuth))
    back_east, back_north = plane.to_east_north_m(*plane.to_latitude_longitude_deg(east, north))
    assert abs(back_east - east) < 1e-6
    assert abs(back_north - north) < 1e-6


@given(st.floats(-89, 89), longitudes, st.floats(0.1, 1_000_000), st.floats(0, 360))
def test_geodesic_round_trip(latitude: float, longitude: float, distance: float, azimuth: float) -> None:
    far_latitude, far_longitude, _ = geodesic_direct(latitude, longitude, azimuth, distance)
    back, _, _ = geodesic_inverse(latitude, longitude, far_latitude, far_longitude)
    assert abs(back - distance) < 1e-6


@given(heights, st.none() | latitudes)
def test_geopotential_round_trip(height: float, latitude: float | None) -> None:
    assert abs(geometric_height_msl_m(geopotential_height_m(height, latitude), latitude) - height) < 1e-6


@given(heights)
def test_pressure_height_round_trip(height: float) -> None:
    assert abs(standard_height_msl_m(standard_air(height).pressure_pa) - height) < 1e-5


@given(st.lists(heights, min_size=2, max_size=20, unique=True))
def test_pressure_falls_with_height(several: list[float]) -> None:
    height = np.unique(np.round(several, 2))
    assert (np.diff(standard_air(height).pressure_pa) < 0).all()


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    steps = draw(st.lists(st.tuples(st.floats(1, 3_000), st.floats(1e-3, 0.5)), min_size=1, max_size=15))
    temperature = draw(st.lists(st.floats(180, 320), min_size=len(steps) + 1, max_size=len(steps) + 1))
    thickness, log_fall = np.array(steps).T
    height = np.concatenate(([100.0], 100 + np.cumsum(thickness)))
    pressure = 1e5 * np.exp(-np.concatenate(([0.0], np.cumsum(log_fall))))
    return Profile("drawn", height, pressure, np.array(temperature))


@given(profiles(), st.lists(st.floats(0, 1), min_size=2, max_size=10, unique=True))
def test_profiles_stay_between_their_nodes(profile: Profile, parts: list[float]) -> None:
    bottom, top = profile.height_msl_m[0], profile.height_msl_m[-1]
    height = np.minimum(bottom + np.sort(parts) * (top - bottom), top)
    pressure = profile.pressure_pa_at(height)
    assert (np.diff(pressure) <= 0).all()
    assert np.abs(profile.height_msl_m_at_pressure(pressure) - height).max() < 1e-3
    temperature = profile.temperature_k_at(height)
    assert temperature.min() >= profile.temperature_k.min() - 1e-9
    assert temperature.max() <= profile.temperature_k.max() + 1e-9


ROLLING = Geoid("made up", np.random.default_rng(7).uniform(-100, 85, (721, 1440)))


@settings(deadline=None)
@given(latitudes, longitudes)
def test_geoid_does_not_mind_full_turns(latitude: float, longitude: float) -> None:
    here = ROLLING.undulation_m(latitude, longitude)
    assert ROLLING.grid_m.min() <= here <= ROLLING.grid_m.max()
    assert abs(ROLLING.undulation_m(latitude, longitude + 360) - here) < 1e-6
