"""Circles, arcs and corridors on the WGS84 ellipsoid as points, and geodesic edges between points.

Every true line lies within 10 m (arcs on long chords: 12 m) of the straight lines between the points made here.
"""

from __future__ import annotations

from math import acos, ceil, degrees

import numpy as np
from numpy.typing import NDArray

from pappus.airspace._ahead import points_ahead
from pappus.earth import SEMI_MAJOR_AXIS_M, distance_m, geodesic_inverse, require_range
from pappus.errors import BadInput, Finding

Array = NDArray[np.float64]
Point = tuple[float, float]
"""Latitude and longitude in degrees."""

SHAPE_TOLERANCE_M = 10.0
_SMALLEST_RADIUS_M, _LARGEST_RADIUS_M = 1.0, 2_000_000.0
_WIDEST_STEP_DEG = 15.0
_LONGEST_EDGE_M = 5_000_000.0
_LONGEST_RING_M = 50_000_000.0
_LARGEST_MISMATCH, _MISMATCH_M = 0.1, 100.0
_HIGHEST_CORRIDOR_DEG = 85.0
_STEEPEST_DEG = 89.9


def arc_points(centre: Point, radius_m: float, start_deg: float, sweep_deg: float) -> Array:
    """Points of an arc, shape (points, 2), latitude and longitude in degrees, both ends among them.

    :param radius_m: along the ellipsoid, 1 m to 2000 km.
    :param start_deg: true bearing of the first point from the centre.
    :param sweep_deg: clockwise, -360 to 360.
    :raises OutOfRange: a radius, a sweep or a latitude outside its range.
    """
    require_range("sweep of an arc", sweep_deg, -360, 360, "deg")
    pieces = _pieces(radius_m, sweep_deg)
    bearings = start_deg + sweep_deg * np.arange(pieces + 1) / pieces
    return points_ahead(centre, bearings, radius_m)


def circle_points(centre: Point, radius_m: float) -> Array:
    """Points of a circle, clockwise from north, shape (points, 2), the first not repeated. Ranges as ``arc_points``."""
    return arc_points(centre, radius_m, 0.0, 360.0)[:-1]


def arc_between(centre: Point, start: Point, end: Point, *, clockwise: bool) -> Array:
    """Points of an arc round ``centre`` from one point to another, shape (points, 2), both given points among them.

    Where the two lie at slightly different distances (rounded coordinates), the radius runs evenly from one to the
    other. Raises BadInput when they differ by more than a tenth and 100 m, or the two ends are one point.
    """
    radius, bearing, _ = geodesic_inverse(*centre, *start)
    end_radius, end_bearing, _ = geodesic_inverse(*centre, *end)
    require_range("radius of an arc", (radius, end_radius), _SMALLEST_RADIUS_M, _LARGEST_RADIUS_M, "m")
    if abs(end_radius - radius) > max(_LARGEST_MISMATCH * max(radius, end_radius), _MISMATCH_M):
        reason = "the ends of the arc lie at different distances from its centre"
        said = f"{radius:.0f} m and {end_radius:.0f} m"
        raise BadInput(Finding("arc", said, reason, "Correct the centre or the ends."))
    if geodesic_inverse(*start, *end)[0] < _SMALLEST_RADIUS_M:
        raise BadInput(Finding("arc", "", "its ends are one point", "Give a circle, or two ends."))
    sweep = (end_bearing - bearing) % 360.0 - (0.0 if clockwise else 360.0)
    pieces = _pieces(max(radius, end_radius), sweep)
    share = np.arange(1, pieces) / pieces
    between = points_ahead(centre, bearing + sweep * share, radius + (end_radius - radius) * share)
    return np.vstack((start, between, end))


