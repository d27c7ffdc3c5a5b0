"""Coast lines and borders, and the part of them that a map shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from pappus.errors import OutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class MapLines:
    """Lines of a map; each is an array of shape (points, 2) of longitude and latitude in degrees."""

    coast: tuple[Array, ...]
    borders: tuple[Array, ...]

    def clip(self, south_deg: float, north_deg: float, west_deg: float, east_deg: float) -> MapLines:
        """The parts of the lines that touch a box, with one point beyond its edge where a line runs on.

        Longitudes may follow any convention, and an ``east_deg`` below ``west_deg`` means a box over the date line.
        The lines come back with longitudes shifted by whole turns to run on from ``west_deg``, so that they can be
        drawn in one plane. Raises OutOfRange for latitudes that are not ordered from -90 to 90.
        """
        if not -90.0 <= south_deg <= north_deg <= 90.0:
            raise OutOfRange("latitudes of a map", f"{south_deg:g} to {north_deg:g}", -90.0, 90.0, "deg")
        if east_deg < west_deg:
            east_deg += 360.0 * ceil((west_deg - east_deg) / 360.0)
        box = (south_deg, north_deg, west_deg, min(east_deg, west_deg + 360.0))
        return MapLines(
            tuple(_parts_in_box(self.coast, self._coast_extent, box)),
            tuple(_parts_in_box(self.borders, self._border_extent, box)),
        )

    @cached_property
    def _coast_extent(self) -> Array:
        return _extent(self.coast)

    @cached_property
    def _border_extent(self) -> Array:
        return _extent(self.borders)


def _extent(lines: tuple[Array, ...]) -> Array:
    """South, north, west and east of each line, shape (lines, 4)."""
    rows = [(line[:, 1].min(), line[:, 1].max(), line[:, 0].min(), line[:, 0].max()) for line in lines]
    return np.array(rows, dtype=np.float64).reshape(-1, 4)


def _parts_in_box(lines: tuple[Array, ...], extent: Array, box: tuple[float, float, float, float]) -> Iterator[Array]:
    south, north, west, east = box
    for index in np.flatnonzero((extent[:, 0] <= north) & (extent[:, 1] >= south)):
        first_turn, last_turn = ceil((west - extent[index, 3]) / 360.0), floor((east - extent[index, 2]) / 360.0)
        for turn in range(first_turn, last_turn + 1):
            yield from _runs_in_box(lines[index] + (360.0 * turn, 0.0), box)


def _runs_in_box(line: Array, box: tuple[float, float, float, float]) -> Iterator[Array]:
    """Runs of segments whose own extent meets the box: a few too many at the corners, never one too few."""
    south, north, west, east = box
    low, high = np.minimum(line[:-1], line[1:]), np.maximum(line[:-1], line[1:])
    inside = (low[:, 0] <= east) & (high[:, 0] >= west) & (low[:, 1] <= north) & (high[:, 1] >= south)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], inside, [False])).astype(np.int8)))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        yield line[first : after + 1]
