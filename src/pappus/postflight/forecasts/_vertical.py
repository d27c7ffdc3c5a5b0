"""How far errors of forecast winds reach from one level to another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.postflight.forecasts._check import controls, noise_variance_m2_s2
from pappus.postflight.forecasts._resampled import Resampled, interval_95
from pappus.sources import ForecastPairs
from pappus.wind import WindPrior

Array = NDArray[np.float64]

LENGTHS_M = np.geomspace(200.0, 20_000.0, 93)
"""Lengths that are tried: 5 % apart."""
FEWEST_PROFILES = 20
"""Pairs of levels met by fewer profiles are left out."""


@dataclass(frozen=True, eq=False)
class VerticalCorrelation:
    """Correlation of the errors of one profile at pairs of levels, and what fits it; arrays of shape (P,)."""

    lower_pa: Array
    upper_pa: Array
    apart_m: Array
    """Geopotential height between the levels, mean of the soundings."""
    correlation: Array
    """After what sonde and rounding add is taken off the variances."""
    profiles: NDArray[np.intp]
    soundings: int
    length_m: float
    """L of ``exp(-apart / L)``, fitted to all pairs."""
    length_95_m: tuple[float, float]
    large_share: float
    """Of the two-part fit ``s exp(-(apart / D)^2 / 2) + (1 - s) exp(-apart / wave_depth_m)``."""
    large_share_95: tuple[float, float]
    large_depth_m: float
    """D of the two-part fit."""
    large_depth_95_m: tuple[float, float]
    wave_depth_m: float
    """Taken from the prior: levels stand too far apart to measure it."""


def vertical_correlation(pairs: ForecastPairs, prior: WindPrior, *, seed: int) -> VerticalCorrelation | str:
    """From the controls at lead times above zero; or why there is nothing to fit."""
    rows = controls(pairs)
    rows = rows[pairs.lead_s[rows] > 0.0]
    if rows.size == 0:
        return "no forecast with a lead time"
    keys = np.column_stack(
        [column[rows] for column in (pairs.model, pairs.member, pairs.run_s, pairs.valid_s, pairs.station)]
    )
    _, first, profile = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    levels, level = np.unique(-pairs.pressure_pa[rows], return_inverse=True)
    shape = (first.size, levels.size)
    u, v, noise, height = (np.full(shape, np.nan) for _ in range(4))
    at = (profile.ravel(), level)
    u[at] = (pairs.forecast_u_m_s - pairs.observed_u_m_s)[rows]
    v[at] = (pairs.forecast_v_m_s - pairs.observed_v_m_s)[rows]
    noise[at] = noise_variance_m2_s2(pairs, prior)[rows]
    height[at] = pairs.observed_height_geopotential_m[rows]

    resampled = Resampled.of(pairs, seed=seed)
    lower, upper = np.triu_indices(levels.size, 1)
    apart = np.array([_mean_or_nan(height[:, j] - height[:, i]) for i, j in zip(lower, upper, strict=True)])
    together = np.isfinite(u[:, lower] * u[:, upper])
    good = (together.sum(axis=0) >= FEWEST_PROFILES) & (apart > 0.0)
    if not good.any():
        return f"no two levels have {FEWEST_PROFILES} profiles together"
    lower, upper, apart, together = lower[good], upper[good], apart[good], together[:, good]
    product = 0.5 * (u[:, lower] * u[:, upper] + v[:, lower] * v[:, upper])
    variance = 0.5 * (u**2 + v**2) - noise
    sums = np.stack(
        [np.where(together, values, 0.0) for values in (product, variance[:, lower], variance[:, upper])], -1
    )
    correlation, drawn = _correlation(sums.sum(axis=0)), _correlation(resampled.sums(rows[first], sums))
    weight = together.sum(axis=0).astype(np.float64)
    length, length_drawn = (_one_length_m(values, apart, weight) for values in (correlation[None], drawn))
    (share, depth), (shares, depths) = (
        _two_parts(values, apart, weight, prior.wave_depth_m) for values in (correlation[None], drawn)
    )
    return VerticalCorrelation(
        lower_pa=-levels[lower],
        upper_pa=-levels[upper],
        apart_m=apart,
        correlation=correlation,
        profiles=together.sum(axis=0),
        soundings=resampled.soundings(rows[first]),
        length_m=float(length[0]),
        length_95_m=interval_95(length_drawn),
        large_share=float(share[0]),
        large_share_95=interval_95(shares),
        large_depth_m=float(depth[0]),
        large_depth_95_m=interval_95(depths),
        wave_depth_m=prior.wave_depth_m,
    )


def _mean_or_nan(values: Array) -> float:
    good = values[np.isfinite(values)]
    return float(good.mean()) if good.size else float("nan")


def _correlation(sums: Array) -> Array:
    """From the sums of products and of both variances, shape (..., 3); NaN where noise is all there is."""
    product, low, high = np.moveaxis(sums, -1, 0)
    known = (low > 0.0) & (high > 0.0)
    return np.asarray(np.where(known, product / np.sqrt(np.where(known, low * high, 1.0)), np.nan))


def _misfit(correlation: Array, curve: Array, weight: Array) -> Array:
    """Weighted sum of squares over the last axis; a pair without correlation does not count."""
    return np.asarray(np.sum(weight * np.nan_to_num(correlation - curve) ** 2, axis=-1))


def _one_length_m(correlation: Array, apart_m: Array, weight: Array) -> Array:
    """Least squares over the lengths that are tried; shape (draws,)."""
    misfit = [_misfit(correlation, np.exp(-apart_m / length), weight) for length in LENGTHS_M]
    return np.asarray(LENGTHS_M[np.argmin(misfit, axis=0)])


def _two_parts(correlation: Array, apart_m: Array, weight: Array, wave_depth_m: float) -> tuple[Array, Array]:
    """Share and depth of the large part by least squares: the share in closed form for each depth that is tried.

    Depths below that of the waves are not tried: the two parts would change places.
    """
    wave = np.exp(-apart_m / wave_depth_m)
    known = np.where(np.isfinite(correlation), weight, 0.0)
    depths = LENGTHS_M[wave_depth_m <= LENGTHS_M]
    shares, misfits = [], []
    for depth in depths:
        rise = np.exp(-0.5 * (apart_m / depth) ** 2) - wave
        above = np.sum(known * rise * np.nan_to_num(correlation - wave), axis=-1)
        share = np.clip(above / np.maximum(np.sum(known * rise**2, axis=-1), 1e-12), 0.0, 1.0)
        shares.append(share)
        misfits.append(_misfit(correlation, wave + share[:, None] * rise, weight))
    best = np.argmin(misfits, axis=0)
    return np.asarray(np.array(shares)[best, np.arange(best.size)]), np.asarray(depths[best])
