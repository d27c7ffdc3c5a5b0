"""Pressures and geopotential heights of forecast levels, by the hydrostatic balance.

Arrays are [..., level, latitude, longitude] with the lowest level first; surface arrays lack the level. Model levels
follow the scheme of the IFS documentation, part III, chapter 2 (Simmons and Burridge 1981, Mon. Wea. Rev. 109, 758),
from memory: half levels p = A + B ps, full level pressure the mean of its half levels, thickness R Tv ln(p ratio) of
each layer, and the full level ``alpha`` R Tv above the lower half level.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2

Array = NDArray[np.float64]

_METRES_PER_K = dry_air_gas_constant_j_kg_k / standard_gravity_m_s2
_VAPOUR_EXCESS = 461.525 / dry_air_gas_constant_j_kg_k - 1.0
"""Gas constant of water vapour over that of dry air, minus 1: 0.608."""


def virtual_temperature_k(temperature_k: Array, specific_humidity: Array | None) -> Array:
    """Temperature of dry air as light as the humid air; the temperature itself where humidity is not known."""
    if specific_humidity is None:
        return temperature_k
    result = _VAPOUR_EXCESS * specific_humidity
    result += 1.0
    result *= temperature_k
    return np.asarray(result)


def model_levels(
    a_pa: Array, b: Array, surface_pressure_pa: Array, surface_geopotential_m: Array, virtual_k: Array
) -> tuple[Array, Array]:
    """Pressure [Pa] and geopotential height [m] of full levels.

    ``a_pa`` and ``b`` hold the half levels from the surface upwards, one more than there are levels; the highest half
    level may lie at no pressure. ``surface_geopotential_m`` is (latitude, longitude).
    """
    pressure, height = np.empty_like(virtual_k), np.empty_like(virtual_k)
    half_height = np.broadcast_to(surface_geopotential_m, surface_pressure_pa.shape).copy()
    below = a_pa[0] + b[0] * surface_pressure_pa
    log_below = np.log(below)
    for level in range(virtual_k.shape[-3]):
        above = a_pa[level + 1] + b[level + 1] * surface_pressure_pa
        at = (..., level, slice(None), slice(None))
        scale = _METRES_PER_K * virtual_k[at]
        pressure[at] = 0.5 * (below + above)
        if bool((above <= 0.0).any()):  # the top of the model: the layer has no end, its level has by convention
            height[at] = half_height + np.log(2.0) * scale
            continue
        log_above = np.log(above)
        thickness = log_below - log_above
        height[at] = half_height + (1.0 - above / (below - above) * thickness) * scale
        half_height += thickness * scale
        below, log_below = above, log_above
    return pressure, height


def pressure_level_heights(
    pressure_pa: Array, virtual_k: Array, surface_pressure_pa: Array, surface_geopotential_m: Array
) -> Array:
    """Geopotential height [m] of pressure levels above the model's ground, virtual temperature linear in ln(p).

    ``pressure_pa`` has one value a level, falling. Below the lowest level its temperature holds on to the ground;
    levels under the ground lie as deep as the air between would be thick.
    """
    log_p, log_surface = np.log(pressure_pa), np.log(surface_pressure_pa)
    steps = -np.diff(log_p)[:, None, None] * (virtual_k[..., 1:, :, :] + virtual_k[..., :-1, :, :]) / 2.0
    height = np.zeros_like(virtual_k)
    np.cumsum(_METRES_PER_K * steps, axis=-3, out=height[..., 1:, :, :])
    # height of the ground on that scale, which starts at the lowest level
    lower = np.clip(np.searchsorted(-log_p, -log_surface.ravel(), side="right") - 1, 0, len(log_p) - 2)
    lower = lower.reshape(log_surface.shape)[..., None, :, :]
    above = np.take_along_axis(virtual_k, lower + 1, axis=-3)[..., 0, :, :]
    below = np.take_along_axis(virtual_k, lower, axis=-3)[..., 0, :, :]
    climb = log_p[lower[..., 0, :, :]] - log_surface
    share = np.clip(climb / -np.diff(log_p)[lower[..., 0, :, :]], 0.0, 1.0)
    mean = below + 0.5 * share * (above - below)
    ground = np.take_along_axis(height, lower, axis=-3)[..., 0, :, :] + _METRES_PER_K * mean * climb
    return np.asarray(height + (surface_geopotential_m - ground)[..., None, :, :])
