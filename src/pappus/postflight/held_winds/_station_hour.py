"""Many stations at one hour: how the difference of their winds is made, in size and in height."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.earth import distance_m
from pappus.errors import NoSolution
from pappus.postflight.held_winds._error_correlation import error_correlation
from pappus.postflight.held_winds._station_places import station_place_deg
from pappus.sources import Sounding
from pappus.wind import WindPrior, held_wind_sd_m_s

Array = NDArray[np.float64]

NEAREST_M, FARTHEST_M = 150_000.0, 400_000.0
"""Distance of two stations that forecast each other."""
FEWEST_STATIONS = 20
STEP_M = 500.0
HEIGHTS_MSL_M = np.arange(1000.0, 30_000.1, STEP_M)
WIDEST_GAP_M = 1000.0
"""Between two wind levels of a sounding; across a wider gap its wind is not known."""
SIZE_HEIGHTS_MSL_M = (5_000.0, 10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0)
LARGEST_LAG_M = 15_000.0
RESAMPLINGS = 500
_SEED = 4


@dataclass(frozen=True)
class DifferenceSize:
    """How far the winds of two stations differ at one height, per component."""

    height_msl_m: float
    pairs: int
    sd_m_s: float
    low_m_s: float
    high_m_s: float
    """95 % interval by resampling stations."""
    prior_sd_m_s: float
    """What the prior gives for the same pairs at their distances."""


@dataclass(frozen=True, eq=False)
class StationHour:
    """Differences of wind between the stations of one hour."""

    hour: datetime
    stations: int
    """Stations with a partner at the right distance."""
    no_place: tuple[str, ...]
    """Stations left out: neither their file nor our list says where they are."""
    pairs: int
    lag_m: Array
    correlation: Array
    """Of the differences at two heights so far apart, mean over the heights, shape (lags,)."""
    prior_correlation: Array
    length_m: float
    """Lag at which the correlation has fallen to 1/e; NaN where it has not at the largest lag."""
    low_m: float
    high_m: float
    """95 % interval by resampling stations."""
    prior_length_m: float
    depth_m: float
    """Sum of the correlation over the lags up to 15 km: what the drift through deep layers grows with."""
    depth_low_m: float
    depth_high_m: float
    """95 % interval by resampling stations."""
    prior_depth_m: float
    sizes: tuple[DifferenceSize, ...]

    @property
    def evidence(self) -> str:
        """What stands behind the depth, in one line for the file of priors."""
        return (
            f"{self.pairs} pairs of {self.stations} stations of {self.hour:%Y-%m-%d %H:%MZ}, 150 to 400 km apart: the "
            f"correlation of their differences sums to {self.depth_m / 1000:.1f} km of height "
            f"({self.depth_low_m / 1000:.1f} to {self.depth_high_m / 1000:.1f}), and so do both parts together"
        )


def station_hour(soundings: Sequence[Sounding], prior: WindPrior) -> StationHour:
    """Let the stations of the hour that has most of them forecast each other's winds.

    Stations are drawn again with replacement for the intervals, because each takes part in several pairs; a pair then
    counts as often as the product of its two stations. Percentile method, Efron & Tibshirani, An Introduction to the
    Bootstrap, 1993, ch. 13 (from memory). No mean difference is taken off: it is part of what a wind from elsewhere
    gets wrong.

    :raises NoSolution: no hour with 20 stations that have a partner 150 to 400 km away and winds 15 km deep.
    """
    most = Counter(s.release for s in soundings if not s.is_descent).most_common(1)
    if not most or most[0][1] < FEWEST_STATIONS:
        count = most[0][1] if most else 0
        raise NoSolution(f"no hour with {FEWEST_STATIONS} stations: the best has {count}")
    hour = most[0][0]
    at_hour = [_with_place(s) for s in soundings if s.release == hour and not s.is_descent]
    here = [s for s in at_hour if np.isfinite(s.latitude_deg)]
    first, second, apart = _station_pairs(here)
    taking_part = np.unique(np.concatenate([first, second]))
    if len(taking_part) < FEWEST_STATIONS:
        raise NoSolution(
            f"only {len(taking_part)} stations of {hour:%Y-%m-%d %H:%MZ} have a partner 150 to 400 km away"
        )
    wind = np.stack([_on_heights(s) for s in here])
    difference = wind[first] - wind[second]
    known = np.isfinite(difference[..., 0])
    difference = np.where(known[..., None], difference, 0.0)
    products = np.einsum("pzc,pyc->pzy", difference, difference).reshape(len(first), -1)
    counts = (2.0 * known[:, :, None] * known[:, None, :]).reshape(len(first), -1)

    rng = np.random.default_rng(_SEED)
    drawn = rng.multinomial(len(taking_part), np.full(len(taking_part), 1.0 / len(taking_part)), size=RESAMPLINGS)
    times = np.zeros((1 + RESAMPLINGS, len(here)))
    times[0, taking_part] = 1.0  # the first row is the sample itself
    times[1:, taking_part] = drawn
    weights = times[:, first] * times[:, second]
    size = (len(weights), len(HEIGHTS_MSL_M), len(HEIGHTS_MSL_M))
    with np.errstate(invalid="ignore"):  # heights that no pair reached stay unknown
        covariance = (weights @ products / (weights @ counts)).reshape(size)

    lags = np.arange(int(LARGEST_LAG_M / STEP_M) + 1)
    lag = np.asarray(lags * STEP_M, dtype=np.float64)
    correlation = _by_lag(covariance, lags)
    if not np.isfinite(correlation[0]).all():
        raise NoSolution(f"no pair of {hour:%Y-%m-%d %H:%MZ} has winds {LARGEST_LAG_M / 1000:.0f} km apart in height")
    lengths = np.array([_length_m(row, lag) for row in correlation])
    depths = _depth_m(correlation)
    own = error_correlation(lag, 0.0 * lag, 0.0 * lag, 0.0 * lag, prior)[0]
    # a correlation that never falls to 1/e has a length beyond the largest lag: it counts as long, not as missing
    low, high = np.quantile(np.nan_to_num(lengths[1:], nan=LARGEST_LAG_M), (0.025, 0.975))
    depth_low, depth_high = np.nanquantile(depths[1:], (0.025, 0.975))
    return StationHour(
        hour=hour,
        stations=len(taking_part),
        no_place=tuple(s.station for s in at_hour if not np.isfinite(s.latitude_deg)),
        pairs=len(first),
        lag_m=lag,
        correlation=correlation[0],
        prior_correlation=own,
        length_m=float(lengths[0]),
        low_m=float(low),
        high_m=float(high),
        prior_length_m=_length_m(own, lag),
        depth_m=float(depths[0]),
        depth_low_m=float(depth_low),
        depth_high_m=float(depth_high),
        prior_depth_m=float(_depth_m(own)),
        sizes=_sizes(here, first, apart, known, covariance, prior),
    )


def fit_large_depth_m(found: StationHour, prior: WindPrior) -> float | None:
    """Depth of the large part with which both parts together sum to what the stations gave; its share and the wave part
    stay. None where no depth from 0.5 to 20 km does.
    """
    from scipy.optimize import brentq

    none = 0.0 * found.lag_m

    def too_deep(large_depth_m: float) -> float:
        own = error_correlation(found.lag_m, none, none, none, replace(prior, large_depth_m=large_depth_m))
        return float(_depth_m(own[0])) - found.depth_m

    if too_deep(500.0) > 0.0 or too_deep(20_000.0) < 0.0:
        return None
    return float(brentq(too_deep, 500.0, 20_000.0, xtol=1.0))


def _with_place(sounding: Sounding) -> Sounding:
    """Where the file does not say where the station is, our list may."""
    place = None if np.isfinite(sounding.latitude_deg) else station_place_deg(sounding.station)
    return sounding if place is None else replace(sounding, latitude_deg=place[0], longitude_deg=place[1])


def _station_pairs(here: list[Sounding]) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
    """Indices of the two stations of each pair, and how far apart they are."""
    latitude = np.array([s.latitude_deg for s in here])
    longitude = np.array([s.longitude_deg for s in here])
    apart = distance_m(latitude[:, None], longitude[:, None], latitude, longitude)
    first, second = np.nonzero(np.triu((apart >= NEAREST_M) & (apart <= FARTHEST_M)))
    return first, second, apart[first, second]


def _on_heights(sounding: Sounding) -> Array:
    """Wind on the common heights, shape (Z, 2); NaN outside the sounding and across wide gaps."""
    height = sounding.height_msl_m
    above = np.searchsorted(height, HEIGHTS_MSL_M)
    inside = (above > 0) & (above < len(height))
    at = np.clip(above, 1, len(height) - 1)
    inside &= height[at] - height[at - 1] <= WIDEST_GAP_M
    wind = [np.interp(HEIGHTS_MSL_M, height, values) for values in (sounding.wind_u_m_s, sounding.wind_v_m_s)]
    return np.where(inside[:, None], np.stack(wind, axis=-1), np.nan)


def _by_lag(covariance: Array, lags: NDArray[np.intp]) -> Array:
    """Mean correlation over the heights at each lag, shape (..., lags)."""
    variance = np.einsum("...zz->...z", covariance)
    found = []
    with np.errstate(invalid="ignore"):  # heights and lags that no pair reached stay unknown
        correlation = covariance / np.sqrt(variance[..., :, None] * variance[..., None, :])
        for lag in lags:
            along = np.diagonal(correlation, lag, -2, -1)
            found.append(np.nansum(along, axis=-1) / np.isfinite(along).sum(axis=-1))
    return np.stack(found, axis=-1)


def _length_m(correlation: Array, lag_m: Array) -> float:
    """Where the correlation first falls to 1/e, linear between lags; NaN when it does not."""
    below = np.flatnonzero(correlation <= np.exp(-1.0))
    if not below.size:
        return float("nan")
    k = int(below[0])
    share = (correlation[k - 1] - np.exp(-1.0)) / (correlation[k - 1] - correlation[k])
    return float(lag_m[k - 1] + share * (lag_m[k] - lag_m[k - 1]))


def _depth_m(correlation: Array) -> Array:
    """Trapezoid sum over the lags, which start at zero and are ``STEP_M`` apart."""
    return np.asarray(STEP_M * (correlation.sum(axis=-1) - 0.5 * (correlation[..., 0] + correlation[..., -1])))


def _sizes(
    here: list[Sounding],
    first: NDArray[np.intp],
    apart_m: Array,
    known: NDArray[np.bool_],
    covariance: Array,
    prior: WindPrior,
) -> tuple[DifferenceSize, ...]:
    sizes = []
    for height in SIZE_HEIGHTS_MSL_M:
        index = int(np.argmin(np.abs(HEIGHTS_MSL_M - height)))
        there = known[:, index]
        if there.sum() < 2:
            continue
        pressure = np.array(
            [np.exp(np.interp(height, here[i].height_msl_m, np.log(here[i].pressure_pa))) for i in first[there]]
        )
        expected = held_wind_sd_m_s(pressure, apart_m[there], 0.0, prior)
        spread = np.sqrt(covariance[:, index, index])
        low, high = np.nanquantile(spread[1:], (0.025, 0.975))
        sizes.append(
            DifferenceSize(
                height_msl_m=height,
                pairs=int(there.sum()),
                sd_m_s=float(spread[0]),
                low_m_s=float(low),
                high_m_s=float(high),
                prior_sd_m_s=float(np.sqrt(np.mean(expected**2))),
            )
        )
    return tuple(sizes)
