"""Countries as polygons: which one a place is in, at sea, or too near to a border or coast to tell."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange
from pappus.ground._features import Array, Flags, MapBox, as_points

BORDER_TOLERANCE_M = 2_000.0
"""How far a border or coast may lie from where it is drawn: at 1:10 million a line is some hundred metres to kilometres
off, and the points of the data lie on a grid of 400 m by 190 m [own choice]."""
WIDEST_TOLERANCE_M = 20_000.0

_METRES_PER_DEGREE = 111_000.0
_POINTS_IN_PIECE = 16


@dataclass(frozen=True, eq=False)
class Countries:
    """All countries of the earth north of 85 degrees south, as they are held and not as they are claimed.

    ``polygons[c]`` are those of the country ``names[c]``: each a tuple of rings of longitude and latitude in degrees,
    shape (points, 2), the outline first, cut at the date line.
    """

    names: tuple[str, ...]
    polygons: tuple[tuple[tuple[Array, ...], ...], ...]

    def clip(self, box: MapBox, *, tolerance_m: float = BORDER_TOLERANCE_M) -> CountryMap:
        """The countries in and around the area of a flight, ready to be asked about many places.

        :param tolerance_m: 0 to 20 km; places nearer to a border or coast than this cannot be told.
        :raises OutOfRange: another tolerance.
        """
        import shapely

        if not 0.0 <= tolerance_m <= WIDEST_TOLERANCE_M:
            raise OutOfRange("tolerance of borders", tolerance_m, 0.0, WIDEST_TOLERANCE_M, "m")
        frame = _frame(box)
        names, found = [], []
        near = self._near(frame)
        for number in np.unique(self._owner[near]):
            parts = [
                part
                for index in np.flatnonzero(near & (self._owner == number))
                for part in _in_frame(self._shape(int(index)), self._extent[index], frame)
            ]
            whole = shapely.union_all(parts)
            if not whole.is_empty:
                names.append(self.names[number])
                found.append(whole)
        land = shapely.union_all(found) if found else shapely.Polygon()
        return CountryMap(box, tuple(names), tolerance_m, tuple(_on_plane(area, box) for area in (*found, land)), frame)

    def name_at(self, latitude_deg: float, longitude_deg: float) -> str | None:
        """The country of a place on land, however near to its edge; None at sea.

        Since coasts are drawn roughly, a place within 2 km of the nearest one counts as land.
        """
        import shapely

        room = BORDER_TOLERANCE_M / _METRES_PER_DEGREE
        across = max(float(np.cos(np.radians(latitude_deg))), 0.01)
        frame = (latitude_deg - room, latitude_deg + room, longitude_deg - room / across, longitude_deg + room / across)
        found = []
        for index in np.flatnonzero(self._near(frame)):
            for turn in (-360.0, 0.0, 360.0):
                # around the place, with degrees of longitude as long as those of latitude
                beside = _moved(self._shape(int(index)), turn - longitude_deg, -latitude_deg, across)
                found.append((float(shapely.distance(beside, shapely.Point(0.0, 0.0))), self.names[self._owner[index]]))
        nearest = min(found, default=(np.inf, ""))
        return nearest[1] if nearest[0] <= room else None

    @cached_property
    def _rings(self) -> list[tuple[Array, ...]]:
        """Of each polygon, whosever it is."""
        return [rings for country in self.polygons for rings in country]

    def _shape(self, index: int) -> Any:
        """A polygon, mended once: that takes a tenth of a second for the largest."""
        if index not in self._shapes:
            self._shapes[index] = _polygon(self._rings[index])
        return self._shapes[index]

    @cached_property
    def _shapes(self) -> dict[int, Any]:
        return {}

    @cached_property
    def _owner(self) -> NDArray[np.intp]:
        return np.repeat(np.arange(len(self.names)), [len(country) for country in self.polygons])

    @cached_property
    def _extent(self) -> Array:
        """South, north, west and east of each polygon."""
        rows = [
            (rings[0][:, 1].min(), rings[0][:, 1].max(), rings[0][:, 0].min(), rings[0][:, 0].max())
            for rings in self._rings
        ]
        return np.array(rows, dtype=np.float64).reshape(-1, 4)

    def _near(self, frame: tuple[float, float, float, float]) -> Flags:
        """Polygons whose own box meets one, by whatever turn."""
        south, north, west, east = frame
        extent = self._extent
        turns = np.floor((east - extent[:, 2]) / 360.0) >= np.ceil((west - extent[:, 3]) / 360.0)
        return np.asarray((extent[:, 0] <= north) & (extent[:, 1] >= south) & turns)


@dataclass(frozen=True, eq=False)
class Whereabouts:
    """In which country places lie; arrays of shape (places, countries) and (places,)."""

    inside: Flags
    """Surely inside: farther from its edge than the tolerance."""
    may_be: Flags
    """Too near to its edge to tell. Never where it is surely inside."""
    at_sea: Flags
    may_be_at_sea: Flags
    known: Flags
    """False outside the box of the map; nothing else is true there."""


@dataclass(frozen=True, eq=False)
class CountryMap:
    """The countries in a box, from ``Countries.clip``. Islands that 1:10 million leaves out count as sea."""

    box: MapBox
    names: tuple[str, ...]
    tolerance_m: float
    _areas: tuple[Any, ...]
    """Those of the names, then all land, on the plane of the box."""
    _frame: tuple[float, float, float, float]

    def where(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Whereabouts:
        """In which country each place lies; the arguments broadcast, longitudes follow any convention."""
        import shapely

        latitude, longitude = as_points(latitude_deg, longitude_deg)
        known = self.box.holds(latitude, longitude)
        within, near = (np.zeros((len(latitude), len(self._areas)), dtype=np.bool_) for _ in range(2))
        if known.any():
            east, north = self.box.plane.to_east_north_m(latitude[known], longitude[known])
            for column, area in enumerate(self._areas):
                within[known, column] = shapely.intersects_xy(area, east, north)
            tree, owner = self._edges
            place, piece = tree.query(shapely.points(east, north), predicate="dwithin", distance=self.tolerance_m)
            near[np.flatnonzero(known)[place], owner[piece]] = True
        inside = within & ~near
        sea = known & ~within[:, -1] & ~near[:, -1]
        return Whereabouts(inside[:, :-1], near[:, :-1], sea, near[:, -1], known)

    @cached_property
    def _edges(self) -> tuple[Any, NDArray[np.intp]]:
        """Short pieces of all edges, and whose they are; the cut round the map is no edge."""
        import shapely

        pieces: list[Any] = []
        owners: list[int] = []
        for column, area in enumerate(self._areas):
            shapely.prepare(area)
            for ring in shapely.get_rings(shapely.get_parts(area)):
                for run in _real_edges(shapely.get_coordinates(ring), self.box, self._frame):
                    parts = [run[at : at + _POINTS_IN_PIECE + 1] for at in range(0, len(run) - 1, _POINTS_IN_PIECE)]
                    pieces += [shapely.linestrings(part) for part in parts]
                    owners += [column] * len(parts)
        return shapely.STRtree(pieces), np.array(owners, dtype=np.intp)


def _polygon(rings: tuple[Array, ...]) -> Any:
    import shapely

    # on the grid of the data an islet may be a line, and a spit of land may touch itself
    rings = tuple(ring for ring in rings if len(ring) > 3)
    drawn = shapely.Polygon(rings[0], rings[1:]) if rings else shapely.Polygon()
    return drawn if drawn.is_valid else shapely.make_valid(drawn)


def _frame(box: MapBox) -> tuple[float, float, float, float]:
    """South, north, west and east of the box with room around it: its own cut lies beyond any tolerance."""
    room = 1.5 * WIDEST_TOLERANCE_M / _METRES_PER_DEGREE
    south, north = max(box.south_deg - room, -90.0), min(box.north_deg + room, 90.0)
    wide = room / max(float(np.cos(np.radians(max(abs(south), abs(north))))), 0.01)
    width = min((box.east_deg - box.west_deg) % 360.0 + 2.0 * wide, 360.0)
    return south, north, box.west_deg - wide, box.west_deg - wide + width


def _in_frame(flat: Any, extent: Array, frame: tuple[float, float, float, float]) -> list[Any]:
    """The parts of a polygon in a frame, moved by whole turns into it."""
    import shapely

    south, north, west, east = frame
    window = shapely.box(west, south, east, north)
    turns = range(ceil((west - extent[3]) / 360.0), floor((east - extent[2]) / 360.0) + 1)
    return [shapely.intersection(_moved(flat, 360.0 * turn, 0.0, 1.0), window) for turn in turns]


def _moved(flat: Any, east_deg: float, north_deg: float, across: float) -> Any:
    """A geometry of longitude and latitude shifted, then squeezed across the meridians."""
    import shapely

    return shapely.transform(flat, lambda at: (at + np.array([east_deg, north_deg])) * np.array([across, 1.0]))


def _on_plane(area: Any, box: MapBox) -> Any:
    """The polygons of an area on the plane of the box; a cut may leave lines and points behind."""
    import shapely

    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    flat = shapely.MultiPolygon(parts)
    return shapely.transform(flat, lambda at: np.column_stack(box.plane.to_east_north_m(at[:, 1], at[:, 0])))


def _real_edges(ring: Array, box: MapBox, frame: tuple[float, float, float, float]) -> list[Array]:
    """The runs of a ring that do not lie on the cut round the map."""
    south, north, west, east = frame
    latitude, longitude = box.plane.to_latitude_longitude_deg(ring[:, 0], ring[:, 1])
    eastward = (longitude - west + 180.0) % 360.0 - 180.0
    width = east - west
    small = 1e-6
    sides = [
        np.abs(latitude - south) < small, np.abs(latitude - north) < small,
        np.abs(eastward) < small, np.abs((eastward - width + 180.0) % 360.0 - 180.0) < small,
    ]  # fmt: skip
    on_cut = np.any([side[:-1] & side[1:] for side in sides], axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], ~on_cut, [False])).astype(np.int8)))
    return [ring[first : after + 1] for first, after in zip(edges[::2], edges[1::2], strict=True)]
