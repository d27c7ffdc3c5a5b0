"""Outlines on the ground, the test whether a place lies inside, and the zones that a crew drew."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import ECCENTRICITY_SQUARED, SEMI_MAJOR_AXIS_M, require_range
from pappus.errors import BadInput, Finding

Array = NDArray[np.float64]
Rings = tuple[Array, ...]

ZoneRole = Literal["keep-out", "permitted landing", "permit area"]

_WIDEST_SHORT_WAY_DEG = 90.0
_SMALLEST_AREA_M2 = 1.0
_LARGEST_KINK = 1e-3
"""Share of the area that a crossing of the edge with itself may put in doubt: an arc misses its end by metres."""
_MOST_POINTS = 50_000
_MOST_POINTS_WITH_KINKS, _MOST_KINKS = 1_000, 20
"""Beyond them, finding out what an edge that crosses itself encloses takes minutes."""
_EDGES_AT_ONCE = 64
_BLOCK = 1_000_000
_LONGITUDE_LIMIT_DEG = 36_000.0
_OVERLAP_DEG = 1e-9
"""By a tenth of a millimetre a ring round a pole overlaps itself at its seam, so that rounding opens no gap there."""


@dataclass(frozen=True, eq=False)
class Outline:
    """One or more polygons on the earth; a place is inside when it is inside any of them.

    Each polygon is a tuple of rings: its outer edge, then its holes. A ring has shape (points, 2), latitude and
    longitude in degrees (-90 to 90; -360 to 360), closed or not, in either direction of turn. Edges are straight lines
    of latitude against longitude, as RFC 7946 (section 3.1.1) has them. An edge whose longitudes differ by more than
    half a turn crosses the date line. A ring that goes round a pole holds the pole of its own hemisphere.

    Raises BadInput for a ring that encloses nothing, crosses itself, or can be read in two ways.
    """

    polygons: tuple[Rings, ...]
    _closed: tuple[Rings, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if not self.polygons or not all(self.polygons):
            raise _bad("", "there is no ring")
        closed = tuple(_one_turn(tuple(_closed_ring(ring) for ring in rings)) for rings in self.polygons)
        object.__setattr__(self, "_closed", closed)
        for rings in closed:
            _refuse_crossings(rings)

    @property
    def points(self) -> int:
        """Number of points of all rings."""
        return sum(len(ring) for rings in self.polygons for ring in rings)

    @cached_property
    def bounds_deg(self) -> tuple[float, float, float, float]:
        """South, north, west and east of all polygons, each taken next to the first by whole turns.

        West lies from -180 up to 180; east is never below it, and beyond 180 when the outline crosses the date line.
        """
        outer = [rings[0] for rings in self._closed]
        middle = _middle(outer[0])
        moved = [_beside(middle, ring) for ring in outer]
        low, high = np.min([ring.min(axis=0) for ring in moved], axis=0), np.max([r.max(axis=0) for r in moved], axis=0)
        turn = 360.0 * np.floor((low[1] + 180.0) / 360.0)
        return float(low[0]), float(high[0]), float(low[1] - turn), float(high[1] - turn)

    @cached_property
    def flat(self) -> Any:
        """All polygons as one prepared shapely geometry of longitude against latitude, in the turn of ``bounds_deg``.

        For tests of many lines or points at once; overlaps are united, and a kink is read by the even-odd rule.
        """
        import shapely

        _, _, west, east = self.bounds_deg
        parts = []
        for rings in self._closed:
            turn = 360.0 * round((0.5 * (west + east) - _middle(rings[0])) / 360.0)
            moved = [ring[:, ::-1] + (turn, 0.0) for ring in rings]
            parts.append(shapely.make_valid(shapely.Polygon(moved[0], moved[1:])))
        whole = shapely.union_all(parts)
        shapely.prepare(whole)
        return whole

    @property
    def area_m2(self) -> float:
        """Area on the WGS84 ellipsoid, holes taken off; polygons that overlap each other count twice.

        Source: Snyder 1987, USGS Professional Paper 1395, equation 3-12, integrated along each edge.
        """
        return sum(_area_m2(rings[0]) - sum(_area_m2(ring) for ring in rings[1:]) for rings in self._closed)

    def contains(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.bool_]:
        """Where places lie inside, by the even-odd rule; the arguments broadcast, longitudes follow any convention.

        A place on an edge may fall on either side of it. Raises OutOfRange for a latitude beyond 90 degrees and for
        missing values: whoever has such places must say what they mean.
        """
        latitude, longitude = np.broadcast_arrays(
            require_range("latitude", latitude_deg, -90.0, 90.0, "deg"),
            require_range("longitude", longitude_deg, -_LONGITUDE_LIMIT_DEG, _LONGITUDE_LIMIT_DEG, "deg"),
        )
        shape = latitude.shape
        # the pole itself is on the edge of a ring round it
        latitude, longitude = latitude.ravel().clip(_OVERLAP_DEG - 90.0, 90.0 - _OVERLAP_DEG), longitude.ravel()
        inside = np.zeros(latitude.shape, dtype=np.bool_)
        for rings in self._closed:
            held = np.zeros(latitude.shape, dtype=np.bool_)
            for ring in rings:
                held ^= _in_ring(ring, latitude, longitude)
            inside |= held
        return inside.reshape(shape)


@dataclass(frozen=True, eq=False)
class Zone:
    """An area on the ground that the crew drew, and what it means for a flight."""

    name: str
    role: ZoneRole
    """``keep-out``: no landing there; ``permitted landing``: the land may be used; ``permit area``: the flight itself
    may not leave it."""
    outline: Outline
    origin: str
    """The file, and where in it."""


def _bad(value: str, reason: str, fix: str = "Draw it again.") -> BadInput:
    return BadInput(Finding("outline", value, reason, fix))


def _closed_ring(ring: Array) -> Array:
    """The ring with longitudes that run on without a jump, its first point again at its end."""
    ring = np.asarray(ring, dtype=np.float64)
    if ring.ndim != 2 or ring.shape[1] != 2:
        raise _bad(str(ring.shape), "a ring needs pairs of latitude and longitude")
    limits = np.array([90.0, 360.0])
    outside = ~(np.abs(ring) <= limits)
    if outside.any():
        row = ring[outside.any(axis=1)][0]
        fix = "Give degrees; GeoJSON and KML put the longitude first."
        raise _bad(f"{row[0]:g}, {row[1]:g}", "this is no latitude from -90 to 90 and longitude", fix)
    ahead = np.roll(ring, -1, axis=0) - ring
    ring = ring[(ahead[:, 0] != 0.0) | (ahead[:, 1] % 360.0 != 0.0)]
    if len(ring) < 3:
        raise _bad(f"{len(ring)} points", "a ring needs three different points or more")
    step = np.roll(ring[:, 1], -1) - ring[:, 1]
    short = step - 360.0 * np.round(step / 360.0)
    jump = np.abs(step) > 180.0
    if (np.abs(short[jump]) > _WIDEST_SHORT_WAY_DEG).any():
        reason = "an edge goes over more than 90 degrees of longitude either way round, so it can be read in two ways"
        raise _bad(f"{np.abs(step).max():g} degrees", reason, "Put points along that edge, or cut at the date line.")
    longitude = ring[0, 1] + np.concatenate(([0.0], np.cumsum(np.where(jump, short, step))))
    closed = np.column_stack((np.append(ring[:, 0], ring[0, 0]), longitude))
    turns = (longitude[-1] - longitude[0]) / 360.0
    if abs(turns) > 0.5:
        closed = _over_the_pole(closed, turns)
    closed[-1] = closed[0]
    if np.ptp(closed[:, 1]) > 360.0 + 2.0 * _OVERLAP_DEG:
        raise _bad("", "the ring goes round the earth more than once")
    closed[:, 1] -= 360.0 * np.floor((closed[:, 1].min() + 180.0) / 360.0)
    return closed


def _over_the_pole(closed: Array, turns: float) -> Array:
    """A ring round a pole, closed along the meridian of its seam and the pole itself."""
    latitude = closed[:, 0]
    if abs(turns) > 1.5 or not (np.all(latitude > 0.0) or np.all(latitude < 0.0)):
        reason = "the ring goes round the earth and does not stay in one hemisphere, so no side of it is the inner one"
        raise _bad("", reason)
    pole = float(np.copysign(90.0, latitude[0]))
    closed[-1, 1] += np.copysign(_OVERLAP_DEG, turns)
    ends = np.array([[pole, closed[-1, 1]], [pole, closed[0, 1]], closed[0]])
    return np.vstack((closed, ends))


def _one_turn(rings: Rings) -> Rings:
    """Holes moved by whole turns next to the outer edge."""
    middle = _middle(rings[0])
    return (rings[0], *(_beside(middle, ring) for ring in rings[1:]))


def _beside(middle: float, ring: Array) -> Array:
    """The ring moved by whole turns to have its middle within half a turn of a longitude."""
    turn = 360.0 * round((middle - _middle(ring)) / 360.0)
    return np.column_stack((ring[:, 0], ring[:, 1] + turn))


def _middle(ring: Array) -> float:
    return 0.5 * float(ring[:, 1].min() + ring[:, 1].max())


def _refuse_crossings(rings: Rings) -> None:
    """BadInput for a polygon whose even-odd area is not the area inside its outer edge and outside its holes."""
    import shapely

    points = sum(len(ring) for ring in rings)
    if points > _MOST_POINTS:
        raise _bad(f"{points} points", f"a polygon may have {_MOST_POINTS} points", "Simplify it.")
    for ring in rings:
        if _area_m2(ring) < _SMALLEST_AREA_M2:
            raise _bad("", "the ring encloses no area, or crosses itself so that its parts cancel")
    drawn = shapely.Polygon(rings[0][:, ::-1], [ring[:, ::-1] for ring in rings[1:]])
    if drawn.is_valid:
        return
    said = abs(_plane_area(rings[0])) - sum(abs(_plane_area(ring)) for ring in rings[1:])
    if _kinks(rings) <= _MOST_KINKS and abs(shapely.make_valid(drawn).area - said) <= _LARGEST_KINK * said:
        return
    reason = "the edge crosses itself or a hole reaches beyond the outer edge"
    raise _bad("", f"{reason} ({shapely.is_valid_reason(drawn)}, longitude first)", "Put the points in order.")


def _kinks(rings: Rings) -> float:
    """Number of pairs of edges that cross, or any number above the most allowed."""
    import shapely

    if sum(len(ring) for ring in rings) > _MOST_POINTS_WITH_KINKS:
        return np.inf
    edges = np.concatenate([np.stack((ring[:-1], ring[1:]), axis=1) for ring in rings])
    lines = shapely.linestrings(edges)
    tree, count = shapely.STRtree(lines), 0
    for first in range(0, len(lines), _EDGES_AT_ONCE):
        count += tree.query(lines[first : first + _EDGES_AT_ONCE], predicate="crosses").shape[1]
        if count > 2 * _MOST_KINKS:
            break
    return 0.5 * count


def _plane_area(ring: Array) -> float:
    """Signed, in square degrees."""
    latitude, longitude = (ring - ring[0]).T
    return 0.5 * float(np.sum(longitude[:-1] * latitude[1:] - longitude[1:] * latitude[:-1]))


def _area_m2(ring: Array) -> float:
    node, weight = np.polynomial.legendre.leggauss(5)
    share = 0.5 * (node[:, None] + 1.0)
    latitude_rad, longitude_rad = np.radians(ring).T
    along = latitude_rad[:-1] + share * np.diff(latitude_rad)
    # measured from the first point: small rings far from the equator keep their digits
    strip = _from_equator_m2(along) - _from_equator_m2(latitude_rad[:1])
    return abs(float(np.sum(0.5 * (weight @ strip) * np.diff(longitude_rad))))


def _from_equator_m2(latitude_rad: Array) -> Array:
    """Area between the equator and a parallel for one radian of longitude; Snyder 1987, equation 3-12."""
    e = np.sqrt(ECCENTRICITY_SQUARED)
    sine = np.sin(latitude_rad)
    curved = sine / (1.0 - ECCENTRICITY_SQUARED * sine**2) + np.arctanh(e * sine) / e
    return np.asarray(0.5 * SEMI_MAJOR_AXIS_M**2 * (1.0 - ECCENTRICITY_SQUARED) * curved)


def _in_ring(ring: Array, latitude: Array, longitude: Array) -> NDArray[np.bool_]:
    """Even-odd test against one closed ring; blocks of edges keep many places times many edges in memory."""
    south, north = ring[:, 0].min(), ring[:, 0].max()
    west, east = ring[:, 1].min(), ring[:, 1].max()
    longitude = longitude - 360.0 * np.floor((longitude - west) / 360.0)
    near = np.flatnonzero((latitude >= south) & (latitude <= north) & (longitude <= east))
    inside = np.zeros(latitude.shape, dtype=np.bool_)
    if near.size == 0:
        return inside
    point_north, point_east = latitude[near, None], longitude[near, None]
    odd = np.zeros(near.shape, dtype=np.bool_)
    edges = max(1, _BLOCK // near.size)
    for first in range(0, len(ring) - 1, edges):
        start, end = ring[first : first + edges], ring[first + 1 : first + 1 + edges]
        start = start[: len(end)]
        crosses = (start[:, 0] > point_north) != (end[:, 0] > point_north)
        rise = end[:, 0] - start[:, 0]
        slope = (end[:, 1] - start[:, 1]) / np.where(rise == 0.0, 1.0, rise)
        beyond = point_east < start[:, 1] + (point_north - start[:, 0]) * slope
        odd ^= np.count_nonzero(crosses & beyond, axis=1) % 2 == 1
    inside[near] = odd
    return inside
