"""Carry a wind field beyond its lowest and highest level, openly: what is extrapolated is marked as such."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import standard_air
from pappus.earth import gravity_m_s2
from pappus.units import dry_air_gas_constant_j_kg_k
from pappus.wind._field import WindField

Array = NDArray[np.float64]

_STEP_M = 500.0
_LAPSE_BELOW_K_M = 0.0065


def extend(field: WindField, *, bottom_msl_m: float, top_msl_m: float) -> WindField:
    """The field with levels added so that it spans ``bottom_msl_m`` to ``top_msl_m`` everywhere.

    Wind is held at its last known value; the error model widens with the distance from it. Temperature above follows
    the change of the US Standard Atmosphere 1976, below it rises by 6.5 K/km; pressure is hydrostatic. Levels added
    are marked by ``extended_below_level`` and ``extended_from_level``.
    """
    below = int(np.ceil(max(float(field.height_msl_m[:, :, 0].max()) - bottom_msl_m, 0.0) / _STEP_M))
    above = int(np.ceil(max(top_msl_m - float(field.height_msl_m[:, :, -1].min()), 0.0) / _STEP_M))
    if below:
        field = _with_levels(field, *_steps(field, 0, -_below_steps(below, field, bottom_msl_m)), at_bottom=True)
        field = replace(field, extended_below_level=below)
    if above:
        offsets = np.arange(1, above + 1, dtype=np.float64) * _STEP_M
        first = field.levels
        field = _with_levels(field, *_steps(field, -1, offsets), at_bottom=False)
        field = replace(field, extended_from_level=first)
    return field


def _below_steps(count: int, field: WindField, bottom_msl_m: float) -> Array:
    depth = float(field.height_msl_m[:, :, 0].max()) - bottom_msl_m
    return np.linspace(depth, depth / count, count)


def _steps(field: WindField, edge: int, offsets_m: Array) -> tuple[Array, Array, Array]:
    """Height, temperature and pressure of the levels ``offsets_m`` away from the edge level (negative is below)."""
    base = field.height_msl_m[:, :, edge : edge + 1 or None]
    height = base + offsets_m[None, None, :, None, None]
    base_temperature = field.temperature_k[:, :, edge : edge + 1 or None]
    if edge == 0:
        temperature = base_temperature - _LAPSE_BELOW_K_M * (height - base)
    else:
        warming = standard_air(height).temperature_k - standard_air(base).temperature_k
        temperature = np.maximum(base_temperature + warming, 150.0)
    pressure = field.pressure_pa[:, :, edge : edge + 1 or None] * _thinning(base, base_temperature, height, temperature)
    return height, temperature, pressure


def _thinning(base: Array, base_temperature: Array, height: Array, temperature: Array) -> Array:
    """Pressure over that of the edge level, hydrostatic from level to level; levels stand in order of height."""
    above = bool((height[:, :, -1:] > base).all())
    heights = np.concatenate([base, height] if above else [height, base], axis=2)
    temperatures = np.concatenate([base_temperature, temperature] if above else [temperature, base_temperature], axis=2)
    middle = 0.5 * (heights[:, :, 1:] + heights[:, :, :-1])
    mean = 0.5 * (temperatures[:, :, 1:] + temperatures[:, :, :-1])
    step = np.diff(heights, axis=2) * gravity_m_s2(middle) / (dry_air_gas_constant_j_kg_k * mean)
    if above:
        return np.asarray(np.exp(-np.cumsum(step, axis=2)))
    return np.asarray(np.exp(np.cumsum(step[:, :, ::-1], axis=2)[:, :, ::-1]))


def _with_levels(field: WindField, height: Array, temperature: Array, pressure: Array, *, at_bottom: bool) -> WindField:
    edge = slice(0, 1) if at_bottom else slice(-1, None)

    def joined(known: Array, added: Array) -> Array:
        return np.concatenate([added, known] if at_bottom else [known, added], axis=2)

    def held(known: Array) -> Array:
        return joined(known, np.repeat(known[:, :, edge], height.shape[2], axis=2))

    return replace(
        field,
        height_msl_m=joined(field.height_msl_m, height),
        temperature_k=joined(field.temperature_k, temperature),
        pressure_pa=joined(field.pressure_pa, pressure),
        wind_u_m_s=held(field.wind_u_m_s),
        wind_v_m_s=held(field.wind_v_m_s),
    )


def during(field: WindField, first_s: float, last_s: float) -> WindField:
    """The field with the times that an interval (after its epoch) needs: those inside it and one on each side."""
    first = max(int(np.searchsorted(field.time_s, first_s, side="right")) - 1, 0)
    last = int(np.searchsorted(field.time_s, last_s, side="left")) + 1
    kept = slice(min(first, len(field.time_s) - 1), max(last, first + 1))
    quantities = ("pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")
    cut: dict[str, Any] = {name: getattr(field, name)[:, kept] for name in quantities}
    return replace(field, time_s=field.time_s[kept], **cut)


def subdivide(field: WindField, *, step_m: float) -> WindField:
    """The field with each level interval cut into equal parts in ln p until none is thicker than ``step_m``.

    u, v, T and height go linearly in ln p between levels, so that the values on the native levels stay as they are.
    """
    thickness = np.diff(field.height_msl_m, axis=2).max(axis=(0, 1, 3, 4))
    parts = np.maximum(np.ceil(thickness / step_m - 1e-3).astype(int), 1)  # a level 0.1 m too thick is not cut in two
    position = np.concatenate([k + np.arange(n) / n for k, n in enumerate(parts)] + [np.asarray([field.levels - 1.0])])
    lower = np.minimum(position.astype(int), field.levels - 2)
    share = (position - lower)[:, None, None]

    def between(values: Array) -> Array:
        members, times, _, rows, columns = values.shape
        finer = np.empty((members, times, len(position), rows, columns))
        for member in range(members):  # a little at a time stays in the caches
            for time in range(times):
                one, into = values[member, time], finer[member, time]
                np.take(one, lower, axis=0, out=into)
                into += share * (one[lower + 1] - into)
        return finer

    below, above = field.extended_below_level, field.extended_from_level
    return replace(
        field,
        pressure_pa=np.exp(between(np.log(field.pressure_pa))),
        height_msl_m=between(field.height_msl_m),
        temperature_k=between(field.temperature_k),
        wind_u_m_s=between(field.wind_u_m_s),
        wind_v_m_s=between(field.wind_v_m_s),
        extended_below_level=int(np.searchsorted(position, below)),
        # the level before the first extrapolated one is still known; what lies between counts as extrapolated
        extended_from_level=None if above is None else int(np.searchsorted(position, above - 1, side="right")),
    )