def geodesic_ring(points: Array) -> Array:
    """The ring with points put in where the shortest line between neighbours leaves the straight one by over 10 m.

    :param points: shape (points, 2), latitude and longitude in degrees; not repeated at the end.
    :raises BadInput: neighbours are more than 5000 km apart, or the ring is longer than 50 000 km.
    """
    ends = np.roll(points, -1, axis=0)
    length = distance_m(points[:, 0], points[:, 1], ends[:, 0], ends[:, 1])
    fix = "Check their letters N S E W."
    if (length > _LONGEST_EDGE_M).any():
        said = f"{length.max() / 1000:.0f} km"
        raise BadInput(Finding("outline", said, "neighbouring points are too far apart", fix))
    if length.sum() > _LONGEST_RING_M:
        raise BadInput(Finding("outline", f"{length.sum() / 1000:.0f} km", "the way round it is too long", fix))
    # a line straight in latitude and longitude bends by up to 1.09 tan(latitude) / R against the geodesic
    steepest = np.maximum(np.abs(points[:, 0]), np.abs(ends[:, 0])) + np.degrees(0.5 * length / SEMI_MAJOR_AXIS_M)
    bend = 1.09 * np.tan(np.radians(np.minimum(steepest, _STEEPEST_DEG))) / (8.0 * SEMI_MAJOR_AXIS_M)
    pieces = np.ceil(length * np.sqrt(bend / SHAPE_TOLERANCE_M)).astype(np.int64)
    ring: list[Array] = []
    for index in range(len(points)):
        ring.append(points[index : index + 1])
        if pieces[index] > 1:
            start = (float(points[index, 0]), float(points[index, 1]))
            metres, bearing, _ = geodesic_inverse(*start, float(ends[index, 0]), float(ends[index, 1]))
            ring.append(points_ahead(start, bearing, metres * np.arange(1, pieces[index]) / pieces[index]))
    return np.vstack(ring)


def corridor(line: Array, width_m: float) -> tuple[tuple[Array, ...], ...]:
    """Polygons (rings of latitude and longitude) of a corridor along a line, flat at its ends, round at its bends.

    :param line: shape (points, 2), two or more, latitude and longitude in degrees, within 85 degrees of the equator.
    :param width_m: from edge to edge.
    :raises BadInput: fewer than two points.
    :raises OutOfRange: too near a pole, or a width beyond the radii of ``arc_points``.
    """
    import shapely

    if len(line) < 2:
        raise BadInput(Finding("corridor", f"{len(line)} points", "a corridor needs two or more", "Add a point."))
    require_range("latitude of a corridor", line[:, 0], -_HIGHEST_CORRIDOR_DEG, _HIGHEST_CORRIDOR_DEG, "deg")
    half = 0.5 * width_m
    parts = [circle_points((float(bend[0]), float(bend[1])), half) for bend in line[1:-1]]
    for (north, east), (end_north, end_east) in zip(line[:-1].tolist(), line[1:].tolist(), strict=True):
        length, ahead, onward = geodesic_inverse(north, east, end_north, end_east)
        require_range("length of a part of a corridor", length, _SMALLEST_RADIUS_M, _LONGEST_EDGE_M, "m")
        corners = [
            points_ahead((north, east), [ahead + 90.0, ahead - 90.0], half),
            points_ahead((end_north, end_east), [onward - 90.0, onward + 90.0], half),
        ]
        parts.append(geodesic_ring(np.vstack(corners)))
    first = float(line[0, 1])
    flat = []
    for part in parts:
        longitude = np.unwrap(part[:, 1], period=360.0)
        longitude -= 360.0 * np.round((longitude[0] - first) / 360.0)
        flat.append(shapely.Polygon(np.column_stack((longitude, part[:, 0]))))
    whole = shapely.union_all(flat)
    polygons = [piece for piece in getattr(whole, "geoms", [whole]) if isinstance(piece, shapely.Polygon)]
    return tuple(
        tuple(np.asarray(ring.coords)[:-1, ::-1] for ring in (piece.exterior, *piece.interiors)) for piece in polygons
    )


def _pieces(radius_m: float, sweep_deg: float) -> int:
    require_range("radius of an arc", radius_m, _SMALLEST_RADIUS_M, _LARGEST_RADIUS_M, "m")
    widest = 2.0 * degrees(acos(max(1.0 - SHAPE_TOLERANCE_M / radius_m, 0.0)))
    return max(1, ceil(abs(sweep_deg) / min(widest, _WIDEST_STEP_DEG)))
