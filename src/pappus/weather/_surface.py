"""Fields near the ground on latitudes and longitudes, by the names that the CF conventions give them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SurfaceWeather:
    """Forecast fields near the ground; any axis may have length one.

    Winds are those at 10 m, the temperature that at 2 m; cloud is a fraction from 0 to 1.
    """

    epoch: datetime
    """``time_s`` counts from here; UTC-aware."""
    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    """Both ascend."""
    fields: Mapping[str, Array]
    """By CF standard name, each [member, time, latitude, longitude]; NaN where the source has nothing."""
    units: Mapping[str, str]
    """By CF standard name: ``"m s-1"``, ``"K"``, ``"m"``, ``"kg m-2 s-1"`` or ``"1"``."""

    def __post_init__(self) -> None:
        axes = (len(self.time_s), len(self.latitude_deg), len(self.longitude_deg))
        for name, values in self.fields.items():
            if values.ndim != 4 or values.shape[1:] != axes or name not in self.units:
                raise ValueError(f"{name} {values.shape} has no unit or does not fit its axes {axes}")

    def at(
        self, name: str, latitude_deg: ArrayLike, longitude_deg: ArrayLike, time_s: ArrayLike, member: int = 0
    ) -> Array | None:
        """Values at places and times, linear on each axis; the arguments broadcast.

        None when the source lacks the field; NaN outside its box or its times and next to missing points. An axis of
        length one holds everywhere along it, as a column stands for its surroundings.
        """
        values = self.fields.get(name)
        if values is None:
            return None
        time, latitude, longitude = np.broadcast_arrays(
            np.asarray(time_s, dtype=np.float64),
            np.asarray(latitude_deg, dtype=np.float64),
            np.asarray(longitude_deg, dtype=np.float64),
        )
        longitude = self.longitude_deg[0] + np.mod(longitude - self.longitude_deg[0], 360.0)
        axes = ((self.time_s, time), (self.latitude_deg, latitude), (self.longitude_deg, longitude))
        (t, t_share), (y, y_share), (x, x_share) = (_bracket(axis, value) for axis, value in axes)
        total = np.zeros(time.shape)
        for k in (0, 1):
            for j in (0, 1):
                for i in (0, 1):
                    weight = _side(t_share, k) * _side(y_share, j) * _side(x_share, i)
                    # a corner without weight may lie beyond the axis or hold nothing
                    corner = values[member, t + k * (t_share > 0), y + j * (y_share > 0), x + i * (x_share > 0)]
                    total += np.where(weight == 0.0, 0.0, weight * corner)
        return total


def _side(share: Array, upper: int) -> Array:
    return share if upper else 1.0 - share


def _bracket(axis: Array, value: Array) -> tuple[NDArray[np.intp], Array]:
    """Index at or below each value and share of the next; the share is NaN outside the axis."""
    if len(axis) == 1:
        return np.zeros(value.shape, dtype=np.intp), np.zeros(value.shape)
    lower = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, len(axis) - 2)
    share = (value - axis[lower]) / (axis[lower + 1] - axis[lower])
    return lower, np.where((share >= 0.0) & (share <= 1.0), share, np.nan)
