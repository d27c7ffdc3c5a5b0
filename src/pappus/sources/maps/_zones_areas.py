"""What the readers of drawn zones share: an area as a file gives it, and rings of positions, longitude first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Polygon = tuple[Array, ...]

MOST_FEATURES = 20_000


@dataclass(frozen=True, eq=False)
class DrawnArea:
    """An area of a file: where it stands there, its name, what it says of its role, and its polygons."""

    where: str
    name: str
    role: str | None
    polygons: tuple[Polygon, ...]
    """Rings of latitude and longitude in degrees, not closed."""


def ring_of(positions: Sequence[tuple[float, float]]) -> Array:
    """A ring from positions with the longitude first; raises ValueError unless it is closed.

    Source: RFC 7946, section 3.1.6; OGC 12-007r2 (KML 2.3), LinearRing.
    """
    if len(positions) < 4:
        raise ValueError("a ring has fewer than four positions")
    if positions[0] != positions[-1]:
        raise ValueError("a ring is not closed: its first and last positions differ")
    return np.array(positions[:-1], dtype=np.float64)[:, ::-1]
