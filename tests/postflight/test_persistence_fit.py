"""The one fitted factor: known truth is found again, and a day is judged without itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pappus.errors import NoSolution
from pappus.postflight.held_winds._fit import fit_age_factor
from postflight.persistence_cases import pairs_of_known_factor


@pytest.mark.parametrize("truth", [0.3, 0.7, 1.0, 2.5])
def test_a_known_factor_is_found_again(truth: float) -> None:
    found = fit_age_factor(pairs_of_known_factor(truth, days=40, a_day=2, seed=int(100 * truth)))
    # 80 pairs of two components at five heights: a standard error of 1 / sqrt(2 * 800) = 2.5 %
    assert found.factor == pytest.approx(truth, rel=0.1)
    assert found.low < truth < found.high
    assert (found.pairs, found.days) == (80, 40)


def test_without_an_instrument_the_factor_has_a_closed_form() -> None:
    """Most likely scale of a Gaussian with known shape: f2 = mean of e' S^-1 e over all components (textbook result,
    e.g. Mardia, Kent & Bibby, Multivariate Analysis, ch. 4, from memory)."""
    pairs = pairs_of_known_factor(0.8, days=5, a_day=3, seed=3, other_sd_m_s=0.0)
    squares = [
        float(np.sum(pair.error_m * np.linalg.solve(pair.field.covariance_m2(1.0), pair.error_m))) for pair in pairs
    ]
    assert fit_age_factor(pairs).factor == pytest.approx(np.sqrt(np.sum(squares) / (15 * 5 * 2)), rel=1e-4)


def test_a_day_is_judged_by_the_others_alone() -> None:
    pairs = pairs_of_known_factor(0.8, days=6, a_day=2, seed=4)
    found = fit_age_factor(pairs)
    day = pairs[0].day
    others = [pair for pair in pairs if pair.day != day]
    assert found.for_day(day) == pytest.approx(fit_age_factor(others).factor, rel=1e-9)
    wild = [replace(pair, error_m=30.0 * pair.error_m) if pair.day == day else pair for pair in pairs]
    changed = fit_age_factor(wild)
    assert changed.for_day(day) == found.for_day(day)
    assert changed.factor > 2.0 * found.factor


def test_days_in_common_make_the_interval_wide() -> None:
    """The same errors ten times a day are not ten times the evidence."""
    once = pairs_of_known_factor(0.8, days=8, a_day=1, seed=5)
    found, repeated = fit_age_factor(once), fit_age_factor([pair for pair in once for _ in range(10)])
    assert repeated.factor == pytest.approx(found.factor, rel=1e-6)
    assert (repeated.low, repeated.high) == pytest.approx((found.low, found.high), rel=1e-6)


def test_one_day_gives_no_factor() -> None:
    with pytest.raises(NoSolution, match="two days"):
        fit_age_factor(pairs_of_known_factor(0.8, days=1, a_day=5, seed=6))
    with pytest.raises(NoSolution, match="two days"):
        fit_age_factor([])


def test_errors_of_no_plausible_size_are_refused() -> None:
    pairs = pairs_of_known_factor(0.8, days=3, a_day=1, seed=7)
    for scale in (0.0, 1e4):
        with pytest.raises(NoSolution, match="no peak"):
            fit_age_factor([replace(pair, error_m=scale * pair.error_m) for pair in pairs])
