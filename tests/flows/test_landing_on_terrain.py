"""Flights that come down on ground that is not flat.

What is expected comes from the same flights over ground far below: the way down, as a spline of scipy through their
tracks, is searched every quarter of a metre of fall for the first point on or under a terrain given as a formula.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from columns import PRIOR, SITE, column_field, conditions, example_fill, example_train
from pappus.ground import FlatGround, TerrainGrid
from pappus.plan import NODE_STEP_M
from pappus.trajectory import Conditions, Draws, Flights, Outcome, fly, sample_draws

Array = NDArray[np.float64]
Height = Callable[[Array, Array], Array]
"""Of the ground [m], from metres north and east of the site."""

TRAIN = example_train()
FILL = example_fill(TRAIN)
FLIGHTS = 60
STEP_M = NODE_STEP_M
FAR_BELOW = FlatGround(-450.0, "far below")
M_PER_DEG = np.array([111_000.0, 88_500.0])
"""North and east at the site, near enough: the terrain is invented in them."""
SEARCH_M = 0.25


def draws() -> Draws:
    drawn = sample_draws(
        TRAIN, FILL, PRIOR.flight, flights=FLIGHTS, members=1, scale_sd_n=0.5, nominal_top_msl_m=32_000.0,
        level_height_msl_m=conditions(column_field(), TRAIN, step_m=STEP_M).field.height_msl_m.mean(axis=(0, 1, 3, 4)),
        rng=np.random.default_rng(11),
    )  # fmt: skip
    return replace(drawn, fall_ln=None)  # the spline below is to be as smooth as the fall


@cache
def over(wind_u_m_s: float, wind_v_m_s: float) -> Conditions:
    field = column_field(u=lambda z: wind_u_m_s + 0.0 * z, v=lambda z: wind_v_m_s + 0.0 * z)
    return replace(conditions(field, TRAIN, step_m=STEP_M), ground=FAR_BELOW)


@cache
def unhindered(wind_u_m_s: float, wind_v_m_s: float) -> Flights:
    """The flights over ground far below."""
    return fly(over(wind_u_m_s, wind_v_m_s), draws())


def grid_of(height: Height, north_m: Array, east_m: Array) -> TerrainGrid:
    values = np.broadcast_to(height(north_m[:, None], east_m[None, :]), (len(north_m), len(east_m)))
    latitude, longitude = SITE[0] + north_m / M_PER_DEG[0], SITE[1] + east_m / M_PER_DEG[1]
    return TerrainGrid(latitude, longitude, np.array(values), "invented", FAR_BELOW)


@dataclass(frozen=True)
class Touch:
    """Ends of flights against what the search finds."""

    above_ground_m: Array
    """Of the end, over the terrain as the grid has it."""
    too_high_m: Array
    """End height less the height of the first touch."""
    too_far_m: Array
    """Over ground."""
    end_msl_m: Array
    deepest_m: float
    """Greatest depth under the terrain on the way down."""

    def __str__(self) -> str:
        return (
            f"above ground {self.above_ground_m.min():.2f} to {self.above_ground_m.max():.2f} m; against the first "
            f"touch: height within {np.abs(self.too_high_m).max():.2f} m, place within {self.too_far_m.max():.2f} m; "
            f"deepest on the way {self.deepest_m:.2f} m"
        )


def touches(height: Height, grid: TerrainGrid, wind_u_m_s: float, wind_v_m_s: float = 0.0) -> Touch:
    """Fly onto the grid and compare with the search on the formula."""
    flown = fly(replace(over(wind_u_m_s, wind_v_m_s), ground=grid), draws())
    assert (flown.outcome == Outcome.LANDED).all()
    above = flown.end_height_msl_m - grid.height_msl_m(flown.end_latitude_deg, flown.end_longitude_deg)
    expected = [first_touch(height, *descent(unhindered(wind_u_m_s, wind_v_m_s), row)) for row in range(FLIGHTS)]
    north, east, touch_msl_m = np.array(expected).T
    end_north, end_east = metres(flown.end_latitude_deg, flown.end_longitude_deg)
    deepest = max(depth(height, *descent(flown, row)) for row in range(FLIGHTS))
    touch = Touch(
        above, flown.end_height_msl_m - touch_msl_m, np.hypot(end_north - north, end_east - east),
        flown.end_height_msl_m, deepest,
    )  # fmt: skip
    print(touch)
    return touch


def metres(latitude_deg: Array, longitude_deg: Array) -> tuple[Array, Array]:
    return (latitude_deg - SITE[0]) * M_PER_DEG[0], (longitude_deg - SITE[1]) * M_PER_DEG[1]


def descent(flights: Flights, row: int) -> tuple[Array, Array, Array]:
    """Metres north and east and height of the way down, with many points to a step.

    The even wind and the smooth fall rate make it a smooth curve over height, so a spline through the ends of the
    steps is truer than the straight lines between them (5 m off in the middle).
    """
    height = flights.track_height_msl_m[row]
    steps = slice(int(np.nanargmax(height)), np.count_nonzero(~np.isnan(height)))
    place = np.stack(metres(flights.track_latitude_deg[row, steps], flights.track_longitude_deg[row, steps]))
    down = np.arange(height[steps][0], height[steps][-1], -SEARCH_M)
    north, east = CubicSpline(height[steps][::-1], place[:, ::-1], axis=1)(down)
    return north, east, down


def first_touch(height: Height, north_m: Array, east_m: Array, height_msl_m: Array) -> tuple[float, float, float]:
    under = height_msl_m <= height(north_m, east_m)
    assert under.any()
    first = int(np.argmax(under))
    return float(north_m[first]), float(east_m[first]), float(height_msl_m[first])


def depth(height: Height, north_m: Array, east_m: Array, height_msl_m: Array) -> float:
    return float((height(north_m, east_m) - height_msl_m).max())


def plane(north_m: Array, east_m: Array) -> Array:
    return 150.0 + 0.012 * east_m - 0.02 * north_m


@pytest.mark.parametrize(("wind_u_m_s", "wind_v_m_s"), [(12.0, 0.0), (15.0, -8.0), (-6.0, -6.0), (0.0, 0.0)])
def test_an_inclined_plane_is_met_where_it_is(wind_u_m_s: float, wind_v_m_s: float) -> None:
    """Two by two points are enough: bilinear heights of a plane are the plane."""
    grid = grid_of(plane, np.array([-2e5, 2e5]), np.array([-3e5, 3e5]))
    touch = touches(plane, grid, wind_u_m_s, wind_v_m_s)
    assert np.abs(touch.above_ground_m).max() < 0.01
    assert np.abs(touch.too_high_m).max() < 1.0
    assert touch.too_far_m.max() < 3.0
    assert np.ptp(touch.end_msl_m) > (0.0 if wind_u_m_s == 0.0 else 10.0) - 1e-6  # the slope did matter


EAST_M = np.arange(-20e3, 330e3, 30.0)
"""The step of a tile of one second."""


@pytest.mark.parametrize(("wind_u_m_s", "height_error_m"), [(5.0, 1.0), (10.0, 2.0), (20.0, 5.0)])
def test_ridges_are_met_within_metres(wind_u_m_s: float, height_error_m: float) -> None:
    """300 m up and down every 5 km: in 20 m/s a step is as long as from valley to crest."""

    def ridges(north_m: Array, east_m: Array) -> Array:
        return 400.0 + 300.0 * np.sin(2.0 * np.pi * east_m / 5_000.0) + 0.0 * north_m

    touch = touches(ridges, grid_of(ridges, np.array([-1e5, 1e5]), EAST_M), wind_u_m_s)
    assert np.abs(touch.above_ground_m).max() < height_error_m
    assert np.abs(touch.too_high_m).max() < height_error_m
    assert touch.deepest_m < height_error_m
    assert touch.end_msl_m.max() > 500.0
    assert touch.end_msl_m.min() < 300.0


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_a_plateau_is_met_on_top_at_its_face_or_before(share: float) -> None:
    """The ground rises by 900 m within 90 m, where this share of the flights would have come down."""
    free = unhindered(12.0, 0.0)
    _, east_m = metres(free.end_latitude_deg, free.end_longitude_deg)
    edge_m = float(np.quantile(east_m, share))

    def plateau(north_m: Array, east_m: Array) -> Array:
        return np.clip((east_m - edge_m) * 10.0, 0.0, 900.0) + 0.0 * north_m

    corners = np.array([-1e6, edge_m, edge_m + 90.0, 1e6])
    touch = touches(plateau, grid_of(plateau, np.array([-1e5, 1e5]), corners), 12.0)
    low, high = np.isclose(touch.end_msl_m, 0.0, atol=1.0), np.isclose(touch.end_msl_m, 900.0, atol=1.0)
    print(f"{low.sum()} below, {high.sum()} on top, {(~low & ~high).sum()} at the face")
    assert low.any()
    assert high.any()
    assert np.abs(touch.above_ground_m[low | high]).max() < 1.0
    # at the face itself the touch is known to one look at the ground: a 24th of a step, 31 m high and 70 m long
    assert np.abs(touch.too_high_m).max() < 31.0
    assert touch.too_far_m.max() < 70.0


def test_a_flight_that_ends_its_ascent_under_the_ground_lands_there() -> None:
    """A map that knows better than the flight: nothing falls through it."""
    high = replace(over(12.0, 0.0), ground=FlatGround(60_000.0, "above all flights"))
    flown = fly(high, draws())
    assert (flown.outcome == Outcome.LANDED).all()
    np.testing.assert_allclose(flown.end_height_msl_m, flown.top_height_msl_m, atol=1e-6)
