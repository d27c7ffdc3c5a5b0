"""The way of a car: parts with their names, turns, and where the ways to several places part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from pappus.earth import distance_m
from pappus.ground import ROAD_CLASSES, RoadLeg, RoadNetwork, RoadPoints
from pappus.recovery._graph import Array, Graph, Integers
from pappus.recovery._stops import neighbours

TURN_DEG = 40.0
"""A bend at a junction below this is "straight on"; beyond 110 degrees it is sharp, beyond 160 a turn back."""
SHARP_DEG = 110.0
BACK_DEG = 160.0


@dataclass(frozen=True)
class Turn:
    """What the driver does at a junction."""

    latitude_deg: float
    longitude_deg: float
    after_m: float
    """From where the car is now, along the road."""
    after_s: float
    """Planned time until then."""
    way: str
    """"left", "right", "sharp left", "sharp right", "back" or "straight on"."""
    onto: str
    """Name of the road after it, empty when the map knows none."""


@dataclass(frozen=True, eq=False)
class ChaseRoute:
    """A way by car; times are planned ones, never shorter than legal speeds take."""

    drive_time_s: float
    length_m: float
    latitude_deg: Array
    longitude_deg: Array
    after_s: Array
    """Planned time until each of these points."""
    legs: tuple[RoadLeg, ...]
    turns: tuple[Turn, ...]
    assumed_length_m: float
    """How much of the length has an assumed speed."""
    from_road_m: float
    """Straight from the car's position to the road on which the way begins."""


@dataclass(frozen=True)
class DecisionPoint:
    """Where the ways to the best few places part: until then the choice is open."""

    latitude_deg: float
    longitude_deg: float
    after_m: float
    after_s: float
    """Planned time from now; 0 when the ways part where the car is."""
    choices: int
    """Places between which it decides."""
    road: str
    """Name of the road on which the chosen way goes on, empty when the map knows none."""


def route_along(graph: Graph, start: RoadPoints, nodes: Integers, drive_time_s: float) -> ChaseRoute:
    """The way from the car through these nodes, of which the first is an end of the car's own piece of road."""
    roads = graph.roads
    edges = [_first_edge(roads, start, int(nodes[0])), *roads.edge_between(nodes[:-1], nodes[1:])]
    edge = np.array(edges, dtype=np.int64)
    north = np.concatenate((start.latitude_deg, roads.node_latitude_deg[nodes]))
    east = np.concatenate((start.longitude_deg, roads.node_longitude_deg[nodes]))
    length = distance_m(north[:-1], east[:-1], north[1:], east[1:])
    length[1:] = roads.edge_length_m[edge[1:]]
    moved = edge >= 0
    # the car may stand on the first node, whose piece is then no part of the way
    length = np.where(moved, length, 0.0)
    time = np.where(moved, graph.factor * length / roads.edge_speed_m_s[edge], 0.0)
    legs = []
    for (name, road_class), group in groupby(
        np.flatnonzero(moved), lambda i: (roads.edge_name[edge[i]], roads.edge_class[edge[i]])
    ):
        part = list(group)
        total_m, total_s = float(length[part].sum()), float(time[part].sum())
        legs.append(RoadLeg(roads.names[name], ROAD_CLASSES[road_class], total_m, total_s))
    return ChaseRoute(
        drive_time_s=drive_time_s,
        length_m=float(length.sum()),
        latitude_deg=north,
        longitude_deg=east,
        after_s=np.concatenate(([0.0], np.cumsum(time))),
        legs=tuple(legs),
        turns=tuple(_turns(roads, nodes, edge, north, east, length, time)),
        assumed_length_m=float(length[moved & roads.edge_assumed[edge]].sum()),
        from_road_m=float(start.distance_m[0]),
    )


def decision_point(graph: Graph, start: RoadPoints, ways: Sequence[Integers], time_s: Array) -> DecisionPoint | None:
    """Where the first of some ways leaves the others; None when all go the same way to the end of the first.

    :param ways: nodes of each, the chosen one first.
    :param time_s: when the car is at each node of the network.
    """
    chosen = ways[0]
    common = len(chosen)
    for other in ways[1:]:
        shorter = min(len(chosen), len(other))
        apart = np.flatnonzero(chosen[:shorter] != other[:shorter])
        common = min(common, int(apart[0]) if apart.size else shorter)
    if common == len(chosen):
        return None
    roads = graph.roads
    if common == 0:
        place, after_s, after_m = (float(start.latitude_deg[0]), float(start.longitude_deg[0])), 0.0, 0.0
    else:
        node = int(chosen[common - 1])
        place = float(roads.node_latitude_deg[node]), float(roads.node_longitude_deg[node])
        after_s = float(time_s[node])
        after_m = route_along(graph, start, chosen[:common], after_s).length_m
    ahead = int(roads.edge_between(chosen[common - 1], chosen[common])) if common else -1
    name = roads.names[roads.edge_name[ahead]] if ahead >= 0 else ""
    return DecisionPoint(*place, after_m, after_s, len(ways), name)


def _first_edge(roads: RoadNetwork, start: RoadPoints, node: int) -> int:
    piece, share = roads.segments[start.segment[0]], float(start.share[0])
    if (share == 0.0 and node == piece[0]) or (share == 1.0 and node == piece[1]):
        return -1
    return int(piece[2] if node == piece[1] else piece[3])


def _turns(
    roads: RoadNetwork, nodes: Integers, edge: Integers, north: Array, east: Array, length: Array, time: Array
) -> list[Turn]:
    """At every junction where the way bends, and wherever the name of the road changes."""
    meeting = neighbours(roads)
    after_m, after_s = np.cumsum(length), np.cumsum(time)
    turns = []
    for place in range(len(nodes) - 1):
        junction = meeting[nodes[place]] > 2
        if edge[place] < 0 or not junction:
            continue
        bend = _bend_deg(north[place : place + 3], east[place : place + 3])
        before, after = (roads.names[roads.edge_name[edge[place + step]]] for step in (0, 1))
        if abs(bend) < TURN_DEG and before == after:
            continue
        turns.append(
            Turn(
                float(north[place + 1]), float(east[place + 1]),
                float(after_m[place]), float(after_s[place]), _way(bend), after,
            )
        )  # fmt: skip
    return turns


def _way(bend_deg: float) -> str:
    size = abs(bend_deg)
    if size < TURN_DEG:
        return "straight on"
    side = "right" if bend_deg > 0.0 else "left"
    if size >= BACK_DEG:
        return "back"
    return f"sharp {side}" if size >= SHARP_DEG else side


def _bend_deg(north_deg: Array, east_deg: Array) -> float:
    """Change of course at the middle one of three points, to the right positive, -180 to 180."""
    wide = np.cos(np.radians(north_deg[1]))
    east = (np.diff(east_deg) + 180.0) % 360.0 - 180.0
    course = np.degrees(np.arctan2(east * wide, np.diff(north_deg)))
    return float((course[1] - course[0] + 180.0) % 360.0 - 180.0)
