"""A recorded leg in the order of time: what the checks of climb and fall read from a sounding."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import air_density_kg_m3
from pappus.sources import Sounding

Array = NDArray[np.float64]

FEWEST_LEVELS = 30


@dataclass(frozen=True, eq=False)
class Leg:
    """Levels of one leg with times, in the order of time; all arrays have shape (N,)."""

    flight: str
    start: datetime
    """Release of an ascent; of a descent the moment it began, which may lie before its first level."""
    time_s: Array
    """After ``start``."""
    height_msl_m: Array
    pressure_pa: Array
    temperature_k: Array
    density_kg_m3: Array
    wind_u_m_s: Array
    wind_v_m_s: Array
    latitude_deg: Array
    longitude_deg: Array
    """NaN where the record holds no measured position."""

    def time_at_s(self, height_msl_m: Array | float) -> Array:
        """When the leg passed heights; NaN outside the record."""
        return self._at(height_msl_m, self.time_s, np.nan)

    def wind_at_m_s(self, height_msl_m: Array) -> tuple[Array, Array]:
        """Wind at heights; held beyond the ends of the record."""
        return self._at(height_msl_m, self.wind_u_m_s), self._at(height_msl_m, self.wind_v_m_s)

    def pressure_at_pa(self, height_msl_m: Array) -> Array:
        """Pressure at heights; held beyond the ends of the record."""
        return np.asarray(np.exp(self._at(height_msl_m, np.log(self.pressure_pa))))

    def density_at_kg_m3(self, height_msl_m: Array) -> Array:
        """Density at heights; beyond the ends of the record it goes on as over the last kilometre."""
        heights = np.asarray(height_msl_m, dtype=float)
        log = np.log(self.density_kg_m3)
        low, high = float(self.height_msl_m.min()), float(self.height_msl_m.max())
        inside = self._at(heights, log)
        reach = min(1_000.0, 0.5 * (high - low))
        below = (self._at(low + reach, log) - self._at(low, log)) / reach
        above = (self._at(high, log) - self._at(high - reach, log)) / reach
        beyond = below * np.minimum(heights - low, 0.0) + above * np.maximum(heights - high, 0.0)
        return np.asarray(np.exp(inside + beyond))

    def position_at_deg(self, height_msl_m: Array | float) -> tuple[Array, Array]:
        """Latitude and longitude at heights; NaN outside the record."""
        known = np.isfinite(self.latitude_deg) & np.isfinite(self.longitude_deg)
        if not known.any():
            return np.full(np.shape(height_msl_m), np.nan), np.full(np.shape(height_msl_m), np.nan)
        order = np.flatnonzero(known)[np.argsort(self.height_msl_m[known])]
        at, heights = np.asarray(height_msl_m, dtype=float), self.height_msl_m[order]
        # runs on past 180 instead of jumping back
        longitude = np.unwrap(self.longitude_deg[order], period=360.0)
        return (
            np.interp(at, heights, self.latitude_deg[order], left=np.nan, right=np.nan),
            np.interp(at, heights, longitude, left=np.nan, right=np.nan),
        )

    def _at(self, height_msl_m: Array | float, values: Array, outside: float | None = None) -> Array:
        order = slice(None) if self.height_msl_m[-1] > self.height_msl_m[0] else slice(None, None, -1)
        heights = np.asarray(height_msl_m, dtype=float)
        return np.asarray(
            np.interp(heights, self.height_msl_m[order], values[order], left=outside, right=outside), dtype=float
        )


def leg_of(sounding: Sounding) -> Leg | str:
    """The levels of a sounding that have times, or why there are too few of them."""
    if sounding.time_s is None:
        return "no level has a time"
    rows = np.flatnonzero(np.isfinite(sounding.time_s))
    rows = rows[::-1] if sounding.is_descent else rows
    # heights of a sounding rise strictly; a time that goes back is a slip, and the level is not used
    time = sounding.time_s[rows]
    rows = rows[np.concatenate([[True], np.diff(np.maximum.accumulate(time)) > 0.0])] if rows.size else rows
    if rows.size < FEWEST_LEVELS:
        return f"only {rows.size} levels with a time; at least {FEWEST_LEVELS} are needed"
    time = sounding.time_s[rows]
    unknown = np.full(sounding.levels, np.nan)
    measured = sounding.positions_measured
    latitude = sounding.level_latitude_deg if measured and sounding.level_latitude_deg is not None else unknown
    longitude = sounding.level_longitude_deg if measured and sounding.level_longitude_deg is not None else unknown
    height = sounding.height_msl_m[rows]
    return Leg(
        flight=sounding.station,
        start=sounding.release,
        time_s=time,
        height_msl_m=height,
        pressure_pa=sounding.pressure_pa[rows],
        temperature_k=sounding.temperature_k[rows],
        density_kg_m3=air_density_kg_m3(sounding.pressure_pa[rows], sounding.temperature_k[rows]),
        wind_u_m_s=sounding.wind_u_m_s[rows],
        wind_v_m_s=sounding.wind_v_m_s[rows],
        latitude_deg=latitude[rows],
        longitude_deg=longitude[rows],
    )


def layer_rates_m_s(leg: Leg, edges_msl_m: Array) -> tuple[Array, Array]:
    """Middle heights and mean vertical speeds (unsigned) of layers; layers that a gap of the record spans are left out.

    :param edges_msl_m: edges of the layers, rising or falling, shape (M + 1,).
    """
    times = leg.time_at_s(edges_msl_m)
    seconds, depth = np.abs(np.diff(times)), np.abs(np.diff(edges_msl_m))
    middle = 0.5 * (edges_msl_m[1:] + edges_msl_m[:-1])
    ordered = np.sort(leg.height_msl_m)
    right = np.clip(np.searchsorted(ordered, middle), 1, len(ordered) - 1)
    gap = ordered[right] - ordered[right - 1]
    usable = np.isfinite(seconds) & (seconds > 0.0) & (gap <= depth)
    return middle[usable], depth[usable] / seconds[usable]
