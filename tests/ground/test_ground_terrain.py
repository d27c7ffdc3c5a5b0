"""Heights between the points of a grid, and what answers where the grid ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from pappus.ground import FlatGround, TerrainGrid

FLAT = FlatGround(50.0, "flat")
RNG = np.random.default_rng(3)
LATITUDE, LONGITUDE = np.linspace(-38.0, -37.0, 6), np.linspace(179.0, 181.0, 9)
GRID = TerrainGrid(LATITUDE, LONGITUDE, RNG.uniform(0.0, 900.0, (6, 9)), "hills", FLAT)


@settings(max_examples=80, deadline=None)
@given(south=st.floats(0.0, 1.0), east=st.floats(0.0, 2.0), turn=st.sampled_from([-360.0, 0.0, 360.0]))
def test_bilinear_as_a_library_does_it(south: float, east: float, turn: float) -> None:
    latitude, longitude = -38.0 + south, 179.0 + east
    expected = RegularGridInterpolator((LATITUDE, LONGITUDE), GRID.grid_msl_m)((latitude, longitude))
    assert float(GRID.height_msl_m(latitude, longitude + turn)) == pytest.approx(float(expected), abs=1e-6)


def test_outside_and_voids_are_answered_from_beneath() -> None:
    holed = TerrainGrid(LATITUDE, LONGITUDE, np.where(GRID.grid_msl_m > 450.0, np.nan, 100.0), "holed", GRID)
    void = np.argwhere(np.isnan(holed.grid_msl_m))[0]
    place = LATITUDE[void[0]], LONGITUDE[void[1]]
    assert not holed.holds(*place)
    assert holed.height_msl_m(*place) == GRID.height_msl_m(*place)
    assert holed.height_msl_m(0.0, 0.0) == 50.0
    assert GRID.lowest_msl_m == min(float(GRID.grid_msl_m.min()), 50.0)
    assert FLAT.height_msl_m(np.zeros(3), np.zeros(3)).tolist() == [50.0] * 3
