"""The sea, which OpenStreetMap draws as a coast alone: land lies to the left of its lines, water to the right.

Source: wiki of OpenStreetMap, Tag:natural=coastline (from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pappus.ground import MapBox, MapShapes
from pappus.sources.maps._osm_shapes import Ring, packed

WIDEST_GAP_M = 500.0
"""A coast that ends nearer than this to the edge of the map goes on to it by the shortest way."""
_ASIDE_DEG = 1e-7
"""One centimetre to the right or left of the coast: the last digit that the data hold."""


def sea_areas(coast: MapShapes, box: MapBox) -> tuple[MapShapes, MapShapes]:
    """Areas inside the box that are sea, and areas of which the coast does not say whether they are.

    The coast and the edge of the box cut it into parts. A part is sea when it lies to the right of every piece of
    coast around it, land when to the left; both at once, as with a coast that has a gap, cannot be told.
    """
    if len(coast) == 0:
        return packed("areas", []), packed("areas", [])
    import shapely

    west = box.west_deg
    points = coast.longitude_latitude_deg.copy()
    # one plane for the whole box, also over the date line: degrees east of a meridian on its far side
    points[:, 0] = (points[:, 0] - west + 180.0) % 360.0 - 180.0
    frame = shapely.box(0.0, box.south_deg, (box.east_deg - west) % 360.0, box.north_deg)
    lines = [points[start:end] for start, end in zip(coast.ring_start, coast.ring_start[1:], strict=False)]
    cuts = [shapely.linestrings(line) for line in lines] + _to_the_edge(lines, frame, box)
    parts = shapely.get_parts(shapely.polygonize([shapely.union_all([*cuts, frame.exterior])]))
    parts = parts[shapely.covers(frame, shapely.point_on_surface(parts))]
    right, left = _beside(lines, frame)
    tree = shapely.STRtree(parts)
    wet, dry = (
        np.bincount(tree.query(shapely.points(side), predicate="within")[1], minlength=len(parts)) > 0
        for side in (right, left)
    )
    return _areas(parts[wet & ~dry], west), _areas(parts[wet == dry], west)


def _to_the_edge(lines: list[np.ndarray], frame: Any, box: MapBox) -> list[Any]:
    """Short lines from the loose ends of a coast to the edge of the map."""
    import shapely

    ends = np.concatenate([line[[0, -1]] for line in lines])
    loose, number = np.unique(ends, axis=0, return_counts=True)
    loose = loose[number == 1]
    loose = loose[shapely.covers(frame, shapely.points(loose))]
    near = box.reach_m(loose[:, 1], loose[:, 0] + box.west_deg) <= WIDEST_GAP_M
    # the nearest spot on the edge, on a plane on which a degree is as long to the north as to the east
    squeeze = np.array([np.cos(np.radians(0.5 * (box.south_deg + box.north_deg))), 1.0])
    edge = shapely.linestrings(shapely.get_coordinates(frame.exterior) * squeeze)
    ways = shapely.shortest_line(shapely.points(loose[near] * squeeze), edge)
    feet = shapely.get_coordinates(ways).reshape(-1, 2, 2)[:, 1] / squeeze
    beyond = feet + (feet - loose[near]) * 1e-6  # so that rounding leaves no gap
    return list(shapely.linestrings(np.stack((loose[near], beyond), axis=1)))


def _beside(lines: list[np.ndarray], frame: Any) -> tuple[np.ndarray, np.ndarray]:
    """Points just to the right and left of the middle of every piece of coast that lies in the frame."""
    import shapely

    pieces = np.concatenate([np.stack((line[:-1], line[1:]), axis=1) for line in lines])
    direction = pieces[:, 1] - pieces[:, 0]
    inside = shapely.intersection(shapely.linestrings(pieces), frame)
    seen = (shapely.get_type_id(inside) == shapely.GeometryType.LINESTRING) & (shapely.length(inside) > 0.0)
    middle = shapely.get_coordinates(shapely.line_interpolate_point(inside[seen], 0.5, normalized=True))
    ahead = direction[seen] / np.hypot(*direction[seen].T)[:, None]
    aside = _ASIDE_DEG * np.column_stack((ahead[:, 1], -ahead[:, 0]))
    return middle + aside, middle - aside


def _areas(parts: Any, west_deg: float) -> MapShapes:
    shapes: list[list[Ring]] = []
    for part in parts:
        rings = [part.exterior, *part.interiors]
        shapes.append([[(x + west_deg, y) for x, y in ring.coords] for ring in rings])
    return packed("areas", shapes)
