"""Roads as a graph: the nearest road to a place, the fastest way between two places, and drive times of many.

Drive times are those of an empty road at the legal speed, with no time for turns, lights or traffic, and turn
restrictions are not known: a lower bound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from pappus.earth import distance_m
from pappus.errors import NoSolution
from pappus.ground._features import Array, Flags, Integers, MapBox, as_points, nearest_on_plane

ROAD_CLASSES = (
    "motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential", "living street",
    "service", "track",
)  # fmt: skip
"""From the widest to the narrowest."""

_AT_NODE_M = 0.1
"""A spot this near to a node lies on it, so that the direction of one of its roads does not bind the others."""


@dataclass(frozen=True, eq=False)
class RoadWay:
    """A stretch of road with one set of properties, as ``build_road_network`` takes it."""

    nodes: Integers
    """Numbers of the nodes along it."""
    forward: bool
    """A car may drive it in the order of the nodes ..."""
    backward: bool
    """... and against it."""
    forward_speed_m_s: float
    backward_speed_m_s: float
    assumed: bool
    """The speed does not come from a sign that the map knows."""
    road_class: str
    """One of ``ROAD_CLASSES``."""
    name: str
    """Name or number, empty when the map knows none."""


@dataclass(frozen=True, eq=False)
class RoadPoints:
    """The nearest spot on a road to each place asked for; where the map has no road, NaN and -1."""

    distance_m: Array
    """Straight from the place to the road, on the ellipsoid."""
    latitude_deg: Array
    longitude_deg: Array
    """The spot on the road."""
    node: Integers
    """The nearer end of the piece of road."""
    segment: Integers
    """The piece of road between two neighbouring nodes, as a number into ``RoadNetwork.segments``."""
    share: Array
    """How far along the piece the spot lies, 0 to 1."""


@dataclass(frozen=True)
class RoadLeg:
    """A part of a route on roads of one name and class."""

    name: str
    road_class: str
    length_m: float
    drive_time_s: float


@dataclass(frozen=True, eq=False)
class Route:
    """The fastest way by car, at legal speeds on empty roads."""

    drive_time_s: float
    length_m: float
    assumed_length_m: float
    """How much of the length has an assumed speed."""
    latitude_deg: Array
    longitude_deg: Array
    legs: tuple[RoadLeg, ...]
    from_road_m: float
    """Straight from the place of departure to where the route begins on a road; not part of length or time."""
    to_road_m: float
    """Straight from where the route ends to the destination."""


@dataclass(frozen=True, eq=False)
class DriveTimes:
    """Drive times between one place and many."""

    time_s: Array
    """NaN where no way was found."""
    reached: Flags
    off_road_m: Array
    """Straight from each of the many places to its road."""
    text: str
    """In words, how many of the places cannot be reached in this map; empty when all can."""


@dataclass(frozen=True, eq=False)
class RoadNetwork:
    """Directed edges between neighbouring nodes, sorted by their ends and without twins, from ``build_road_network``.

    All ``edge_`` arrays have one entry an edge, all ``node_`` arrays one a node.
    """

    box: MapBox
    node_latitude_deg: Array
    node_longitude_deg: Array
    edge_from: Integers
    edge_to: Integers
    edge_length_m: Array
    edge_speed_m_s: Array
    edge_assumed: Flags
    edge_class: Integers
    """Number into ``ROAD_CLASSES``."""
    edge_name: Integers
    """Number into ``names``."""
    names: tuple[str, ...]

    @cached_property
    def edge_time_s(self) -> Array:
        """Time to drive each edge at its legal speed."""
        return self.edge_length_m / self.edge_speed_m_s

    @cached_property
    def main_node(self) -> Flags:
        """Nodes of the largest part in which a car gets from every node to every other and back."""
        count = len(self.node_latitude_deg)
        if count == 0:
            return np.zeros(0, dtype=bool)
        from scipy.sparse.csgraph import connected_components

        label = connected_components(self._matrix(), directed=True, connection="strong")[1]
        return np.asarray(label == np.bincount(label).argmax())

    @cached_property
    def segments(self) -> Integers:
        """Pieces of road, shape (segments, 4): two nodes, and the edge from the first to the second and back, or -1."""
        ends = np.sort(np.column_stack((self.edge_from, self.edge_to)), axis=1)
        pairs, piece = np.unique(ends, axis=0, return_inverse=True)
        table = np.full((len(pairs), 4), -1, dtype=np.int64)
        table[:, :2] = pairs
        onward = self.edge_from < self.edge_to
        edges = np.arange(len(self.edge_from))
        piece = piece.reshape(-1)
        table[piece[onward], 2], table[piece[~onward], 3] = edges[onward], edges[~onward]
        return table

    def nearest(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike, *, main_only: bool = False) -> RoadPoints:
        """The nearest spot on a road to each place; with ``main_only`` on a road of the main part of the network.

        The arguments broadcast. A road beyond ``box.reach_m`` of a place may not be in the map, though it be nearer.
        Settled on the flat map of the box (0.07 % at 400 km from its middle), measured on the WGS84 ellipsoid.
        """
        latitude, longitude = as_points(latitude_deg, longitude_deg)
        tree, numbers = self._main_tree if main_only else self._tree
        distance, found, north, east = nearest_on_plane(tree, self.box.plane, latitude, longitude)
        segment = np.where(found >= 0, numbers[found] if len(numbers) else -1, -1)
        node, share = np.full(len(found), -1, dtype=np.int64), np.full(len(found), np.nan)
        known = segment >= 0
        first, second = self.segments[segment[known], :2].T
        ends = [(self.node_latitude_deg[end], self.node_longitude_deg[end]) for end in (first, second)]
        to_first, to_second = (distance_m(*end, north[known], east[known]) for end in ends)
        whole = to_first + to_second
        part = np.divide(to_first, whole, out=np.zeros_like(whole), where=whole > 0.0)
        share[known] = np.where(to_first < _AT_NODE_M, 0.0, np.where(to_second < _AT_NODE_M, 1.0, part))
        node[known] = np.where(to_first <= to_second, first, second)
        return RoadPoints(distance, north, east, node, segment, share)

    def route(
        self,
        from_latitude_deg: float,
        from_longitude_deg: float,
        to_latitude_deg: float,
        to_longitude_deg: float,
        *,
        main_only: bool = False,
    ) -> Route:
        """The fastest way between the roads nearest to two places (Dijkstra, through scipy).

        Raises NoSolution when the map has no road, or no way from one to the other; ``main_only`` then leaves out
        the pieces of road that hang together with nothing, at the price of a longer way on foot.
        """
        start = self.nearest(from_latitude_deg, from_longitude_deg, main_only=main_only)
        end = self.nearest(to_latitude_deg, to_longitude_deg, main_only=main_only)
        if start.segment[0] < 0 or end.segment[0] < 0:
            raise NoSolution("the map holds no road for cars near these places: give a map of the area of the chase")
        time, before = self._times(start, end, forward=True)
        if not np.isfinite(time[0]):
            away = self.nearest(to_latitude_deg, to_longitude_deg, main_only=True).distance_m[0]
            passes = f"passes {away:.0f} m from the destination" if np.isfinite(away) else "is empty"
            raise NoSolution(f"no way by car in this map between these places; its main road network {passes}")
        count = len(self.node_latitude_deg)
        stops = [count + 1]
        while stops[-1] != count:
            stops.append(int(before[stops[-1]]))
        return self._route(start, end, np.array(stops[::-1][1:-1], dtype=np.int64), float(time[0]))

    def drive_times(
        self,
        from_latitude_deg: ArrayLike,
        from_longitude_deg: ArrayLike,
        to_latitude_deg: ArrayLike,
        to_longitude_deg: ArrayLike,
        *,
        main_only: bool = False,
    ) -> DriveTimes:
        """Drive times from many places to one, or from one to many; one of the two sides is a single place.

        Raises ValueError when neither side is a single place.
        """
        start = self.nearest(from_latitude_deg, from_longitude_deg, main_only=main_only)
        end = self.nearest(to_latitude_deg, to_longitude_deg, main_only=main_only)
        if min(len(start.segment), len(end.segment)) != 1:
            raise ValueError("drive times lie between one place and many: give a single place on one side")
        many = start if len(end.segment) == 1 else end
        time = self._times(start, end, forward=many is end)[0]
        reached = np.isfinite(time)
        missing = int((~reached).sum())
        text = f"{missing} of {len(time)} places cannot be reached by car in this map" if missing else ""
        return DriveTimes(np.where(reached, time, np.nan), reached, many.distance_m, text)

    def edge_between(self, start: ArrayLike, end: ArrayLike) -> Integers:
        """Number of the edge from one node to a neighbour, -1 where there is none; the arguments broadcast."""
        count = len(self.node_latitude_deg)
        keys = self.edge_from * count + self.edge_to
        wanted = np.asarray(start, dtype=np.int64) * count + np.asarray(end, dtype=np.int64)
        place = np.minimum(np.searchsorted(keys, wanted), max(len(keys) - 1, 0))
        return np.where(keys[place] == wanted, place, -1) if len(keys) else np.full(wanted.shape, -1)

    @cached_property
    def _tree(self) -> tuple[Any, Integers]:
        return self._tree_of(np.arange(len(self.segments)))

    @cached_property
    def _main_tree(self) -> tuple[Any, Integers]:
        return self._tree_of(np.flatnonzero(self.main_node[self.segments[:, :2]].all(axis=1)))

    def _tree_of(self, numbers: Integers) -> tuple[Any, Integers]:
        import shapely

        nodes = self.box.plane.to_east_north_m(self.node_latitude_deg, self.node_longitude_deg)
        return shapely.STRtree(shapely.linestrings(np.column_stack(nodes)[self.segments[numbers, :2]])), numbers

    def _matrix(self, extra: tuple[Integers, Integers, Array] | None = None, places: int = 0) -> Any:
        """Drive times as a sparse matrix; ``extra`` edges tie ``places`` more nodes to the network."""
        from scipy.sparse import csr_array

        start, end, time = self.edge_from, self.edge_to, self.edge_time_s
        if extra is not None:
            start, end, time = (np.concatenate(both) for both in zip((start, end, time), extra, strict=True))
        count = len(self.node_latitude_deg) + places
        return csr_array((time, (start, end)), shape=(count, count))

    def _times(self, start: RoadPoints, end: RoadPoints, *, forward: bool) -> tuple[Array, Integers]:
        """Times between all starts and ends, one of which is single, and the node before each on the way.

        Starts become nodes behind those of the network, ends the nodes behind them.
        """
        from scipy.sparse.csgraph import dijkstra

        count, starts, ends = len(self.node_latitude_deg), len(start.segment), len(end.segment)
        leaving = self._ties(start, count, leaving=True)
        arriving = self._ties(end, count + starts, leaving=False)
        straight = self._straight(start, end, count)
        extra = [np.concatenate(parts) for parts in zip(leaving, arriving, straight, strict=True)]
        matrix = self._matrix((extra[0], extra[1], extra[2]), starts + ends)
        if forward:
            time, before = dijkstra(matrix, indices=count, return_predecessors=True)
            return time[count + starts :], before
        time, before = dijkstra(matrix.T.tocsr(), indices=count + starts, return_predecessors=True)
        return time[count : count + starts], before

    def _ties(self, points: RoadPoints, first: int, *, leaving: bool) -> tuple[Integers, Integers, Array]:
        """Edges between spots on a road and the ends of their pieces: where that is allowed, or the spot is the end."""
        known = np.flatnonzero(points.segment >= 0)
        piece, share = self.segments[points.segment[known]], points.share[known]
        # against the direction of a piece nothing but its own end can be had, at no cost
        toward, back = (piece[:, 2], piece[:, 3]) if leaving else (piece[:, 3], piece[:, 2])
        spots, ends, times = [], [], []
        for edge, end, part in ((toward, 1, 1.0 - share), (back, 0, share)):
            allowed = (edge >= 0) | (part == 0.0)
            spots.append(known[allowed] + first)
            ends.append(piece[allowed, end])
            times.append(np.where(part[allowed] == 0.0, 0.0, part[allowed] * self.edge_time_s[edge[allowed]]))
        spot, node = np.concatenate(spots), np.concatenate(ends)
        return (spot, node, np.concatenate(times)) if leaving else (node, spot, np.concatenate(times))

    def _straight(self, start: RoadPoints, end: RoadPoints, count: int) -> tuple[Integers, Integers, Array]:
        """Edges between a start and an end on the same piece of road, where the direction is allowed."""
        same = (start.segment == end.segment) & (start.segment >= 0)
        number = np.flatnonzero(same)
        ahead = np.broadcast_to(end.share - start.share, same.shape)[number]
        piece = self.segments[np.broadcast_to(start.segment, same.shape)[number]]
        edge = np.where(ahead >= 0.0, piece[:, 2], piece[:, 3])
        edge = np.where((ahead == 0.0) & (edge < 0), piece[:, 3], edge)
        number, ahead, edge = number[edge >= 0], ahead[edge >= 0], edge[edge >= 0]
        starts, ends = len(start.segment), len(end.segment)
        from_node = count + (number if starts > 1 else np.zeros_like(number))
        to_node = count + starts + (number if ends > 1 else np.zeros_like(number))
        return from_node, to_node, np.abs(ahead) * self.edge_time_s[edge]

    def _route(self, start: RoadPoints, end: RoadPoints, nodes: Integers, time_s: float) -> Route:
        first, last = self.segments[start.segment[0]], self.segments[end.segment[0]]
        if len(nodes) == 0:
            edges = [first[2] if end.share[0] > start.share[0] else first[3]]
        else:
            edges = [first[2] if nodes[0] == first[1] else first[3], *self.edge_between(nodes[:-1], nodes[1:])]
            edges.append(last[2] if nodes[-1] == last[0] else last[3])
        north = np.concatenate((start.latitude_deg, self.node_latitude_deg[nodes], end.latitude_deg))
        east = np.concatenate((start.longitude_deg, self.node_longitude_deg[nodes], end.longitude_deg))
        length = distance_m(north[:-1], east[:-1], north[1:], east[1:])
        # no piece of road leads from a spot to the node that it is, or to itself
        moved = np.ones(len(length), dtype=bool)
        moved[[0, -1]] = length[[0, -1]] >= _AT_NODE_M
        edge, length = np.array(edges)[moved], length[moved]
        time = length / self.edge_speed_m_s[edge]
        legs = []
        for (name, road_class), group in groupby(
            range(len(edge)), lambda i: (self.edge_name[edge[i]], self.edge_class[edge[i]])
        ):
            part = list(group)
            total_m, total_s = float(length[part].sum()), float(time[part].sum())
            legs.append(RoadLeg(self.names[name], ROAD_CLASSES[road_class], total_m, total_s))
        return Route(
            drive_time_s=time_s,
            length_m=float(length.sum()),
            assumed_length_m=float(length[self.edge_assumed[edge]].sum()),
            latitude_deg=north,
            longitude_deg=east,
            legs=tuple(legs),
            from_road_m=float(start.distance_m[0]),
            to_road_m=float(end.distance_m[0]),
        )


def build_road_network(
    box: MapBox, node_latitude_deg: Array, node_longitude_deg: Array, ways: Sequence[RoadWay]
) -> RoadNetwork:
    """The graph of some ways: an edge for each pair of neighbouring nodes and each direction that is allowed.

    Of two edges between the same nodes the faster stays; lengths are those on the WGS84 ellipsoid (1e-5). Raises
    ValueError for a class that is none of ``ROAD_CLASSES`` and a speed that is not above zero.
    """
    names: dict[str, int] = {}
    parts: list[tuple[Integers, Integers, Array]] = []
    for way in ways:
        if not min(way.forward_speed_m_s, way.backward_speed_m_s) > 0.0:
            raise ValueError(f"the speed on {way.name or 'a road'} is not above zero")
        kind = (int(way.assumed), ROAD_CLASSES.index(way.road_class), names.setdefault(way.name, len(names)))
        for allowed, nodes, speed in (
            (way.forward, way.nodes, way.forward_speed_m_s),
            (way.backward, way.nodes[::-1], way.backward_speed_m_s),
        ):
            if allowed and len(nodes) > 1:
                steps = len(nodes) - 1
                ends = np.column_stack((nodes[:-1], nodes[1:]))
                parts.append((ends, np.tile(kind, (steps, 1)), np.full(steps, speed)))
    if not parts:
        parts.append((np.empty((0, 2), dtype=np.int64), np.empty((0, 3), dtype=np.int64), np.empty(0)))
    pairs, properties, speeds = (np.concatenate(part) for part in zip(*parts, strict=True))
    # the faster of twins first, so that the first of each pair of ends is the one to keep
    order = np.lexsort((-speeds, pairs[:, 1], pairs[:, 0]))
    fresh = np.ones(len(pairs), dtype=bool)
    fresh[1:] = (np.diff(pairs[order], axis=0) != 0).any(axis=1)
    kept = order[fresh & (pairs[order, 0] != pairs[order, 1])]
    start, end = pairs[kept].T
    return RoadNetwork(
        box=box,
        node_latitude_deg=node_latitude_deg,
        node_longitude_deg=node_longitude_deg,
        edge_from=start,
        edge_to=end,
        edge_length_m=distance_m(
            node_latitude_deg[start], node_longitude_deg[start], node_latitude_deg[end], node_longitude_deg[end]
        ),
        edge_speed_m_s=speeds[kept],
        edge_assumed=properties[kept, 0].astype(bool),
        edge_class=properties[kept, 1],
        edge_name=properties[kept, 2],
        names=tuple(names),
    )
