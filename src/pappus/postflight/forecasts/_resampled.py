"""Intervals that respect dependence: blocks of one station and one day are drawn again, each whole.

All forecasts of a sounding, all its levels, and the soundings of a station within a UTC day err together, so that they
are drawn together (block bootstrap: Kuensch 1989, Ann. Stat. 17, 1217, from memory). Stations are taken to err apart;
``same_hour_correlation`` measures how far that holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.sources import ForecastPairs

Array = NDArray[np.float64]
Index = NDArray[np.intp]

DRAWS = 1000
_DAY_S = 86_400.0


@dataclass(frozen=True, eq=False)
class Resampled:
    """Which sounding and block each pair belongs to, and how often each block counts in each draw."""

    sounding: Index
    """Number of the station and valid hour of each pair, shape (N,)."""
    block: Index
    weights: Array
    """Shape (draws, blocks)."""

    @classmethod
    def of(cls, pairs: ForecastPairs, *, seed: int) -> Resampled:
        """Draw the blocks of all pairs."""
        day = np.floor((pairs.valid_s + pairs.epoch.timestamp()) / _DAY_S)
        sounding = np.unique(np.column_stack([pairs.station, pairs.valid_s]), axis=0, return_inverse=True)[1].ravel()
        block = np.unique(np.column_stack([pairs.station, day]), axis=0, return_inverse=True)[1].ravel()
        blocks = int(block.max()) + 1
        drawn = np.random.default_rng(seed).multinomial(blocks, np.full(blocks, 1.0 / blocks), size=DRAWS)
        return cls(sounding, block, drawn.astype(np.float64))

    def soundings(self, rows: Index) -> int:
        """Number of different soundings among the rows."""
        return int(np.unique(self.sounding[rows]).size)

    def greatest_share(self, rows: Index, values: Array) -> float:
        """Part of the sum of positive ``values`` over the rows that comes from one sounding; NaN when all are zero."""
        by_sounding = np.bincount(self.sounding[rows], weights=values)
        return float(by_sounding.max() / by_sounding.sum()) if by_sounding.sum() > 0.0 else float("nan")

    def sums(self, rows: Index, values: Array) -> Array:
        """Sum of ``values`` over the rows in each draw, shape (draws, ...); NaN in a draw that holds none of them."""
        by_block = np.zeros((self.weights.shape[1], *values.shape[1:]))
        np.add.at(by_block, self.block[rows], values)
        present = self.weights[:, np.unique(self.block[rows])].any(axis=1)
        total = np.tensordot(self.weights, by_block, axes=1)
        total[~present] = np.nan
        return np.asarray(total)


def interval_95(values: Array) -> tuple[float, float]:
    """The middle 95 % of draws; those without data are passed over. NaN, NaN when a tenth or more have none."""
    good = values[np.isfinite(values)]
    if good.size <= 0.9 * values.size:
        return float("nan"), float("nan")
    low, high = np.quantile(good, (0.025, 0.975))
    return float(low), float(high)
