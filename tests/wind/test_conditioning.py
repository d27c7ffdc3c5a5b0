"""Winds measured on the way up: the update is exact on the knots, and takes off the descent what it should."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from columns import PRIOR
from pappus.wind import (
    FlightKnots,
    WindSeen,
    condition,
    draw_wind_error,
    gaspari_cohn,
    knot_covariance,
    posterior,
    total_covariance,
)

Array = NDArray[np.float64]
LEVELS, TOP_M = 25, 30_000.0


def flight(members: int = 1, seed: int = 3) -> FlightKnots:
    """Up at 5 m/s, down at 5 m/s near the ground and faster aloft, in a wind of 20 m/s."""
    height = np.linspace(0.0, TOP_M, LEVELS)
    up = height / 5.0
    fall = 5.0 * np.exp(height / 14_000.0)
    slow = np.concatenate([[0.0], np.diff(height) * 0.5 * (1.0 / fall[1:] + 1.0 / fall[:-1])])
    down = up[-1] + slow.sum() - np.cumsum(slow)
    time = np.stack([up, down])
    sd = np.broadcast_to(np.interp(height, [0.0, 11_000.0, 20_000.0, TOP_M], [1.8, 3.0, 2.2, 3.5]), time.shape)
    deviation = np.zeros((1, *time.shape, 2))
    if members > 1:
        deviation = 1.5 * np.random.default_rng(seed).standard_normal((members, *time.shape, 2)).cumsum(axis=2) / 5.0
        deviation -= deviation.mean(axis=0)
    return FlightKnots(
        np.stack([height, height]), time, 20.0 * time, 0.0 * time, np.sqrt(0.6) * sd, np.sqrt(0.4) * sd, deviation
    )


def seconds_in_layers(knots: FlightKnots) -> Array:
    """Share of the descent that belongs to each knot of the way down."""
    return np.asarray(np.abs(np.gradient(knots.time_s[1])))


def seen_on_the_way_up(truth: Array, sd: float, rng: np.random.Generator) -> WindSeen:
    """``truth`` has shape (2L, 2)."""
    knot = np.arange(LEVELS)
    noise = sd * rng.standard_normal((LEVELS, 2))
    return WindSeen(np.eye(2 * LEVELS)[knot], truth[knot] + noise, np.full(LEVELS, sd))


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([1, 6]), st.floats(0.2, 2.0))
def test_posterior_is_that_of_the_joint_gaussian(seed: int, members: int, sd: float) -> None:
    """Against the information form, which inverts the whole field and uses no gain."""
    rng = np.random.default_rng(seed)
    covariance = total_covariance(flight(members), PRIOR.wind) + 1e-3 * np.eye(2 * LEVELS)
    knot = rng.choice(2 * LEVELS, size=12, replace=False)
    seen = WindSeen(np.eye(2 * LEVELS)[knot], 3.0 * rng.standard_normal((12, 2)), np.full(12, sd))
    mean, after = posterior(covariance, seen)
    for component in range(2):
        information = np.linalg.inv(covariance[component])
        information[knot, knot] += 1.0 / sd**2
        expected = np.linalg.inv(information)
        told = np.zeros(2 * LEVELS)
        told[knot] = seen.against_mean_m_s[:, component] / sd**2
        assert np.allclose(after[component], expected, atol=1e-5)
        assert np.allclose(mean[component], expected @ told, atol=1e-5)


def test_moved_draws_have_mean_and_covariance_of_the_posterior() -> None:
    knots, rng = flight(), np.random.default_rng(7)
    covariance = total_covariance(knots, PRIOR.wind)
    draws = draw_wind_error(knots, 20_000, rng, PRIOR.wind)
    truth = draw_wind_error(knots, 1, rng, PRIOR.wind)[0].reshape(-1, 2)
    seen = seen_on_the_way_up(truth, 0.5, rng)
    moved = condition(draws, covariance, seen, rng).reshape(20_000, -1, 2)
    mean, after = posterior(covariance, seen)
    assert np.allclose(moved.mean(axis=0).T, mean, atol=0.1)
    assert np.allclose(np.cov(moved[..., 0].T), after[0], atol=0.2)


def test_descent_error_falls_by_what_the_gaussian_gives() -> None:
    """Synthetic truths: the error of the drift on the way down after the update, over that before, within 5 %."""
    knots, rng, count = flight(), np.random.default_rng(11), 3_000
    covariance = total_covariance(knots, PRIOR.wind)
    weight = np.concatenate([np.zeros(LEVELS), seconds_in_layers(knots)])
    truths = draw_wind_error(knots, count, rng, PRIOR.wind).reshape(count, -1, 2).astype(float)
    left = []
    for truth in truths:
        mean, after = posterior(covariance, seen_on_the_way_up(truth, 0.5, rng))
        left.append((truth.T - mean) @ weight)
    exact = np.sqrt(weight @ after[0] @ weight) / np.sqrt(weight @ covariance[0] @ weight)
    found = np.sqrt(np.mean(np.square(left))) / np.sqrt(np.mean(np.square(np.einsum("fic,i->fc", truths, weight))))
    print(f"descent error after over before: {found:.3f}, exact {exact:.3f}")
    assert found == pytest.approx(exact, rel=0.05)
    assert 0.2 < exact < 0.8


def test_members_add_their_own_tapered_covariance() -> None:
    knots = flight(members=10)
    total, field = total_covariance(knots, PRIOR.wind), knot_covariance(knots, PRIOR.wind)
    own = knots.member_deviation_m_s.reshape(10, -1, 2)
    assert np.allclose(np.diagonal(total[0]), np.diagonal(field) + own[..., 0].var(axis=0, ddof=1))
    assert np.linalg.eigvalsh(total[1]).min() > -1e-8
    assert total[0, 0, LEVELS - 1] == pytest.approx(field[0, LEVELS - 1])  # 30 km apart: nothing of the members


def test_taper_has_the_values_of_its_paper() -> None:
    """Gaspari & Cohn 1999, eq. 4.10, worked by hand: 1 at 0, 5/24 at the half-width, 0 from twice that on."""
    assert gaspari_cohn(np.array([0.0, 1.0, 2.0, 3.0])) == pytest.approx([1.0, 5.0 / 24.0, 0.0, 0.0], abs=1e-12)
    line = gaspari_cohn(np.linspace(0.0, 2.5, 400))
    assert (np.diff(line) <= 1e-12).all()
    assert np.abs(np.diff(line)).max() < 0.01
