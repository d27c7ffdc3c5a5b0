"""The Lambert conformal conic projection, and fields on it brought to latitudes and longitudes.

Source: Snyder 1987, Map Projections: A Working Manual, USGS Professional Paper 1395, equations 15-1 to 15-11, 14-15
and 7-9 (from memory; the tests compare positions with ecCodes and directions with differences of positions).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_COARSE = 96
"""Points a side of the raster in which the box is looked for."""
_METRES_PER_DEGREE = 111_195.0


@dataclass(frozen=True)
class Lambert:
    """The projection; angles in degrees. One of the parallels may be taken twice."""

    semi_major_m: float
    eccentricity: float
    """0 for a sphere."""
    parallel1_deg: float
    parallel2_deg: float
    central_longitude_deg: float

    @cached_property
    def cone(self) -> float:
        """n of Snyder: angle on the map of one degree of longitude."""
        if abs(self.parallel1_deg - self.parallel2_deg) < 1e-9:
            return float(np.sin(np.radians(self.parallel1_deg)))
        parallels = np.array([self.parallel1_deg, self.parallel2_deg])
        log_m, log_t = np.log(self._m(parallels)), np.log(self._t(parallels))
        return float((log_m[0] - log_m[1]) / (log_t[0] - log_t[1]))

    @cached_property
    def _scale_m(self) -> float:
        parallel = np.array(self.parallel1_deg)
        return float(self.semi_major_m * self._m(parallel) / (self.cone * self._t(parallel) ** self.cone))

    def _m(self, latitude_deg: Array) -> Array:
        phi = np.radians(latitude_deg)
        return np.asarray(np.cos(phi) / np.sqrt(1.0 - (self.eccentricity * np.sin(phi)) ** 2))

    def _t(self, latitude_deg: Array) -> Array:
        phi = np.radians(latitude_deg)
        e_sin = self.eccentricity * np.sin(phi)
        return np.asarray(np.tan(np.pi / 4 - phi / 2) / ((1.0 - e_sin) / (1.0 + e_sin)) ** (self.eccentricity / 2))

    def turned_deg(self, longitude_deg: ArrayLike) -> Array:
        """Angle from the map's north to true north, counter-clockwise: the cone times the way from its meridian."""
        away = np.mod(np.asarray(longitude_deg, dtype=float) - self.central_longitude_deg + 180.0, 360.0) - 180.0
        return np.asarray(self.cone * away)

    def on_map_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Array, Array]:
        """Place on the map, with the origin at the pole."""
        radius = self._scale_m * self._t(np.asarray(latitude_deg, dtype=float)) ** self.cone
        theta = np.radians(self.turned_deg(longitude_deg))
        return np.asarray(radius * np.sin(theta)), np.asarray(-radius * np.cos(theta))

    def on_earth_deg(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[Array, Array]:
        """Latitude and longitude of a place on the map; the longitude within 180 degrees of the central one."""
        x, y = np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)
        sign = np.sign(self.cone)
        t = (np.hypot(x, y) / abs(self._scale_m)) ** (1.0 / self.cone)
        theta = np.arctan2(sign * x, -sign * y)
        phi = np.pi / 2 - 2 * np.arctan(t)
        for _ in range(6):  # converges by the square of the eccentricity a round
            e_sin = self.eccentricity * np.sin(phi)
            phi = np.pi / 2 - 2 * np.arctan(t * ((1.0 - e_sin) / (1.0 + e_sin)) ** (self.eccentricity / 2))
        return np.degrees(phi), self.central_longitude_deg + np.degrees(theta) / self.cone

    def earth_wind(self, wind_x: Array, wind_y: Array, longitude_deg: Array) -> tuple[Array, Array]:
        """Eastward and northward wind from the components along the axes of the map."""
        angle = np.radians(self.turned_deg(longitude_deg))
        cos, sin = np.cos(angle), np.sin(angle)
        return wind_x * cos + wind_y * sin, -wind_x * sin + wind_y * cos


