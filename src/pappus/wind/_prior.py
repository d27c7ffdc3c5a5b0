"""What we think of the wind's errors before a flight: sizes, lengths, and how they grow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class WindPrior:
    """Sizes and lengths of the wind-error field, per component of the wind."""

    level_pa: Array
    """Levels of the table, from the ground up, shape (L,)."""
    lead_s: Array
    """Lead times of the table, shape (K,), two or more."""
    sd_m_s: Array
    """Standard deviation of a forecast wind against the wind at a point, shape (L, K)."""
    large_share: float
    """Share of the variance in the large, smooth part."""
    large_depth_m: float
    large_time_s: float
    large_distance_m: float
    """Lengths of the large part (squared exponential)."""
    wave_depth_m: float
    wave_time_s: float
    wave_distance_m: float
    """Lengths of the wave part (exponential)."""
    advection_m_s: float
    """Turns the age of a wind into a distance (Taylor's hypothesis), as long as the large part remembers."""
    held_by_level: Array
    """Spread of a wind held from elsewhere or from before, over that at the jet, shape (L,): as winds vary there."""
    age_factor: float
    """By which the part of that spread is scaled that comes from age."""
    instrument_sd_m_s: float
    """Of a measured wind."""
    growth_beyond_per_s: float
    """Error added for each metre above (or below) the last known wind."""


def structure_function_m2_s2(distance_m: ArrayLike) -> Array:
    """Mean squared vector difference [m2/s2] of the wind at two places ``distance_m`` apart, 1 km to 1000 km.

    Lindborg 1999, J. Fluid Mech. 388, 259, fit to aircraft data at 9 to 12 km (coefficients from memory, +-30 %).
    Below 1 km the r^(2/3) law goes on to zero.

    Raises OutOfRange beyond 1000 km, where the fit turns over.
    """
    r = np.asarray(distance_m, dtype=float)
    if bool((r > 1.0e6).any()):
        raise OutOfRange("distance of two winds", float(r.max()), 0.0, 1.0e6, "m")
    positive = np.maximum(r, 1e-3)
    return np.asarray(3.6e-3 * positive ** (2.0 / 3.0) + 3.2e-9 * r**2 - 1.6e-10 * r**2 * np.log(positive))


def level_factor(pressure_pa: ArrayLike, prior: WindPrior) -> Array:
    """How much a held wind is off at a pressure, over that at the jet; linear in ln p, held beyond the table."""
    at = -np.log(np.asarray(pressure_pa, dtype=float))
    return np.asarray(np.interp(at, -np.log(prior.level_pa), prior.held_by_level))


def held_wind_sd_m_s(pressure_pa: ArrayLike, distance_m: ArrayLike, age_s: ArrayLike, prior: WindPrior) -> Array:
    """Standard deviation [m/s] per component that comes from using a wind at a distance and a time away.

    Half the structure function at the distance and, apart from it, at the way that winds carry in the time. That way
    ends where the large part forgets: weather that has passed a place brings no news of the same kind.
    """
    apart = np.minimum(np.asarray(distance_m, dtype=float), 1.0e6)
    memory = prior.large_time_s
    effective_s = memory * -np.expm1(-np.abs(np.asarray(age_s, dtype=float)) / memory)
    carried = np.minimum(prior.advection_m_s * effective_s, 1.0e6)
    of_age = prior.age_factor**2 * structure_function_m2_s2(carried)
    spread = 0.5 * (structure_function_m2_s2(apart) + of_age) * level_factor(pressure_pa, prior) ** 2
    return np.asarray(np.sqrt(spread))


def forecast_wind_sd_m_s(pressure_pa: ArrayLike, lead_s: ArrayLike, prior: WindPrior) -> Array:
    """Standard deviation [m/s] per component of a forecast wind against the wind at a point.

    The table of the prior, linear in ln p and in lead time; held below the first lead, beyond the last it goes on as
    between the last two, which no data support. Pressures outside the table take its end.
    """
    log_p, levels = -np.log(np.asarray(pressure_pa, dtype=float)), -np.log(prior.level_pa)
    lead = np.maximum(np.asarray(lead_s, dtype=float), prior.lead_s[0])
    by_lead = np.stack([np.interp(log_p, levels, column) for column in prior.sd_m_s.T])
    index = np.clip(np.searchsorted(prior.lead_s, lead, side="right") - 1, 0, len(prior.lead_s) - 2)
    share = (lead - prior.lead_s[index]) / (prior.lead_s[index + 1] - prior.lead_s[index])
    low, high = (np.take_along_axis(by_lead, (index + k)[None], axis=0)[0] for k in (0, 1))
    return np.asarray(np.maximum(low + share * (high - low), 0.0))


def beyond_wind_sd_m_s(beyond_m: ArrayLike, prior: WindPrior) -> Array:
    """Standard deviation [m/s] per component added so far above (or below) the last known wind."""
    return np.asarray(prior.growth_beyond_per_s * np.maximum(np.asarray(beyond_m, dtype=float), 0.0))
