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
HeightOf = Callable[[Ends], Array]

LOWEST_GROUND_MSL_M, HIGHEST_GROUND_MSL_M = -450.0, 8_900.0
"""No ground lies beyond them (shore of the Dead Sea; Mount Everest)."""
_PRESSURE_SHARE, _PRESSURE_SHIFT_M = 0.2, 1_000.0
"""Pressure altitude strays from the height by less: some 4 % for 10 K and 8 m for each hPa at the ground."""
_GROUND_STEP_M = 300.0
_TABLE_STEP_M = 50.0


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
    pressure_altitude_at: HeightOf,
    ground_at: HeightOf,
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
                ground_at(ends) if limit.kind in ("ground", "surface") else None,
                pressure_altitude_at(ends) if limit.kind == "pressure" else None,
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


def ground_of(ground_msl_m_at: GroundAt | None) -> HeightOf:
    """The ground below points, NaN where it is not known."""

    def height_msl_m(ends: Ends) -> Array:
        if ground_msl_m_at is None:
            return np.full(len(ends.time_s), np.nan)
        return np.asarray(ground_msl_m_at(ends.latitude_deg, ends.longitude_deg), dtype=np.float64)

    return height_msl_m


def pressure_altitude_of(pressure_pa_at: PressureAt | Profile | None) -> HeightOf:
    """The pressure altitude of points, NaN where the pressure is not known.

    In one column it depends on the height alone: it is looked up in a table of 50 m, to a centimetre.
    """
    if isinstance(pressure_pa_at, Profile):
        lowest, highest = float(pressure_pa_at.height_msl_m[0]), float(pressure_pa_at.height_msl_m[-1])
        inner = np.arange(np.ceil(lowest / _TABLE_STEP_M), np.ceil(highest / _TABLE_STEP_M)) * _TABLE_STEP_M
        heights = np.unique(np.concatenate(([lowest], inner, pressure_pa_at.height_msl_m)))
        altitudes = pressure_altitude_m(pressure_pa_at.pressure_pa_at(heights))
        return lambda ends: np.interp(ends.height_msl_m, heights, altitudes, left=np.nan, right=np.nan)

    def altitude_m(ends: Ends) -> Array:
        if pressure_pa_at is None:
            return np.full(len(ends.time_s), np.nan)
        return pressure_altitude_m(
            pressure_pa_at(ends.latitude_deg, ends.longitude_deg, ends.height_msl_m, ends.time_s)
        )

    return altitude_m
