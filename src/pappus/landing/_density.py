"""Density of a cloud of landings on a plane, and its highest-density areas.

Landing clouds are bent along the wind and fall into parts; one bandwidth for the whole cloud would blur both. Each
landing therefore carries a normal kernel shaped by its own nearest neighbours (Vincent & Bengio, "Manifold Parzen
windows", NIPS 15 (2003); from memory). With k ~ n^(2/3) neighbours the width of the kernels shrinks as n^(-1/6), the
rate of Scott, *Multivariate Density Estimation* (1992), for two dimensions.

The area of share q is where the density exceeds that of its (1 - q) quantile over the landings, each seen without its
own kernel (Hyndman, "Computing and graphing highest density regions", The American Statistician 50 (1996) 120-126).
Left out or not, a landing would else vote for itself, and the area would hold less than it says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Neighbours k = 0.7 n^(2/3) and kernel width 0.7 of their spread. Chosen on normal, bent, two-part, small-part and
# heavy-tailed clouds of 300 and 1,000 points as the pair that kept both coverage and area closest to the exact ones.
_NEIGHBOURS = 0.7
_WIDTH = 0.7
# A landing is not known better than the terrain it rolls on; it also keeps kernels of equal points from vanishing.
_FINEST_M = 10.0
# More centres draw the same contours: their noise at 2,000 is about 1 % of the area. Every landing sets thresholds.
_CENTRES = 2000
_GROUPS = 20
_LEFT_OUT = 5
_SUBSETS = 40
_CELLS = 200_000
_REACH = 4.0


LEAST_RING_M2 = 1.0


def signed_area_m2(ring_m: Array) -> float:
    """Shoelace formula: counter-clockwise counts, clockwise takes away."""
    east, north = ring_m.T
    return 0.5 * float(np.sum(east[:-1] * north[1:] - east[1:] * north[:-1]))


@dataclass(frozen=True)
class Density:
    """Density on a grid turned to the main axes of the cloud; sums of unit kernels, per group of centres."""

    axes: Array
    """Unit vectors of the grid in (east, north), shape (2, 2), one a row; right-handed."""
    x_m: Array
    y_m: Array
    grid: Array
    """Shape (groups, len(y_m), len(x_m)), per m2."""
    held_out: Array
    """At each landing, without its own kernel; shape (landings, groups)."""
    own: NDArray[np.bool_]
    """True for landings that carry a kernel; shape (landings,)."""
    group: NDArray[np.int64]
    """Group of each landing, shape (landings,)."""
    subsets: Array
    """Random choices of groups: 1 where a group is in, else 0; shape (draws, groups)."""

    @property
    def centres(self) -> int:
        """Landings that carry a kernel."""
        return int(np.count_nonzero(self.own))

    @property
    def cell_m(self) -> float:
        """Side of a grid cell."""
        return float(self.x_m[1] - self.x_m[0])

    def mode_m(self) -> tuple[float, float]:
        """East and north of the grid point with the highest density."""
        row, column = np.unravel_index(int(np.argmax(self.grid.sum(axis=0))), self.grid.shape[1:])
        east, north = np.array([self.x_m[column], self.y_m[row]]) @ self.axes
        return float(east), float(north)

    def threshold(self, share: float) -> float | None:
        """Density per centre above which a new landing lies with chance ``share``; None when too few landings.

        Rank (n + 1)(1 - share) of n: one new landing is as likely to fall into each gap between the sorted ones.
        """
        return _rank_value(self.held_out.sum(axis=1) / (self.centres - self.own), share)

    def polygons(self, threshold: float) -> tuple[tuple[Array, ...], ...]:
        """Where the density exceeds ``threshold``: polygons of closed rings (east, north), shape (points, 2), metres.

        The first ring of a polygon is its outline, counter-clockwise; the others are holes, clockwise.
        """
        from contourpy import FillType, contour_generator

        # a rim of zeros closes every contour
        z = np.pad(self.grid.sum(axis=0) / self.centres, 1)
        x = np.concatenate(([self.x_m[0] - self.cell_m], self.x_m, [self.x_m[-1] + self.cell_m]))
        y = np.concatenate(([self.y_m[0] - self.cell_m], self.y_m, [self.y_m[-1] + self.cell_m]))
        filled = contour_generator(x, y, z, fill_type=FillType.OuterOffset).filled(threshold, math.inf)
        polygons = []
        for points, offsets in zip(*filled, strict=True):
            turned = np.asarray(points, dtype=np.float64) @ self.axes
            outline, *holes = (turned[a:b] for a, b in pairwise(offsets))
            # where the density just touches the threshold, a contour of no size comes out
            if signed_area_m2(outline) > LEAST_RING_M2:
                polygons.append((outline, *(hole for hole in holes if signed_area_m2(hole) < -LEAST_RING_M2)))
        return tuple(polygons)

    def area_sd_m2(self, share: float) -> float:
        """Sampling error of the area: the delete-d jackknife with a quarter of the groups left out.

        Shao & Wu, "A general theory for jackknife variance estimation", Ann. Statist. 17 (1989) 1176-1197 (from
        memory): a quantile jumps from landing to landing, so leaving out few would overstate its error. Kernels keep
        their shape, so the answer errs on the large side: for 1,000 landings by some 5 % for shares of 0.9 and above,
        30 to 50 % for 0.5; for 300 landings by 20 to 80 %.
        """
        limits = np.empty(len(self.subsets))
        for number, subset in enumerate(self.subsets):
            kept = subset[self.group] > 0.0
            centres = np.count_nonzero(self.own & kept)
            at_landings = self.held_out[kept] @ subset / (centres - self.own[kept])
            threshold = _rank_value(at_landings, share)
            # a subset may not reach the share; its lowest landing is then the nearest thing to the threshold
            limits[number] = centres * (float(np.min(at_landings)) if threshold is None else threshold)
        # where all landings together stay below every limit, no subset exceeds its own
        grid = self.grid[:, self.grid.sum(axis=0) > limits.min()]
        cells = [np.count_nonzero(subset @ grid > limit) for subset, limit in zip(self.subsets, limits, strict=True)]
        kept_for_each_left_out = (_GROUPS - _LEFT_OUT) / _LEFT_OUT
        return float(np.std(cells) * math.sqrt(kept_for_each_left_out)) * self.cell_m**2


def estimate(points_m: Array, map_limit_m: float, seed: int) -> Density:
    """Density of landings at (east, north), shape (n, 2), n at least 20; nothing is drawn beyond ``map_limit_m``."""
    n = len(points_m)
    rng = np.random.default_rng(seed)
    order = rng.permutation(n)
    group = np.empty(n, dtype=np.int64)
    group[order] = np.arange(n) % _GROUPS
    subsets = rng.permuted(np.tile(np.where(np.arange(_GROUPS) < _LEFT_OUT, 0.0, 1.0), (_SUBSETS, 1)), axis=1)
    own = np.zeros(n, dtype=np.bool_)
    own[order[:_CENTRES]] = True

    axes = np.linalg.svd(points_m - points_m.mean(axis=0), full_matrices=False)[2]
    axes[1] = -axes[0, 1], axes[0, 0]  # right-handed, or every ring would run backwards
    points = points_m @ axes.T
    covariance = _kernels(points[own])
    x, y, covariance = _grid(points[own], covariance)
    grid = _on_grid(points[own], covariance, group[own], x, y)
    east_north = np.stack(np.meshgrid(x, y), axis=-1) @ axes
    grid[:, np.hypot(east_north[..., 0], east_north[..., 1]) > map_limit_m] = 0.0
    return Density(axes, x, y, grid, _held_out(points, own, covariance, group), own, group, subsets)


def _rank_value(values: Array, share: float) -> float | None:
    rank = (len(values) + 1) * (1.0 - share)
    # a hair of slack: 0.05 times 20 is not quite 1 in binary
    if rank < 1.0 - 1e-9:
        return None
    return float(np.interp(rank, np.arange(1, len(values) + 1), np.sort(values)))


def _kernels(points: Array) -> Array:
    """Covariance of each kernel from the nearest neighbours of its centre, shape (n, 2, 2)."""
    n = len(points)
    k = math.ceil(_NEIGHBOURS * n ** (2.0 / 3.0))
    covariance = np.empty((n, 2, 2))
    x, y = np.ascontiguousarray(points.T)  # apart, and a few rows at a time: what is needed stays in the caches
    for first in range(0, n, 250):
        rows = slice(first, first + 250)
        near = (x[rows, np.newaxis] - x) ** 2
        near += (y[rows, np.newaxis] - y) ** 2
        nearest = np.argpartition(near, k, axis=1)[:, :k]
        east, north = (values[nearest] for values in (x, y))
        east -= east.mean(axis=1, keepdims=True)
        north -= north.mean(axis=1, keepdims=True)
        covariance[rows, 0, 0] = np.einsum("nk,nk->n", east, east) / k
        covariance[rows, 1, 1] = np.einsum("nk,nk->n", north, north) / k
        covariance[rows, 0, 1] = covariance[rows, 1, 0] = np.einsum("nk,nk->n", east, north) / k
    return _WIDTH**2 * covariance


def _grid(points: Array, covariance: Array) -> tuple[Array, Array, Array]:
    """Axes of a grid that resolves the kernels, and the kernels none narrower than the grid can show."""
    values, vectors = np.linalg.eigh(covariance)
    narrow = max(_FINEST_M, math.sqrt(max(0.0, float(np.quantile(values[:, 0], 0.05)))))
    reach = _REACH * np.sqrt(np.diagonal(covariance, axis1=1, axis2=2) + _FINEST_M**2)
    low, high = (points - reach).min(axis=0), (points + reach).max(axis=0)
    cell = max(0.5 * narrow, math.sqrt(float(np.prod(high - low)) / _CELLS))
    x, y = (start + cell * np.arange(math.ceil((end - start) / cell) + 1) for start, end in zip(low, high, strict=True))
    values = np.maximum(values, max(_FINEST_M, 0.7 * cell) ** 2)
    return x, y, np.einsum("nij,nj,nkj->nik", vectors, values, vectors)


def _whitening(covariance: Array) -> tuple[Array, Array, Array, Array]:
    """(a, b, c, peak) of each kernel peak * exp(-(u^2 + v^2) / 2) with u = a dx and v = b dx + c dy."""
    a = 1.0 / np.sqrt(covariance[:, 0, 0])
    slope = covariance[:, 0, 1] / covariance[:, 0, 0]
    c = 1.0 / np.sqrt(covariance[:, 1, 1] - slope * covariance[:, 0, 1])
    return a, -slope * c, c, a * c / (2.0 * math.pi)


def _on_grid(points: Array, covariance: Array, group: NDArray[np.int64], x: Array, y: Array) -> Array:
    grid = np.zeros((_GROUPS, len(y), len(x)))
    cell = x[1] - x[0]
    reach = _REACH * np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    start = np.maximum(0, np.floor((points - reach - (x[0], y[0])) / cell)).astype(int)
    end = np.ceil((points + reach - (x[0], y[0])) / cell).astype(int) + 1
    for i, (a, b, c, peak) in enumerate(zip(*_whitening(covariance), strict=True)):
        columns, rows = slice(start[i, 0], end[i, 0]), slice(start[i, 1], end[i, 1])
        dx, dy = x[columns] - points[i, 0], y[rows] - points[i, 1]
        v = (b * dx)[np.newaxis] + (c * dy)[:, np.newaxis]
        grid[group[i], rows, columns] += peak * np.exp(-0.5 * ((a * dx) ** 2 + v * v))
    return grid


def _held_out(points: Array, own: NDArray[np.bool_], covariance: Array, group: NDArray[np.int64]) -> Array:
    """Sum of the kernels of each group at each landing, its own kernel left out, shape (landings, groups)."""
    a, b, c, peak = _whitening(covariance)
    centres = np.flatnonzero(own)
    member = np.eye(_GROUPS)[group[centres]]
    sums = np.empty((len(points), member.shape[1]))
    for first in range(0, len(points), 500):
        rows = np.arange(first, min(first + 500, len(points)))
        dx, dy = (points[rows, np.newaxis] - points[np.newaxis, centres]).transpose(2, 0, 1)
        kernel = peak * np.exp(-0.5 * ((a * dx) ** 2 + (b * dx + c * dy) ** 2))
        kernel[rows[:, np.newaxis] == centres] = 0.0
        sums[rows] = kernel @ member
    return sums
