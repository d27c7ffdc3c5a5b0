"""Shares, scores and their intervals, against made-up truth and against other libraries."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
import scoringrules
from scipy.stats import binomtest, bootstrap

from pappus.landing import energy_score
from pappus.postflight._scores_by_group import mean_by_group, share_by_group
from pappus.postflight.held_winds._fit import fit_age_factor
from pappus.postflight.held_winds._scores import HeightScore, energy_score_round_m, persistence, score_height
from postflight.persistence_cases import PRIOR, ascent, later_by, pairs_of_known_factor


def score(pairs, height_msl_m: float) -> HeightScore:
    found = score_height(pairs, height_msl_m, fit_age_factor(pairs))
    assert isinstance(found, HeightScore)
    return found


def test_a_right_field_holds_its_shares_and_beats_both_references() -> None:
    pairs = pairs_of_known_factor(0.7, days=100, a_day=2, seed=21)
    for height in (10_000.0, 30_000.0):
        found = score(pairs, height)
        assert found.n == 200
        # standard errors of 3.5 and 2.1 %
        assert found.inside_50.k / found.n == pytest.approx(0.5, abs=0.09)
        assert found.inside_90.k / found.n == pytest.approx(0.9, abs=0.06)
        assert found.covers
        assert found.over_point_m.group_low > 0.0
        assert found.rms_error_m == pytest.approx(np.sqrt(2.0) * found.sd_m, rel=0.1)


def test_a_field_of_the_wrong_size_does_not_cover() -> None:
    """The factor of pairs that err three times as much, applied to those that err as the field says."""
    pairs = pairs_of_known_factor(0.7, days=60, a_day=1, seed=22)
    wide = fit_age_factor(pairs_of_known_factor(2.1, days=60, a_day=1, seed=22))
    found = score_height(pairs, 20_000.0, wide)
    assert isinstance(found, HeightScore)
    assert not found.covers
    assert not found.beats_both
    assert found.inside_50.low > 0.5


@pytest.mark.parametrize("distance", [0.0, 0.3, 1.0, 3.0, 12.0])
def test_energy_score_of_a_round_gaussian_against_draws(distance: float) -> None:
    """Against our own score of many draws and that of scoringrules, 4 000 draws each: about 1.5 %."""
    draws = 7.0 * np.random.default_rng(99).standard_normal((2, 4000, 2))
    outcome = 7.0 * distance * np.array([0.6, -0.8])
    exact = float(energy_score_round_m(np.array([7.0]), outcome[None])[0])
    assert exact == pytest.approx(energy_score(draws[0], outcome, fair=True), rel=0.04)
    assert exact == pytest.approx(float(scoringrules.es_ensemble(outcome, draws[1], estimator="fair")), rel=0.04)


def test_energy_score_far_away_is_the_distance() -> None:
    """The mean distance to a far point is r + sd2 / 2r, so that no term overflows or vanishes."""
    found = energy_score_round_m(np.array([1.0]), np.array([[1000.0, 0.0]]))
    assert found[0] == pytest.approx(1000.0 + 0.0005 - 0.5 * np.sqrt(np.pi), abs=1e-6)


def test_scores_are_means_over_the_pairs_each_day_by_the_others() -> None:
    pairs = pairs_of_known_factor(0.7, days=20, a_day=1, seed=23)
    factor, found = fit_age_factor(pairs), score(pairs, 25_000.0)
    error = np.stack([pair.error_m[3] for pair in pairs])
    sd = np.array([np.sqrt(pair.field.covariance_m2(factor.for_day(pair.day))[3, 3]) for pair in pairs])
    squared = (error**2).sum(axis=1)
    circle = np.sqrt((squared.sum() - squared) / (2.0 * 19.0))
    assert found.energy_score_m == pytest.approx(energy_score_round_m(sd, error).mean())
    assert found.circle_score_m == pytest.approx(energy_score_round_m(circle, error).mean())
    assert found.point_score_m == pytest.approx(np.sqrt(squared).mean())
    assert found.over_point_m.mean == pytest.approx(found.point_score_m - found.energy_score_m)


def test_few_pairs_are_scored_but_not_judged() -> None:
    pairs = pairs_of_known_factor(0.7, days=6, a_day=1, seed=24)
    assert not score(pairs, 10_000.0).judged
    assert score([*pairs, *pairs_of_known_factor(0.7, days=1, a_day=1, seed=25)], 10_000.0).judged


def test_a_height_of_one_day_has_no_scores_and_says_why() -> None:
    pairs = pairs_of_known_factor(0.7, days=3, a_day=1, seed=26)
    assert score_height(pairs[:1], 10_000.0, fit_age_factor(pairs)) == ("10 km: 1 pairs on 1 days, two days are needed")


def test_share_intervals_against_scipy() -> None:
    days = [date(2031, 1, 1) + timedelta(days=k) for k in range(40)]
    hit = np.arange(40) % 4 != 0
    found = share_by_group(hit, days)
    exact = binomtest(30, 40).proportion_ci(0.95, method="exact")
    assert (found.k, found.n) == (30, 40)
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=1e-9)
    drawn = bootstrap((hit.astype(float),), np.mean, method="percentile", n_resamples=5000, rng=1).confidence_interval
    assert (found.group_low, found.group_high) == pytest.approx((drawn.low, drawn.high), abs=0.03)


def test_mean_interval_against_scipy_and_flights_of_one_day_are_one() -> None:
    values = np.random.default_rng(2).normal(5.0, 2.0, 30)
    days = [date(2031, 1, 1) + timedelta(days=k) for k in range(30)]
    found = mean_by_group(values, days)
    drawn = bootstrap((values,), np.mean, method="percentile", n_resamples=5000, rng=1).confidence_interval
    assert found.mean == pytest.approx(values.mean())
    assert (found.group_low, found.group_high) == pytest.approx((drawn.low, drawn.high), abs=0.15)
    tenfold = mean_by_group(np.repeat(values, 10), [day for day in days for _ in range(10)])
    assert tenfold.group_low == pytest.approx(found.group_low)


def test_without_pairs_there_is_no_factor_and_a_line_says_so() -> None:
    found = persistence([ascent()], PRIOR)
    assert found.age_factor is None
    assert found.heights == ()
    assert "two days" in found.left_out[-1]


def test_soundings_go_in_and_a_factor_comes_out() -> None:
    """Five days of two ascents whose winds differ by 2 m/s, one way or the other: errors of about 8 km at 25 km."""
    soundings = []
    for day in range(5):
        soundings += [
            later_by(24.0 * day, ascent()),
            later_by(24.0 * day + 6.0, ascent(wind=(10.0 + (-2.0) ** day, 0.0))),
        ]
    found = persistence(soundings, PRIOR)
    assert found.age_factor is not None
    assert found.age_factor.days == 5
    assert [row.height_msl_m for row in found.heights] == [10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0]


def test_recorded_flights(shared_data) -> None:
    """Four stations in the message format of the weather services, kept apart by years: seven pairs on four days."""
    from pappus.sources import read_sounding

    soundings = []
    for name in (
        "chmi_11520_20071119-20_4ascents_309052.bufr",
        "igra2_USM00070026_201006_excerpt.txt",
        "kabq_72365_20230521T2305_ascent.bufr",
        "kabq_72365_20230522T1104_ascent.bufr",
        "norway_20240225T23_6ascents_309057.bufr",
        "norway_20240226T05_2ascents_309057.bufr",
    ):
        soundings += read_sounding(shared_data(f"sondes/{name}"))
    found = persistence(soundings, PRIOR)
    assert found.age_factor is not None
    assert (found.age_factor.pairs, found.age_factor.days) == (7, 4)
    assert [(row.n, row.judged) for row in found.heights] == [(7, True), (7, True), (7, True), (5, False), (2, False)]
    # the structure function at 300 km and more is an extrapolation: winds held so long err less than it says
    assert found.age_factor.high < 1.0
    assert found.age_factor.low > 0.1
