"""Flights that come down on ground that is not flat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from columns import SITE, column_field, conditions, example_fill, example_train
from pappus.ground import FlatGround, TerrainGrid
from pappus.trajectory import Flights, Outcome, fly, nominal_draw

TRAIN = example_train()
FILL = example_fill(TRAIN)
LATITUDE, LONGITUDE = SITE[0] + np.linspace(-1.0, 1.0, 21), SITE[1] + np.linspace(-1.0, 3.0, 4001)


def landed_on(height: np.ndarray) -> tuple[Flights, TerrainGrid]:
    """East wind drift over ground that depends on longitude only."""
    grid = TerrainGrid(LATITUDE, LONGITUDE, np.broadcast_to(height, (21, 4001)), "invented", FlatGround(0.0, "flat"))
    shared = replace(conditions(column_field(u=lambda z: 12.0 + 0.0 * z), TRAIN, step_m=500.0), ground=grid)
    flight = fly(shared, nominal_draw(TRAIN, FILL))
    assert flight.outcome[0] == Outcome.LANDED
    return flight, grid


def above_ground(flight: Flights, grid: TerrainGrid) -> float:
    ground = grid.height_msl_m(flight.end_latitude_deg, flight.end_longitude_deg)
    return float((flight.end_height_msl_m - ground)[0])


def test_an_inclined_plane_is_met_exactly() -> None:
    flight, grid = landed_on(400.0 * (LONGITUDE - SITE[1]))
    assert flight.end_height_msl_m[0] > 200.0
    assert above_ground(flight, grid) == pytest.approx(0.0, abs=1.0)


def test_rolling_ridges_are_met_within_five_metres() -> None:
    """Ridges of 150 m amplitude every 5 km: a step is 500 m of height and up to 1.5 km of drift long."""
    metres = (LONGITUDE - SITE[1]) * 88_600.0
    for shift in np.linspace(0.0, 5_000.0, 9):
        flight, grid = landed_on(600.0 + 150.0 * np.sin(2.0 * np.pi * (metres + shift) / 5_000.0))
        assert abs(above_ground(flight, grid)) < 5.0


def test_a_cliff_is_not_flown_through() -> None:
    """High ground behind an edge: the flight ends on it or before it, never beneath."""
    flight, grid = landed_on(np.where(SITE[1] + 1.0 < LONGITUDE, 900.0, 0.0))
    assert above_ground(flight, grid) > -5.0
