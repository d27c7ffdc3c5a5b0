"""The displacement that the wind-error field gives, against drawing the field itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pappus.earth import distance_m
from pappus.postflight.held_winds._pairs import LAYER_M, find_pairs
from pappus.wind import FlightKnots, held_wind_sd_m_s, knot_covariance
from postflight.persistence_cases import PRIOR, ascent, later_by


def the_pair():
    return find_pairs([ascent(wind=(8.0, 3.0)), later_by(6.0, ascent(wind=(11.0, -1.0)))], PRIOR)[0][0]


def knots_by_hand(factor: float) -> tuple[FlightKnots, np.ndarray, np.ndarray]:
    """Layers of the made-up ascent on a flat earth: 8 m/s east, 3 m/s north, 6 m/s up from 400 m, winds 6 h old."""
    edges = np.concatenate([[400.0], np.arange(500.0, 30_000.1, LAYER_M)])
    middle, seconds = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges) / 6.0
    time = (middle - 400.0) / 6.0
    pressure = np.exp(np.interp(middle, ascent().height_msl_m, np.log(ascent().pressure_pa)))
    away = np.hypot(8.0, 3.0) * time
    held = held_wind_sd_m_s(pressure, away, 6.0 * 3600.0 + time, replace(PRIOR, age_factor=factor))
    sd = np.hypot(held, PRIOR.instrument_sd_m_s)[None]
    large, wave = np.sqrt(PRIOR.large_share) * sd, np.sqrt(1.0 - PRIOR.large_share) * sd
    knots = FlightKnots(
        middle[None], time[None], 8.0 * time[None], 3.0 * time[None], large, wave, np.zeros((1, *sd.shape, 2))
    )
    return knots, seconds, middle


@pytest.mark.parametrize("factor", [0.4, 1.0, 1.7])
def test_covariance_is_that_of_the_field_written_out_by_hand(factor: float) -> None:
    knots, seconds, middle = knots_by_hand(factor)
    pair = the_pair()
    weights = seconds * (middle < pair.height_msl_m[:, None])
    by_hand = weights @ knot_covariance(knots, PRIOR) @ weights.T
    # the path on the ellipsoid is shorter than on the flat earth by 0.25 % at most
    assert pair.field.covariance_m2(factor) == pytest.approx(by_hand, rel=2e-3)


def test_covariance_against_drawing_the_whole_field() -> None:
    """Brute force: 20 000 draws of the joint Gaussian by numpy, each summed up through the layers."""
    knots, seconds, middle = knots_by_hand(0.6)
    errors = np.random.default_rng(11).multivariate_normal(
        np.zeros(len(middle)), knot_covariance(knots, PRIOR), size=20_000
    )
    pair = the_pair()
    moved = np.stack([(errors * seconds)[:, middle < height].sum(axis=1) for height in pair.height_msl_m])
    # relative standard error of a variance: sqrt(2 / 20 000) = 1 %
    assert pair.field.covariance_m2(0.6) == pytest.approx(np.cov(moved), rel=0.05)


def test_a_factor_in_the_prior_is_not_applied_twice() -> None:
    two = [ascent(), later_by(6.0, ascent())]
    doubled = find_pairs(two, replace(PRIOR, age_factor=2.0))[0][0]
    assert doubled.field.covariance_m2(1.0) == pytest.approx(
        find_pairs(two, PRIOR)[0][0].field.covariance_m2(1.0), rel=1e-5
    )


def test_residence_adds_up_to_the_time_of_the_ascent() -> None:
    pair = the_pair()
    assert pair.field.residence_s.sum(axis=1) == pytest.approx((pair.height_msl_m - 400.0) / 6.0, rel=1e-9)


def test_below_the_lowest_earlier_wind_the_error_is_larger() -> None:
    earlier = ascent()
    keep = earlier.height_msl_m >= 1_400.0
    cut = replace(
        earlier,
        **{
            name: getattr(earlier, name)[keep]
            for name in ("time_s", "pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")
        },
    )
    pair = find_pairs([cut, later_by(6.0, ascent())], PRIOR)[0][0]
    other = pair.field.other_sd_m_s
    # 950 m below at 1 m/s a kilometre, with 0.5 m/s of the instrument: the lowest layer is 400 to 500 m; the balloon is
    # still over its station there
    assert other[0] == pytest.approx(np.hypot(0.5, 0.95), rel=0.05)
    assert 0.5 <= other[-1] < other[0] + 2.0


def test_away_is_measured_from_the_earlier_station() -> None:
    """A wind from 9 km away is worse than one from here by the structure function, at any age."""
    near = find_pairs([ascent(wind=(0.0, 0.0)), later_by(4.0, ascent(wind=(0.0, 0.0)))], PRIOR)[0][0]
    apart = ascent(wind=(0.0, 0.0), latitude_deg=47.38)
    far = find_pairs([apart, later_by(4.0, ascent(wind=(0.0, 0.0)))], PRIOR)[0][0]
    gap = float(distance_m(47.3, 8.5, 47.38, 8.5))
    pressure = float(np.interp(450.0, apart.height_msl_m, apart.pressure_pa))
    added = far.field.other_sd_m_s[0] ** 2 - near.field.other_sd_m_s[0] ** 2
    assert added == pytest.approx(float(held_wind_sd_m_s(pressure, gap, 0.0, PRIOR)) ** 2, rel=1e-2)
    assert far.field.age_sd_m_s[0] == pytest.approx(near.field.age_sd_m_s[0])
