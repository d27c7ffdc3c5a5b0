"""The error field: its sizes, its correlations, and draws that have them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from columns import PRIOR, column_field, conditions, example_fill, example_train
from pappus.errors import OutOfRange
from pappus.trajectory import flight_knots, fly, nominal_draw
from pappus.wind import (
    FlightKnots,
    WindPrior,
    beyond_wind_sd_m_s,
    draw_wind_error,
    forecast_wind_sd_m_s,
    held_wind_sd_m_s,
    knot_covariance,
    structure_function_m2_s2,
)

# An invented table of the error of a forecast wind, m/s per component: rows hPa, columns hours.
TABLE = {
    850.0: (1.8, 2.3, 2.9, 3.5),
    500.0: (2.0, 2.6, 3.6, 4.8),
    250.0: (2.8, 3.4, 4.8, 6.4),
    100.0: (2.2, 2.5, 3.0, 3.6),
    50.0: (2.2, 2.5, 2.8, 3.2),
    10.0: (3.2, 3.5, 4.0, 4.6),
    5.0: (4.5, 5.0, 5.5, 6.0),
}
WIND = WindPrior(
    level_pa=np.array([100.0 * hpa for hpa in TABLE]), lead_s=np.array([3.0, 24.0, 48.0, 72.0]) * 3600.0,
    sd_m_s=np.array(list(TABLE.values())), large_share=0.6, large_depth_m=5_000.0, large_time_s=21_600.0,
    large_distance_m=400_000.0, wave_depth_m=1_000.0, wave_time_s=5_400.0, wave_distance_m=75_000.0,
    advection_m_s=15.0, held_by_level=np.ones(len(TABLE)), age_factor=1.0, instrument_sd_m_s=0.5,
    growth_beyond_per_s=1e-3,
)  # fmt: skip


def knots(levels: int = 8) -> FlightKnots:
    height = np.stack([np.linspace(0.0, 30_000.0, levels)] * 2)
    time = np.stack([height[0] / 5.0, 6000.0 + (30_000.0 - height[0]) / 15.0])
    large, wave = np.full_like(height, 2.0), np.full_like(height, 1.5)
    return FlightKnots(height, time, time * 10.0, time * 3.0, large, wave, np.zeros((1, *height.shape, 2)))


@pytest.mark.parametrize("hpa", TABLE)
def test_forecast_error_is_the_prior_table(hpa: float) -> None:
    hours = np.array([3.0, 24.0, 48.0, 72.0])
    assert forecast_wind_sd_m_s(np.full(4, hpa * 100.0), hours * 3600.0, WIND) == pytest.approx(TABLE[hpa])
    assert forecast_wind_sd_m_s(np.array([hpa * 100.0]), np.array([0.0]), WIND) == pytest.approx(TABLE[hpa][0])


def test_forecast_error_grows_with_lead_without_end() -> None:
    lead = np.arange(0.0, 200.0, 5.0) * 3600.0
    sd = forecast_wind_sd_m_s(np.full_like(lead, 25_000.0), lead, WIND)
    assert (np.diff(sd) >= 0.0).all()
    assert sd[-1] > 10.0


def test_a_short_time_is_a_distance_by_taylor() -> None:
    """1 h at 15 m/s is 54 km, less what a memory of 6 h has lost by then: about 2.9 m/s as a vector (own prior from
    Lindborg's fit, coefficients from memory).
    """
    by_age = float(held_wind_sd_m_s(25_000.0, 0.0, 3600.0, WIND))
    by_distance = float(held_wind_sd_m_s(25_000.0, 324_000.0 * (1.0 - np.exp(-1.0 / 6.0)), 0.0, WIND))
    assert by_age == pytest.approx(by_distance)
    assert np.sqrt(2.0) * by_age == pytest.approx(2.9, abs=0.15)
    days, week = (float(held_wind_sd_m_s(25_000.0, 0.0, d * 86_400.0, WIND)) for d in (2.0, 7.0))
    assert days == pytest.approx(week, rel=1e-3)
    assert float(held_wind_sd_m_s(25_000.0, 0.0, 0.0, WIND)) == pytest.approx(0.0, abs=0.01)


def test_structure_function_ends_where_its_fit_turns_over() -> None:
    with pytest.raises(OutOfRange):
        structure_function_m2_s2(1.2e6)


def test_beyond_the_top_the_error_grows_by_1_m_s_per_km() -> None:
    assert beyond_wind_sd_m_s(np.array([-500.0, 0.0, 3000.0]), WIND) == pytest.approx([0.0, 0.0, 3.0])


def test_covariance_has_the_sizes_and_can_be_drawn_from() -> None:
    covariance = knot_covariance(knots(), WIND)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(2.5)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9
    assert covariance == pytest.approx(covariance.T)


def test_draws_have_the_covariance() -> None:
    """20,000 draws: sample covariance within five standard errors of a Gaussian's, u and v independent."""
    given = knots(4)
    draws = draw_wind_error(given, 20_000, np.random.default_rng(2), WIND)
    assert draws.shape == (20_000, 2, 4, 2)
    truth = knot_covariance(given, WIND)
    for component in (0, 1):
        flat = draws[..., component].reshape(20_000, 8)
        error = np.sqrt((truth**2 + np.outer(np.diag(truth), np.diag(truth))) / 20_000)
        assert (np.abs(np.cov(flat.T) - truth) < 5.0 * error).all()
    cross = (draws[..., 0].reshape(20_000, 8)[:, :, None] * draws[..., 1].reshape(20_000, 8)[:, None, :]).mean(axis=0)
    assert np.abs(cross).max() < 5.0 * 6.25 / np.sqrt(20_000)


def test_both_legs_meet_the_same_air_the_more_the_sooner() -> None:
    """At the top the legs meet at once; at the ground they are hours and tens of kilometres apart."""
    covariance = knot_covariance(knots(), WIND)
    correlation = np.diag(covariance[:8, 8:]) / 6.25
    assert correlation[-1] == pytest.approx(1.0)
    assert (np.diff(correlation) > 0.0).all()


def test_knots_of_a_flight_near_its_sounding_are_small_and_grow_with_drift() -> None:
    train = example_train()
    fill = example_fill(train)
    for wind, least in ((0.0, 0.0), (25.0, 2.0)):
        shared = conditions(column_field(u=lambda z, w=wind: w + 0.0 * z), train)
        found = flight_knots(shared.field, fly(shared, nominal_draw(train, fill, PRIOR.flight)), WIND)
        first_up, last_down = found.sd_m_s[0, 2], found.sd_m_s[1, 2]
        assert first_up < 1.0
        assert last_down > first_up + least


def test_what_members_spread_is_not_drawn_again() -> None:
    """Two members 4 m/s apart: variance 8 m2/s2 of their own, more than the large part of the prior."""
    train = example_train()
    one = replace(column_field(), kind="forecast")
    two = replace(
        one,
        **{name: np.repeat(getattr(one, name), 2, axis=0) for name in
           ("pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")},
    )  # fmt: skip
    apart = np.array([-2.0, 2.0]).reshape(2, 1, 1, 1, 1)
    two = replace(two, wind_u_m_s=two.wind_u_m_s + apart, wind_v_m_s=two.wind_v_m_s + apart)
    fill = example_fill(train)
    single, double = (conditions(field, train) for field in (one, two))
    nominal = fly(single, nominal_draw(train, fill, PRIOR.flight))
    alone, among = flight_knots(single.field, nominal, WIND), flight_knots(double.field, nominal, WIND)
    jet = 30  # about 7 km
    assert alone.large_sd_m_s[0, jet] > 1.0
    assert among.large_sd_m_s[0, jet] == 0.0
    assert among.wave_sd_m_s == pytest.approx(alone.wave_sd_m_s)
    assert among.member_sd_m_s[0, jet] == pytest.approx(np.sqrt(8.0))
    assert alone.member_sd_m_s[0, jet] == 0.0
