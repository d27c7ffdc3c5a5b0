"""The one number that is fitted: by how much the spread of a held wind is scaled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from pappus.errors import NoSolution
from pappus.postflight._scores_by_group import interval_by_group
from pappus.postflight.held_winds._pairs import Pair

Array = NDArray[np.float64]

SMALLEST, LARGEST = 0.05, 20.0
_LOG_FACTORS = np.linspace(np.log(SMALLEST), np.log(LARGEST), 481)


@dataclass(frozen=True)
class AgeFactor:
    """The factor with its evidence."""

    factor: float
    """Of most likelihood over all pairs: ``WindPrior.age_factor``."""
    low: float
    high: float
    """95 % interval by resampling whole days."""
    pairs: int
    days: int
    without_day: tuple[tuple[date, float], ...]
    """What the other days give when one is left out: that day is judged by it."""

    @property
    def evidence(self) -> str:
        """What stands behind the factor, in one line for the file of priors."""
        return (
            f"most likely over {self.pairs} ascents on winds of 4 to 14 h before, on {self.days} days; "
            f"95 % interval {self.low:.2f} to {self.high:.2f} by days"
        )

    def for_day(self, day: date) -> float:
        """The factor that knows nothing of this day."""
        return dict(self.without_day)[day]


def fit_age_factor(pairs: Sequence[Pair]) -> AgeFactor:
    """The factor that makes the errors of all pairs most likely, jointly over the heights of each pair.

    Each component of the errors of a pair is Gaussian with mean zero and the covariance of its error field; pairs are
    taken as independent, which those of one day are not: hence the interval by days. Valid from 0.05 to 20.

    :raises NoSolution: fewer than two days, or a factor at an end of that range.
    """
    days = [pair.day for pair in pairs]
    if len(set(days)) < 2:
        raise NoSolution(f"a factor needs pairs of ascents on two days or more, not {len(set(days))}")
    table = np.stack([_log_likelihood(pair) for pair in pairs])
    overall = _peak(table.sum(axis=0))
    without = []
    for day in sorted(set(days)):
        others = np.array([other != day for other in days])
        without.append((day, _peak(table[others].sum(axis=0))))
    for factor in (overall, *(value for _, value in without)):
        if not SMALLEST * 1.01 < factor < LARGEST / 1.01:
            raise NoSolution(
                f"the likelihood has no peak between {SMALLEST} and {LARGEST}: errors of no plausible size"
            )
    low, high = interval_by_group(days, lambda weight: _peak(weight @ table))
    return AgeFactor(overall, low, high, len(pairs), len(set(days)), tuple(without))


def _log_likelihood(pair: Pair) -> Array:
    """Of the errors of one pair, for each factor tried, without the constant."""
    covariances = np.stack([pair.field.covariance_m2(float(factor)) for factor in np.exp(_LOG_FACTORS)])
    _, log_det = np.linalg.slogdet(covariances)
    solved = np.linalg.solve(covariances, np.broadcast_to(pair.error_m, (len(covariances), *pair.error_m.shape)))
    misfit = np.einsum("hc,fhc->f", pair.error_m, solved)
    return np.asarray(-0.5 * misfit - log_det)  # two components: twice half of ln det


def _peak(log_likelihood: Array) -> float:
    """The factor of most likelihood: the best tried, moved to the top of the parabola through it and its neighbours."""
    best = int(np.argmax(log_likelihood))
    if best in (0, len(_LOG_FACTORS) - 1):
        return float(np.exp(_LOG_FACTORS[best]))
    before, at, after = log_likelihood[best - 1 : best + 2]
    step = _LOG_FACTORS[1] - _LOG_FACTORS[0]
    return float(np.exp(_LOG_FACTORS[best] + 0.5 * step * (before - after) / (before - 2.0 * at + after)))
