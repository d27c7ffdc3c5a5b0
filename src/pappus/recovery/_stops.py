"""Where a car may wait: nodes of the road network at which stopping is lawful and safe, as far as the map tells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pappus.ground import ROAD_CLASSES, GroundFeatures, RoadNetwork
from pappus.recovery._chains import Chains, chains_of

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LONGEST_PIECE_M = 500.0
"""Longer pieces of road are divided, so that there are places to wait along a straight road too."""


@dataclass(frozen=True)
class StopRules:
    """What a place to wait must keep clear of [own choices; the law at the place and the driver decide]."""

    never: tuple[str, ...] = ("motorway", "trunk")
    """Classes of road, ramps included, on or beside which nobody waits."""
    allowed: tuple[str, ...] = ("primary", "secondary", "tertiary", "unclassified", "residential", "living street")
    """Service roads and tracks are often private: they may be driven on to the landing, not waited on."""
    junction_m: float = 10.0
    """From a junction; laws ask 5 to 10 m or so [from memory]."""
    railway_m: float = 30.0
    water_m: float = 20.0
    power_line_m: float = 50.0


@dataclass(frozen=True, eq=False)
class ChaseRoads:
    """A road network made ready for the chase, once for the whole flight, by ``chase_roads``."""

    roads: RoadNetwork
    """With long pieces divided; the nodes of the map come first, in their order."""
    stop: Mask
    """At which nodes a car may wait."""
    features: GroundFeatures | None
    notes: tuple[str, ...]
    """What the map could not tell."""

    @cached_property
    def points(self) -> NDArray[np.object_]:
        """The nodes as shapely points on the plane of the map; made at the first call."""
        import shapely

        roads = self.roads
        places = roads.box.plane.to_east_north_m(roads.node_latitude_deg, roads.node_longitude_deg)
        return np.asarray(shapely.points(np.column_stack(places)))

    @cached_property
    def chains(self) -> Chains:
        """The roads from junction to junction; made at the first call."""
        return chains_of(self.roads)


def chase_roads(roads: RoadNetwork, features: GroundFeatures | None, rules: StopRules | None = None) -> ChaseRoads:
    """Divide long pieces of road and find the places to wait.

    A place to wait lies on the part of the network from which everything else is reached, touches an allowed class and
    none of the others that are forbidden, is no junction and not near one, and keeps away from rails, water and power
    lines of the map. Roads closed to cars are not in a road network at all. Raises ValueError for an unknown class.
    """
    rules = rules or StopRules()
    dense = divided(roads, LONGEST_PIECE_M)
    stop = dense.main_node & _by_class(dense, rules) & ~_at_junction(dense, rules.junction_m)
    notes = ["signs against stopping, tunnels and bridges are not in the map: the driver decides where to stop"]
    if features is None:
        notes.append("no map of rails, water and power lines is given: places to wait were not kept away from them")
        return ChaseRoads(dense, stop, None, tuple(notes))
    for kinds, far in (
        (("railway",), rules.railway_m),
        (("water", "sea", "waterway"), rules.water_m),
        (("power_line", "power_tower", "substation"), rules.power_line_m),
    ):
        missing = [kind for kind in kinds if kind not in features.shapes]
        if missing:
            notes.append(f"the map was not read for {', '.join(missing)}: places to wait were not kept away from that")
        for kind in kinds:
            if kind in features.shapes:
                stop &= ~_near(dense, features, kind, far)
    return ChaseRoads(dense, stop, features, tuple(notes))


def divided(roads: RoadNetwork, longest_m: float) -> RoadNetwork:
    """The same network with no piece longer than that; new nodes lie evenly along it."""
    pieces = roads.segments
    either = np.where(pieces[:, 2] >= 0, pieces[:, 2], pieces[:, 3])
    parts = np.ones(len(pieces), dtype=np.int64)
    if len(pieces):
        parts = np.maximum(np.ceil(roads.edge_length_m[either] / longest_m).astype(np.int64), 1)
    long = np.flatnonzero(parts > 1)
    if not long.size:
        return roads
    count = len(roads.node_latitude_deg)
    added = parts[long] - 1
    first = count + np.concatenate(([0], np.cumsum(added)[:-1]))
    owner = np.repeat(np.arange(len(long)), added)
    share = (np.arange(int(added.sum())) - (first - count)[owner] + 1) / parts[long][owner]
    start, end = pieces[long, 0], pieces[long, 1]
    north, east = roads.node_latitude_deg, roads.node_longitude_deg
    turn = (east[end] - east[start] + 180.0) % 360.0 - 180.0
    new_north = north[start][owner] + share * (north[end] - north[start])[owner]
    new_east = east[start][owner] + share * turn[owner]
    edges, ends = [], []
    for number, piece in enumerate(long):
        chain = np.concatenate(([start[number]], first[number] + np.arange(added[number]), [end[number]]))
        for edge, line in ((pieces[piece, 2], chain), (pieces[piece, 3], chain[::-1])):
            if edge >= 0:
                edges.append(np.full(len(line) - 1, edge))
                ends.append(np.column_stack((line[:-1], line[1:])))
    whole = np.ones(len(roads.edge_from), dtype=bool)
    split = pieces[long, 2:].ravel()
    whole[split[split >= 0]] = False
    source = np.concatenate((np.flatnonzero(whole), *edges))
    pairs = np.concatenate((np.column_stack((roads.edge_from, roads.edge_to))[whole], *ends))
    length = roads.edge_length_m[source].copy()
    part_of_edge = np.ones(len(roads.edge_from), dtype=np.int64)
    for column in (2, 3):
        known = pieces[long, column] >= 0
        part_of_edge[pieces[long, column][known]] = parts[long][known]
    length /= part_of_edge[source]
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    source = source[order]
    return replace(
        roads,
        node_latitude_deg=np.concatenate((north, new_north)),
        node_longitude_deg=np.concatenate((east, new_east)),
        edge_from=pairs[order, 0],
        edge_to=pairs[order, 1],
        edge_length_m=length[order],
        edge_speed_m_s=roads.edge_speed_m_s[source],
        edge_assumed=roads.edge_assumed[source],
        edge_class=roads.edge_class[source],
        edge_name=roads.edge_name[source],
    )


def neighbours(roads: RoadNetwork) -> NDArray[np.int64]:
    """How many pieces of road meet at each node: 1 at a dead end, 2 along a road, more at a junction."""
    return np.bincount(roads.segments[:, :2].ravel(), minlength=len(roads.node_latitude_deg))


def _by_class(roads: RoadNetwork, rules: StopRules) -> Mask:
    never, allowed = ([ROAD_CLASSES.index(name) for name in names] for names in (rules.never, rules.allowed))
    touched = np.zeros((2, len(roads.node_latitude_deg)), dtype=bool)
    for row, classes in enumerate((never, allowed)):
        of_class = np.isin(roads.edge_class, classes)
        touched[row, roads.edge_from[of_class]] = True
        touched[row, roads.edge_to[of_class]] = True
    return np.asarray(touched[1] & ~touched[0])


def _at_junction(roads: RoadNetwork, junction_m: float) -> Mask:
    """A junction, or tied to one by a piece shorter than ``junction_m``."""
    junction = neighbours(roads) > 2
    near = junction.copy()
    short = roads.edge_length_m < junction_m
    near[roads.edge_from[short & junction[roads.edge_to]]] = True
    near[roads.edge_to[short & junction[roads.edge_from]]] = True
    return near


def _near(roads: RoadNetwork, features: GroundFeatures, kind: str, far_m: float) -> Mask:
    """Within a distance of a shape of the kind; on the flat map, as far as it is measurable."""
    import shapely

    found = np.zeros(len(roads.node_latitude_deg), dtype=bool)
    if not len(features.shapes[kind]):
        return found
    plane = features.box.plane
    north, east = roads.node_latitude_deg, roads.node_longitude_deg
    known = np.flatnonzero(features.box.measurable(north, east))
    points = shapely.points(np.column_stack(plane.to_east_north_m(north[known], east[known])))
    tree = shapely.STRtree(features.shapes[kind].on_plane(plane))
    hits = tree.query(points, predicate="dwithin", distance=far_m)[0]
    found[known[hits]] = True
    return found
