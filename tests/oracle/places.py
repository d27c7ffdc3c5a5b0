"""Plain numpy: a drift over the ellipsoid, inside or outside a polygon, tracks without holes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.earth import radii_of_curvature_m

Array = NDArray[np.float64]


def drifted(
    latitude_deg: Array, longitude_deg: Array, height_m: Array, u_m_s: Array, v_m_s: Array, seconds: Array
) -> tuple[Array, Array]:
    """Position after a drift over the WGS84 ellipsoid at flight height, the curvature taken at mid-step."""
    meridional, _ = radii_of_curvature_m(latitude_deg)
    middle = latitude_deg + np.degrees(0.5 * v_m_s * seconds / (meridional + height_m))
    meridional, prime_vertical = radii_of_curvature_m(middle)
    latitude = latitude_deg + np.degrees(v_m_s * seconds / (meridional + height_m))
    longitude = longitude_deg + np.degrees(u_m_s * seconds / ((prime_vertical + height_m) * np.cos(np.radians(middle))))
    return latitude, longitude


def degrees_per_m(latitude_deg: Array, height_m: Array) -> tuple[Array, Array]:
    """Degrees of latitude and of longitude in a metre."""
    meridional, prime_vertical = radii_of_curvature_m(latitude_deg)
    east = (prime_vertical + height_m) * np.cos(np.radians(latitude_deg))
    return np.degrees(1.0 / (meridional + height_m)), np.degrees(1.0 / east)


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


def without_gaps(track: list[tuple[Array, Array, Array, Array]]) -> list[Array]:
    """Tracks (N, steps) from the columns of each step; a flight that rested while others moved leaves no hole."""
    columns = [np.stack(column, axis=1) for column in zip(*track, strict=True)]
    order = np.argsort(np.isnan(columns[0]), axis=1, kind="stable")
    longest = int((~np.isnan(columns[0])).sum(axis=1).max())
    return [np.take_along_axis(column, order, axis=1)[:, :longest] for column in columns]
