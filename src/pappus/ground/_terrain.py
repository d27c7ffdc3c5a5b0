"""Height of the ground: one height everywhere, or a grid of heights with something beneath it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_ROUNDING = 1e-9
"""Share of a cell by which a point on the edge may miss it: longitudes lose digits on their way between conventions."""


@dataclass(frozen=True)
class FlatGround:
    """One height everywhere."""

    ground_msl_m: float
    name: str
    """Where the height comes from, in words."""

    def height_msl_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Array:
        """The same height at every place; the arguments broadcast."""
        shape = np.broadcast_shapes(np.shape(latitude_deg), np.shape(longitude_deg))
        return np.full(shape, self.ground_msl_m)

    @property
    def lowest_msl_m(self) -> float:
        """Lowest ground that a flight may meet."""
        return self.ground_msl_m

    @property
    def highest_msl_m(self) -> float:
        """Highest ground that a flight may meet."""
        return self.ground_msl_m


@dataclass(frozen=True, eq=False)
class TerrainGrid:
    """Heights above mean sea level on ascending latitudes and longitudes, bilinear between them.

    Where the grid ends or a corner of the cell holds no value, ``beneath`` answers: another grid, the ground of the
    forecast model, or a flat one. Longitudes span at most 360 degrees. Raises ValueError for axes that do not ascend.
    """

    latitude_deg: Array
    longitude_deg: Array
    grid_msl_m: Array
    """Shape (latitude, longitude); NaN where nothing is known."""
    name: str
    beneath: TerrainGrid | FlatGround

    def __post_init__(self) -> None:
        if self.grid_msl_m.shape != (len(self.latitude_deg), len(self.longitude_deg)):
            raise ValueError(f"terrain {self.grid_msl_m.shape} does not fit its axes")
        if not all(bool((np.diff(axis) > 0.0).all()) for axis in (self.latitude_deg, self.longitude_deg)):
            raise ValueError("the latitudes and longitudes of terrain must ascend")

    def holds(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.bool_]:
        """Where this grid itself has a height."""
        return np.asarray(np.isfinite(self._bilinear(latitude_deg, longitude_deg)))

    def height_msl_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Array:
        """Height of the ground [m above mean sea level]; the arguments broadcast, longitudes follow any convention."""
        height = self._bilinear(latitude_deg, longitude_deg)
        if bool(np.isfinite(height).all()):
            return height
        return np.where(np.isfinite(height), height, self.beneath.height_msl_m(latitude_deg, longitude_deg))

    @property
    def lowest_msl_m(self) -> float:
        """Lowest ground that a flight may meet."""
        return float(np.nanmin(self.grid_msl_m, initial=self.beneath.lowest_msl_m))

    @property
    def highest_msl_m(self) -> float:
        """Highest ground that a flight may meet."""
        return float(np.nanmax(self.grid_msl_m, initial=self.beneath.highest_msl_m))

    def _bilinear(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Array:
        latitude, longitude = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
        )
        if min(self.grid_msl_m.shape) < 2:  # a single row or column has no cell
            return np.full(latitude.shape, np.nan)
        # whole turns around the middle: a longitude already in the convention of the grid keeps its last digit
        middle = 0.5 * (self.longitude_deg[0] + self.longitude_deg[-1])
        longitude = longitude - 360.0 * np.round((longitude - middle) / 360.0)
        rows, row_share = _cell(self.latitude_deg, latitude)
        columns, column_share = _cell(self.longitude_deg, longitude)
        grid = self.grid_msl_m
        south = (1.0 - column_share) * grid[rows, columns] + column_share * grid[rows, columns + 1]
        north = (1.0 - column_share) * grid[rows + 1, columns] + column_share * grid[rows + 1, columns + 1]
        return np.asarray((1.0 - row_share) * south + row_share * north)


Terrain = FlatGround | TerrainGrid


def _cell(axis: Array, value: Array) -> tuple[NDArray[np.intp], Array]:
    """Index below and share of the next point; the share is NaN outside the axis."""
    lower = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, len(axis) - 2)
    share = (value - axis[lower]) / (axis[lower + 1] - axis[lower])
    inside = (share >= -_ROUNDING) & (share <= 1.0 + _ROUNDING)
    return lower, np.where(inside, np.clip(share, 0.0, 1.0), np.nan)
