"""What "in reach" means, and how long the crew needs from a node of the road network to each landing."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pappus.earth import require_range
from pappus.recovery._graph import Graph, Integers
from pappus.recovery._landings import Landings
from pappus.recovery._stops import ChaseRoads

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

WATER_KINDS = ("water", "sea")


@dataclass(frozen=True)
class Reach:
    """A landing is in reach when the crew stands at the payload within ``within_s`` after touchdown.

    It drives to the meeting point, waits there until touchdown (or comes later), drives on to the spot on a road that
    is nearest to the landing, and walks straight from there. Common practice, no source.

    :raises OutOfRange: a value outside its range.
    """

    within_s: float = 1800.0
    """60 s to 6 h."""
    slower: float = 1.25
    """Planned drive time over that at legal speeds on empty roads, for turns, lights and traffic; 1 to 5. Never below
    1: nothing here asks anyone to drive faster than the law allows."""
    walk_m_s: float = 0.8
    """Straight over open country, with what is carried; 0.1 to 2."""
    walk_most_m: float = 1500.0
    """Farther from a road nothing is in reach; 0 to 20 km."""
    quiet_s: float = 600.0
    """So long before the earliest touchdown (1 %) the area under the payload is closed to the car; 0 to 1 h."""
    stand_off_m: float = 300.0
    """How far places to wait keep from the 50 % area; 0 to 10 km."""

    def __post_init__(self) -> None:
        require_range("time after touchdown", self.within_s, 60.0, 21_600.0, "s")
        require_range("slowness", self.slower, 1.0, 5.0, "")
        require_range("walking speed", self.walk_m_s, 0.1, 2.0, "m/s")
        require_range("longest walk", self.walk_most_m, 0.0, 20_000.0, "m")
        require_range("quiet time", self.quiet_s, 0.0, 3600.0, "s")
        require_range("stand-off", self.stand_off_m, 0.0, 10_000.0, "m")


@dataclass(eq=False)
class Needs:
    """Times from nodes on to each landing; rows are kept, for several cars ask for the same."""

    graph: Graph
    landings: Landings
    reach: Reach
    walk_s: Array
    """From the road; inf where it is too far, in water, or where the map cannot tell."""
    told: Mask
    """Where the map can tell: its nearest road is surely the nearest."""
    ends: Integers
    ties_s: Array
    back_ties_s: Array
    node: Integers
    _rows: dict[int, tuple[Array, Array]] = field(default_factory=dict)

    @property
    def cap_s(self) -> float:
        """Longer drives on need not be told apart."""
        return 1.3 * self.reach.within_s

    def at(self, node: int) -> tuple[Array, Array]:
        """Time to each landing, at most ``cap_s`` plus the walk, and time to every node, inf beyond the cap."""
        if node not in self._rows:
            row = self.graph.from_node(node, self.cap_s)
            drive = _nearer(row, self.ends, self.ties_s)
            self._rows[node] = np.minimum(drive, self.cap_s) + self.walk_s, row
        return self._rows[node]

    def uncapped(self, node: int) -> Array:
        """Time to each landing, however long."""
        row = self.graph.from_node(node, np.inf)
        return _nearer(row, self.ends, self.ties_s) + self.walk_s

    def back(self, spots: Integers) -> tuple[Array, Array]:
        """For some landings: time from every node to the road node near them, and from every landing to it.

        Shapes (spots, nodes) and (spots, landings); inf where it is beyond the cap.
        """
        rows = np.stack([self.graph.to_node(int(node), self.cap_s) for node in self.node[spots]])
        return rows, np.stack([_nearer(row, self.ends, self.back_ties_s) for row in rows])


def _nearer(row_s: Array, ends: Integers, ties_s: Array) -> Array:
    """The shorter of the ways by the two ends of a piece."""
    return np.minimum(row_s[ends[:, 0]] + ties_s[:, 0], row_s[ends[:, 1]] + ties_s[:, 1])


def needs_of(chase: ChaseRoads, graph: Graph, landings: Landings, reach: Reach) -> Needs:
    """Put the landings on the road network once."""
    places = landings.latitude_deg, landings.longitude_deg
    spots = chase.roads.nearest(*places, main_only=True)
    inside = chase.roads.box.holds(*places)
    told = inside & (spots.segment >= 0)
    told[told] = spots.distance_m[told] <= chase.roads.box.reach_m(places[0][told], places[1][told])
    walk = spots.distance_m / reach.walk_m_s
    walk = np.where(told & (spots.distance_m <= reach.walk_most_m), walk, np.inf)
    if chase.features is not None:
        for kind in WATER_KINDS:
            if kind in chase.features.shapes:
                walk[chase.features.inside(kind, *places)[0]] = np.inf
    ends, ties = graph.ties_s(spots, leaving=False)
    return Needs(graph, landings, reach, walk, told, ends, ties, graph.ties_s(spots, leaving=True)[1], spots.node)
