"""Which ways of OpenStreetMap a car may drive, in which direction and how fast.

Keys and values follow the wiki of OpenStreetMap (Key:highway, Key:access, Key:oneway, Key:barrier; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pappus.ground import MapBox, RoadNetwork, RoadWay, build_road_network
from pappus.sources.maps._osm_speed import legal_speed

CLASSES = {
    "motorway": "motorway",
    "trunk": "trunk",
    "primary": "primary",
    "secondary": "secondary",
    "tertiary": "tertiary",
    "unclassified": "unclassified",
    "road": "unclassified",
    "residential": "residential",
    "living_street": "living street",
    "service": "service",
    "track": "track",
}
_RAMP = "_link"

_OPEN = {"yes", "permissive", "designated", "official", "public", "destination", "customers"}
_CLOSED = {
    "no", "private", "permit", "residents", "delivery", "agricultural", "forestry", "military", "emergency", "bus",
    "psv", "use_sidepath", "discouraged", "restricted", "employees", "service",
}  # fmt: skip
_ACCESS_KEYS = ("motorcar", "motor_vehicle", "vehicle", "access")
"""The first that is there rules."""
_SHUT_BARRIERS = {
    "block", "bollard", "bus_trap", "chain", "cycle_barrier", "debris", "full-height_turnstile", "jersey_barrier",
    "kissing_gate", "log", "motorcycle_barrier", "planter", "rope", "stile", "sump_buster", "turnstile", "wall",
    "fence", "hedge",
}  # fmt: skip
_GATES = {"gate", "lift_gate", "swing_gate", "sliding_gate", "hampshire_gate", "wicket_gate"}
_SOFT_TRACKS = {"grade4", "grade5"}


def car_may_pass(tags: Mapping[str, str]) -> bool | None:
    """What the access tags say for a car: yes, no, or None where there are none; values nobody knows mean no."""
    for key in _ACCESS_KEYS:
        if key in tags:
            return tags[key] in _OPEN
    return None


def access_is_unknown(tags: Mapping[str, str]) -> bool:
    """Whether the ruling access tag has a value that this reader does not know."""
    return next((tags[key] not in _OPEN | _CLOSED for key in _ACCESS_KEYS if key in tags), False)


def directions(tags: Mapping[str, str]) -> tuple[bool, bool] | None:
    """Whether a car may drive along a way and against it; None where the direction changes by the hour.

    Motorways with their ramps and roundabouts are one-way unless they say otherwise.
    """
    value = next((tags[key] for key in ("oneway:motorcar", "oneway:motor_vehicle", "oneway") if key in tags), "")
    if value in {"yes", "true", "1"}:
        return True, False
    if value in {"-1", "reverse"}:
        return False, True
    if value == "reversible":
        return None
    motorway = tags.get("highway", "") in {"motorway", "motorway_link"}
    round_way = tags.get("junction", "") in {"roundabout", "circular"}
    return True, value in {"no", "false", "0"} or not (motorway or round_way)


def barrier_stops_car(tags: Mapping[str, str]) -> bool:
    """Whether a barrier on a node keeps cars from driving through it; a gate without access tags lets them through."""
    barrier = tags.get("barrier", "")
    allowed = car_may_pass(tags)
    if barrier in _SHUT_BARRIERS:
        return allowed is not True
    return bool(barrier) and allowed is False


@dataclass(eq=False)
class RoadCollector:
    """Takes the ways of a map one by one and makes a road network of those that are open to cars."""

    country: str
    counts: Counter[str] = field(default_factory=Counter)
    _barriers: set[int] = field(default_factory=set)
    _gates: set[int] = field(default_factory=set)
    _number: dict[int, int] = field(default_factory=dict)
    _latitude_deg: list[float] = field(default_factory=list)
    _longitude_deg: list[float] = field(default_factory=list)
    _ways: list[RoadWay] = field(default_factory=list)

    def take_barrier(self, node: int, tags: Mapping[str, str]) -> None:
        """Note a barrier; nodes come before ways in a map file."""
        if barrier_stops_car(tags):
            self._barriers.add(node)
        elif tags.get("barrier") in _GATES and car_may_pass(tags) is None:
            self._gates.add(node)

    def take_way(self, tags: Mapping[str, str], runs: Sequence[Sequence[tuple[int, float, float]]]) -> None:
        """Take a way with ``highway``: runs of (node, longitude, latitude) without a gap, mostly one."""
        highway = tags["highway"]
        ramp = highway.endswith(_RAMP)
        road_class = CLASSES.get(highway.removesuffix(_RAMP))
        if road_class is None or tags.get("area") == "yes":
            return
        if access_is_unknown(tags):
            self.counts["unknown access"] += 1
        if car_may_pass(tags) is False or (road_class == "track" and tags.get("tracktype") in _SOFT_TRACKS):
            self.counts["closed"] += 1
            return
        allowed = directions(tags)
        if allowed is None:
            self.counts["reversible"] += 1
            return
        speed = legal_speed(tags, road_class, ramp=ramp, country=self.country)
        if speed.unread:
            self.counts["unread speed"] += 1
        name = tags.get("name") or tags.get("ref") or ""
        self.counts["ways"] += 1
        for run in runs:
            for nodes in self._stretches(run):
                self._ways.append(
                    RoadWay(
                        np.array(nodes, dtype=np.int64), *allowed, speed.forward_m_s, speed.backward_m_s,
                        speed.assumed, road_class, name,
                    )
                )  # fmt: skip

    def network(self, box: MapBox) -> RoadNetwork:
        """The graph of everything taken so far."""
        latitude, longitude = np.array(self._latitude_deg), np.array(self._longitude_deg)
        return build_road_network(box, latitude, longitude, self._ways)

    def points(self) -> NDArray[np.float64]:
        """Longitude and latitude of every node taken so far."""
        return np.column_stack((self._longitude_deg, self._latitude_deg)).reshape(-1, 2)

    def notes(self) -> list[str]:
        """What was left out or assumed, in words."""
        counts = self.counts
        gates = len(self._gates & self._number.keys())
        notes = [
            "Turn restrictions, traffic lights, traffic, ferries and limits by hour or weather are not read: drive "
            "times are a lower bound.",
            "Roads for residents and customers only are taken as open; tracks too, unless closed or soft.",
        ]
        said = (
            (counts["closed"], "roads are closed to cars or too soft for them and left out"),
            (counts["unknown access"], "roads have an access rule that was not understood and are left out"),
            (counts["reversible"], "roads change their direction by the hour and are left out"),
            (counts["unread speed"], "roads have a speed limit that was not understood; a speed is assumed there"),
            (counts["barred"], "barriers cut a road for cars"),
            (gates, "gates are taken as open"),
        )
        return notes + [f"{number} {text}." for number, text in said if number]

    def _stretches(self, run: Sequence[tuple[int, float, float]]) -> list[list[int]]:
        """Numbers of the nodes along a run, cut in two at every barrier: cars may drive up to it from both sides."""
        stretches: list[list[int]] = [[]]
        for place, (node, longitude, latitude) in enumerate(run):
            if node not in self._barriers:
                stretches[-1].append(self._node(node, longitude, latitude))
                continue
            self.counts["barred"] += 0 < place < len(run) - 1
            stretches[-1].append(self._new_node(longitude, latitude))
            stretches.append([self._new_node(longitude, latitude)])
        return [nodes for nodes in stretches if len(nodes) > 1]

    def _node(self, node: int, longitude: float, latitude: float) -> int:
        if node not in self._number:
            self._number[node] = self._new_node(longitude, latitude)
        return self._number[node]

    def _new_node(self, longitude: float, latitude: float) -> int:
        self._longitude_deg.append(longitude)
        self._latitude_deg.append(latitude)
        return len(self._latitude_deg) - 1
