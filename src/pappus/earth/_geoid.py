"""The geoid: where mean sea level lies above or below the ellipsoid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pappus.earth._limits import Array, require_range

ROWS, COLUMNS = 721, 1440
_PER_DEGREE = 4


@dataclass(frozen=True, eq=False)
class Geoid:
    """A geoid model on a grid of 15 arc minutes.

    height above the ellipsoid = height above mean sea level + undulation.
    """

    name: str
    """The model: ``"EGM96"``."""
    grid_m: Array
    """Undulation, 721 x 1440: rows from latitude 90 to -90, columns from longitude 0 to 359.75 degrees east."""

    def __post_init__(self) -> None:
        if self.grid_m.shape != (ROWS, COLUMNS):
            raise ValueError(f"a geoid grid has the shape {(ROWS, COLUMNS)}, not {self.grid_m.shape}")
        if not np.isfinite(self.grid_m).all():
            raise ValueError("the geoid grid has missing values")

    def undulation_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Array:
        """Undulation by bilinear interpolation, broadcast; latitude -90 to 90, any longitude (it wraps round)."""
        row = (90 - require_range("latitude", latitude_deg, -90, 90, "deg")) * _PER_DEGREE
        column = require_range("longitude", longitude_deg, -720, 720, "deg") * _PER_DEGREE
        upper = np.minimum(row.astype(np.intp), ROWS - 2)
        left = np.floor(column).astype(np.intp)
        down, right = row - upper, column - left
        west, east = left % COLUMNS, (left + 1) % COLUMNS
        above = self.grid_m[upper, west] * (1 - right) + self.grid_m[upper, east] * right
        below = self.grid_m[upper + 1, west] * (1 - right) + self.grid_m[upper + 1, east] * right
        return np.asarray(above * (1 - down) + below * down)
