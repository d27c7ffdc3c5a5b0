"""The wind field and the ground as the kernel reads them."""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import dynamic_viscosity_pa_s
from pappus.earth import require_range
from pappus.ground import FlatGround, Terrain, TerrainGrid
from pappus.trajectory._laid_out import QUANTITIES, Cube, Ground
from pappus.units import dry_air_gas_constant_j_kg_k
from pappus.wind import WindField

Array = NDArray[np.float64]


def cube_of(field: WindField) -> Cube:
    """The field with all that a flight asks for at a point side by side; single-precision winds land where double do.

    An axis of one point becomes one of two equal ones, so that the kernel knows one case only. Raises OutOfRange for
    air that no flight meets, ValueError for numbers that are none.
    """
    members, times, levels, rows, columns = field.wind_u_m_s.shape
    require_range("air temperature", [field.temperature_k.min(), field.temperature_k.max()], 150, 400, "K")
    require_range("air pressure", [field.pressure_pa.min(), field.pressure_pa.max()], 0.1, 200_000, "Pa")
    shape = (members, levels, max(times, 2), max(rows, 2), max(columns, 2), QUANTITIES)
    values = np.empty(shape, dtype=np.float32)
    pressure = np.broadcast_to(field.pressure_pa, field.height_msl_m.shape)
    for member in range(members):  # one after the other: what is needed on the way stays in the caches
        height, temperature = field.height_msl_m[member], field.temperature_k[member]
        above = np.concatenate([height[:, 1:], height[:, -1:]], axis=1)
        below = np.concatenate([height[:, :1], height[:, :-1]], axis=1)
        density = pressure[member] / (dry_air_gas_constant_j_kg_k * temperature)
        winds = field.wind_u_m_s[member], field.wind_v_m_s[member]
        fluidity = 1.0 / dynamic_viscosity_pa_s(temperature)
        for index, quantity in enumerate((*winds, temperature, height, density, above, below, fluidity)):
            values[member, ..., index] = np.moveaxis(quantity, 1, 0)
    if not np.isfinite(values).all():
        raise ValueError(f"{field.name} holds values that are not numbers")
    longitude = _axis(field.longitude_deg)
    strides = [stride // (QUANTITIES * values.itemsize) for stride in values.strides]
    return Cube(
        values=values.reshape(-1, QUANTITIES),
        member_stride=strides[0],
        level_stride=strides[1],
        time_stride=strides[2],
        row_stride=strides[3],
        levels=levels,
        time_s=_axis(field.time_s),
        latitude_deg=_axis(field.latitude_deg),
        longitude_deg=longitude,
        seam_deg=float(0.5 * (longitude[0, 0] + longitude[0, -1]) - 180.0),
    )


def _axis(points: Array) -> Array:
    if len(points) == 1:
        points = np.array([points[0], points[0] + 1.0])
    over_width = 1.0 / np.diff(points)
    return np.stack([np.asarray(points, dtype=np.float64), np.append(over_width, over_width[-1])])


@lru_cache(maxsize=2)
def ground_of(ground: Terrain) -> Ground:
    """The grids one behind the other; kept, since fine terrain is large and many flights come down on it."""
    grids: list[TerrainGrid] = []
    highest = ground.highest_msl_m
    while not isinstance(ground, FlatGround):
        if min(ground.grid_msl_m.shape) > 1:  # a single row or column has no cell
            grids.append(ground)
        ground = ground.beneath
    none = [np.empty(0)]
    return Ground(
        values=np.concatenate([grid.grid_msl_m.astype(np.float32).ravel() for grid in grids] or none, dtype=np.float32),
        value_start=_starts([grid.grid_msl_m.size for grid in grids]),
        latitude_deg=np.concatenate([grid.latitude_deg for grid in grids] or none, dtype=np.float64),
        latitude_start=_starts([len(grid.latitude_deg) for grid in grids]),
        longitude_deg=np.concatenate([grid.longitude_deg for grid in grids] or none, dtype=np.float64),
        longitude_start=_starts([len(grid.longitude_deg) for grid in grids]),
        flat_msl_m=float(ground.ground_msl_m),
        highest_msl_m=float(highest),
    )


def _starts(sizes: list[int]) -> NDArray[np.int64]:
    return np.array(list(accumulate(sizes, initial=0)), dtype=np.int64)
