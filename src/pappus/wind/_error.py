"""What we do not know about the wind: a Gaussian error field on the nodes of both legs of a flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange

Array = NDArray[np.float64]

LARGE_SHARE = 0.6
"""Share of the variance in the large, smooth part [own prior]."""
LARGE_DEPTH_M, LARGE_TIME_S, LARGE_DISTANCE_M = 5_000.0, 6 * 3600.0, 400_000.0
WAVE_DEPTH_M, WAVE_TIME_S, WAVE_DISTANCE_M = 1_000.0, 1.5 * 3600.0, 75_000.0
ADVECTION_M_S = 15.0
"""Turns the age of a sounding into a distance (Taylor's hypothesis) [own prior]."""
INSTRUMENT_SD_M_S = 0.5
GROWTH_BEYOND_TOP_PER_S = 1.0e-3
"""Error added for each metre above the last known wind: 1 m/s per km [own prior]."""

_AT_ONCE = 4096

_LEVEL_PA = np.array([100_000.0, 85_000.0, 50_000.0, 25_000.0, 10_000.0, 5_000.0, 1_000.0, 500.0])
_LEAD_H = np.array([3.0, 24.0, 48.0, 72.0])
_LEAD_SD_M_S = np.array(
    [
        [1.8, 2.3, 2.9, 3.5],
        [1.8, 2.3, 2.9, 3.5],
        [2.0, 2.6, 3.6, 4.8],
        [2.8, 3.4, 4.8, 6.4],
        [2.2, 2.5, 3.0, 3.6],
        [2.2, 2.5, 2.8, 3.2],
        [3.2, 3.5, 4.0, 4.6],
        [4.5, 5.0, 5.5, 6.0],
    ]
)
"""Rows are the levels, columns the lead times."""


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


def level_factor(pressure_pa: ArrayLike) -> Array:
    """Wind error at a pressure over that at the jet (250 hPa), from the short-lead column of our own error prior.

    The prior was fitted by eye to observation errors used by NCEP in 2005, to balloon comparisons (Friedrich et al.
    2017, ACP 17, 855; Duruisseau et al. 2017, JAS 74, 2065) and to remembered verification; linear in ln p.
    """
    log_p = np.log(np.asarray(pressure_pa, dtype=float))
    sd = np.interp(-log_p, -np.log(_LEVEL_PA), _LEAD_SD_M_S[:, 0])
    return np.asarray(sd / _LEAD_SD_M_S[3, 0])


def held_wind_sd_m_s(pressure_pa: ArrayLike, distance_m: ArrayLike, age_s: ArrayLike) -> Array:
    """Standard deviation [m/s] per component that comes from using a wind at a distance and a time away."""
    reach = np.hypot(np.asarray(distance_m, dtype=float), ADVECTION_M_S * np.abs(np.asarray(age_s, dtype=float)))
    spread = 0.5 * structure_function_m2_s2(np.minimum(reach, 1.0e6)) * level_factor(pressure_pa) ** 2
    return np.asarray(np.sqrt(spread))


def forecast_wind_sd_m_s(pressure_pa: ArrayLike, lead_s: ArrayLike) -> Array:
    """Standard deviation [m/s] per component of a forecast wind against the wind at a point, mid-latitudes.

    Table of our own prior, fitted by eye to the anchors named at ``level_factor``; linear in ln p and in lead time from
    3 h on; beyond 72 h it goes on as between 48 and 72 h, which no anchor supports. 1000 to 5 hPa, held outside.
    """
    log_p = -np.log(np.asarray(pressure_pa, dtype=float))
    hours = np.maximum(np.asarray(lead_s, dtype=float) / 3600.0, _LEAD_H[0])
    by_lead = np.stack([np.interp(log_p, -np.log(_LEVEL_PA), column) for column in _LEAD_SD_M_S.T])
    index = np.clip(np.searchsorted(_LEAD_H, hours, side="right") - 1, 0, len(_LEAD_H) - 2)
    share = (hours - _LEAD_H[index]) / (_LEAD_H[index + 1] - _LEAD_H[index])
    low, high = (np.take_along_axis(by_lead, (index + k)[None], axis=0)[0] for k in (0, 1))
    return np.asarray(low + share * (high - low))


def beyond_wind_sd_m_s(beyond_top_m: ArrayLike) -> Array:
    """Standard deviation [m/s] per component added so far above (or below) the last known wind."""
    return np.asarray(GROWTH_BEYOND_TOP_PER_S * np.maximum(np.asarray(beyond_top_m, dtype=float), 0.0))


@dataclass(frozen=True)
class FlightKnots:
    """Where a mean flight meets the nodes of the wind: both legs, shape (2, L); first index 0 is up, 1 is down."""

    height_msl_m: Array
    time_s: Array
    east_m: Array
    north_m: Array
    large_sd_m_s: Array
    """Standard deviation per component of the large, smooth part at each knot."""
    wave_sd_m_s: Array
    """The same of the wave part."""
    member_sd_m_s: Array
    """Spread of the forecast members themselves, which they carry and the error field does not; zero for one member."""

    @property
    def sd_m_s(self) -> Array:
        """Standard deviation per component of the error field."""
        return np.asarray(np.hypot(self.large_sd_m_s, self.wave_sd_m_s))

    @property
    def total_sd_m_s(self) -> Array:
        """Standard deviation per component of the wind that the flights meet: members and error field."""
        return np.asarray(np.hypot(self.sd_m_s, self.member_sd_m_s))


def knot_covariance(knots: FlightKnots) -> Array:
    """Covariance [m2/s2] of one wind component over all 2L knots.

    A large part, smooth in height, time and distance (squared exponential), and a wave part, rough in all three
    (exponential): lengths and shares are our own prior around the effective resolution of models (Houchi et al.
    2010, JGR 115) and the ascent-descent differences of recorded flights.
    """
    height, time = knots.height_msl_m.ravel(), knots.time_s.ravel()
    east, north = knots.east_m.ravel(), knots.north_m.ravel()
    large_sd, wave_sd = knots.large_sd_m_s.ravel(), knots.wave_sd_m_s.ravel()
    depth2 = (height[:, None] - height) ** 2
    lag2 = (time[:, None] - time) ** 2
    apart2 = (east[:, None] - east) ** 2 + (north[:, None] - north) ** 2
    large = np.exp(-0.5 * (depth2 / LARGE_DEPTH_M**2 + lag2 / LARGE_TIME_S**2 + apart2 / LARGE_DISTANCE_M**2))
    wave = np.exp(-np.sqrt(depth2) / WAVE_DEPTH_M - np.sqrt(lag2) / WAVE_TIME_S - np.sqrt(apart2) / WAVE_DISTANCE_M)
    return np.asarray(large_sd[:, None] * large_sd * large + wave_sd[:, None] * wave_sd * wave)


def draw_wind_error(knots: FlightKnots, flights: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Draws of the error field [m/s], shape (flights, 2 legs, L, 2 components), in single precision; u and v are
    independent.
    """
    covariance = knot_covariance(knots)
    size = covariance.shape[0]
    factor = np.linalg.cholesky(covariance + 1e-6 * np.eye(size)).T
    drawn = np.empty((flights, 2, size // 2, 2), dtype=np.float32)
    for first in range(0, flights, _AT_ONCE):  # all at once would take four times the memory
        some = drawn[first : first + _AT_ONCE]
        error = rng.standard_normal((len(some), 2, size)) @ factor
        some[...] = np.moveaxis(error.reshape(len(some), 2, 2, size // 2), 1, -1)
    return drawn


def drift_sd_m(residence_s: Array, sd_m_s: Array, height_m: Array, depth_m: float) -> float:
    """Standard deviation [m] per component of the drift through layers, one exponential length: ``sqrt(w' C w)``.

    ``residence_s`` is the time spent in each layer; the plain estimate that a director can check by hand.
    """
    correlation = np.exp(-np.abs(height_m[:, None] - height_m) / depth_m)
    weighted = residence_s * sd_m_s
    return float(np.sqrt(weighted @ correlation @ weighted))
