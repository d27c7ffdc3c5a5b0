"""Proper scores: how good a forecast distribution was, once the outcome is known. Smaller is better.

Gneiting & Raftery, "Strictly proper scoring rules, prediction, and estimation", J. Amer. Statist. Assoc. 102 (2007)
359-378. The fair forms judge the distribution that the members were drawn from instead of the finite ensemble: Ferro,
"Fair scores for ensemble forecasts", Q. J. R. Meteorol. Soc. 140 (2014) 1917-1923.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange


def crps_normal(mean: ArrayLike, sd: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
    """Continuous ranked probability score of a normal distribution, in the unit of ``y``.

    sd [z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi)] with z = (y - mean) / sd; Gneiting & Raftery 2007, section 4.2.

    :param mean: any shape that broadcasts with the others.
    :param sd: above 0.
    :param y: what happened.
    :raises OutOfRange: ``sd`` is not above 0.
    """
    from scipy.special import ndtr

    mean, sd, y = (np.asarray(value, dtype=np.float64) for value in (mean, sd, y))
    if not np.all(sd > 0.0):
        raise OutOfRange("standard deviation", float(np.min(sd)), 0.0, math.inf, "(0 excluded)")
    z = (y - mean) / sd
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    score: NDArray[np.float64] = sd * (z * (2.0 * ndtr(z) - 1.0) + 2.0 * density - 1.0 / math.sqrt(math.pi))
    return score


def crps_ensemble(ensemble: ArrayLike, y: ArrayLike, fair: bool = False) -> NDArray[np.float64]:
    """Continuous ranked probability score of an ensemble, in the unit of ``y``: E|X - y| - E|X - X'| / 2.

    :param ensemble: shape (..., m); the last axis holds the members, at least 1 (2 for ``fair``).
    :param y: what happened, shape (...).
    :param fair: divide the pairs by m (m - 1) instead of m^2.
    :raises OutOfRange: too few members.
    """
    members = np.sort(np.asarray(ensemble, dtype=np.float64), axis=-1)
    m = members.shape[-1]
    pairs = _pairs(m, fair)
    error = np.mean(np.abs(members - np.asarray(y, dtype=np.float64)[..., np.newaxis]), axis=-1)
    # on sorted members the sum of |X - X'| over all ordered pairs is 2 sum (2 i - m - 1) x_i: no m x m table
    weights = 2.0 * np.arange(1, m + 1) - m - 1.0
    score: NDArray[np.float64] = error - np.sum(weights * members, axis=-1) / pairs
    return score


def energy_score(ensemble: ArrayLike, y: ArrayLike, fair: bool = False) -> float:
    """Energy score of an ensemble of points, in the unit of ``y``: E|X - y| - E|X - X'| / 2 with Euclidean length.

    Gneiting & Raftery 2007, section 5.1, with exponent 1. In one dimension it is the ``crps_ensemble``.

    :param ensemble: shape (m, d), at least 1 member (2 for ``fair``).
    :param y: what happened, shape (d,).
    :param fair: divide the pairs by m (m - 1) instead of m^2.
    :raises OutOfRange: too few members.
    """
    members = np.asarray(ensemble, dtype=np.float64)
    truth = np.asarray(y, dtype=np.float64)
    if members.ndim != 2 or truth.shape != members.shape[1:]:
        raise ValueError(f"an ensemble (m, d) and an outcome (d,) are needed, not {members.shape} and {truth.shape}")
    pairs = _pairs(len(members), fair)
    error = float(np.mean(np.linalg.norm(members - truth, axis=1)))
    # one member at a time: the table of all pairs of 5,000 members would take 400 MB
    spread = sum(float(np.sum(np.linalg.norm(members[i + 1 :] - members[i], axis=1))) for i in range(len(members)))
    return error - spread / pairs


def _pairs(members: int, fair: bool) -> int:
    """What the sum over ordered pairs is divided by."""
    if members < 1 + fair:
        raise OutOfRange("members of the ensemble", members, 1 + fair, math.inf, "members")
    return members * (members - 1) if fair else members**2
