"""A flat map around one place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pappus.earth._ellipsoid import FLATTENING, SEMI_MAJOR_AXIS_M, east_north_up, geocentric_m
from pappus.earth._limits import Array, require_range

RADIUS_LIMIT_M = 500_000.0


@dataclass(frozen=True)
class LocalPlane:
    """East and north of a place, for statistics on scattered points.

    Points on the WGS84 ellipsoid are dropped straight onto the plane that touches it at the origin (orthographic), so
    the map is exact both ways. A distance s from the origin comes out short by s^3 / 6 R^2: 0.5 m at 50 km, 33 m at
    200 km, 0.5 km at 500 km. Refuses points farther than 500 km on the plane. Works at the poles and across the date
    line.
    """

    latitude_deg: float
    longitude_deg: float

    def __post_init__(self) -> None:
        require_range("latitude", self.latitude_deg, -90, 90, "deg")

    def to_east_north_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Array, Array]:
        """East and north in metres, in the broadcast shape of the arguments."""
        offset = geocentric_m(latitude_deg, longitude_deg, 0.0) - self._origin()
        east, north, up = np.moveaxis(offset @ self._axes().T, -1, 0)
        # a point of the far hemisphere also has a small east and north: it shows by lying far below the plane
        distance = np.where(up > -RADIUS_LIMIT_M, np.hypot(east, north), -up)
        require_range("distance from the origin of the map", distance, 0, RADIUS_LIMIT_M, "m")
        return east, north

    def to_latitude_longitude_deg(self, east_m: ArrayLike, north_m: ArrayLike) -> tuple[Array, Array]:
        """Latitude and longitude (-180 to 180) in degrees, in the broadcast shape of the arguments.

        The point sought lies on the ellipsoid, straight below or above the given one: one quadratic equation in the
        space where the ellipsoid is a unit sphere, so no iteration.
        """
        east, north = np.broadcast_arrays(np.asarray(east_m, dtype=np.float64), np.asarray(north_m, dtype=np.float64))
        require_range("distance from the origin of the map", np.hypot(east, north), 0, RADIUS_LIMIT_M, "m")
        axes = self._axes()
        point = self._origin() + east[..., None] * axes[0] + north[..., None] * axes[1]
        semi_axes = SEMI_MAJOR_AXIS_M * np.array([1.0, 1.0, 1 - FLATTENING])
        start, step = point / semi_axes, axes[2] / semi_axes
        a, b, c = step @ step, start @ step, np.sum(start * start, axis=-1) - 1
        up = -c / (b + np.sqrt(b * b - a * c))
        x, y, z = np.moveaxis(point + up[..., None] * axes[2], -1, 0)
        # on the ellipsoid itself the geodetic latitude follows from the geocentric one
        latitude_rad = np.arctan2(z, (1 - FLATTENING) ** 2 * np.hypot(x, y))
        return np.degrees(latitude_rad), np.degrees(np.arctan2(y, x))

    def _origin(self) -> Array:
        return geocentric_m(self.latitude_deg, self.longitude_deg, 0.0)

    def _axes(self) -> Array:
        return east_north_up(self.latitude_deg, self.longitude_deg)
