"""Heights between the points of a grid, and what answers where the grid ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from pappus.ground import FlatGround, TerrainGrid

RNG = np.random.default_rng(3)
FLAT = FlatGround(50.0, "flat")
LATITUDE = np.array([-38.0, -37.7, -37.65, -37.4, -37.1, -37.0])
LONGITUDE = np.array([178.9, 179.3, 179.35, 179.8, 180.0, 180.1, 180.6, 180.9, 181.1])
HILLS = TerrainGrid(LATITUDE, LONGITUDE, RNG.uniform(0.0, 900.0, (6, 9)), "hills", FLAT)
"""Uneven steps, over the date line."""
TURNS = (-720.0, -360.0, 0.0, 360.0)


def block(south: float, west: float, height_m: float, beneath: TerrainGrid | FlatGround) -> TerrainGrid:
    """One degree square of one height."""
    return TerrainGrid(
        np.array([south, south + 1.0]), np.array([west, west + 1.0]), np.full((2, 2), height_m), "block", beneath
    )


# --- between the points


@pytest.mark.parametrize("turn", TURNS)
def test_bilinear_as_scipy_does_it(turn: float) -> None:
    latitude, longitude = RNG.uniform(-38.0, -37.0, 2_000), RNG.uniform(178.9, 181.1, 2_000)
    expected = RegularGridInterpolator((LATITUDE, LONGITUDE), HILLS.grid_msl_m)((latitude, longitude))
    np.testing.assert_allclose(HILLS.height_msl_m(latitude, longitude + turn), expected, atol=1e-7)


@pytest.mark.parametrize("turn", TURNS)
def test_the_points_of_the_grid_and_its_corners_are_exact(turn: float) -> None:
    latitude, longitude = np.meshgrid(LATITUDE, LONGITUDE, indexing="ij")
    assert HILLS.holds(latitude, longitude + turn).all()
    np.testing.assert_allclose(HILLS.height_msl_m(latitude, longitude + turn), HILLS.grid_msl_m, atol=1e-7)


@settings(max_examples=100, deadline=None)
@given(
    west=st.floats(-360.0, 360.0), width=st.floats(1e-3, 359.0), south=st.floats(-90.0, 89.0), turn=st.integers(-2, 2)
)
def test_no_grid_loses_its_own_edge(west: float, width: float, south: float, turn: int) -> None:
    """Wherever the grid lies and in whatever convention its longitudes come: they lose digits on the way."""
    latitude, longitude = south + np.linspace(0.0, 1.0, 4), west + np.linspace(0.0, width, 5)
    grid = TerrainGrid(latitude, longitude, np.ones((4, 5)), "ones", FLAT)
    assert grid.holds(latitude[:, None], longitude[None, :] + 360.0 * turn).all()


@settings(max_examples=100, deadline=None)
@given(
    corners=st.tuples(*[st.floats(-400.0, 8_800.0)] * 4), north=st.floats(0.0, 1.0), east=st.floats(0.0, 1.0),
    turn=st.sampled_from(TURNS),
)  # fmt: skip
def test_no_height_beyond_the_four_corners(corners: tuple[float, ...], north: float, east: float, turn: float) -> None:
    grid = replace(block(-38.0, 179.5, 0.0, FlatGround(-1e6, "abyss")), grid_msl_m=np.reshape(corners, (2, 2)))
    height = float(grid.height_msl_m(-38.0 + north, 179.5 + east + turn))
    assert min(corners) - 1e-6 <= height <= max(corners) + 1e-6


def test_arguments_broadcast() -> None:
    assert HILLS.height_msl_m(-37.5, 180.0).shape == ()
    assert HILLS.height_msl_m(np.zeros((4, 1)) - 37.5, np.zeros(3) + 180.0).shape == (4, 3)
    assert FLAT.height_msl_m(np.zeros((4, 1)), np.zeros(3)).tolist() == [[50.0] * 3] * 4


# --- where the grid ends


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [(-38.001, 180.0), (-36.999, 180.0), (-37.5, 178.899), (-37.5, -178.899), (-37.5, 0.0), (90.0, 180.0)],
)
def test_outside_the_flat_ground_beneath_answers(latitude: float, longitude: float) -> None:
    assert not HILLS.holds(latitude, longitude)
    assert HILLS.height_msl_m(latitude, longitude) == 50.0


def test_a_place_that_is_not_a_number_is_held_by_no_grid() -> None:
    assert not HILLS.holds([np.nan, -37.5, np.inf], [180.0, np.nan, 180.0]).any()


def test_voids_are_answered_from_beneath() -> None:
    holed = TerrainGrid(LATITUDE, LONGITUDE, np.full((6, 9), 100.0), "holed", HILLS)
    holed.grid_msl_m[2, 4] = np.nan
    assert not holed.holds(LATITUDE[2], LONGITUDE[4])
    latitude, longitude = RNG.uniform(-38.0, -37.0, 2_000), RNG.uniform(178.9, 181.1, 2_000)
    void = (np.abs(np.searchsorted(LATITUDE, latitude) - 2.5) < 1.0) & (
        np.abs(np.searchsorted(LONGITUDE, longitude) - 4.5) < 1.0
    )
    assert 20 < void.sum() < 1_000
    expected = np.where(void, HILLS.height_msl_m(latitude, longitude), 100.0)
    np.testing.assert_allclose(holed.height_msl_m(latitude, longitude), expected, atol=1e-9)
    np.testing.assert_array_equal(holed.holds(latitude, longitude), ~void)


def test_three_grids_one_beneath_the_other() -> None:
    """Two tiles meet on the date line, a coarse one lies beneath both, sea beneath all."""
    coarse = TerrainGrid(
        np.array([-40.0, -30.0]), np.array([175.0, 185.0]), np.full((2, 2), 30.0), "coarse", FlatGround(0.0, "sea")
    )
    chain = block(-38.0, 179.0, 100.0, block(-38.0, -180.0, 200.0, coarse))
    places = {(-37.5, 179.5): 100, (-37.5, -179.5): 200, (-37.5, 180.5): 200, (-37.5, -180.5): 100,
              (-36.5, 179.5): 30, (-37.5, -178.5): 30, (-37.5, 178.5): 30, (-37.5, 170.0): 0,
              (0.0, 179.5): 0}  # fmt: skip
    latitude, longitude = np.array(list(places)).T
    assert chain.height_msl_m(latitude, longitude).tolist() == list(places.values())
    assert chain.holds(latitude, longitude).sum() == 2  # it speaks for itself alone
    # where two tiles meet there is no gap, on whichever side of the date line the place is written
    assert chain.height_msl_m(-37.5, 180.0) == 100.0
    assert chain.height_msl_m(-37.5, -180.0) == 100.0
    assert np.isin(chain.height_msl_m(-37.5, 180.0 + np.linspace(-1e-9, 1e-9, 101)), (100.0, 200.0)).all()


def test_lowest_and_highest_ground_are_those_of_the_whole_chain() -> None:
    chain = block(0.0, 0.0, 100.0, block(5.0, 0.0, -20.0, block(9.0, 0.0, 700.0, FLAT)))
    assert (chain.lowest_msl_m, chain.highest_msl_m) == (-20.0, 700.0)
    assert (FLAT.lowest_msl_m, FLAT.highest_msl_m) == (50.0, 50.0)
    unknown = block(0.0, 0.0, np.nan, FLAT)  # a forecast may come without any ground
    assert (unknown.lowest_msl_m, unknown.highest_msl_m) == (50.0, 50.0)
    assert unknown.height_msl_m(0.5, 0.5) == 50.0


def test_a_single_row_holds_nothing() -> None:
    """Forecasts may have one row of points; there is no cell to be in."""
    row = TerrainGrid(np.array([-37.0]), LONGITUDE, np.full((1, 9), 300.0), "row", FLAT)
    assert not row.holds(-37.0, 180.0)
    assert row.height_msl_m([-37.0, -36.0], 180.0).tolist() == [50.0, 50.0]


def test_grids_that_cannot_be_read_are_refused() -> None:
    with pytest.raises(ValueError, match="fit its axes"):
        replace(HILLS, grid_msl_m=HILLS.grid_msl_m.T)
    for axes in ({"latitude_deg": LATITUDE[::-1]}, {"longitude_deg": LONGITUDE[::-1]}):
        with pytest.raises(ValueError, match="ascend"):
            replace(HILLS, **axes)
