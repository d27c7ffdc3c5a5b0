"""The fall under a canopy as a Gaussian in ln(speed): a prior on height knots, one exact update, draws.

``ln w(z) = ln w0 + n L(z) + g(z)``, L = ln(rho0 / rho), is linear in ln w0, n and g, so that a Gaussian prior stays
Gaussian under measured speeds and nothing has to be iterated or sampled. Pure: numbers in, numbers out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train._drag import SEA_LEVEL_DENSITY_KG_M3
from pappus.flight_train._prior import FallPrior

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FallScale:
    """What is thought of w0, the speed in air of 1.225 kg/m3: median [m/s] and standard deviation of its logarithm."""

    median_m_s: float
    ln_sd: float


@dataclass(frozen=True, eq=False)
class FallLaw:
    """Joint Gaussian of (ln w0, n, g at K knots): mean of shape (K + 2,), covariance of shape (K + 2, K + 2)."""

    height_msl_m: Array
    """Knots, strictly rising, shape (K,); g runs linearly between them and is held beyond them."""
    log_density_ratio: Array
    """L at the knots."""
    mean: Array
    covariance: Array

    @property
    def scale_ln(self) -> tuple[float, float]:
        """Mean and standard deviation of ln(w0 in m/s)."""
        return float(self.mean[0]), float(np.sqrt(self.covariance[0, 0]))

    @property
    def exponent(self) -> tuple[float, float]:
        """Mean and standard deviation of n."""
        return float(self.mean[1]), float(np.sqrt(self.covariance[1, 1]))

    def ln_speed(self, height_msl_m: Array) -> tuple[Array, Array]:
        """Mean and covariance of ln(fall speed in m/s) at heights, shapes (M,) and (M, M)."""
        rows = self.rows(height_msl_m)
        return rows @ self.mean, rows @ self.covariance @ rows.T

    def draw_speed_m_s(self, height_msl_m: Array, flights: int, rng: np.random.Generator) -> Array:
        """Fall speeds [m/s] of flights at heights, shape (flights, M)."""
        mean, covariance = self.ln_speed(height_msl_m)
        return np.asarray(np.exp(mean + rng.standard_normal((flights, len(mean))) @ square_root(covariance)))

    def rows(self, height_msl_m: Array) -> Array:
        """Matrix that takes (ln w0, n, g) to ln w at heights, shape (M, K + 2)."""
        heights, knots = np.asarray(height_msl_m, dtype=float), self.height_msl_m
        right = np.clip(np.searchsorted(knots, heights), 1, len(knots) - 1)
        share = np.clip((heights - knots[right - 1]) / (knots[right] - knots[right - 1]), 0.0, 1.0)
        rows = np.zeros((len(heights), len(knots) + 2))
        at = np.arange(len(heights))
        rows[:, 0] = 1.0
        rows[:, 1] = np.interp(heights, knots, self.log_density_ratio)
        rows[at, right + 1] = 1.0 - share
        rows[at, right + 2] = share
        return rows


def prior_fall_law(height_msl_m: Array, density_kg_m3: Array, scale: FallScale, prior: FallPrior) -> FallLaw:
    """The law before anything was measured.

    :param height_msl_m: knots, strictly rising, two or more; a fifth of ``prior.within_depth_m`` apart or less.
    :param density_kg_m3: of the air at the knots.
    """
    knots = np.asarray(height_msl_m, dtype=float)
    if len(knots) < 2 or bool((np.diff(knots) <= 0.0).any()):
        raise ValueError("two or more knots in strictly rising order are needed")
    covariance = np.zeros((len(knots) + 2, len(knots) + 2))
    covariance[0, 0], covariance[1, 1] = scale.ln_sd**2, prior.exponent_sd**2
    apart = np.abs(knots[:, None] - knots)
    covariance[2:, 2:] = prior.within_ln_sd**2 * np.exp(-apart / prior.within_depth_m)
    mean = np.concatenate([[np.log(scale.median_m_s), prior.exponent], np.zeros(len(knots))])
    ratio = np.log(SEA_LEVEL_DENSITY_KG_M3 / np.asarray(density_kg_m3, dtype=float))
    return FallLaw(knots, ratio, mean, covariance)


def condition_fall(law: FallLaw, height_msl_m: Array, speed_m_s: Array, ln_sd: Array | float) -> FallLaw:
    """The law after speeds were measured: one Gaussian update, the same whether given at once or bit by bit.

    :param height_msl_m: heights of the measured speeds, shape (M,).
    :param speed_m_s: above zero.
    :param ln_sd: standard deviation of each ln(speed), independent of one another.
    """
    speed = np.asarray(speed_m_s, dtype=float)
    if bool((speed <= 0.0).any()):
        raise ValueError("fall speeds must be above zero")
    rows = law.rows(height_msl_m)
    noise = np.diag(np.broadcast_to(np.asarray(ln_sd, dtype=float) ** 2, speed.shape))
    across = law.covariance @ rows.T
    gain = np.linalg.solve(rows @ across + noise, across.T).T
    mean = law.mean + gain @ (np.log(speed) - rows @ law.mean)
    covariance = law.covariance - gain @ across.T
    return FallLaw(law.height_msl_m, law.log_density_ratio, mean, 0.5 * (covariance + covariance.T))


def square_root(covariance: Array) -> Array:
    """A matrix A with ``A.T @ A`` the covariance; rounding may leave a covariance just short of positive."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(np.sqrt(np.maximum(values, 0.0))[:, None] * vectors.T)
