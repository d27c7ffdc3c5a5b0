"""Drive times between all nodes, by way of the junctions only: most nodes of a map lie along a road between two.

Exact: a way from or to a node on such a chain passes one of the ends of the chain, or stays on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.ground import RoadNetwork

Array = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class _Chain:
    """Nodes from one end to the other, and the time of each step along and against that order."""

    nodes: Integers
    along_s: Array
    against_s: Array


@dataclass(frozen=True, eq=False)
class Chains:
    """Legal drive times on empty roads, through ``chains_of``.

    The arrays ``ends`` and ``*_s`` have one row a node and two columns, for the two ends of its chain; an end or
    junction has itself twice.
    """

    count: int
    """Number of ends and junctions."""
    ends: Integers
    """Number of each end of the chain among the ends."""
    out_s: Array
    """From the node to the end, inf where that is not allowed."""
    in_s: Array
    chain_of: Integers
    """Number of the chain of a node between ends, else -1."""
    place: Integers
    """Of the node along its chain."""
    chains: tuple[_Chain, ...]

    def from_node(self, node: int, limit_s: float) -> Array:
        """Time from a node to every other; inf beyond the limit."""
        return self._row(node, limit_s, self._ahead, self.out_s, self.in_s, onward=True)

    def to_node(self, node: int, limit_s: float) -> Array:
        """Time to a node from every other; inf beyond the limit."""
        return self._row(node, limit_s, self._back, self.in_s, self.out_s, onward=False)

    def _row(self, node: int, limit_s: float, matrix: Any, leave_s: Array, arrive_s: Array, *, onward: bool) -> Array:
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import dijkstra

        starts = np.where(np.isfinite(leave_s[node]))[0]
        if self.ends[node, 0] == self.ends[node, 1] and starts.size:
            starts = starts[[int(leave_s[node, starts].argmin())]]
        starts = starts[np.argsort(self.ends[node, starts])]
        tied = csr_array(
            (
                np.concatenate((matrix.data, leave_s[node, starts])),
                np.concatenate((matrix.indices, self.ends[node, starts].astype(matrix.indices.dtype))),
                np.concatenate((matrix.indptr, [matrix.indptr[-1] + len(starts)])),
            ),
            shape=(self.count + 1, self.count + 1),
        )
        at_end = dijkstra(tied, indices=self.count, limit=limit_s)[: self.count]
        first, second = self._two_ends
        row = np.minimum(at_end[first] + arrive_s[:, 0], at_end[second] + arrive_s[:, 1])
        row[node] = 0.0
        if self.chain_of[node] >= 0:
            self._same_chain(node, row, onward=onward)
        row[row > limit_s] = np.inf
        return np.asarray(row)

    def _same_chain(self, node: int, row: Array, *, onward: bool) -> None:
        """Ways that stay on the chain of the node."""
        chain, place = self.chains[self.chain_of[node]], int(self.place[node])
        up, down = (chain.along_s, chain.against_s) if onward else (chain.against_s, chain.along_s)
        after, before = np.cumsum(up[place:]), np.cumsum(down[:place][::-1])
        for nodes, times in ((chain.nodes[place + 1 :], after), (chain.nodes[:place][::-1], before)):
            np.minimum.at(row, nodes, times)

    @cached_property
    def _two_ends(self) -> tuple[Integers, Integers]:
        return np.ascontiguousarray(self.ends[:, 0]), np.ascontiguousarray(self.ends[:, 1])

    @cached_property
    def _ahead(self) -> Any:
        from scipy.sparse import csr_array

        pairs = [(chain.nodes[0], chain.nodes[-1], chain) for chain in self.chains]
        start = np.array([self.ends[first, 0] for first, _, _ in pairs], dtype=np.int64)
        end = np.array([self.ends[last, 0] for _, last, _ in pairs], dtype=np.int64)
        along = np.array([chain.along_s.sum() for _, _, chain in pairs])
        against = np.array([chain.against_s.sum() for _, _, chain in pairs])
        rows, columns = np.concatenate((start, end)), np.concatenate((end, start))
        times = np.concatenate((along, against))
        # the quickest of several chains between the same ends; a sparse matrix would add them up
        order = np.lexsort((times, columns, rows))
        rows, columns, times = rows[order], columns[order], times[order]
        fresh = np.ones(len(rows), dtype=bool)
        fresh[1:] = (np.diff(rows) != 0) | (np.diff(columns) != 0)
        fresh &= np.isfinite(times) & (rows != columns)
        return csr_array((times[fresh], (rows[fresh], columns[fresh])), shape=(self.count, self.count))

    @cached_property
    def _back(self) -> Any:
        return self._ahead.T.tocsr()


def chains_of(roads: RoadNetwork) -> Chains:
    """Follow every road from junction to junction, once."""
    count = len(roads.node_latitude_deg)
    pieces = roads.segments
    times = np.where(pieces[:, 2:] >= 0, roads.edge_time_s[pieces[:, 2:]] if len(pieces) else 0.0, np.inf)
    both = np.concatenate((pieces[:, 0], pieces[:, 1]))
    order = np.argsort(both, kind="stable")
    begin = np.searchsorted(both[order], np.arange(count + 1)).tolist()
    at = (order % max(len(pieces), 1)).tolist()
    ends, steps = pieces[:, :2].tolist(), times.tolist()
    is_end = np.bincount(both, minlength=count) != 2
    used = [False] * len(pieces)
    chains: list[_Chain] = []
    for wanted in (np.flatnonzero(is_end).tolist(), range(count)):
        # the second time round only rings without a junction are left: any of their nodes is as good as an end
        for first in wanted:
            for piece in at[begin[first] : begin[first + 1]]:
                if not used[piece]:
                    is_end[first] = True
                    chains.append(_follow(first, piece, used, is_end, at, begin, ends, steps))
    keys = np.flatnonzero(is_end)
    number = np.full(count, -1, dtype=np.int64)
    number[keys] = np.arange(len(keys))
    end_of = np.column_stack((number, number))
    out_s, in_s = np.zeros((count, 2)), np.zeros((count, 2))
    chain_of, place = np.full(count, -1, dtype=np.int64), np.zeros(count, dtype=np.int64)
    for which, chain in enumerate(chains):
        inner = chain.nodes[1:-1]
        along, against = np.cumsum(chain.along_s), np.cumsum(chain.against_s)
        back_along, back_against = (np.cumsum(part[::-1])[::-1] for part in (chain.along_s, chain.against_s))
        end_of[inner] = number[chain.nodes[[0, -1]]]
        in_s[inner] = np.column_stack((along[:-1], back_against[1:]))
        out_s[inner] = np.column_stack((against[:-1], back_along[1:]))
        chain_of[inner], place[inner] = which, np.arange(1, len(inner) + 1)
    return Chains(len(keys), end_of, out_s, in_s, chain_of, place, tuple(chains))


def _follow(
    first: int,
    piece: int,
    used: list[bool],
    is_end: NDArray[np.bool_],
    at: Sequence[int],
    begin: Sequence[int],
    ends: Sequence[Sequence[int]],
    steps: Sequence[Sequence[float]],
) -> _Chain:
    nodes, along, against = [first], [], []
    while True:
        used[piece] = True
        here = nodes[-1]
        turned = ends[piece][0] != here
        nodes.append(ends[piece][0] if turned else ends[piece][1])
        along.append(steps[piece][turned])
        against.append(steps[piece][not turned])
        if is_end[nodes[-1]]:
            return _Chain(np.array(nodes), np.array(along), np.array(against))
        two = at[begin[nodes[-1]] : begin[nodes[-1] + 1]]
        piece = two[1] if two[0] == piece else two[0]
