"""Times on the road graph: from a car to every node round a closed area, and from a node on to every landing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.ground import RoadNetwork, RoadPoints
from pappus.recovery._chains import Chains

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Arrivals:
    """When a car is at each node, seconds after now, and how it gets there; inf where it does not."""

    time_s: Array
    before: tuple[Integers, ...]
    """The node before each on its way, once for each stretch of the way, the last stretch first."""
    starts_inside: bool
    """The car stands in the closed area after its closing: its way leaves it first."""

    def nodes(self, node: int) -> Integers:
        """Nodes from the car to a node."""
        found = [node]
        for before in self.before:
            outside = len(before) - 1
            while before[found[-1]] != outside:
                found.append(int(before[found[-1]]))
        return np.array(found[::-1], dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Graph:
    """Planned drive times: those of legal speeds on empty roads times ``factor``."""

    roads: RoadNetwork
    chains: Chains
    factor: float

    @cached_property
    def onward(self) -> Any:
        """Sparse matrix of the times."""
        from scipy.sparse import csr_array

        count = len(self.roads.node_latitude_deg)
        times = self.factor * self.roads.edge_time_s
        return csr_array((times, (self.roads.edge_from, self.roads.edge_to)), shape=(count, count))

    def from_node(self, node: int, limit_s: float) -> Array:
        """Time from a node to every other, inf beyond the limit."""
        return self.factor * self.chains.from_node(node, limit_s / self.factor)

    def to_node(self, node: int, limit_s: float) -> Array:
        """Time to a node from every other, inf beyond the limit."""
        return self.factor * self.chains.to_node(node, limit_s / self.factor)

    def ties_s(self, points: RoadPoints, *, leaving: bool) -> tuple[Integers, Array]:
        """The two ends of the piece on which each spot lies, and the time from the spot to them or from them to it.

        Shape (spots, 2); inf where the direction is not allowed or there is no road.
        """
        known = points.segment >= 0
        ends = np.zeros((len(points.segment), 2), dtype=np.int64)
        time = np.full((len(points.segment), 2), np.inf)
        piece, share = self.roads.segments[points.segment[known]], points.share[known]
        ends[known] = piece[:, :2]
        toward_second, toward_first = piece[:, 2], piece[:, 3]
        edges = (toward_first, toward_second) if leaving else (toward_second, toward_first)
        for column, (edge, part) in enumerate(zip(edges, (share, 1.0 - share), strict=True)):
            whole = np.where(edge >= 0, self.factor * self.roads.edge_time_s[edge], np.inf)
            column_time = np.full(len(part), np.inf)
            usable = (edge >= 0) & (part > 0.0)
            column_time[usable] = part[usable] * whole[usable]
            column_time[part == 0.0] = 0.0
            time[known, column] = column_time
        return ends, time

    def arrivals(self, start: RoadPoints, closed: Mask, closes_s: float) -> Arrivals:
        """When a car can be at each node, if no node of the closed area may be passed after ``closes_s``.

        Exact: a way into the area counts only where it has left it again by then.
        """
        ends, ties = self.ties_s(start, leaving=True)
        usable = np.isfinite(ties[0])
        ends, ties = ends[0][usable], ties[0][usable]
        free, before = self._from(ends, ties, None)
        if not closed.any() or not np.isfinite(free).any():
            return Arrivals(free, (before,), False)
        through = np.isfinite(free) & ~closed & (free <= closes_s)
        outside = ~closed[ends]
        through[ends[outside]] = True
        if through.any():
            first = np.flatnonzero(through)
            # a node that is an end of the car's own piece is had from the car itself
            starts = free[first]
            time, second = self._from(first, starts, closed)
            return Arrivals(time, (second, before), False)
        # in the area when it is closed already: out of it by the quickest way, then round it
        leave = np.where(closed, np.inf, free)
        if not np.isfinite(leave).any():
            return Arrivals(free, (before,), True)
        exit_node = np.array([int(leave.argmin())])
        time, second = self._from(exit_node, leave[exit_node], closed)
        return Arrivals(time, (second, before), True)

    def _from(self, nodes: Integers, times: Array, closed: Mask | None) -> tuple[Array, Integers]:
        """Times from a source that is tied to some nodes, none into the closed ones."""
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import dijkstra

        base = self.onward
        count = base.shape[0]
        data = base.data if closed is None else np.where(closed[base.indices], np.inf, base.data)
        order = np.argsort(nodes, kind="stable")
        matrix = csr_array(
            (
                np.concatenate((data, times[order])),
                np.concatenate((base.indices, nodes[order].astype(base.indices.dtype))),
                np.concatenate((base.indptr, [base.indptr[-1] + len(nodes)])),
            ),
            shape=(count + 1, count + 1),
        )
        time, before = dijkstra(matrix, indices=count, return_predecessors=True)
        return time[:count], before.astype(np.int64)
