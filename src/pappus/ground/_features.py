"""What stands or lies on the ground, as shapes of a map: how near the closest one is, and what is inside which."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import LocalPlane, distance_m
from pappus.errors import OutOfRange

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

LARGEST_REACH_M = 400_000.0
"""Half the widest map: its flat plane is short by 0.07 % along the ray there, and ends at 500 km."""


@dataclass(frozen=True)
class MapBox:
    """The part of the earth that a map covers; an ``east_deg`` below ``west_deg`` means a box over the date line."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float

    def __post_init__(self) -> None:
        if not -90.0 <= self.south_deg <= self.north_deg <= 90.0:
            raise OutOfRange("latitudes of a map", f"{self.south_deg:g} to {self.north_deg:g}", -90.0, 90.0, "deg")
        middle = self._middle_deg
        corners = distance_m(*middle, [self.south_deg, self.north_deg], self.west_deg)
        if not (self._width_deg <= 180.0 and float(corners.max()) <= LARGEST_REACH_M):
            raise OutOfRange("distance of a map's corner from its middle", float(corners.max()), 0.0, 4e5, "m")

    @property
    def _width_deg(self) -> float:
        return (self.east_deg - self.west_deg) % 360.0

    @property
    def _middle_deg(self) -> tuple[float, float]:
        return 0.5 * (self.south_deg + self.north_deg), self.west_deg + 0.5 * self._width_deg

    @cached_property
    def plane(self) -> LocalPlane:
        """The flat map around the middle of the box."""
        return LocalPlane(*self._middle_deg)

    def holds(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Flags:
        """Which points lie in the box; the arguments broadcast, longitudes follow any convention."""
        latitude, longitude = as_points(latitude_deg, longitude_deg)
        eastward = (longitude - self.west_deg) % 360.0
        return np.asarray((latitude >= self.south_deg) & (latitude <= self.north_deg) & (eastward <= self._width_deg))

    def measurable(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Flags:
        """Which points lie within 400 km of the middle of the box, as far as the flat map is used."""
        return _near(self.plane, *as_points(latitude_deg, longitude_deg))

    def reach_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Array:
        """How far the map reaches from a point in every direction: its distance to the nearest edge, 0 outside [m].

        Within 0.1 %: measured on the flat map.
        """
        import shapely

        latitude, longitude = as_points(latitude_deg, longitude_deg)
        reach, inside = np.zeros(latitude.shape), self.holds(latitude, longitude)
        if inside.any():
            along = np.linspace(0.0, 1.0, 33)
            north = self.south_deg + along * (self.north_deg - self.south_deg)
            east = self.west_deg + along * self._width_deg
            ring_north = np.concatenate((np.full(33, north[0]), north, np.full(33, north[-1]), north[::-1]))
            ring_east = np.concatenate((east, np.full(33, east[-1]), east[::-1], np.full(33, east[0])))
            edge = shapely.linestrings(np.column_stack(self.plane.to_east_north_m(ring_north, ring_east)))
            points = shapely.points(np.column_stack(self.plane.to_east_north_m(latitude[inside], longitude[inside])))
            reach[inside] = shapely.distance(points, edge)
        return reach


@dataclass(frozen=True, eq=False)
class Nearest:
    """The nearest shape of each point asked for."""

    distance_m: Array
    """On the ellipsoid to the nearest part of the shape, 0 inside an area; NaN where the map has none to measure."""
    shape: Integers
    """Number of the shape, -1 where there is none."""
    reach_m: Array
    """How far the map reaches from the point in every direction: a shape beyond that may be missing."""

    @property
    def certain(self) -> Flags:
        """Where the map reaches at least as far as the shape found, so that no unseen one can be nearer."""
        return np.asarray(self.distance_m <= self.reach_m)

    def surely_beyond(self, clearance_m: float) -> Flags:
        """Where the map shows that nothing of the kind lies within ``clearance_m``; False where it cannot tell."""
        nothing_seen = np.isnan(self.distance_m) | (self.distance_m > clearance_m)
        return np.asarray(nothing_seen & (self.reach_m >= clearance_m))


@dataclass(frozen=True, eq=False)
class MapShapes:
    """Shapes of one kind. Points, open lines, or areas with holes, by ``form``: "points", "lines" or "areas".

    Ring ``r`` (a point, a line, or the outline of an area or of a hole in it) is
    ``longitude_latitude_deg[ring_start[r]:ring_start[r + 1]]``; shape ``s`` is the rings
    ``shape_start[s]:shape_start[s + 1]``, the outline first. Points and lines have one ring a shape.
    Raises ValueError for offsets that do not fit.
    """

    form: str
    longitude_latitude_deg: Array
    ring_start: Integers
    shape_start: Integers

    def __post_init__(self) -> None:
        starts = ((self.ring_start, len(self.longitude_latitude_deg)), (self.shape_start, len(self.ring_start) - 1))
        if self.form not in {"points", "lines", "areas"}:
            raise ValueError(f"shapes are points, lines or areas, not {self.form}")
        for start, end in starts:
            if len(start) == 0 or start[0] != 0 or start[-1] != end or bool((np.diff(start) < 1).any()):
                raise ValueError(f"the offsets of {self.form} do not fit their coordinates")
        if self.form != "areas" and len(self.shape_start) != len(self.ring_start):
            raise ValueError(f"{self.form} have one ring a shape")

    def __len__(self) -> int:
        return len(self.shape_start) - 1

    @cached_property
    def bounds_deg(self) -> Array:
        """South, north, west and east of each shape, shape (shapes, 4)."""
        if len(self) == 0:
            return np.empty((0, 4))
        first = self.ring_start[self.shape_start[:-1]]
        low = np.minimum.reduceat(self.longitude_latitude_deg, first)
        high = np.maximum.reduceat(self.longitude_latitude_deg, first)
        return np.column_stack((low[:, 1], high[:, 1], low[:, 0], high[:, 0]))

    def on_plane(self, plane: LocalPlane) -> NDArray[np.object_]:
        """The shapes as shapely geometries, east and north of the middle of the plane [m]."""
        import shapely

        longitude, latitude = self.longitude_latitude_deg.T
        points = np.column_stack(plane.to_east_north_m(latitude, longitude))
        if self.form == "points":
            return np.asarray(shapely.points(points))
        if self.form == "lines":
            line = np.repeat(np.arange(len(self)), np.diff(self.ring_start))
            return np.asarray(shapely.linestrings(points, indices=line))
        kind = shapely.GeometryType.POLYGON
        return np.asarray(shapely.from_ragged_array(kind, points, (self.ring_start, self.shape_start)))


@dataclass(frozen=True, eq=False)
class GroundFeatures:
    """All shapes of a map by kind ("building", "water", "power_line" ...), and the box in which they are complete.

    A kind that the map could have but holds nothing of has no shapes; asking for a kind that was never read is a
    ValueError, so that a slip of the pen is no clear ground.
    """

    box: MapBox
    shapes: Mapping[str, MapShapes]

    @property
    def kinds(self) -> tuple[str, ...]:
        """Every kind that was looked for in the map."""
        return tuple(self.shapes)

    def nearest(self, kind: str, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Nearest:
        """The nearest shape of one kind to each point; the arguments broadcast.

        Which shape is nearest is settled on the flat map (0.07 % at 400 km from its middle), the distance to it on the
        WGS84 ellipsoid. Points more than 400 km from the middle of the map get NaN. Raises ValueError for a kind that
        was not read.
        """
        latitude, longitude = as_points(latitude_deg, longitude_deg)
        tree = self._tree(kind)
        distance, shape, _, _ = nearest_on_plane(tree, self.box.plane, latitude, longitude)
        return Nearest(distance, shape, self.box.reach_m(latitude, longitude))

    def inside(self, kind: str, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Flags, Flags]:
        """Which points lie in or on the edge of an area of a kind, and for which points the map can tell.

        The map cannot tell outside its box, unless one of its areas runs on beyond it. Raises ValueError for a kind
        that was not read or has no areas.
        """
        latitude, longitude = as_points(latitude_deg, longitude_deg)
        tree = self._tree(kind)
        if self.shapes[kind].form != "areas":
            raise ValueError(f"{kind} is made of {self.shapes[kind].form}; nothing lies inside")
        within = np.zeros(latitude.shape, dtype=bool)
        near = self.box.measurable(latitude, longitude)
        if near.any() and len(self.shapes[kind]):
            import shapely

            points = shapely.points(np.column_stack(self.box.plane.to_east_north_m(latitude[near], longitude[near])))
            met = np.zeros(len(points), dtype=bool)
            met[tree.query(points, predicate="intersects")[0]] = True
            within[near] = met
        return within, within | self.box.holds(latitude, longitude)

    def _tree(self, kind: str) -> Any:
        if kind not in self.shapes:
            raise ValueError(f"the map was not read for {kind}; it knows {', '.join(self.shapes)}")
        if kind not in self._trees:
            import shapely

            self._trees[kind] = shapely.STRtree(self.shapes[kind].on_plane(self.box.plane))
        return self._trees[kind]

    @cached_property
    def _trees(self) -> dict[str, Any]:
        return {}


def nearest_on_plane(
    tree: Any, plane: LocalPlane, latitude_deg: Array, longitude_deg: Array
) -> tuple[Array, Integers, Array, Array]:
    """Distance [m, ellipsoid], number, and latitude and longitude of the nearest part of a tree of geometries.

    NaN and -1 where the tree is empty or the point lies more than 400 km from the middle of the plane.
    """
    import shapely

    distance, foot_north, foot_east = (np.full(latitude_deg.shape, np.nan) for _ in range(3))
    number = np.full(latitude_deg.shape, -1, dtype=np.int64)
    near = _near(plane, latitude_deg, longitude_deg)
    if near.any() and len(tree):
        latitude, longitude = latitude_deg[near], longitude_deg[near]
        points = shapely.points(np.column_stack(plane.to_east_north_m(latitude, longitude)))
        found = tree.query_nearest(points, all_matches=False)[1]
        line = shapely.get_coordinates(shapely.shortest_line(points, tree.geometries[found])).reshape(-1, 2, 2)
        foot = plane.to_latitude_longitude_deg(line[:, 1, 0], line[:, 1, 1])
        apart = np.hypot(*(line[:, 1] - line[:, 0]).T)
        # the way to the plane and back costs some nanometres, which would make an inside point stand outside
        distance[near] = np.where(apart > 0.0, distance_m(latitude, longitude, *foot), 0.0)
        number[near], foot_north[near], foot_east[near] = found, *foot
    return distance, number, foot_north, foot_east


def as_points(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Array, Array]:
    """Both as one-dimensional float arrays of the same length."""
    latitude, longitude = np.broadcast_arrays(
        np.atleast_1d(np.asarray(latitude_deg, dtype=np.float64)),
        np.atleast_1d(np.asarray(longitude_deg, dtype=np.float64)),
    )
    if latitude.ndim > 1:
        raise ValueError("give points as one row of latitudes and one of longitudes")
    return latitude, longitude


def _near(plane: LocalPlane, latitude_deg: Array, longitude_deg: Array) -> Flags:
    away = distance_m(plane.latitude_deg, plane.longitude_deg, latitude_deg, longitude_deg)
    return np.asarray(away <= LARGEST_REACH_M)
