"""Height of the ground: one height everywhere, or a grid of heights with something beneath it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


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

    Where the grid ends or holds no value, ``beneath`` answers: the ground of the forecast model, or a flat one.
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
        return min(float(np.nanmin(self.grid_msl_m)), self.beneath.lowest_msl_m)

    @property
    def highest_msl_m(self) -> float:
        """Highest ground that a flight may meet."""
        return max(float(np.nanmax(self.grid_msl_m)), self.beneath.highest_msl_m)

    def _bilinear(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> Array:
        latitude, longitude = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
        )
        longitude = self.longitude_deg[0] + np.mod(longitude - self.longitude_deg[0], 360.0)
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
    return lower, np.where((share >= 0.0) & (share <= 1.0), share, np.nan)
