"""Rays over terrain: trade values, circles of an earth of 4/3 its radius, and a ridge of known height."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.errors import OutOfRange
from pappus.ground import FlatGround, TerrainGrid
from pappus.recovery import last_heard_height_m, line_of_sight, radio_horizon_m

SEA = FlatGround(0.0, "sea level")
FLATTER_M = 4.0 / 3.0 * 6_371_000.0


def north_of(latitude_deg: float, longitude_deg: float, away_m: float) -> tuple[float, float]:
    """Karney's algorithm, through geographiclib."""
    end = Geodesic.WGS84.Direct(latitude_deg, longitude_deg, 0.0, away_m)
    return end["lat2"], end["lon2"]


def test_the_horizon_of_the_trade() -> None:
    """4.12 (sqrt h1 + sqrt h2) km gives 776.6 km from 35 km to a mast of 2 m. Common practice, no source."""
    assert radio_horizon_m(35_000.0, 2.0) / 1000.0 == pytest.approx(776.6, abs=0.5)


def test_the_height_last_heard_of_the_trade() -> None:
    """(d / 4.12 - sqrt h)^2 gives 115.0 m at 50 km from an antenna of 2 m over flat ground. Common practice."""
    assert last_heard_height_m(50_000.0, 2.0) == pytest.approx(115.0, abs=0.5)
    assert last_heard_height_m(5_000.0, 2.0) == 0.0


@pytest.mark.parametrize("height_m", [100.0, 3_000.0, 30_000.0])
def test_the_ray_ends_at_the_horizon(height_m: float) -> None:
    """Against the tangent from a circle of 4/3 earth radii: acos(R / (R + h)), exact; the parabola misses by 0.2 %."""
    exact = sum(FLATTER_M * math.acos(FLATTER_M / (FLATTER_M + height)) for height in (height_m, 10.0))
    found = []
    for away in np.linspace(0.9 * exact, 1.1 * exact, 201):
        target = north_of(45.0, 7.0, float(away))
        if line_of_sight(45.0, 7.0, 10.0, *target, height_m, SEA).clear[0]:
            found.append(away)
    print(f"from {height_m:.0f} m seen to {max(found):.0f} m, tangent {exact:.0f} m")
    assert max(found) == pytest.approx(exact, rel=0.004)
    assert radio_horizon_m(height_m, 10.0) == pytest.approx(exact, rel=0.002)


def ridge(top_m: float, at_deg: float) -> TerrainGrid:
    """A wall from west to east, one thousandth of a degree to either side of its top."""
    latitude = np.array([40.0, at_deg - 0.001, at_deg, at_deg + 0.001, 50.0])
    heights = np.array([0.0, 0.0, top_m, 0.0, 0.0])
    return TerrainGrid(latitude, np.array([0.0, 10.0]), np.repeat(heights[:, None], 2, axis=1), "wall", SEA)


@pytest.mark.parametrize(
    ("away_m", "wall_m", "top_m"),
    [(40_000.0, 10_000.0, 800.0), (120_000.0, 30_000.0, 800.0), (200_000.0, 150_000.0, 3_000.0)],
)
def test_a_ridge_hides_what_is_below_the_ray_over_its_top(away_m: float, wall_m: float, top_m: float) -> None:
    """Height at which a target comes out behind a wall, by hand: the straight line over the top, bent by s(D-s)/2kR.

    The grid is sampled every 200 m and the wall is a roof 222 m wide, so its top is found to within 0.1 of its height.
    """
    antenna_m = 12.0
    wall = north_of(44.0, 5.0, wall_m)
    target = north_of(44.0, 5.0, away_m)
    drop = wall_m * (away_m - wall_m) / (2.0 * FLATTER_M)
    limit = antenna_m + (top_m + drop - antenna_m) * away_m / wall_m
    heights = np.arange(10.0, 4.0 * limit, 10.0)
    seen = line_of_sight(44.0, 5.0, antenna_m, *target, heights, ridge(top_m, wall[0]))
    lowest = float(heights[seen.clear].min())
    short = 0.9 * top_m
    least = antenna_m + (short + drop - antenna_m) * away_m / wall_m
    print(f"wall at {wall_m:.0f} m, target at {away_m:.0f} m: seen from {lowest:.0f} m, by hand {limit:.0f} m")
    assert least - 10.0 <= lowest <= limit + 10.0
    assert (np.diff(seen.clear.astype(int)) >= 0).all()  # a higher target is not hidden again
    hidden = ~seen.clear
    assert np.abs(seen.at_m[hidden & (heights > 0.8 * limit)] - wall_m).max() < 250.0
    assert (seen.surveyed == 1.0).all()


def test_a_target_behind_the_earth_is_not_seen() -> None:
    assert not line_of_sight(0.0, 0.0, 2.0, 60.0, 100.0, 40_000.0, SEA).clear[0]


def test_over_the_date_line_and_the_pole() -> None:
    for place, target in (((10.0, 179.9), (10.0, -179.9)), ((89.9, 0.0), (89.9, 180.0)), ((20.0, 5.0), (20.0, 365.1))):
        sight = line_of_sight(*place, 100.0, *target, 500.0, SEA)
        assert sight.clear[0]
        assert sight.clearance_m[0] < 110.0
    here = line_of_sight(10.0, 20.0, 30.0, 10.0, 20.0, 5_000.0, SEA)
    assert here.clear[0]


def test_refused() -> None:
    with pytest.raises(OutOfRange, match="height above the ground"):
        radio_horizon_m(-1.0, 2.0)
    with pytest.raises(OutOfRange, match="distance"):
        last_heard_height_m(2e6, 2.0)
    with pytest.raises(OutOfRange, match="antenna"):
        last_heard_height_m(2e4, -2.0)
