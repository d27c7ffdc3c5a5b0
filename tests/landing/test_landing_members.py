"""Intervals of a share when few forecast members stand behind many flights."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from pappus.landing import share, share_over_members, student_t975


@pytest.mark.parametrize("freedom", [1, 2, 3, 5, 10, 29, 100])
def test_student_quantile(freedom: int) -> None:
    """scipy.stats as reference; Abramowitz & Stegun 26.7.5 is an expansion in 1/freedom."""
    assert student_t975(freedom) == pytest.approx(scipy.stats.t.ppf(0.975, freedom), rel=5e-3)


def test_members_that_agree_leave_the_interval_of_the_draws() -> None:
    hit = np.tile([True, False], 500)
    member = np.repeat(np.arange(10), 100)
    assert share_over_members(hit, member) == share(500, 1000)


def test_one_member_cannot_say_how_members_differ() -> None:
    hit = np.arange(200) < 50
    assert share_over_members(hit, np.zeros(200)) == share(50, 200)


def test_members_that_disagree_widen_the_interval() -> None:
    """Jackknife of a mean of m equal groups is the standard error of the group means: checked by that formula."""
    shares = np.array([0.1, 0.3, 0.5, 0.9])
    hit = np.concatenate([np.arange(500) < 500 * p for p in shares])
    member = np.repeat([7, 3, 11, 5], 500)
    found = share_over_members(hit, member)
    error = shares.std(ddof=1) / np.sqrt(4)
    assert found.limit == "members"
    assert found.p == pytest.approx(0.45)
    assert found.low == pytest.approx(max(0.45 - scipy.stats.t.ppf(0.975, 3) * error, 0.0), abs=2e-3)
    assert found.high == pytest.approx(min(0.45 + scipy.stats.t.ppf(0.975, 3) * error, 1.0), abs=2e-3)


def test_interval_covers_the_truth_as_often_as_it_says() -> None:
    """Invented world: members' chances drawn around 0.6 with sd 0.15; 12 members, 1,200 flights, 400 trials."""
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(400):
        chances = np.clip(rng.normal(0.6, 0.15, 12), 0.0, 1.0)
        hit = rng.random((12, 100)) < chances[:, None]
        found = share_over_members(hit.ravel(), np.repeat(np.arange(12), 100))
        inside += found.low <= 0.6 <= found.high
    low, high = scipy.stats.binom.ppf([0.001, 0.999], 400, 0.95)
    assert low <= inside <= high + 6  # a little wide is honest, too narrow is not
