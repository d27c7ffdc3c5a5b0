"""Inside or outside a polygon on the map."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def inside_polygon(
    polygon_deg: tuple[tuple[float, float], ...], latitude: Array, longitude: Array
) -> NDArray[np.bool_]:
    """Even-odd rule on (latitude, longitude) corners; longitudes are taken around the first corner."""
    corners = np.asarray(polygon_deg, dtype=float)
    base = corners[0, 1]
    x = np.mod(longitude - base + 180.0, 360.0) - 180.0
    corner_x = np.mod(corners[:, 1] - base + 180.0, 360.0) - 180.0
    inside = np.zeros(latitude.shape, dtype=bool)
    for (y1, x1), (y2, x2) in zip(
        zip(corners[:, 0], corner_x, strict=True),
        zip(np.roll(corners[:, 0], -1), np.roll(corner_x, -1), strict=True),
        strict=True,
    ):
        if y1 == y2:
            continue
        crosses = (y1 > latitude) != (y2 > latitude)
        inside ^= crosses & (x < x1 + (latitude - y1) * (x2 - x1) / (y2 - y1))
    return inside
