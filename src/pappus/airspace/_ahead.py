"""Many points at bearings and distances from one place: the arcs of a country ask for a hundred thousand at a time."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import ECCENTRICITY_SQUARED, SEMI_MAJOR_AXIS_M, require_range

Array = NDArray[np.float64]

_MOST_ROUNDS = 20
_SMALLEST_STEP_RAD = 1e-13


def points_ahead(place: tuple[float, float], bearing_deg: ArrayLike, distance_m: ArrayLike) -> Array:
    """Latitude and longitude (-180 to 180) of points, shape (points, 2), in degrees; the arguments broadcast.

    ``earth.geodesic_direct`` gives one point in the time in which this gives hundreds; the two agree to 0.1 mm up to
    2000 km. Source: Vincenty 1975, Survey Review 23 (176), 88-93, direct formula, on WGS84. Raises OutOfRange for a
    latitude beyond 90 degrees.
    """
    require_range("latitude", place[0], -90, 90, "deg")
    bearing, metres = np.broadcast_arrays(np.radians(bearing_deg), np.asarray(distance_m, dtype=np.float64))
    polar_axis_m = SEMI_MAJOR_AXIS_M * np.sqrt(1.0 - ECCENTRICITY_SQUARED)
    flattening = 1.0 - polar_axis_m / SEMI_MAJOR_AXIS_M
    reduced = np.arctan2((1.0 - flattening) * np.sin(np.radians(place[0])), np.cos(np.radians(place[0])))
    sin_u, cos_u = np.sin(reduced), np.cos(reduced)
    sin_bearing, cos_bearing = np.sin(bearing), np.cos(bearing)
    sigma_1 = np.arctan2(sin_u, cos_u * cos_bearing)
    sin_alpha = cos_u * sin_bearing
    cos2_alpha = 1.0 - sin_alpha**2
    u2 = cos2_alpha * ECCENTRICITY_SQUARED / (1.0 - ECCENTRICITY_SQUARED)
    a = 1.0 + u2 / 16384.0 * (4096.0 + u2 * (-768.0 + u2 * (320.0 - 175.0 * u2)))
    b = u2 / 1024.0 * (256.0 + u2 * (-128.0 + u2 * (74.0 - 47.0 * u2)))
    sigma = metres / (polar_axis_m * a)
    for _ in range(_MOST_ROUNDS):
        before = sigma
        c2m, sin_s, cos_s = np.cos(2.0 * sigma_1 + sigma), np.sin(sigma), np.cos(sigma)
        last = b / 6.0 * c2m * (4.0 * sin_s**2 - 3.0) * (4.0 * c2m**2 - 3.0)
        sigma = metres / (polar_axis_m * a) + b * sin_s * (c2m + b / 4.0 * (cos_s * (2.0 * c2m**2 - 1.0) - last))
        if np.all(np.abs(sigma - before) < _SMALLEST_STEP_RAD):
            break
    c2m, sin_s, cos_s = np.cos(2.0 * sigma_1 + sigma), np.sin(sigma), np.cos(sigma)
    across = sin_u * sin_s - cos_u * cos_s * cos_bearing
    latitude = np.arctan2(sin_u * cos_s + cos_u * sin_s * cos_bearing, (1.0 - flattening) * np.hypot(sin_alpha, across))
    turn = np.arctan2(sin_s * sin_bearing, cos_u * cos_s - sin_u * sin_s * cos_bearing)
    c = flattening / 16.0 * cos2_alpha * (4.0 + flattening * (4.0 - 3.0 * cos2_alpha))
    east = turn - (1.0 - c) * flattening * sin_alpha * (sigma + c * sin_s * (c2m + c * cos_s * (2.0 * c2m**2 - 1.0)))
    longitude = (place[1] + np.degrees(east) + 180.0) % 360.0 - 180.0
    return np.stack((np.degrees(latitude), longitude), axis=-1)
