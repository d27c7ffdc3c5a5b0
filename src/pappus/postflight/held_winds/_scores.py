"""How well the error field around earlier winds covered where later balloons went, height by height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.errors import NoSolution
from pappus.landing import chi2_radius
from pappus.postflight._scores_by_group import GroupMean, GroupShare, mean_by_group, share_by_group
from pappus.postflight.held_winds._fit import AgeFactor, fit_age_factor
from pappus.postflight.held_winds._pairs import HEIGHTS_MSL_M, Pair, find_pairs
from pappus.sources import Sounding
from pappus.wind import WindPrior

Array = NDArray[np.float64]

FEWEST_TO_JUDGE = 7
"""Heights with fewer pairs are printed, not judged."""


@dataclass(frozen=True)
class HeightScore:
    """One height over all pairs that reached it; each day judged with what the other days gave."""

    height_msl_m: float
    n: int
    days: int
    rms_error_m: float
    """Of the distance between where the balloon was and where the earlier winds carried it."""
    sd_m: float
    """Root mean square over the pairs of the standard deviation per component that the error field gave."""
    inside_50: GroupShare
    inside_90: GroupShare
    """Pairs inside the area that should hold 50 and 90 % of them."""
    energy_score_m: float
    point_score_m: float
    """Of the earlier winds alone: the mean error."""
    circle_score_m: float
    """Of a circle of one size, fitted to the errors of the other days at this height."""
    over_point_m: GroupMean
    over_circle_m: GroupMean
    """By how much the error field scored better, pair by pair; above zero is better."""

    @property
    def judged(self) -> bool:
        """Whether there are enough pairs to judge."""
        return self.n >= FEWEST_TO_JUDGE

    @property
    def covers(self) -> bool:
        """Both nominal shares lie inside the exact intervals of what was counted."""
        return self.inside_50.low <= 0.5 <= self.inside_50.high and self.inside_90.low <= 0.9 <= self.inside_90.high

    @property
    def beats_both(self) -> bool:
        """The energy score is better than that of both references."""
        return self.over_point_m.mean > 0.0 and self.over_circle_m.mean > 0.0


@dataclass(frozen=True, eq=False)
class Persistence:
    """What earlier winds were worth for later balloons."""

    pairs: tuple[Pair, ...]
    age_factor: AgeFactor | None
    """None when nothing could be fitted; ``left_out`` says why."""
    heights: tuple[HeightScore, ...]
    left_out: tuple[str, ...]


def persistence(soundings: Sequence[Sounding], prior: WindPrior) -> Persistence:
    """Pair the ascents, fit the one factor, score each height; nothing is dropped without a line that says why."""
    pairs, left = find_pairs(soundings, prior)
    try:
        factor = fit_age_factor(pairs)
    except NoSolution as why:
        return Persistence(pairs, None, (), (*left, f"no factor and no shares: {why}"))
    heights = []
    for height in HEIGHTS_MSL_M:
        score = score_height(pairs, height, factor)
        if isinstance(score, HeightScore):
            heights.append(score)
        else:
            left = (*left, score)
    return Persistence(pairs, factor, tuple(heights), left)


def score_height(pairs: Sequence[Pair], height_msl_m: float, factor: AgeFactor) -> HeightScore | str:
    """Shares and scores of all pairs at one height, or why there are none."""
    there = [(pair, int(at[0])) for pair in pairs if (at := np.flatnonzero(pair.height_msl_m == height_msl_m)).size]
    days = [pair.day for pair, _ in there]
    if len(set(days)) < 2:
        return f"{height_msl_m / 1000:.0f} km: {len(there)} pairs on {len(set(days))} days, two days are needed"
    error = np.stack([pair.error_m[at] for pair, at in there])
    sd = np.array([np.sqrt(pair.field.covariance_m2(factor.for_day(pair.day))[at, at]) for pair, at in there])
    squared = (error**2).sum(axis=1)
    circle = np.array([np.sqrt(0.5 * np.mean(squared[[other != day for other in days]])) for day in days])
    ours, round_ones = energy_score_round_m(sd, error), energy_score_round_m(circle, error)
    point = np.sqrt(squared)
    return HeightScore(
        height_msl_m=height_msl_m,
        n=len(there),
        days=len(set(days)),
        rms_error_m=float(np.sqrt(squared.mean())),
        sd_m=float(np.sqrt(np.mean(sd**2))),
        inside_50=share_by_group(point <= chi2_radius(0.5) * sd, days),
        inside_90=share_by_group(point <= chi2_radius(0.9) * sd, days),
        energy_score_m=float(ours.mean()),
        point_score_m=float(point.mean()),
        circle_score_m=float(round_ones.mean()),
        over_point_m=mean_by_group(point - ours, days),
        over_circle_m=mean_by_group(round_ones - ours, days),
    )


def energy_score_round_m(sd_m: Array, error_m: Array) -> Array:
    """Energy score of round Gaussians about the origin, shape (N,), from sizes (N,) and outcomes (N, 2).

    What ``pappus.landing.energy_score`` gives for ever more draws: E|X - y| - E|X - X'| / 2. The first is the mean of
    Rice's distribution, sd sqrt(pi / 2) L(-r2 / 2 sd2) with the Laguerre function L of order 1/2; E|X - X'| is
    sd sqrt(pi) (textbook results, from memory). Exact, because 400 draws change the order of close scores. The error
    field is round: it is the same in both components, which do not know of each other.
    """
    from scipy.special import ive

    x = 0.25 * (error_m**2).sum(axis=-1) / sd_m**2
    laguerre = (1.0 + 2.0 * x) * ive(0, x) + 2.0 * x * ive(1, x)
    return np.asarray(sd_m * (np.sqrt(0.5 * np.pi) * laguerre - 0.5 * np.sqrt(np.pi)))
