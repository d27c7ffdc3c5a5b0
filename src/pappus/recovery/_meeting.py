"""Where each car should wait: the meeting point with the best chance of having the payload in reach."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import distance_m, geodesic_inverse
from pappus.errors import NoSolution
from pappus.ground import MapBox, RoadNetwork, RoadPoints
from pappus.landing import LandingArea, Quantiles, Share, quantiles, share
from pappus.recovery._best import Effort, Found, find_best, to_payload_s
from pappus.recovery._graph import Arrivals, Graph
from pappus.recovery._landings import Landings
from pappus.recovery._reach import Mask, Needs, Reach, needs_of
from pappus.recovery._route import ChaseRoute, DecisionPoint, decision_point, route_along
from pappus.recovery._stops import ChaseRoads
from pappus.tracking import VehicleSeen

PROBABILITIES = (0.1, 0.5, 0.9)
CHOICES = 3
"""Places, the chosen one among them, between which a decision point lies."""
CHOICES_APART_S = 120.0
_CHOICE_LOSS = 0.1
"""A place with a chance lower by more than this is no choice."""
_ROUNDS = 2
_SAME_PLACE_M = 1.0


@dataclass(frozen=True)
class Car:
    """A chase vehicle, where it was last seen or is to wait before release."""

    name: str
    latitude_deg: float
    longitude_deg: float
    age_s: float = 0.0
    """Since it was there; inf: it has not told where it is, and the place is the planned one."""
    bound_for_deg: tuple[float, float] | None = None
    """Latitude and longitude of the meeting point that it was told last: kept while it is about as good as the best."""


def cars_of(seen: Iterable[VehicleSeen], now: datetime) -> tuple[Car, ...]:
    """The cars that the receivers have seen, at a time with an offset from UTC."""
    return tuple(
        Car(car.name, car.latitude_deg, car.longitude_deg, (now - car.time_utc).total_seconds()) for car in seen
    )


@dataclass(frozen=True, eq=False)
class Meeting:
    """What one car is told."""

    car: Car
    by_road: bool
    """False: no way on a map of roads; then only ``straight_m`` and ``bearing_deg`` hold."""
    why_not: str
    straight_m: float
    """To the meeting point, or without one to the middle of the landings."""
    bearing_deg: float
    """Clockwise from true north, 0 to 360."""
    latitude_deg: float | None
    longitude_deg: float | None
    chance: Share | None
    """That this car has the payload in reach."""
    chance_at_most: float | None
    """No place to wait has more; of a single car only, for with several each place depends on the others."""
    route: ChaseRoute | None
    margin_s: Quantiles | None
    """Touchdown less arrival at the meeting point, over the landed flights; negative where the car is late."""
    to_payload_s: Quantiles | None
    """From touchdown until the crew stands at the payload, over the flights that the map lets it reach at all."""
    decision: DecisionPoint | None
    down: bool
    """Every predicted touchdown is past."""
    leaves_area: bool
    """The car stands in the area under the payload after it was closed: its way leads out of it first."""
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Chase:
    """What all cars are told, and the chance that one of them has the payload in reach."""

    meetings: tuple[Meeting, ...]
    joint: Share | None
    untold: Share | None
    """Flights of which the map cannot tell whether they are in reach, and those that did not land in the data: in the
    chances they count as out of reach."""
    reach: Reach
    notes: tuple[str, ...]


@dataclass(eq=False)
class OnRoads:
    """One car on the map, and where it may wait."""

    car: Car
    start: RoadPoints
    arrivals: Arrivals
    candidates: NDArray[np.int64]
    found: Found | None = None

    def bound_for(self, roads: RoadNetwork) -> int | None:
        """The candidate that it was told last, if it still is one."""
        if self.car.bound_for_deg is None:
            return None
        north, east = roads.node_latitude_deg[self.candidates], roads.node_longitude_deg[self.candidates]
        away = distance_m(*self.car.bound_for_deg, north, east)
        return int(self.candidates[away.argmin()]) if away.min() < _SAME_PLACE_M else None

    def reaches(self, needs: Needs) -> Mask:
        """Which landings it has in reach from its meeting point."""
        if self.found is None:
            return np.zeros(needs.landings.landed, dtype=np.bool_)
        arrival = float(self.arrivals.time_s[self.found.node])
        return np.asarray(to_payload_s(needs, self.found.node, arrival) <= needs.reach.within_s)


def meeting_point(
    cars: Sequence[Car],
    landings: Landings,
    chase: ChaseRoads | None,
    *,
    area: LandingArea | None = None,
    reach: Reach | None = None,
    effort: Effort | None = None,
) -> Chase:
    """A place to wait for each car, so that together they have the best chance of having the payload in reach.

    The first car gets the best place, each further one the place that adds most; then each is moved once more while
    the others stay, so that another car never lowers the joint chance. Places to wait are those of ``chase_roads``
    outside the 50 % area of ``area`` (without one: outside the circle about the middle that holds half of the
    landings) widened by ``Reach.stand_off_m``; from ``Reach.quiet_s`` before the earliest touchdown on no way leads
    through it. Legal speeds, made slower: the chances still know no traffic. The driver and the law at the place
    decide; no car drives on before the payload is down.

    :param cars: at least one; different names.
    :raises ValueError: no car, or two of one name.
    """
    reach, effort = reach or Reach(), effort or Effort()
    if not cars or len({car.name for car in cars}) < len(cars):
        raise ValueError("give at least one car, each with a name of its own")
    if chase is None or not landings.landed:
        why = "no map of roads is given" if chase is None else "no flight landed in the data"
        return Chase(
            tuple(_straight(car, landings, why) for car in cars), None, None, reach, (f"{why}: no drive times",)
        )
    graph = Graph(chase.roads, chase.chains, reach.slower)
    needs = needs_of(chase, graph, landings, reach)
    closed = under_payload(chase, landings, area, reach)
    ready = [on_roads(car, chase, graph, closed, ways_open_until_s(landings, reach)) for car in cars]
    _place(ready, needs, effort)
    covered = np.any([one.reaches(needs) for one in ready], axis=0)
    meetings = tuple(_meeting(one, needs, graph, landings, alone=len(cars) == 1) for one in ready)
    untold = share(int((~needs.told).sum()) + landings.unknown, landings.flights)
    return Chase(meetings, share(int(covered.sum()), landings.flights), untold, reach, _notes(chase, area, untold))


def route_to(
    car: Car, latitude_deg: float, longitude_deg: float, chase: ChaseRoads, *, reach: Reach | None = None
) -> ChaseRoute:
    """The quickest way of a car to the road node near a place, for the drive on to a payload that is down.

    Only then: it leads through the area under the payload. The crew walks on from its end.

    :raises NoSolution: no road near one of the two, or no way between them.
    """
    graph = Graph(chase.roads, chase.chains, (reach or Reach()).slower)
    start = chase.roads.nearest(car.latitude_deg, car.longitude_deg, main_only=True)
    end = chase.roads.nearest(latitude_deg, longitude_deg, main_only=True)
    if start.segment[0] < 0 or end.segment[0] < 0:
        raise NoSolution("the map holds no road for cars near these places: give a map of the area of the chase")
    arrivals = graph.arrivals(start, np.zeros(len(chase.stop), dtype=np.bool_), np.inf)
    node = int(end.node[0])
    if not np.isfinite(arrivals.time_s[node]):
        raise NoSolution("no way by car in this map between these places")
    return route_along(graph, start, arrivals.nodes(node), float(arrivals.time_s[node]))


def _place(ready: Sequence[OnRoads], needs: Needs, effort: Effort) -> None:
    """One car after the other; after each, all that stand so far are moved while that adds something."""
    placed: list[OnRoads] = []
    for car in ready:
        if not len(car.candidates):
            continue
        placed.append(car)
        order = [car] if len(placed) == 1 else [car, *[one for _ in range(_ROUNDS - 1) for one in placed]]
        for one in order:
            others = [other.reaches(needs) for other in placed if other is not one]
            everything = np.ones(needs.landings.landed, dtype=np.bool_)
            asked = ~np.any([~everything, *others], axis=0)
            gain = (one.reaches(needs) & asked).sum() / needs.landings.flights
            new = _search(one, needs, asked, effort)
            if one.found is None and new.chance == 0.0:
                # it adds nothing to the others: where it would stand if it were alone
                new = _search(one, needs, everything, effort)
            if one.found is None or new.chance > gain:
                one.found = new


def _search(one: OnRoads, needs: Needs, asked: Mask, effort: Effort) -> Found:
    return find_best(
        needs, one.candidates, one.arrivals.time_s[one.candidates], asked, effort, one.bound_for(needs.graph.roads)
    )


def ways_open_until_s(landings: Landings, reach: Reach) -> float:
    """Until when ways may lead through the area under the payload."""
    return float(np.quantile(landings.touchdown_s, 0.01)) - reach.quiet_s


def on_roads(car: Car, chase: ChaseRoads, graph: Graph, closed: Mask, open_until_s: float) -> OnRoads:
    """A car on the map; from a time on no way leads through what is closed."""
    start = chase.roads.nearest(car.latitude_deg, car.longitude_deg, main_only=True)
    if start.segment[0] < 0:
        nowhere = np.full(len(closed), np.inf)
        return OnRoads(car, start, Arrivals(nowhere, (), False), np.zeros(0, dtype=np.int64))
    arrivals = graph.arrivals(start, closed, open_until_s)
    usable = chase.stop & ~closed & np.isfinite(arrivals.time_s)
    return OnRoads(car, start, arrivals, np.flatnonzero(usable))


def under_payload(chase: ChaseRoads, landings: Landings, area: LandingArea | None, reach: Reach) -> Mask:
    """Nodes in the 50 % area or too near to it; none once every payload is down."""
    import shapely

    if not (landings.touchdown_s > 0.0).any():
        return np.zeros(len(chase.stop), dtype=np.bool_)
    shape = shapely.buffer(_area_on(chase, landings, area), reach.stand_off_m)
    shapely.prepare(shape)
    return np.asarray(shapely.intersects(shape, chase.points), dtype=np.bool_)


def _area_on(chase: ChaseRoads, landings: Landings, area: LandingArea | None) -> Any:
    import shapely

    box = chase.roads.box
    part = next((one for one in area.parts if one.probability == 0.5 and one.exists), None) if area else None
    if part is not None:
        rings = [ring for polygon in part.polygons for ring in polygon]
        if all(bool(box.measurable(ring[:, 0], ring[:, 1]).all()) for ring in rings):
            flat = [[_flat(box, ring[:, 0], ring[:, 1]) for ring in polygon] for polygon in part.polygons]
            return shapely.union_all([shapely.make_valid(shapely.Polygon(ring[0], ring[1:])) for ring in flat])
    middle = float(np.median(landings.latitude_deg)), float(np.median(landings.longitude_deg))
    if not bool(box.measurable(*middle)[0]):
        return shapely.Point()  # farther away than any road of the map
    half = float(np.median(distance_m(*middle, landings.latitude_deg, landings.longitude_deg)))
    return shapely.buffer(shapely.Point(_flat(box, *middle)[0]), max(half, 1.0))


def _flat(box: MapBox, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.float64]:
    return np.column_stack(box.plane.to_east_north_m(latitude_deg, longitude_deg))


def _meeting(one: OnRoads, needs: Needs, graph: Graph, landings: Landings, *, alone: bool) -> Meeting:
    if one.found is None:
        if one.start.segment[0] < 0:
            why = "the map holds no road near the car"
        else:
            why = "no place to wait outside the area under the payload can be reached on the roads of this map"
        return _straight(one.car, landings, why)
    found, roads = one.found, graph.roads
    place = float(roads.node_latitude_deg[found.node]), float(roads.node_longitude_deg[found.node])
    arrival = float(one.arrivals.time_s[found.node])
    took = to_payload_s(needs, found.node, arrival, whole=True)
    possible = took[np.isfinite(took)]
    nodes = one.arrivals.nodes(found.node)
    straight, bearing, _ = geodesic_inverse(one.car.latitude_deg, one.car.longitude_deg, *place)
    return Meeting(
        car=one.car,
        by_road=True,
        why_not="",
        straight_m=straight,
        bearing_deg=bearing,
        latitude_deg=place[0],
        longitude_deg=place[1],
        chance=share(int((took <= needs.reach.within_s).sum()), landings.flights),
        chance_at_most=found.at_most if alone else None,
        route=route_along(graph, one.start, nodes, arrival),
        margin_s=quantiles(landings.touchdown_s - arrival, PROBABILITIES, landings.unknown),
        to_payload_s=quantiles(possible, PROBABILITIES, landings.flights - len(possible)) if len(possible) else None,
        decision=_decision(one, needs, graph),
        down=not bool((landings.touchdown_s > 0.0).any()),
        leaves_area=one.arrivals.starts_inside,
        notes=_car_notes(one),
    )


def _decision(one: OnRoads, needs: Needs, graph: Graph) -> DecisionPoint | None:
    """Between the chosen place and the best others that lie apart from it and from each other."""
    found = one.found
    assert found is not None
    chosen = [found.node]
    for node, chance in zip(found.looked_at[1:], found.chances[1:], strict=True):
        apart = all(min(needs.at(other)[1][node], needs.at(node)[1][other]) >= CHOICES_APART_S for other in chosen)
        if chance >= found.chances[0] - _CHOICE_LOSS and chance > 0.0 and apart:
            chosen.append(node)
        if len(chosen) == CHOICES:
            break
    if len(chosen) < 2:
        return None
    return decision_point(graph, one.start, [one.arrivals.nodes(node) for node in chosen], one.arrivals.time_s)


def _straight(car: Car, landings: Landings, why: str) -> Meeting:
    """Distance and bearing to the middle of the landings, and nothing that a map of roads would be needed for."""
    if landings.landed:
        middle = float(np.median(landings.latitude_deg)), float(np.median(landings.longitude_deg))
        straight, bearing, _ = geodesic_inverse(car.latitude_deg, car.longitude_deg, *middle)
    else:
        straight, bearing = float("nan"), float("nan")
    note = "straight distance and bearing to the middle of the landings only: not a way, and not a place to wait"
    down = landings.landed > 0 and not bool((landings.touchdown_s > 0.0).any())
    nothing = Meeting(
        car, False, why, straight, bearing, None, None, None, None, None, None, None, None, down, False, (note,)
    )  # fmt: skip
    return replace(nothing, notes=nothing.notes if landings.landed else ())


def _car_notes(one: OnRoads) -> tuple[str, ...]:
    notes = []
    if math.isinf(one.car.age_s):
        notes.append("the car has not told where it is: its way counts from its place in the plan")
    elif one.car.age_s > 300.0:
        notes.append(f"the car was last seen {one.car.age_s / 60.0:.0f} min ago: its way counts from there")
    if float(one.start.distance_m[0]) > 200.0:
        notes.append(f"the car stands {float(one.start.distance_m[0]):,.0f} m from the road on which its way begins")
    if one.arrivals.starts_inside:
        notes.append("the car stands in the area under the payload: leave it first")
    return tuple(notes)


def _notes(chase: ChaseRoads, area: LandingArea | None, untold: Share) -> tuple[str, ...]:
    notes = list(chase.notes)
    notes.append(
        "drive times are legal speeds on empty roads, made slower by a fixed factor; traffic and turn restrictions are "
        "not known. Walking is straight: a river or fence on the way is not seen"
    )
    if area is None or not any(part.probability == 0.5 and part.exists for part in area.parts):
        notes.append("no 50 % area is given: the circle about the middle that holds half of the landings is kept clear")
    if untold.p > 0.0:
        notes.append(f"for {untold.p:.1%} of the flights it cannot be told: no landing in the data, or beyond the map")
    return tuple(notes)
