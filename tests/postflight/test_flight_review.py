"""One flight looked at again: moments, landing errors and wind errors, on values worked out by hand."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pappus.postflight import FlownTrack, WindMeasured, landing_score, moments_of, wind_scores, winds_told
from pappus.postflight._flight_review import lies_in
from pappus.wind import Coverage, Sampler, WindField

EPOCH = datetime(2027, 2, 13, tzinfo=UTC)


def triangle(top_msl_m: float = 30_000.0) -> FlownTrack:
    """Up for 100 minutes, down for 50, straight; a fix a minute, one degree to the east in all."""
    time = 1000.0 + 60.0 * np.arange(151)
    height = np.interp(np.arange(151), [0, 100, 150], [0.0, top_msl_m, 0.0])
    return FlownTrack(time, np.full(151, -37.0), np.linspace(179.5, 180.5, 151), height, 1000.0, 7000.0, top_msl_m)


def test_moments_of_a_triangle() -> None:
    found = dict(moments_of(triangle()))
    assert found["release"] == 1000.0
    assert found["half ascent"] == 4000.0
    assert found["burst - 5 min"] == 6700.0
    assert found["burst + 2 min"] == 7120.0
    # 30 km down in 3000 s: 10 km after 2000 s, 5 km after 2500 s, at the first fix that is not above
    assert found["10 km down"] == pytest.approx(9000.0, abs=60.0)
    assert found["5 km down"] == pytest.approx(9500.0, abs=60.0)


def test_moments_that_a_flight_does_not_have_are_left_out() -> None:
    low = triangle(6_500.0)
    assert {name for name, _ in moments_of(low)} == {"release", "half ascent", "burst - 5 min", "burst + 2 min"}
    lost = FlownTrack(low.time_s[:50], low.latitude_deg[:50], low.longitude_deg[:50], low.height_msl_m[:50],
                      1000.0, None, None)  # fmt: skip
    assert moments_of(lost) == (("release", 1000.0),)


def test_place_between_fixes_across_the_date_line() -> None:
    latitude, longitude = triangle().place_at(np.array([1000.0, 5500.0, 10_000.0]))
    assert latitude.tolist() == [-37.0] * 3
    assert longitude == pytest.approx([179.5, 180.0, 180.5])


def test_landing_error_along_a_meridian() -> None:
    """Radius of curvature of the meridian on WGS84, a (1 - e2) / (1 - e2 sin2)^1.5 (NIMA TR8350.2 for a and f)."""
    e2 = (2.0 - 1.0 / 298.257223563) / 298.257223563
    radius = 6_378_137.0 * (1.0 - e2) / (1.0 - e2 * math.sin(math.radians(37.05)) ** 2) ** 1.5
    square = [[[[-63.2, -37.2], [-62.8, -37.2], [-62.8, -36.8], [-63.2, -36.8], [-63.2, -37.2]]]]
    score = landing_score((-37.1, -63.0), {"90": square, "50": []}, 5000.0, (-37.0, -63.0), 5600.0)
    assert score.error_m == pytest.approx(radius * math.radians(0.1), abs=0.1)
    assert dict(score.inside) == {"90": True, "50": False}
    assert score.arrival_error_s == 600.0
    nothing = landing_score(None, {}, None, (-37.0, -63.0), 5600.0)
    assert (nothing.error_m, nothing.arrival_error_s) == (None, None)


def test_holes_are_outside() -> None:
    ring = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
    hole = [[1, 1], [3, 1], [3, 3], [1, 3], [1, 1]]
    assert [lies_in([[ring, hole]], x, 2.0) for x in (0.5, 2.0, 3.5, 4.5)] == [True, False, True, False]


def layer(low_msl_m: float, u: float, v: float, sd: float = 0.3, seconds: float = 3600.0) -> WindMeasured:
    at = (EPOCH + timedelta(seconds=seconds)).timestamp()
    return WindMeasured("up", low_msl_m, low_msl_m + 250.0, u, v, sd, at)


def test_wind_scores_worked_out_by_hand() -> None:
    measured = [layer(1000.0, 3.0, 4.0), layer(1250.0, 1.0, 0.0), layer(4000.0, 2.0, 2.0), layer(9000.0, 50.0, 50.0)]
    told_u, told_v = np.array([0.0, 0.0, 1.0, np.nan]), np.array([0.0, 2.0, 2.0, np.nan])
    low, high, total = wind_scores(measured, told_u, told_v, np.full(4, 0.4))
    assert (low.low_msl_m, low.high_msl_m, low.layers) == (0.0, 3000.0, 2)
    assert (low.bias_u_m_s, low.bias_v_m_s) == (2.0, 1.0)  # (3 + 1) / 2, (4 - 2) / 2
    assert low.rms_m_s == pytest.approx(math.sqrt((9 + 16 + 1 + 4) / 4))
    assert (high.layers, high.bias_u_m_s, high.bias_v_m_s) == (1, 1.0, 0.0)
    assert total.layers == 3, "a layer above the forecast is not judged"
    assert total.rms_m_s == pytest.approx(math.sqrt((30 + 1) / 6))
    assert total.expected_m_s == pytest.approx(0.5)  # 3-4-5: noise 0.3 and error model 0.4
    assert wind_scores(measured[3:], told_u[3:], told_v[3:], np.full(1, 0.4)) == ()


def test_forecast_is_read_where_and_when_the_flight_was() -> None:
    """Winds that are straight in height, longitude and time are met exactly by reading straight between nodes."""
    heights = np.array([0.0, 10_000.0, 20_000.0])
    longitude, hours = np.array([179.0, 180.0, 181.0]), np.array([0.0, 7200.0])
    shape = (1, 2, 3, 2, 3)  # member, time, level, latitude, longitude

    def cube(values: np.ndarray) -> np.ndarray:
        return np.broadcast_to(values, shape).astype(np.float64).copy()

    u = (
        hours[None, :, None, None, None] / 3600.0
        + heights[None, None, :, None, None] / 1000.0
        + (longitude - 180.0)[None, None, None, None, :]
    )
    height = cube(heights[None, None, :, None, None])
    coverage = Coverage(EPOCH, EPOCH + timedelta(hours=2), -40.0, -30.0, 179.0, 181.0, 0.0, 20_000.0)
    field = WindField(
        "straight", "forecast", EPOCH, EPOCH, hours, np.array([-40.0, -30.0]), longitude,
        cube(101_325.0 * np.exp(-heights / 7000.0)[None, None, :, None, None]), height, cube(np.array(250.0)),
        cube(u), cube(np.array(-2.0)), coverage, (), (),
    )  # fmt: skip
    track = triangle()
    shifted = FlownTrack(
        track.time_s + EPOCH.timestamp(), track.latitude_deg, track.longitude_deg, track.height_msl_m, None, None, None
    )
    rows = [
        layer(4875.0, 0.0, 0.0, seconds=1000.0),
        layer(14_875.0, 0.0, 0.0, seconds=5500.0),
        layer(20_875.0, 0.0, 0.0),
    ]
    told_u, told_v = winds_told(Sampler(field), rows, shifted, EPOCH.timestamp())
    assert told_u[0] == pytest.approx(1000.0 / 3600.0 + 5.0 - 0.5, abs=1e-6)
    assert told_u[1] == pytest.approx(5500.0 / 3600.0 + 15.0 + 0.0, abs=1e-6)
    assert told_v[:2] == pytest.approx([-2.0, -2.0])
    assert np.isnan([told_u[2], told_v[2]]).all(), "above its levels there is no forecast"
