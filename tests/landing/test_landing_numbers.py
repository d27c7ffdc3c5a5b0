"""Quantiles with unknown mass, and what scores and intervals refuse."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import scipy.stats.mstats

from pappus.errors import BadInput, NoSolution, OutOfRange
from pappus.landing import (
    chi2_radius,
    circular_error_probable,
    clopper_pearson,
    crps_ensemble,
    crps_normal,
    ellipse_from_covariance,
    energy_score,
    quantiles,
    samples_for_zero_events,
)


def test_quantiles_hold_for_the_landed_and_say_so() -> None:
    """Definition 8 of Hyndman & Fan 1996 is alphap = betap = 1/3 of scipy.stats.mstats.mquantiles."""
    arrivals = np.random.default_rng(1).gamma(3.0, 1_000.0, 57)
    found = quantiles(arrivals, (0.05, 0.5, 0.95), unknown=3)
    theirs = scipy.stats.mstats.mquantiles(arrivals, (0.05, 0.5, 0.95), alphap=1 / 3, betap=1 / 3)
    assert found.values == pytest.approx(tuple(theirs), rel=1e-12)
    assert (found.probabilities, found.landed, found.unknown) == ((0.05, 0.5, 0.95), 57, 3)
    assert found.note == ("3 of 60 flights (5.0%) did not land in the data: they have no arrival; "
                          "the times hold for the landed flights only")  # fmt: skip
    assert quantiles(arrivals, (0.5,), 0).note == ""


def test_no_landing_has_no_quantiles() -> None:
    with pytest.raises(NoSolution, match="12 unknown"):
        quantiles([], (0.5,), unknown=12)


def test_a_missing_arrival_is_refused() -> None:
    with pytest.raises(BadInput, match="1 of 3 not finite"):
        quantiles([1.0, np.nan, 2.0], (0.5,), unknown=0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: quantiles([1.0], (1.0,), unknown=0),
        lambda: quantiles([1.0], (0.5,), unknown=-1),
        lambda: chi2_radius(0.0),
        lambda: chi2_radius(1.0),
        lambda: chi2_radius(float("nan")),
        lambda: clopper_pearson(4, 3),
        lambda: clopper_pearson(-1, 3),
        lambda: clopper_pearson(0, 0),
        lambda: clopper_pearson(1, 3, 1.0),
        lambda: samples_for_zero_events(0.0),
        lambda: crps_normal(0.0, 0.0, 1.0),
        lambda: crps_ensemble([1.0], 0.0, fair=True),
        lambda: energy_score(np.empty((0, 2)), [0.0, 0.0]),
        lambda: ellipse_from_covariance([[1.0, 2.0], [2.0, 1.0]]),
        lambda: ellipse_from_covariance([[1.0, 0.5], [0.0, 1.0]]),
        lambda: circular_error_probable([[np.nan, 0.0], [0.0, 1.0]]),
        lambda: circular_error_probable([[1.0, 0.0], [0.0, 1.0]], 1.0),
    ],
)
def test_out_of_range(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()


@pytest.mark.parametrize(
    "call",
    [
        lambda: quantiles([[1.0]], (0.5,), unknown=0),
        lambda: ellipse_from_covariance(np.eye(3)),
        lambda: energy_score([[0.0, 0.0]], [0.0]),
    ],
)
def test_wrong_shapes(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="not"):
        call()


def test_no_spread_has_no_radius() -> None:
    assert circular_error_probable(np.zeros((2, 2)), 0.95) == 0.0


def test_azimuth_of_the_major_axis_is_clockwise_from_north() -> None:
    for azimuth in (0.0, 30.0, 90.0, 135.0, 179.0):
        along = np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
        covariance = 99.0 * np.outer(along, along) + np.eye(2)
        found = ellipse_from_covariance(covariance)
        assert (found.azimuth_deg - azimuth + 90.0) % 180.0 - 90.0 == pytest.approx(0.0, abs=1e-6)
        assert found.semi_major_m / found.semi_minor_m == pytest.approx(10.0, rel=1e-9)
        assert 0.0 <= found.azimuth_deg < 180.0
