"""Invented road networks for the tests of the chase, and the plain way to answer the same questions."""

from __future__ import annotations

import heapq
from collections import defaultdict

import numpy as np

from pappus.ground import MapBox, RoadNetwork, RoadWay, build_road_network
from pappus.recovery import Landings, Reach

MIXED = ("motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential", "service", "track")


def street_grid(
    side: int, seed: int, *, classes: tuple[str, ...] = MIXED, step_deg: float = 0.004, kept: float = 0.85
) -> RoadNetwork:
    """Crooked blocks of some 450 m, each side with a node at its middle; some sides are missing, some one-way."""
    rng = np.random.default_rng(seed)
    corner = np.arange(side * side).reshape(side, side)
    north, east = np.meshgrid(50.0 + step_deg * np.arange(side), 10.0 + 1.5 * step_deg * np.arange(side), indexing="ij")
    north = north.ravel() + rng.normal(0.0, step_deg / 8.0, side * side)
    east = east.ravel() + rng.normal(0.0, step_deg / 8.0, side * side)
    pairs = np.concatenate(
        [
            np.stack([corner[:, :-1].ravel(), corner[:, 1:].ravel()], 1),
            np.stack([corner[:-1].ravel(), corner[1:].ravel()], 1),
        ]
    )
    pairs = pairs[rng.random(len(pairs)) < kept]
    middle = side * side + np.arange(len(pairs))
    bend = rng.normal(0.0, step_deg / 20.0, (2, len(pairs)))
    north = np.r_[north, north[pairs].mean(axis=1) + bend[0]]
    east = np.r_[east, east[pairs].mean(axis=1) + bend[1]]
    ways = []
    for number, (first, last) in enumerate(pairs):
        speed, two_way = float(rng.uniform(8.0, 25.0)), bool(rng.random() < 0.85)
        road_class = classes[int(rng.integers(len(classes)))]
        name = f"Street {first // side}"
        nodes = np.array([first, middle[number], last])
        ways.append(RoadWay(nodes, True, two_way, speed, speed, False, road_class, name))
    edge = step_deg * 3.0
    box = MapBox(north.min() - edge, north.max() + edge, east.min() - edge, east.max() + edge)
    return build_road_network(box, north, east, ways)


def scattered(
    roads: RoadNetwork, seed: int, count: int, *, sd_deg: float, touchdown_s: float, spread_s: float, unknown: int = 0
) -> Landings:
    """Landings about a place near the middle of the map."""
    rng = np.random.default_rng(seed)
    box = roads.box
    north = 0.5 * (box.south_deg + box.north_deg) + sd_deg * rng.standard_normal(count)
    east = 0.5 * (box.west_deg + box.east_deg) + 1.5 * sd_deg * rng.standard_normal(count)
    return Landings(north, east, touchdown_s + spread_s * rng.standard_normal(count), unknown)


class PlainChase:
    """Every question by the plainest loop: heap searches over dictionaries of the edges, one place at a time."""

    def __init__(self, roads: RoadNetwork, landings: Landings, reach: Reach) -> None:
        self.roads, self.landings, self.reach = roads, landings, reach
        self.after: dict[int, list[tuple[int, float]]] = defaultdict(list)
        for start, end, length, speed in zip(
            roads.edge_from, roads.edge_to, roads.edge_length_m, roads.edge_speed_m_s, strict=True
        ):
            self.after[int(start)].append((int(end), reach.slower * length / speed))
        self.spots = roads.nearest(landings.latitude_deg, landings.longitude_deg, main_only=True)

    def times(
        self, start: dict[int, float], closed: np.ndarray | None = None, closes_s: float = np.inf
    ) -> dict[int, float]:
        """Earliest times at each node, if nobody may be on a closed node, or on the way from one, after a time."""
        done: dict[int, float] = {}
        queue = [(time, node) for node, time in start.items()]
        heapq.heapify(queue)
        while queue:
            time, node = heapq.heappop(queue)
            if node in done:
                continue
            done[node] = time
            for other, takes in self.after[node]:
                touches = closed is not None and (closed[node] or closed[other])
                if not touches or time + takes <= closes_s:
                    heapq.heappush(queue, (time + takes, other))
        return done

    def from_car(self, latitude_deg: float, longitude_deg: float) -> dict[int, float]:
        """Times to the ends of the piece of road on which a car stands."""
        spot = self.roads.nearest(latitude_deg, longitude_deg, main_only=True)
        first, second, there, back = self.roads.segments[spot.segment[0]]
        share, start = float(spot.share[0]), {}
        if share == 0.0 or back >= 0:
            start[int(first)] = share * self.takes(back) if back >= 0 else 0.0
        if share == 1.0 or there >= 0:
            start[int(second)] = (1.0 - share) * self.takes(there) if there >= 0 else 0.0
        return start

    def takes(self, edge: int) -> float:
        return self.reach.slower * float(self.roads.edge_length_m[edge] / self.roads.edge_speed_m_s[edge])

    def in_reach(self, node: int, arrival_s: float) -> np.ndarray:
        """Which landings are in reach by way of a node."""
        times = self.times({node: 0.0})
        found = np.zeros(self.landings.landed, dtype=bool)
        for number in range(self.landings.landed):
            first, second, there, back = self.roads.segments[self.spots.segment[number]]
            share, drives = float(self.spots.share[number]), [np.inf]
            if share == 0.0 or there >= 0:
                drives.append(times.get(int(first), np.inf) + (share * self.takes(there) if there >= 0 else 0.0))
            if share == 1.0 or back >= 0:
                drives.append(times.get(int(second), np.inf) + ((1 - share) * self.takes(back) if back >= 0 else 0.0))
            away = float(self.spots.distance_m[number])
            here = self.landings.latitude_deg[number], self.landings.longitude_deg[number]
            told = away <= float(self.roads.box.reach_m(*here)[0])
            late = max(arrival_s - max(float(self.landings.touchdown_s[number]), 0.0), 0.0)
            total = late + min(drives) + away / self.reach.walk_m_s
            found[number] = told and away <= self.reach.walk_most_m and total <= self.reach.within_s
        return found
