"""Lines and areas cut at the date line, as a file needs them: a reader would draw them round the world otherwise."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange
from pappus.landing import AreaLevel

Array = NDArray[np.float64]
Rings = list[Array]


def wrapped_deg(longitude_deg: ArrayLike, around_deg: float = 0.0) -> Array:
    """The same longitudes from half a turn below ``around_deg`` up to, not including, half a turn above."""
    return np.asarray(around_deg + (np.asarray(longitude_deg, dtype=np.float64) - around_deg + 180.0) % 360.0 - 180.0)


def cut_line(line: Array) -> list[Array]:
    """Pieces of a line that stay between -180 and 180; both pieces at a cut hold the point on the date line.

    :param line: shape (points, columns), the first column longitude in degrees; the others are interpolated.
    """
    east = np.unwrap(line[:, 0], period=360.0)
    whole = np.column_stack((east, line[:, 1:]))
    turn = np.floor((east + 180.0) / 360.0)
    pieces, start, first = [], whole[:0], 0
    for i in np.flatnonzero(np.diff(turn)).tolist():
        seam = 360.0 * max(turn[i], turn[i + 1]) - 180.0
        crossing = whole[i] + (seam - east[i]) / (east[i + 1] - east[i]) * (whole[i + 1] - whole[i])
        crossing[0] = seam
        pieces.append((np.vstack((start, whole[first : i + 1], crossing)), turn[i]))
        start, first = crossing[np.newaxis], i + 1
    pieces.append((np.vstack((start, whole[first:])), turn[-1]))
    moved = (piece - 360.0 * turn * np.eye(1, piece.shape[1]) for piece, turn in pieces)
    # a line that only touches the date line leaves a piece of one point, said twice
    return [piece for piece in moved if np.ptp(piece, axis=0).any()]


def cut_areas(level: AreaLevel) -> list[Rings]:
    """Polygons of a level between -180 and 180: each an outline, counter-clockwise, then holes, clockwise.

    Rings are closed, shape (points, 2), longitude first. Raises ``OutOfRange`` where a polygon goes round a pole: no
    ring of latitude and longitude can say that.
    """
    polygons = []
    for rings in level.polygons:
        step = float(np.abs(np.diff(rings[0][:, 1])).max())
        if step > 180.0:
            raise OutOfRange("longitude between neighbours on the outline of a landing area", step, 0.0, 180.0, "deg")
        polygons += _cut_polygon([ring[:, ::-1] for ring in rings])
    return polygons


def _cut_polygon(rings: Rings) -> list[Rings]:
    longitude = rings[0][:, 0]
    first, last = (math.floor((edge + 180.0) / 360.0) for edge in (longitude.min(), longitude.max()))
    if first == last:
        return [[ring - (360.0 * first, 0.0) for ring in rings]]
    from shapely import MultiPolygon, Polygon, box, make_valid
    from shapely.affinity import translate
    from shapely.geometry.polygon import orient

    whole: Any = make_valid(Polygon(rings[0], rings[1:]))
    parts: list[Rings] = []
    for turn in range(first, last + 1):
        middle = 360.0 * turn
        held = whole.intersection(box(middle - 180.0, -90.0, middle + 180.0, 90.0))
        # where the outline touches the date line, points and lines come with the polygons
        pieces = [piece for piece in getattr(held, "geoms", [held]) if isinstance(piece, Polygon | MultiPolygon)]
        for polygon in (one for piece in pieces for one in getattr(piece, "geoms", [piece])):
            moved = orient(translate(polygon, xoff=-middle))
            parts.append([np.asarray(ring.coords) for ring in (moved.exterior, *moved.interiors)])
    return parts
