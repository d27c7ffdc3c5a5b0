"""The air at a flight: bilinear on a level, linear in time, between the eight points around it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pappus.trajectory._laid_out import Air, Cube, Rows, Spot
from pappus.trajectory._part import part
from pappus.trajectory._power import power

Array = NDArray[np.float64]


@part
def walk(axis: Array, value: float, index: int) -> tuple[int, float]:
    """Cell of an axis (rows: points, one over the widths) and share of it, found by walking from the last cell."""
    last = axis.shape[1] - 2
    while index < last and value >= axis[0, index + 1]:
        index += 1
    while index > 0 and value < axis[0, index]:
        index -= 1
    return index, min(max((value - axis[0, index]) * axis[1, index], 0.0), 1.0)


@part
def spot_at(
    cube: Cube, member: int, time: float, latitude: float, longitude: float, near_t: int, near_y: int, near_x: int
) -> Spot:
    """The eight points around a place and a time, on any level, with their weights."""
    longitude -= 360.0 * math.floor((longitude - cube.seam_deg) * (1.0 / 360.0))
    t, ts = walk(cube.time_s, time, near_t)
    y, ys = walk(cube.latitude_deg, latitude, near_y)
    x, xs = walk(cube.longitude_deg, longitude, near_x)
    base = member * cube.member_stride + t * cube.time_stride + y * cube.row_stride + x
    a, b, c, d = (1.0 - ts) * (1.0 - ys), (1.0 - ts) * ys, ts * (1.0 - ys), ts * ys
    rest = 1.0 - xs
    return Spot(
        t, y, x, base,
        np.float32(a * rest), np.float32(a * xs), np.float32(b * rest), np.float32(b * xs),
        np.float32(c * rest), np.float32(c * xs), np.float32(d * rest), np.float32(d * xs),
    )  # fmt: skip


@part
def mean(cube: Cube, spot: Spot, level: int, quantity: int) -> float:
    v, k, o = cube.values, quantity, spot.base + level * cube.level_stride
    p = o + cube.row_stride
    q, r = o + cube.time_stride, p + cube.time_stride
    early = spot.a0 * v[o, k] + spot.a1 * v[o + 1, k] + spot.b0 * v[p, k] + spot.b1 * v[p + 1, k]
    late = spot.c0 * v[q, k] + spot.c1 * v[q + 1, k] + spot.d0 * v[r, k] + spot.d1 * v[r + 1, k]
    return np.float64(early + late)


@part
def read_once(rows: Rows, row: int, leg: int) -> float:
    """Runs along the wind error of a leg, so that it is at hand when it is asked for level by level; returns a sum."""
    error, row, total = rows.wind_error_m_s, min(row, rows.wind_error_m_s.shape[0] - 1), np.float32(0.0)
    for level in range(0, error.shape[2], 8):
        total += error[row, leg, level, 0]
    return np.float64(total)


@part
def air_on(cube: Cube, spot: Spot, level: int, rows: Rows, row: int, leg: int) -> Air:
    """Air on a level, with what the flight's own draw adds on a leg; one flight of zeros stands for all without."""
    error, one = rows.wind_error_m_s, min(row, rows.wind_error_m_s.shape[0] - 1)
    own = rows.fall_ln if leg else rows.climb_ln
    return Air(
        mean(cube, spot, level, 0) + error[one, leg, level, 0],
        mean(cube, spot, level, 1) + error[one, leg, level, 1],
        mean(cube, spot, level, 2),
        mean(cube, spot, level, 3),
        mean(cube, spot, level, 4),
        mean(cube, spot, level, 5),
        mean(cube, spot, level, 6),
        mean(cube, spot, level, 7),
        np.float64(own[min(row, own.shape[0] - 1), level]),
    )


@part
def air_between(cube: Cube, spot: Spot, level: float, rows: Rows, row: int, leg: int) -> Air:
    """Air at a fractional level, linear in ln p; density follows its logarithm."""
    lower = min(int(level), cube.levels - 2)
    s = level - lower
    a, b = air_on(cube, spot, lower, rows, row, leg), air_on(cube, spot, lower + 1, rows, row, leg)
    return Air(
        a.u + s * (b.u - a.u), a.v + s * (b.v - a.v), a.temperature + s * (b.temperature - a.temperature),
        a.height + s * (b.height - a.height), a.density * power(b.density / a.density, s),
        b.height if level + 1e-9 < lower + 1 else b.above, a.height if level - 1e-9 > lower else a.below,
        a.fluidity + s * (b.fluidity - a.fluidity), a.rate_ln + s * (b.rate_ln - a.rate_ln),
    )  # fmt: skip


@part
def level_of(cube: Cube, spot: Spot, height: float) -> float:
    """Fractional level of a height over a place."""
    level, below, above = 0, mean(cube, spot, 0, 3), mean(cube, spot, 1, 3)
    while level < cube.levels - 2 and above <= height:
        level += 1
        below, above = above, mean(cube, spot, level + 1, 3)
    return level + min(max((height - below) / (above - below), 0.0), 1.0)
