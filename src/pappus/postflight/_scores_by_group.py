"""Shares and means over flights that come in days or campaigns: one group is not independent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from pappus.landing import clopper_pearson

Array = NDArray[np.float64]

Groups = list[date] | list[int]
"""The day or the number of the campaign of each flight."""

RESAMPLINGS = 2000
_SEED = 20_060_119


@dataclass(frozen=True)
class GroupShare:
    """``k`` of ``n`` flights, with two 95 % intervals."""

    k: int
    n: int
    low: float
    high: float
    """Exact, as if the flights were independent (Clopper and Pearson)."""
    group_low: float
    group_high: float
    """By resampling whole groups: what a group has in common counts, but few groups make it too narrow."""


@dataclass(frozen=True)
class GroupMean:
    """A mean over flights with its 95 % interval by resampling whole groups."""

    mean: float
    group_low: float
    group_high: float


def share_by_group(hit: NDArray[np.bool_], groups: Groups) -> GroupShare:
    """Count what is true, one entry a flight, one or more flights."""
    low, high = clopper_pearson(int(hit.sum()), hit.size)
    values = hit.astype(np.float64)
    return GroupShare(
        int(hit.sum()), hit.size, low, high, *interval_by_group(groups, lambda weight: _mean(values, weight))
    )


def mean_by_group(values: Array, groups: Groups) -> GroupMean:
    """Mean of one number a flight, one or more flights."""
    interval = interval_by_group(groups, lambda weight: _mean(values, weight))
    return GroupMean(float(values.mean()), *interval)


def interval_by_group(groups: Groups, statistic: Callable[[Array], float]) -> tuple[float, float]:
    """95 % interval of a statistic of weighted flights when whole groups are drawn again with replacement.

    Percentile method, Efron & Tibshirani, An Introduction to the Bootstrap, 1993, ch. 13 (from memory), with the
    group as the unit. ``statistic`` takes a weight for each flight: how often its group was drawn.
    """
    _, group = np.unique(np.array(groups), return_inverse=True)
    count = int(group.max()) + 1
    drawn = np.random.default_rng(_SEED).multinomial(count, np.full(count, 1.0 / count), size=RESAMPLINGS)
    low, high = np.quantile([statistic(weights[group].astype(np.float64)) for weights in drawn], (0.025, 0.975))
    return float(low), float(high)


def _mean(values: Array, weight: Array) -> float:
    return float(np.average(values, weights=weight))
