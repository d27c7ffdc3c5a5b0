"""What winds measured on the way up tell of the winds on the way down: one Gaussian update on the knots."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.wind._error import FlightKnots, knot_covariance
from pappus.wind._prior import WindPrior

Array = NDArray[np.float64]

TAPER_OVER_DEPTH = 2.0
"""Half of the height over which members are believed to vary together, over the depth of the large part."""


@dataclass(frozen=True, eq=False)
class WindSeen:
    """Winds measured by the flight itself, against the mean of the forecast there."""

    weights: Array
    """How much of each of the 2L knots (up first, then down) each measurement holds, shape (K, 2L): one at one knot
    for a wind at a knot, shares of several for the mean of a layer."""
    against_mean_m_s: Array
    """Measured less mean forecast wind, shape (K, 2): eastward, northward."""
    sd_m_s: Array
    """Standard deviation of each measurement, shape (K,), above 0."""


def total_covariance(knots: FlightKnots, prior: WindPrior) -> Array:
    """Covariance [m2/s2] of the wind that flights meet about the mean of the members, shape (2 components, 2L, 2L).

    That of the members, tapered in height since a dozen members correlate by chance what lies far apart (compactly
    supported fifth-order function, Gaspari & Cohn 1999, QJRMS 125, 723, eq. 4.10), and that of the error field, which
    raises them to the prior where they are smaller.
    """
    field = knot_covariance(knots, prior)
    covariance = np.stack([field, field])
    if len(knots.member_deviation_m_s) > 1:
        height = knots.height_msl_m.ravel()
        taper = gaspari_cohn(np.abs(height[:, None] - height) / (TAPER_OVER_DEPTH * prior.large_depth_m))
        members = len(knots.member_deviation_m_s)
        flat = knots.member_deviation_m_s.reshape(members, -1, 2)
        covariance = covariance + taper * np.einsum("mic,mjc->cij", flat, flat) / (members - 1)
    return covariance


def gaspari_cohn(ratio: Array) -> Array:
    """Correlation that falls from 1 at ratio 0 to 0 at ratio 2 and beyond (Gaspari & Cohn 1999, eq. 4.10)."""
    r = np.minimum(np.abs(ratio), 2.0)
    near = 1.0 - r**2 * (5.0 / 3.0 - r * (5.0 / 8.0 + r * (0.5 - 0.25 * r)))
    safe = np.maximum(r, 0.5)
    far = 4.0 - 5.0 * r + r**2 * (5.0 / 3.0 + r * (5.0 / 8.0 - r * (0.5 - r / 12.0))) - 2.0 / (3.0 * safe)
    return np.asarray(np.where(r <= 1.0, near, np.maximum(far, 0.0)))


def posterior(covariance: Array, seen: WindSeen) -> tuple[Array, Array]:
    """Mean (2 components, 2L) and covariance (2, 2L, 2L) after the update; exact for a Gaussian field on its knots.

    :param covariance: before the update, shape (2, 2L, 2L), mean zero.
    """
    gain = _gain(covariance, seen)
    mean = (gain @ seen.against_mean_m_s.T[..., None])[..., 0]
    after = covariance - gain @ (seen.weights @ covariance)
    return np.asarray(mean), np.asarray(0.5 * (after + np.swapaxes(after, 1, 2)))


def condition(drawn_m_s: NDArray[np.floating], covariance: Array, seen: WindSeen, rng: np.random.Generator) -> Array:
    """Draws from the posterior, made of draws from the prior: each is moved by what its own noisy measurement lacks.

    :param drawn_m_s: draws with ``covariance`` about the mean, shape (flights, 2 legs, L, 2 components).
    :returns: the same shape; together they have the mean and covariance of ``posterior``.
    """
    flights, legs, levels, components = drawn_m_s.shape
    gain = _gain(covariance, seen)
    moved = np.empty(drawn_m_s.shape)
    for component in range(components):  # one product of two matrices each: a stack of small ones takes far longer
        flat = np.asarray(drawn_m_s[..., component], dtype=np.float64).reshape(flights, legs * levels)
        noise = rng.standard_normal((flights, len(seen.sd_m_s))) * seen.sd_m_s
        lacks = seen.against_mean_m_s[:, component] + noise - flat @ seen.weights.T
        moved[..., component] = (flat + lacks @ gain[component].T).reshape(flights, legs, levels)
    return moved


def _gain(covariance: Array, seen: WindSeen) -> Array:
    """Shape (2 components, 2L, K)."""
    if np.array_equal(covariance[0], covariance[1]):  # without members both are alike: half the work
        return np.broadcast_to(_gain_of(covariance[0], seen), (2, len(covariance[0]), len(seen.sd_m_s)))
    return np.stack([_gain_of(component, seen) for component in covariance])


def _gain_of(covariance: Array, seen: WindSeen) -> Array:
    across = covariance @ seen.weights.T
    own = seen.weights @ across + np.diag(seen.sd_m_s**2)
    return np.asarray(np.linalg.solve(own, across.T).T)
