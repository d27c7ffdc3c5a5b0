"""Look up the air at a fractional level: linear in level and time, bilinear in latitude and longitude."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pappus.earth import distance_m
from pappus.wind._field import WindField

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True)
class Air:
    """Air at N points."""

    wind_u_m_s: Array
    wind_v_m_s: Array
    temperature_k: Array
    height_msl_m: Array
    pressure_pa: Array


class Sampler:
    """Reads a wind field at (member, fractional level, latitude, longitude, time).

    Outside the box or the valid times the nearest edge is used; ask ``inside`` first.
    """

    def __init__(self, field: WindField) -> None:
        self.field = field
        self._axes = (field.time_s, np.arange(field.levels, dtype=float), field.latitude_deg, field.longitude_deg)

    def at(self, member: Index, level: Array, latitude_deg: Array, longitude_deg: Array, time_s: Array) -> Air:
        """Air at N points; every argument has shape (N,)."""
        field = self.field
        corners = [
            ((member, *index), weight) for index, weight in self._corners(level, latitude_deg, longitude_deg, time_s)
        ]

        def between(cube: Array) -> Array:
            return np.asarray(sum(weight * cube[where] for where, weight in corners))

        log_pressure = sum(weight * np.log(field.pressure_pa[where]) for where, weight in corners)
        return Air(
            between(field.wind_u_m_s),
            between(field.wind_v_m_s),
            between(field.temperature_k),
            between(field.height_msl_m),
            np.exp(log_pressure),
        )

    def member_winds_m_s(self, level: Array, latitude_deg: Array, longitude_deg: Array, time_s: Array) -> Array:
        """Eastward and northward wind of every member at N points, shape (members, N, 2); arguments as of ``at``."""
        field = self.field
        winds = np.zeros((field.members, len(level), 2))
        for (t, k, y, x), weight in self._corners(level, latitude_deg, longitude_deg, time_s):
            winds[..., 0] += weight * field.wind_u_m_s[:, t, k, y, x]
            winds[..., 1] += weight * field.wind_v_m_s[:, t, k, y, x]
        return winds

    def _corners(
        self, level: Array, latitude_deg: Array, longitude_deg: Array, time_s: Array
    ) -> list[tuple[tuple[Index, Index, Index, Index], Array]]:
        """Indices (time, level, latitude, longitude) of the points around each place, and their weights."""
        field = self.field
        longitude = field.longitude_deg[0] + np.mod(longitude_deg - field.longitude_deg[0], 360.0)
        lower: list[Index] = [np.zeros(len(level), dtype=np.intp)] * 4
        shares: list[tuple[int, Array]] = []
        for axis, value in enumerate((time_s, level, latitude_deg, longitude)):
            if len(self._axes[axis]) > 1:  # the one point of an axis needs no weight
                lower[axis], share = _bracket(self._axes[axis], value)
                shares.append((axis, share))
        corners = []
        for corner in product((0, 1), repeat=len(shares)):
            index, weight = list(lower), np.ones(len(level))
            for side, (axis, share) in zip(corner, shares, strict=True):
                index[axis] = lower[axis] + side
                weight = weight * (share if side else 1.0 - share)
            corners.append(((index[0], index[1], index[2], index[3]), weight))
        return corners

    def inside(self, latitude_deg: Array, longitude_deg: Array, time_s: Array) -> NDArray[np.bool_]:
        """Whether the field's coverage holds each place and time (heights apart)."""
        coverage, epoch = self.field.coverage, self.field.epoch
        good = time_s <= (coverage.last_valid - epoch).total_seconds()
        good &= time_s >= (coverage.first_valid - epoch).total_seconds()
        if coverage.centre_deg is not None and coverage.radius_m is not None:
            good &= distance_m(*coverage.centre_deg, latitude_deg, longitude_deg) <= coverage.radius_m
            return good
        good &= (latitude_deg >= coverage.south_deg) & (latitude_deg <= coverage.north_deg)
        width = coverage.east_deg - coverage.west_deg
        return np.asarray(good & (np.mod(longitude_deg - coverage.west_deg, 360.0) <= width))


def _bracket(axis: Array, value: Array) -> tuple[Index, Array]:
    """Index below each value and its share of the way to the next point, both held inside the axis."""
    lower = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, len(axis) - 2)
    share = (value - axis[lower]) / (axis[lower + 1] - axis[lower])
    return lower, np.clip(share, 0.0, 1.0)
