"""A car driven through a whole flight, told anew at each moment: what advice is worth, counted at touchdown."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

import numpy as np

from pappus.earth import distance_m
from pappus.errors import NoSolution
from pappus.landing import LandingArea
from pappus.recovery._best import Effort
from pappus.recovery._graph import Graph
from pappus.recovery._landings import Landings
from pappus.recovery._meeting import Car, meeting_point, on_roads, route_to, under_payload, ways_open_until_s
from pappus.recovery._reach import Reach
from pappus.recovery._route import ChaseRoute, route_along
from pappus.recovery._stops import ChaseRoads

Place = tuple[float, float]
"""Latitude and longitude in degrees."""


class FlightSeen(Protocol):
    """A flight as a chase crew sees it; times are seconds after release."""

    @property
    def touchdown_s(self) -> float:
        """When it is down, which nobody knows before."""

    @property
    def landing_deg(self) -> Place:
        """Where."""

    def moments(self) -> Sequence[float]:
        """When there is something new, ascending, from release on and before touchdown."""

    def dot(self, at_s: float) -> Place:
        """The last position of the balloon."""

    def predicted(self, at_s: float) -> tuple[Landings, LandingArea | None]:
        """Landings as predicted then, their times counted from then, and their area where it was worked out."""


@dataclass(frozen=True)
class ChaseEnd:
    """How a car stands at touchdown."""

    in_reach: bool
    to_payload_s: float
    """Planned, on the road and on foot; inf where no way leads to it."""
    away_m: float
    """Straight from the car to the payload: a car that is too near stands under it."""


Steer = Callable[[Car, FlightSeen, float], tuple[ChaseRoute | None, Place | None]]
"""The way on from where the car is (None: it stays), and the place that it is then bound for, at a time of a flight."""


def by_advice(chase: ChaseRoads, reach: Reach, effort: Effort | None = None) -> Steer:
    """To the meeting point."""

    def steer(car: Car, flight: FlightSeen, at_s: float) -> tuple[ChaseRoute | None, Place | None]:
        landings, area = flight.predicted(at_s)
        (meeting,) = meeting_point([car], landings, chase, area=area, reach=reach, effort=effort).meetings
        if meeting.latitude_deg is None or meeting.longitude_deg is None:
            return None, None
        return meeting.route, (meeting.latitude_deg, meeting.longitude_deg)

    return steer


def by_dot(chase: ChaseRoads, reach: Reach, dot: Callable[[FlightSeen, float], Place]) -> Steer:
    """To the road nearest to a single dot, through the area under the payload if need be: a measure, not an advice."""

    def steer(car: Car, flight: FlightSeen, at_s: float) -> tuple[ChaseRoute | None, Place | None]:
        try:
            return route_to(car, *dot(flight, at_s), chase, reach=reach), None
        except NoSolution:
            return None, None

    return steer


def by_nearest_stop(chase: ChaseRoads, reach: Reach) -> Steer:
    """To the place to wait nearest to the middle of the predicted landings, by the rules of the advice: a measure."""
    graph, roads = Graph(chase.roads, chase.chains, reach.slower), chase.roads

    def steer(car: Car, flight: FlightSeen, at_s: float) -> tuple[ChaseRoute | None, Place | None]:
        landings, area = flight.predicted(at_s)
        closed = under_payload(chase, landings, area, reach)
        one = on_roads(car, chase, graph, closed, ways_open_until_s(landings, reach))
        if not len(one.candidates):
            return None, None
        north, east = roads.node_latitude_deg[one.candidates], roads.node_longitude_deg[one.candidates]
        node = int(one.candidates[distance_m(*middle_predicted(flight, at_s), north, east).argmin()])
        return route_along(graph, one.start, one.arrivals.nodes(node), float(one.arrivals.time_s[node])), None

    return steer


def last_position(flight: FlightSeen, at_s: float) -> Place:
    """The dot of the balloon itself."""
    return flight.dot(at_s)


def middle_predicted(flight: FlightSeen, at_s: float) -> Place:
    """The middle of the predicted landings."""
    landings = flight.predicted(at_s)[0]
    return float(np.median(landings.latitude_deg)), float(np.median(landings.longitude_deg))


def follow(flight: FlightSeen, start: Place, steer: Steer, chase: ChaseRoads, reach: Reach) -> ChaseEnd:
    """Drive one car from release to touchdown at planned times, and see how it stands then."""
    car = Car("car", *start)
    for now, then in pairwise([*flight.moments(), flight.touchdown_s]):
        route, bound_for = steer(car, flight, now)
        if route is not None:
            at_s = min(then - now, float(route.after_s[-1]))
            north = float(np.interp(at_s, route.after_s, route.latitude_deg))
            # whole turns aside, a way over the date line is as any other
            east = float(np.interp(at_s, route.after_s, np.unwrap(route.longitude_deg, period=360.0)))
            car = replace(car, latitude_deg=north, longitude_deg=(east + 180.0) % 360.0 - 180.0)
        car = replace(car, bound_for_deg=bound_for)
    here = car.latitude_deg, car.longitude_deg
    away_m = float(distance_m(*here, *flight.landing_deg))
    drive = chase.roads.drive_times(*here, *flight.landing_deg, main_only=True)
    walk_m = float(chase.roads.nearest(*flight.landing_deg, main_only=True).distance_m[0])
    if not drive.reached[0]:
        return ChaseEnd(False, math.inf, away_m)
    takes_s = reach.slower * float(drive.time_s[0]) + walk_m / reach.walk_m_s
    return ChaseEnd(walk_m <= reach.walk_most_m and takes_s <= reach.within_s, takes_s, away_m)
