"""The measured wind of a layer against what is exact: a balloon whose rate and wind go straight with height.

With a rate of r + q h its height, its way and the angles that it turns about the Earth have closed forms, worked out
here by hand; nothing is stepped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest

from pappus.earth import distance_m
from pappus.inflight import track_of
from pappus.tracking import Estimate, Estimator, Fix, WindLayer, received

SITE = 0.0, 11.0
RADII_M = 6_335_439.0, 6_378_137.0
"""Of the WGS84 ellipsoid at the equator, along the meridian and across."""
START = datetime(2026, 5, 1, 9, tzinfo=UTC)
EAST_M_S, NORTH_M_S = 4.0, 9.0
EAST_SHEAR, NORTH_SHEAR = 5e-3, -3e-3
"""Of the wind, per second: 5 and 3 m/s in each kilometre, as below a jet."""


@dataclass(frozen=True)
class Straight:
    """Height rate ``rate + change h`` from a height on, in wind ``wind + shear h``."""

    start_msl_m: float
    rate_m_s: float
    change_per_s: float
    until_s: float

    def height_msl_m(self, time_s: float) -> float:
        still = -self.rate_m_s / self.change_per_s
        return still + (self.start_msl_m - still) * math.exp(self.change_per_s * time_s)

    def time_s(self, height_msl_m: float) -> float:
        """When it passes a height."""
        still = -self.rate_m_s / self.change_per_s
        return math.log((height_msl_m - still) / (self.start_msl_m - still)) / self.change_per_s

    def way_m(self, time_s: float) -> tuple[float, float]:
        """The integral of the height is (rise - rate t) / change."""
        heights = (self.height_msl_m(time_s) - self.start_msl_m - self.rate_m_s * time_s) / self.change_per_s
        return EAST_M_S * time_s + EAST_SHEAR * heights, NORTH_M_S * time_s + NORTH_SHEAR * heights

    def place_deg(self, time_s: float) -> tuple[float, float]:
        """Latitude and longitude, which stay so near the equator that the radii do not change (2e-6)."""
        turns = (
            self._turn(time_s, NORTH_M_S, NORTH_SHEAR, RADII_M[0]),
            self._turn(time_s, EAST_M_S, EAST_SHEAR, RADII_M[1]),
        )
        return SITE[0] + math.degrees(turns[0]), SITE[1] + math.degrees(turns[1])

    def _turn(self, time_s: float, wind_m_s: float, shear: float, radius_m: float) -> float:
        """Integral of (wind + shear h) / ((radius + h) (rate + change h)) over the height, by partial fractions."""
        rate, change = self.rate_m_s, self.change_per_s
        begin, end = self.start_msl_m, self.height_msl_m(time_s)
        first = (wind_m_s - shear * radius_m) / (rate - change * radius_m)
        second = (wind_m_s - shear * rate / change) / (radius_m - rate / change) / change
        return first * math.log((radius_m + end) / (radius_m + begin)) + second * math.log(
            (rate + change * end) / (rate + change * begin)
        )

    def fixes(self, every_s: float) -> list[Fix]:
        return [self.fix(k * every_s) for k in range(int(self.until_s / every_s) + 1)]

    def fix(self, time_s: float) -> Fix:
        height = self.height_msl_m(time_s)
        latitude, longitude = self.place_deg(time_s)
        when = START + timedelta(seconds=time_s)
        return Fix(
            tracker="BALLOON-1", time_utc=when, time_quality="full", latitude_deg=latitude,
            longitude_deg=longitude, height_msl_m=height, height_ellipsoid_m=None, checked=True,
        )  # fmt: skip


UP = Straight(500.0, 3.8, 2.5e-4, 1500.0)
"""From 4 m/s at the ground to 6 m/s."""
DOWN = Straight(9_000.0, -4.0, -1.0e-3, 600.0)
"""From 13 m/s to 7 m/s; 60 s are three layers."""
EXAMPLES = [
    pytest.param(flight, every, id=f"{name} {every:g} s")
    for name, flight in (("up", UP), ("down", DOWN))
    for every in (1.0, 10.0, 30.0, 60.0)
]


def estimate_of(flight: Straight, every_s: float) -> Estimate:
    estimator = Estimator()
    for count, fix in enumerate(flight.fixes(every_s)):
        assert fix.time_utc is not None
        estimator.take(received("hill", count, fix.time_utc + timedelta(seconds=0.4), "json", b"%d" % count), (fix,))
    estimate = estimator.estimate()
    assert estimate is not None
    return estimate


def crossed(flight: Straight, estimate: Estimate, every_s: float) -> list[WindLayer]:
    """Layers that were crossed whole between the second and the last fix but one: the phase is known from there."""
    ends = sorted((flight.height_msl_m(3 * max(every_s, 5.0)), flight.height_msl_m(flight.until_s - every_s)))
    return [one for one in estimate.wind if one.low_msl_m > ends[0] and one.high_msl_m < ends[1]]


@pytest.mark.parametrize(("flight", "every_s"), EXAMPLES)
def test_time_and_wind_of_a_layer_are_its_own(flight: Straight, every_s: float) -> None:
    layers = crossed(flight, estimate_of(flight, every_s), every_s)
    assert len(layers) >= 12
    off_s, off_m_s = [], []
    for layer in layers:
        times = sorted((flight.time_s(layer.low_msl_m), flight.time_s(layer.high_msl_m)))
        ways = [flight.way_m(time) for time in times]
        seconds = times[1] - times[0]
        east, north = ((ways[1][k] - ways[0][k]) / seconds for k in range(2))
        off_s.append((layer.time_utc - START).total_seconds() - 0.5 * sum(times))
        off_m_s += [layer.wind_u_m_s - east, layer.wind_v_m_s - north]
    worst_s, worst_m_s = max(map(abs, off_s)), max(map(abs, off_m_s))
    print(f"{len(layers)} layers, time off by {worst_s:.2f} s, wind by {worst_m_s:.3f} m/s at most")
    # between two fixes the height is taken to go straight: the time is then off by q s^2 / 8 at most
    assert worst_s <= abs(flight.change_per_s) * max(every_s, 5.0) ** 2 / 8.0 + 1e-3
    assert worst_m_s < 0.03


@pytest.mark.parametrize(("flight", "every_s"), [(UP, 10.0), (UP, 30.0), (UP, 60.0)])
def test_the_middle_of_a_layer_is_where_the_balloon_was_then(flight: Straight, every_s: float) -> None:
    estimate = estimate_of(flight, every_s)
    track = track_of(estimate, START, SITE)
    assert track is not None
    inner = crossed(flight, estimate, every_s)
    for layer, time_s, latitude, longitude in zip(
        track.layers, track.layer_time_s, track.layer_latitude_deg, track.layer_longitude_deg, strict=True
    ):
        if layer not in inner:
            continue
        middle = 0.5 * (layer.low_msl_m + layer.high_msl_m)
        assert flight.height_msl_m(float(time_s)) == pytest.approx(middle, abs=2.0)
        assert float(distance_m(latitude, longitude, *flight.place_deg(flight.time_s(middle)))) < 60.0
