"""The air along a path through a wind field, level by level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import air_density_kg_m3
from pappus.wind import Sampler

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class AirColumn:
    """Air on the levels of a field where a path meets them, shape (L,)."""

    height_msl_m: Array
    pressure_pa: Array
    temperature_k: Array

    def at(self, height_msl_m: Array) -> tuple[Array, Array, Array]:
        """Pressure [Pa], temperature [K] and density [kg/m3] at heights; held beyond the ends."""
        heights = np.asarray(height_msl_m, dtype=float)
        pressure = np.exp(np.interp(heights, self.height_msl_m, np.log(self.pressure_pa)))
        temperature = np.interp(heights, self.height_msl_m, self.temperature_k)
        return pressure, temperature, air_density_kg_m3(pressure, temperature)


def air_along(mean: Sampler, latitude_deg: Array, longitude_deg: Array, time_s: Array) -> AirColumn:
    """The mean field's air on each of its levels, at one place and time for each level; arrays of shape (L,)."""
    levels = np.arange(mean.field.levels, dtype=np.float64)
    air = mean.at(np.zeros(len(levels), dtype=np.intp), levels, latitude_deg, longitude_deg, time_s)
    return AirColumn(air.height_msl_m, air.pressure_pa, air.temperature_k)


def winds_at(
    mean: Sampler, height_msl_m: Array, latitude_deg: Array, longitude_deg: Array, time_s: Array
) -> tuple[Array, Array]:
    """Mean forecast wind [m/s] at M places and times, each at P heights; held beyond the lowest and highest level.

    :param height_msl_m: shape (M, P); the others have shape (M,), and so have the winds the shape (M, P).
    """
    count, levels = len(height_msl_m), mean.field.levels
    level = np.tile(np.arange(levels, dtype=np.float64), count)
    latitude, longitude, time = (np.repeat(values, levels) for values in (latitude_deg, longitude_deg, time_s))
    air = mean.at(np.zeros(level.size, dtype=np.intp), level, latitude, longitude, time)
    heights, u, v = (values.reshape(count, levels) for values in (air.height_msl_m, air.wind_u_m_s, air.wind_v_m_s))
    below = np.stack([np.searchsorted(column, at) for column, at in zip(heights, height_msl_m, strict=True)])
    below = np.clip(below - 1, 0, levels - 2)
    row = np.arange(count)[:, None]
    low, high = heights[row, below], heights[row, below + 1]
    share = np.clip((height_msl_m - low) / np.maximum(high - low, 1e-6), 0.0, 1.0)
    return (
        u[row, below] + share * (u[row, below + 1] - u[row, below]),
        v[row, below] + share * (v[row, below + 1] - v[row, below]),
    )
