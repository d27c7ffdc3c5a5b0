"""Winds that come late and point along east and north of the release: one maker's ground programs write them so.

What such a wind is was measured on 13 ascents of one campaign (Wyoming 2017), between wind and recorded positions: the
motion of 10.0 s before (single flights 9.0 to 10.5 s), in the horizontal plane of the release place. The turn has no
free number, it is geometry. With both, 8 ascents of another campaign (Montana 2020) and 2 of a weather station (2023),
none of which was used for the 10 s, part from their positions by 9 to 37 m instead of 109 to 222 m (root mean square
after the first minute). No paper of the maker was at hand that says so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.sources.soundings._levels import GEOPOTENTIAL_M, RawLevels

Array = NDArray[np.float64]

LATE_S = 10.0
_CLIMB_OVER_S = 5.0
"""Heights are rounded to metres; a climb is taken from so long before to so long after."""


def to_their_levels(levels: RawLevels, latitude_deg: float, longitude_deg: float, notes: list[str]) -> None:
    """Give each level its own wind, along its own east and north; the last ones keep the last wind of the record.

    ``latitude_deg`` and ``longitude_deg``: the release. Levels without time or wind stay as they are.
    """
    windy = np.flatnonzero(np.isfinite(levels.time_s + levels.wind_u_m_s + levels.wind_v_m_s))
    windy = windy[np.argsort(levels.time_s[windy], kind="stable")]
    if not windy.size:
        return
    time_s = levels.time_s[windy]
    east = np.interp(time_s + LATE_S, time_s, levels.wind_u_m_s[windy])
    north = np.interp(time_s + LATE_S, time_s, levels.wind_v_m_s[windy])
    placed = np.isfinite(levels.latitude_deg + levels.longitude_deg + levels.time_s)
    if placed.any():
        latitude, longitude = (_at(time_s, levels, placed, column) for column in ("latitude_deg", "longitude_deg"))
        climb = _climb_m_s(time_s, levels)
        east, north = _turned(east, north, climb, latitude, longitude, latitude_deg, longitude_deg)
    levels.wind_u_m_s[windy], levels.wind_v_m_s[windy] = east, north
    notes.append(
        f"its winds are the motion of {LATE_S:.0f} s before, along east and north of the release: put to their own "
        f"levels and turned to the east and north there; the last {LATE_S:.0f} s keep the last wind"
    )


def _at(time_s: Array, levels: RawLevels, known: NDArray[np.bool_], column: str) -> Array:
    order = np.flatnonzero(known)[np.argsort(levels.time_s[known], kind="stable")]
    values: Array = getattr(levels, column)[order]
    return np.interp(time_s, levels.time_s[order], values)


def _climb_m_s(time_s: Array, levels: RawLevels) -> Array:
    low, high = GEOPOTENTIAL_M
    sane = (levels.geopotential_m >= low) & (levels.geopotential_m <= high) & np.isfinite(levels.time_s)
    if sane.sum() < 2:
        return np.zeros(len(time_s))
    first, last = levels.time_s[sane].min(), levels.time_s[sane].max()
    before, after = (np.clip(time_s + shift, first, last) for shift in (-_CLIMB_OVER_S, _CLIMB_OVER_S))
    risen = _at(after, levels, sane, "geopotential_m") - _at(before, levels, sane, "geopotential_m")
    return np.asarray(risen / np.maximum(after - before, 1.0))


def _turned(
    east_m_s: Array, north_m_s: Array, climb_m_s: Array,
    latitude_deg: Array, longitude_deg: Array, release_latitude_deg: float, release_longitude_deg: float,
) -> tuple[Array, Array]:  # fmt: skip
    """Eastward and northward wind here, of a motion whose parts along east and north of the release are given.

    Both are projections of one motion: u east + v north + climb up. The products of the unit vectors of the two places
    make two equations for u and v.
    """
    here, there = np.radians(latitude_deg), np.radians(release_latitude_deg)
    further = np.radians(longitude_deg - release_longitude_deg)
    east_east, east_north, east_up = np.cos(further), -np.sin(here) * np.sin(further), np.cos(here) * np.sin(further)
    north_east = np.sin(there) * np.sin(further)
    north_north = np.sin(there) * np.sin(here) * np.cos(further) + np.cos(there) * np.cos(here)
    north_up = np.cos(there) * np.sin(here) - np.sin(there) * np.cos(here) * np.cos(further)
    a, b = east_m_s - east_up * climb_m_s, north_m_s - north_up * climb_m_s
    whole = east_east * north_north - east_north * north_east
    return (a * north_north - b * east_north) / whole, (b * east_east - a * north_east) / whole
