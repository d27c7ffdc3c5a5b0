"""Which part of each stretch of a track lies between the floor and the ceiling of a volume."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.airspace._limits import VerticalLimit, pressure_altitude_m
from pappus.airspace._stretches import Array, Ends, Indices
from pappus.atmosphere import Profile
from pappus.earth import distance_m

Mask = NDArray[np.bool_]

PressureAt = Callable[[Array, Array, Array, Array], Array]
"""Latitude and longitude [deg], height [m above mean sea level], time [s, as the tracks count it] to pressure [Pa]."""
GroundAt = Callable[[Array, Array], ArrayLike]
"""Latitude and longitude [deg] to the height of the ground [m above mean sea level]; NaN where not known."""

LOWEST_GROUND_MSL_M, HIGHEST_GROUND_MSL_M = -450.0, 8_900.0
"""No ground lies beyond them (shore of the Dead Sea; Mount Everest)."""
_PRESSURE_SHARE, _PRESSURE_SHIFT_M = 0.2, 1_000.0
"""Pressure altitude strays from the height by less: some 4 % for 10 K and 8 m for each hPa at the ground."""
_GROUND_STEP_M = 300.0


def band_msl_m(floor: VerticalLimit, ceiling: VerticalLimit) -> tuple[float, float]:
    """Lowest and highest height above mean sea level at which anything may be between two limits."""
    lowest = {
        "msl": floor.height_m,
        "ground": floor.height_m + LOWEST_GROUND_MSL_M,
        "pressure": floor.height_m - abs(floor.height_m) * _PRESSURE_SHARE - _PRESSURE_SHIFT_M,
    }.get(floor.kind, -np.inf)
    highest = {
        "msl": ceiling.height_m,
        "ground": ceiling.height_m + HIGHEST_GROUND_MSL_M,
        "pressure": ceiling.height_m + abs(ceiling.height_m) * _PRESSURE_SHARE + _PRESSURE_SHIFT_M,
    }.get(ceiling.kind, np.inf)
    return lowest, highest


def fine_stretches(flight: Indices, start: Ends, end: Ends) -> tuple[Indices, Ends, Ends]:
    """The stretches cut into pieces of 300 m and less, since the ground between their ends is not straight."""
    length = distance_m(start.latitude_deg, start.longitude_deg, end.latitude_deg, end.longitude_deg)
    pieces = np.maximum(np.ceil(length / _GROUND_STEP_M), 1.0).astype(np.intp)
    row = np.repeat(np.arange(len(pieces)), pieces)
    number = np.arange(len(row)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    first, last = start.some(row), end.some(row)
    share = number / pieces[row]
    return flight[row], first.toward(last, share), first.toward(last, (number + 1) / pieces[row])


def part_between(
    floor: VerticalLimit,
    ceiling: VerticalLimit,
    start: Ends,
    end: Ends,
    *,
    pressure_pa_at: PressureAt | Profile | None,
    ground_msl_m_at: GroundAt | None,
) -> tuple[Array, Array, Mask]:
    """From which share to which share of each stretch it may be between the limits, and where that is not certain.

    The first share is above the second where it certainly never is. Heights, pressure altitudes and the ground run
    straight between the ends. A limit that cannot be told keeps nothing out and makes the stretch uncertain.
    """
    first, last = np.zeros(len(start.time_s)), np.ones(len(start.time_s))
    uncertain = np.zeros(len(start.time_s), dtype=np.bool_)
    for limit, sign in ((floor, 1.0), (ceiling, -1.0)):
        if limit.kind in ("surface", "unlimited") and (limit.kind == "surface") == (sign > 0.0):
            continue  # nothing flies below the ground, whatever a coarse terrain says
        inside = [
            sign * limit.height_above_m(
                ends.height_msl_m,
                _ground(ends, ground_msl_m_at) if limit.kind in ("ground", "surface") else None,
                _pressure_altitude(ends, pressure_pa_at) if limit.kind == "pressure" else None,
            )
            for ends in (start, end)
        ]  # fmt: skip
        known = ~(np.isnan(inside[0]) | np.isnan(inside[1]))
        uncertain |= ~known
        at_start, at_end = inside[0] >= 0.0, inside[1] >= 0.0
        crosses = known & (at_start != at_end)
        way = np.where(crosses, inside[0] - inside[1], 1.0)
        share = np.where(crosses, inside[0] / way, 0.0)
        first = np.where(crosses & at_end, np.maximum(first, share), first)
        last = np.where(crosses & at_start, np.minimum(last, share), last)
        last = np.where(known & ~at_start & ~at_end, -1.0, last)
    return first, last, uncertain


def _ground(ends: Ends, ground_msl_m_at: GroundAt | None) -> Array | None:
    if ground_msl_m_at is None:
        return None
    return np.asarray(ground_msl_m_at(ends.latitude_deg, ends.longitude_deg), dtype=np.float64)


def _pressure_altitude(ends: Ends, pressure_pa_at: PressureAt | Profile | None) -> Array | None:
    if pressure_pa_at is None:
        return None
    if isinstance(pressure_pa_at, Profile):
        column, pressure = pressure_pa_at, np.full(ends.height_msl_m.shape, np.nan)
        held = (ends.height_msl_m >= column.height_msl_m[0]) & (ends.height_msl_m <= column.height_msl_m[-1])
        pressure[held] = column.pressure_pa_at(ends.height_msl_m[held])
    else:
        pressure = np.asarray(
            pressure_pa_at(ends.latitude_deg, ends.longitude_deg, ends.height_msl_m, ends.time_s), dtype=np.float64
        )
    return pressure_altitude_m(pressure)
