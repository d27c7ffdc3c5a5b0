"""Areas of OpenStreetMap: closed ways, and relations of many ways with holes between them.

Put together here and not by osmium, whose own assembler (4.3) ends the whole program on some damaged files.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from pappus.sources.maps._osm_shapes import Ring

_BLOCK = 4_000_000
"""Pairs of place and side that are compared at once."""


@dataclass(eq=False)
class AreaCollector:
    """Takes relations, then the ways of a map, and makes areas: for each the outline and the holes in it."""

    unusable: int = 0
    """How many could not be closed, cross themselves or have no inside."""
    _outlines: list[tuple[str, Ring]] = field(default_factory=list)
    _relations: list[tuple[str, tuple[int, ...]]] = field(default_factory=list)
    _members: dict[int, Ring] = field(default_factory=dict)

    def take_relation(self, kind: str, ways: Sequence[int]) -> None:
        """Take a relation, which comes before its ways; the roles of outline and hole are not needed."""
        self._relations.append((kind, tuple(ways)))
        self._members.update(dict.fromkeys(ways, ()))

    def is_member(self, way: int) -> bool:
        """Whether a way belongs to a relation that was taken."""
        return way in self._members

    def take_way(self, way: int, kind: str | None, line: Ring) -> None:
        """Take a way of which no point is missing; ``kind`` when it is an area by itself."""
        if way in self._members:
            self._members[way] = line
        if kind:
            self._outlines.append((kind, line))

    def areas(self) -> list[tuple[str, list[Ring]]]:
        """Kind and rings of every area of what was taken so far; a relation may have several."""
        found = [(kind, [line]) for kind, line in self._outlines if _is_simple(line)]
        self.unusable += len(self._outlines) - len(found)
        for kind, ways in self._relations:
            parts = _assembled([self._members[way] for way in ways])
            self.unusable += not parts
            found += [(kind, part) for part in parts]
        return found


def _is_simple(line: Ring) -> bool:
    """Whether a line is closed, has an inside and does not cross itself."""
    if len(line) < 4 or line[0] != line[-1]:
        return False
    import shapely

    polygon = shapely.polygons(_in_one_plane(line, line[0][0]))
    return bool(shapely.is_valid(polygon)) and float(shapely.area(polygon)) > 0.0


def _assembled(lines: Sequence[Ring]) -> list[list[Ring]]:
    """Areas between lines that close each other, nothing when one is missing or an end stays open.

    The lines cut the plane into parts; a part belongs to the area when a ray from it crosses them an odd number of
    times, so that holes, islands in holes and rings that touch come out alike.
    """
    if not lines or min(len(line) for line in lines) < 2:
        return []
    import shapely

    middle = lines[0][0][0]
    drawn = [_in_one_plane(line, middle) for line in lines]
    polygons, *loose = shapely.polygonize_full([shapely.union_all([shapely.linestrings(line) for line in drawn])])
    parts = shapely.get_parts(polygons)
    if len(parts) == 0 or any(len(shapely.get_parts(rest)) for rest in loose):
        return []
    sides = np.concatenate([np.stack((line[:-1], line[1:]), axis=1) for line in drawn])
    places = shapely.get_coordinates(shapely.point_on_surface(parts))
    return [_rings(part) for part in parts[_crossed_by_odd(places, sides)]]


def _crossed_by_odd(places: np.ndarray, sides: np.ndarray) -> np.ndarray:
    """For which places a ray to the east crosses an odd number of sides."""
    (x1, y1), (x2, y2) = sides[:, 0].T, sides[:, 1].T
    odd = np.zeros(len(places), dtype=bool)
    step = max(_BLOCK // len(sides), 1)
    slope = np.divide(x2 - x1, y2 - y1, out=np.zeros_like(x1), where=y2 != y1)
    for first in range(0, len(places), step):
        x, y = places[first : first + step, 0, None], places[first : first + step, 1, None]
        crossed = ((y1 > y) != (y2 > y)) & (x < x1 + (y - y1) * slope)
        odd[first : first + step] = crossed.sum(axis=1) % 2 == 1
    return odd


def _in_one_plane(line: Ring, middle_deg: float) -> np.ndarray:
    """Points moved by whole turns to within half a turn of a meridian, so that the date line cuts nothing."""
    points = np.array(line, dtype=np.float64)
    points[:, 0] -= 360.0 * np.round((points[:, 0] - middle_deg) / 360.0)
    return points


def _rings(part: Any) -> list[Ring]:
    return [list(ring.coords) for ring in (part.exterior, *part.interiors)]