@dataclass(frozen=True)
class LambertGrid:
    """Points on the map, from the lowest left corner; rows run with y, columns with x."""

    projection: Lambert
    x0_m: float
    y0_m: float
    dx_m: float
    dy_m: float
    columns: int
    rows: int

    def place(self, latitude_deg: Array, longitude_deg: Array) -> tuple[Array, Array]:
        """Fractional row and column."""
        x, y = self.projection.on_map_m(latitude_deg, longitude_deg)
        return (y - self.y0_m) / self.dy_m, (x - self.x0_m) / self.dx_m

    def holds(self, latitude_deg: Array, longitude_deg: Array) -> Mask:
        """Whether points lie among those of the grid."""
        row, column = self.place(latitude_deg, longitude_deg)
        edge = 1e-6
        inside = (row >= -edge) & (row <= self.rows - 1 + edge)
        return np.asarray(inside & (column >= -edge) & (column <= self.columns - 1 + edge))

    def bounds_deg(self) -> tuple[float, float, float, float]:
        """South, north, west and east of all points; the pole counts when it lies among them."""
        row = np.r_[np.arange(self.rows), np.arange(self.rows)]
        column = np.r_[np.arange(self.columns), np.arange(self.columns)]
        rows = np.r_[row, np.zeros(self.columns), np.full(self.columns, self.rows - 1)]
        columns = np.r_[np.zeros(self.rows), np.full(self.rows, self.columns - 1), column]
        latitude, longitude = self.projection.on_earth_deg(
            self.x0_m + columns * self.dx_m, self.y0_m + rows * self.dy_m
        )
        south, north = float(latitude.min()), float(latitude.max())
        west, east = float(longitude.min()), float(longitude.max())
        x_end, y_end = self.x0_m + (self.columns - 1) * self.dx_m, self.y0_m + (self.rows - 1) * self.dy_m
        if self.x0_m <= 0 <= x_end and self.y0_m <= 0 <= y_end:
            south, north = (south, 90.0) if self.projection.cone > 0 else (-90.0, north)
        return south, north, west, east

    def axes_inside(self, bounds: tuple[float, float, float, float]) -> tuple[Array, Array] | None:
        """Latitudes and longitudes of a raster as fine as the grid in the largest box inside grid and bounds."""
        south, north, west, east = bounds
        step_latitude = self.dy_m / _METRES_PER_DEGREE
        middle = np.radians((south + north) / 2)
        step_longitude = self.dx_m / (_METRES_PER_DEGREE * max(float(np.cos(middle)), 0.02))
        latitudes, longitudes = np.linspace(south, north, _COARSE), np.linspace(west, east, _COARSE)
        first_row, last_row, first_column, last_column = largest_rectangle(
            self.holds(latitudes[:, None], longitudes[None, :])
        )
        # sides of a box are not straight on the map: a point between two good ones may lie outside, so shrink
        while last_row > first_row and last_column > first_column:
            latitude = _spaced(latitudes[first_row], latitudes[last_row], step_latitude)
            longitude = _spaced(longitudes[first_column], longitudes[last_column], step_longitude)
            held = self.holds(latitude[:, None], longitude[None, :])
            if held.all():
                return latitude, longitude
            first_row, first_column = first_row + int(not held[0].all()), first_column + int(not held[:, 0].all())
            last_row, last_column = last_row - int(not held[-1].all()), last_column - int(not held[:, -1].all())
            if held[[0, -1]].all() and held[:, [0, -1]].all():
                break
        return None

    def interpolated(self, values: NDArray[Any], latitude_deg: Array, longitude_deg: Array) -> Array:
        """Bilinear on the map: ``values`` (n, row, column) on a raster, shape (n, latitude, longitude)."""
        row, column = self.place(latitude_deg[:, None], longitude_deg[None, :])
        lower = np.clip(np.floor(row).astype(np.intp), 0, self.rows - 2)
        left = np.clip(np.floor(column).astype(np.intp), 0, self.columns - 2)
        up, right = np.clip(row - lower, 0.0, 1.0), np.clip(column - left, 0.0, 1.0)
        flat = values.reshape(len(values), -1)
        corner = lower * self.columns + left
        result = flat[:, corner] * ((1.0 - up) * (1.0 - right))
        result += flat[:, corner + 1] * ((1.0 - up) * right)
        result += flat[:, corner + self.columns] * (up * (1.0 - right))
        result += flat[:, corner + self.columns + 1] * (up * right)
        return np.asarray(result)


def _spaced(low: float, high: float, step: float) -> Array:
    return np.linspace(low, high, max(int(np.floor((high - low) / step + 1e-9)) + 1, 2))


def largest_rectangle(mask: Mask) -> tuple[int, int, int, int]:
    """First and last row, first and last column of the largest rectangle of true cells (0, -1, 0, -1 if none).

    For each row the columns of true cells that end there are a histogram; the largest rectangle under it is found
    with a stack of rising bars.
    """
    best, found = 0, (0, -1, 0, -1)
    depth = np.zeros(mask.shape[1] + 1, dtype=int)  # the last column stays 0 and closes every bar
    for row in range(mask.shape[0]):
        depth[:-1] = np.where(mask[row], depth[:-1] + 1, 0)
        bars: list[tuple[int, int]] = []
        for column, height in enumerate(depth.tolist()):
            start = column
            while bars and bars[-1][1] >= height:
                start, tall = bars.pop()
                if tall * (column - start) > best:
                    best, found = tall * (column - start), (row - tall + 1, row, start, column - 1)
            bars.append((start, height))
    return found
