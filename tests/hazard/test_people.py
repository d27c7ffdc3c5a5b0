"""Density of people from named places: nobody is lost, unknown stays unknown, assumptions are said."""

from __future__ import annotations

import numpy as np
import pytest

from landings import PLANE
from pappus.errors import OutOfRange
from pappus.ground import PlaceIndex
from pappus.hazard import RURAL_PER_KM2, URBAN_PER_KM2, people_density


def places(*rows: tuple[float, float, int]) -> PlaceIndex:
    """East and north in metres and population."""
    east, north, population = np.array(rows, dtype=float).T
    latitude, longitude = PLANE.to_latitude_longitude_deg(east, north)
    count = len(rows)
    return PlaceIndex(
        b"x" * count, np.arange(count + 1), np.array([b"XX"] * count), latitude, longitude, population.astype(np.int64)
    )


def grid(half_m: float, step_m: float) -> tuple[np.ndarray, np.ndarray]:
    axis = np.arange(-half_m, half_m, step_m) + 0.5 * step_m
    east, north = np.meshgrid(axis, axis)
    return PLANE.to_latitude_longitude_deg(east.ravel(), north.ravel())


def test_the_people_of_overlapping_places_add_up() -> None:
    towns = places((0.0, 0.0, 60_000), (2_500.0, 500.0, 20_000), (-4_000.0, -3_000.0, 800), (6_000.0, 0.0, 0))
    density = people_density(towns, *grid(9_000.0, 60.0), rural_per_km2=0.0).people_per_km2
    assert density.sum() * 0.06**2 == pytest.approx(80_800, rel=0.01)
    assert set(np.unique(density)) == {0.0, URBAN_PER_KM2, 2.0 * URBAN_PER_KM2}


def test_edge_of_a_disc_and_the_country_around_it() -> None:
    """60 000 people at 3000 per km2 fill a disc of 20 km2, 2523 m in radius."""
    east = np.array([0.0, 2_500.0, 2_550.0, 300e3])
    latitude, longitude = PLANE.to_latitude_longitude_deg(east, 0.0 * east)
    found = people_density(places((0.0, 0.0, 60_000)), latitude, longitude)
    assert found.people_per_km2.tolist() == [URBAN_PER_KM2, URBAN_PER_KM2, RURAL_PER_KM2, RURAL_PER_KM2]
    assert found.assumptions.startswith("assumed")
    assert "3000" in found.assumptions
    other = people_density(places((0.0, 0.0, 60_000)), latitude, longitude, urban_per_km2=1_000.0, rural_per_km2=7.0)
    assert other.people_per_km2.tolist() == [1_000.0, 1_000.0, 1_000.0, 7.0]


def test_many_places_and_points_against_every_pair() -> None:
    """By distances on the flat map, which is short by s^3 / 6 R^2: less than 1 m on these 85 km."""
    rng = np.random.default_rng(1)
    towns = np.column_stack((*rng.uniform(-30e3, 30e3, (2, 300)), rng.integers(0, 20_000, 300)))
    east, north = rng.uniform(-30e3, 30e3, (2, 500))
    radius = 1e3 * np.sqrt(towns[:, 2] / (np.pi * URBAN_PER_KM2))
    away = np.hypot(east[:, None] - towns[:, 0], north[:, None] - towns[:, 1])
    expected = np.maximum(RURAL_PER_KM2, URBAN_PER_KM2 * (away <= radius).sum(axis=1))
    clear = (np.abs(away - radius) > 5.0).all(axis=1)
    found = people_density(places(*towns), *PLANE.to_latitude_longitude_deg(east, north)).people_per_km2
    assert (found == expected)[clear].all()
    assert clear.sum() > 450
    assert len(np.unique(found)) > 2


def test_a_place_that_is_not_known_has_no_density() -> None:
    found = people_density(places((0.0, 0.0, 100)), [50.0, np.nan, 50.0], [10.0, 10.0, np.nan])
    assert np.isnan(found.people_per_km2).tolist() == [False, True, True]
    with pytest.raises(OutOfRange):
        people_density(places((0.0, 0.0, 100)), 50.0, 10.0, urban_per_km2=1.0)
    with pytest.raises(OutOfRange):
        people_density(places((0.0, 0.0, 100)), 50.0, 10.0, rural_per_km2=np.nan)


def test_over_the_date_line() -> None:
    latitude, longitude = np.array([0.0]), np.array([179.999])
    towns = PlaceIndex(b"x", np.array([0, 1]), np.array([b"XX"]), latitude, longitude, np.array([60_000]))
    found = people_density(towns, [0.0, 0.0], [-179.999, -179.9])
    assert found.people_per_km2.tolist() == [URBAN_PER_KM2, RURAL_PER_KM2]
