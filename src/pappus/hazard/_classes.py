"""On what ground each flight lands: water, sea, built-up, near roads, railways and power lines, and how steep it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.ground import MapBox, Whereabouts
from pappus.hazard._chances import Flags
from pappus.hazard._descents import Array, Descents, Mask
from pappus.hazard._surroundings import Surroundings

_METRES_PER_DEGREE = 111_000.0
_SMALLEST_STEP_M = 10.0


class Landings:
    """The places where flights landed, put on the plane of a map once for all its trees."""

    def __init__(self, descents: Descents) -> None:
        self.latitude_deg: Array = descents.latitude_deg[descents.landed]
        self.longitude_deg: Array = descents.longitude_deg[descents.landed]
        self._on: dict[int, tuple[Mask, NDArray[np.object_]]] = {}

    def __len__(self) -> int:
        return len(self.latitude_deg)

    def within(self, tree: Any, box: MapBox, distance_m: float) -> Mask:
        """Which lie within a distance of a shape of a tree, 0 for in it."""
        near, points = self._on_plane(box)
        met = np.zeros(len(points), dtype=np.bool_)
        if len(tree) and len(points):
            met[tree.query(points, predicate="dwithin", distance=distance_m)[0]] = True
        found = np.zeros(len(self), dtype=np.bool_)
        found[near] = met
        return found

    def unseen(self, box: MapBox, distance_m: float) -> Mask:
        """Around which the map does not reach as far as a distance: something there may be missing in it."""
        found = ~box.holds(self.latitude_deg, self.longitude_deg)
        inner = np.minimum(self.latitude_deg - box.south_deg, box.north_deg - self.latitude_deg)
        eastward = (self.longitude_deg - box.west_deg) % 360.0
        across = np.minimum(eastward, (box.east_deg - box.west_deg) % 360.0 - eastward)
        inner = np.minimum(inner, across * np.cos(np.radians(self.latitude_deg)))
        # measured only where a rough distance leaves it open
        near = np.flatnonzero(~found & (inner * _METRES_PER_DEGREE < 1.1 * distance_m))
        found[near] = box.reach_m(self.latitude_deg[near], self.longitude_deg[near]) < distance_m
        return found

    def _on_plane(self, box: MapBox) -> tuple[Mask, NDArray[np.object_]]:
        if id(box) not in self._on:
            import shapely

            latitude, longitude = self.latitude_deg, self.longitude_deg
            near = box.measurable(latitude, longitude)
            points = shapely.points(np.column_stack(box.plane.to_east_north_m(latitude[near], longitude[near])))
            self._on[id(box)] = near, points
        return self._on[id(box)]


def map_flags(landings: Landings, surroundings: Surroundings) -> tuple[dict[str, Flags], dict[str, str]]:
    """Flags of the landed flights by class of ground, and for the classes that cannot be had the reason why."""
    flags: dict[str, Flags] = {}
    why_not: dict[str, str] = {}
    features, clear = surroundings.features, surroundings.clearances
    settled = {"built_up": 0.0} if features is not None and "built_up" in features.shapes else {}
    kinds: Mapping[str, dict[str, float]] = {
        "water": {"water": 0.0, "waterway": clear.waterway_m},
        "sea": {"sea": 0.0},
        "built_up": {"building": clear.building_m, "building_point": clear.building_m, **settled},
        "rail": {"railway": clear.railway_m},
        "power_line": dict.fromkeys(("power_line", "power_tower", "substation"), clear.power_line_m),
    }
    for name, wanted in kinds.items():
        if features is None:
            why_not[name] = "no map of the area is given"
            continue
        missing = [kind for kind in wanted if kind not in features.shapes]
        if missing:
            why_not[name] = f"the map was not read for {', '.join(missing)}"
            continue
        box = features.box
        yes = np.any([landings.within(surroundings.tree(kind), box, far) for kind, far in wanted.items()], axis=0)
        unseen = landings.unseen(box, max(wanted.values()))
        if name == "sea" and "sea_or_land" in features.shapes:
            unseen |= landings.within(surroundings.tree("sea_or_land"), box, 0.0)
        flags[name] = Flags(yes, unseen & ~yes)
    roads = surroundings.roads
    if roads is None:
        why_not["road"] = "no map of roads is given"
    else:
        on_road = landings.within(surroundings.traffic_roads, roads.box, clear.road_m)
        flags["road"] = Flags(on_road, landings.unseen(roads.box, clear.road_m) & ~on_road)
    return flags, why_not


def sea_flags(of_map: Flags | None, of_countries: Whereabouts | None) -> Flags | None:
    """At sea by the map, where it covers the landing, else by the countries; None without either.

    Where the map shows land and the countries sea it cannot be told: an extract of open sea has no coast to draw.
    """
    if of_countries is None:
        return of_map
    far = Flags(of_countries.at_sea, (of_countries.may_be_at_sea | ~of_countries.known) & ~of_countries.at_sea)
    if of_map is None:
        return far
    yes = of_map.yes | (of_map.may & far.yes)
    return Flags(yes, (of_map.may & far.may) | (of_map.no & far.yes))


def slope_deg(landings: Landings, surroundings: Surroundings) -> Array:
    """Slope of the ground at each landing over one cell of the terrain, NaN where none is known.

    Central differences of the bilinear heights: a cell of 30 m hides steps and cliffs that are smaller.
    """
    slope = np.full(len(landings), np.nan)
    for grid in surroundings.terrain:
        missing = np.flatnonzero(np.isnan(slope))
        if not missing.size or min(grid.grid_msl_m.shape) < 2:
            continue
        latitude, longitude = landings.latitude_deg[missing], landings.longitude_deg[missing]
        north_deg = float(np.median(np.diff(grid.latitude_deg)))
        east_deg = float(np.median(np.diff(grid.longitude_deg)))
        parallel = np.maximum(np.cos(np.radians(latitude)), 1e-3)
        rises = []
        for step_deg, metres, (along_north, along_east) in (
            (north_deg, _METRES_PER_DEGREE * north_deg * np.ones(len(missing)), (0.5, 0.0)),
            (east_deg, _METRES_PER_DEGREE * east_deg * parallel, (0.0, 0.5)),
        ):
            sides = [
                (latitude + sign * along_north * step_deg, longitude + sign * along_east * step_deg)
                for sign in (-1.0, 1.0)
            ]
            known = grid.holds(*sides[0]) & grid.holds(*sides[1])
            rise = grid.height_msl_m(*sides[1]) - grid.height_msl_m(*sides[0])
            rises.append(np.where(known, rise / np.maximum(metres, _SMALLEST_STEP_M), np.nan))
        slope[missing] = np.degrees(np.arctan(np.hypot(*rises)))
    return slope
