"""The prior of the wind error, fitted to forecasts beside radiosondes: the table of sizes, and how the errors reach."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from pappus.postflight.forecasts._check import FEWEST_SOUNDINGS, controls, noise_variance_m2_s2
from pappus.postflight.forecasts._resampled import Resampled, interval_95
from pappus.postflight.forecasts._vertical import VerticalCorrelation, vertical_correlation
from pappus.sources import ForecastPairs
from pappus.wind import WindPrior, forecast_wind_sd_m_s

Array = NDArray[np.float64]

POOL_LN_P = 0.25
"""Levels are pooled with a Gaussian weight in ln p of this width: 250 hPa with 195 and 320 hPa at 0.6 (own choice)."""
POOL_LEAD_S = 28_800.0
"""Lead times likewise, 8 h: forecasts are compared every 6 h."""
LEAST_WEIGHT = 0.3
"""Soundings of less weight do not count as near an entry of the table."""
TABLE_LOG_SD = 0.3
"""How far an entry of the old table may be off, as a standard deviation of its logarithm (own prior)."""


@dataclass(frozen=True)
class TableEntry:
    """One entry of the table of sizes and what stands behind it."""

    pressure_pa: float
    lead_s: float
    old_sd_m_s: float
    new_sd_m_s: float
    measured_sd_m_s: float
    """From the pairs around it alone, less what sonde and rounding add; NaN where there are too few."""
    measured_95_m_s: tuple[float, float]
    forecasts: int
    soundings: int
    scaled_from: tuple[float, float] | None
    """Pressure and lead time of the entry whose ratio of new to old was used for want of pairs; else None."""
    levelled: bool
    """Moved so that errors do not fall with lead time."""


@dataclass(frozen=True, eq=False)
class ForecastErrorFit:
    """A prior that fits the pairs, with its evidence."""

    prior: WindPrior
    entries: tuple[TableEntry, ...]
    vertical: VerticalCorrelation | str
    """What share and depth of the large part come from; or why those of the old prior stand."""

    @property
    def evidence(self) -> tuple[str, ...]:
        """A line for each number that was fitted, and for each that could not be."""
        return (*(_entry_line(entry) for entry in self.entries), *_vertical_lines(self.vertical))


def fit_forecast_error(pairs: ForecastPairs, prior: WindPrior, *, seed: int) -> ForecastErrorFit | str:
    """Sizes at the levels and lead times of the old table, share and depth of the large part; all else stands.

    Each size is the old one times a ratio: that of the errors of the controls at lead times above zero to what the old
    table expects, both less noise and pooled over neighbouring levels and lead times. The old entry counts as a
    measurement too, 30 % uncertain, so that a ratio from a few wild soundings is drawn towards 1. Where there are no
    pairs the ratio of the nearest entry that has some is used. An error that falls with lead time is levelled. Share
    and depth come from the vertical correlation. A line of text says why nothing could be fitted.
    """
    rows = controls(pairs)
    rows = rows[pairs.lead_s[rows] > 0.0]
    shape = prior.sd_m_s.shape
    log_ratio, spread = np.full(shape, np.nan), np.full(shape, np.nan)
    measured, measured_95 = np.full(shape, np.nan), np.full((*shape, 2), np.nan)
    forecasts, soundings = np.zeros(shape, dtype=int), np.zeros(shape, dtype=int)
    if rows.size:
        resampled = Resampled.of(pairs, seed=seed)
        u, v = pairs.forecast_u_m_s - pairs.observed_u_m_s, pairs.forecast_v_m_s - pairs.observed_v_m_s
        error = (0.5 * (u**2 + v**2) - noise_variance_m2_s2(pairs, prior))[rows]
        expected = forecast_wind_sd_m_s(pairs.pressure_pa[rows], pairs.lead_s[rows], prior) ** 2
        for entry in np.ndindex(shape):
            weight = np.exp(-0.5 * _apart2(prior, entry, pairs.pressure_pa[rows], pairs.lead_s[rows]))
            near = weight >= LEAST_WEIGHT
            forecasts[entry], soundings[entry] = int(near.sum()), resampled.soundings(rows[near])
            total = float(weight @ error)
            if soundings[entry] < FEWEST_SOUNDINGS or total <= 0.0:
                continue
            ratio2 = total / float(weight @ expected)
            drawn = resampled.sums(rows, weight * error) / resampled.sums(rows, weight * expected)
            drawn = np.sqrt(np.where(drawn > 0.0, drawn, np.nan))
            measured[entry] = np.sqrt(ratio2) * prior.sd_m_s[entry]
            measured_95[entry] = np.array(interval_95(drawn)) * prior.sd_m_s[entry]
            spread[entry] = np.nanstd(np.log(drawn))
            log_ratio[entry] = 0.5 * np.log(ratio2) * TABLE_LOG_SD**2 / (TABLE_LOG_SD**2 + spread[entry] ** 2)
    if not np.isfinite(log_ratio).any():
        return f"no entry of the table has {FEWEST_SOUNDINGS} soundings near it"

    known = [entry for entry in np.ndindex(shape) if np.isfinite(log_ratio[entry])]
    nearest = {entry: _nearest(prior, entry, known) for entry in np.ndindex(shape)}
    ratio = np.exp([[log_ratio[nearest[i, k]] for k in range(shape[1])] for i in range(shape[0])])
    sd = np.maximum(prior.sd_m_s * ratio, prior.instrument_sd_m_s)
    weights = np.maximum(soundings, 1).astype(np.float64)
    rising = [isotonic_regression(row**2, weights=weight).x for row, weight in zip(sd, weights, strict=True)]
    moved = np.abs(np.sqrt(rising) - sd) > 1e-6
    sd = np.sqrt(rising)
    entries = tuple(
        TableEntry(
            pressure_pa=float(prior.level_pa[entry[0]]),
            lead_s=float(prior.lead_s[entry[1]]),
            old_sd_m_s=float(prior.sd_m_s[entry]),
            new_sd_m_s=float(sd[entry]),
            measured_sd_m_s=float(measured[entry]),
            measured_95_m_s=(float(measured_95[entry][0]), float(measured_95[entry][1])),
            forecasts=int(forecasts[entry]),
            soundings=int(soundings[entry]),
            scaled_from=None if nearest[entry] == entry else _place(prior, nearest[entry]),
            levelled=bool(moved[entry]),
        )
        for entry in np.ndindex(shape)
    )
    vertical = vertical_correlation(pairs, prior, seed=seed)
    fitted = replace(prior, sd_m_s=sd)
    if not isinstance(vertical, str):
        fitted = replace(fitted, large_share=vertical.large_share, large_depth_m=vertical.large_depth_m)
    return ForecastErrorFit(fitted, entries, vertical)


def _apart2(prior: WindPrior, entry: tuple[int, ...], pressure_pa: Array, lead_s: Array) -> Array:
    """Squared distance from an entry of the table, in widths of the pooling."""
    levels = (np.log(pressure_pa) - np.log(prior.level_pa[entry[0]])) / POOL_LN_P
    return np.asarray(levels**2 + ((lead_s - prior.lead_s[entry[1]]) / POOL_LEAD_S) ** 2)


def _nearest(prior: WindPrior, entry: tuple[int, ...], known: list[tuple[int, ...]]) -> tuple[int, ...]:
    levels, leads = np.array(known).T
    return known[int(np.argmin(_apart2(prior, entry, prior.level_pa[levels], prior.lead_s[leads])))]


def _place(prior: WindPrior, entry: tuple[int, ...]) -> tuple[float, float]:
    return float(prior.level_pa[entry[0]]), float(prior.lead_s[entry[1]])


def _entry_line(entry: TableEntry) -> str:
    where = f"{entry.pressure_pa / 100.0:g} hPa, {entry.lead_s / 3600.0:g} h"
    levelled = " (levelled: no fall with lead)" if entry.levelled else ""
    change = f"{entry.old_sd_m_s:.2f} -> {entry.new_sd_m_s:.2f} m/s{levelled}"
    if entry.scaled_from is not None:
        pressure, lead = entry.scaled_from
        source = f"{entry.soundings} soundings near it, scaled as {pressure / 100.0:g} hPa, {lead / 3600.0:g} h"
        return f"{where}: {change}; {source}."
    low, high = entry.measured_95_m_s
    counts = f"{entry.forecasts} forecasts of {entry.soundings} soundings"
    return f"{where}: {change}; measured {entry.measured_sd_m_s:.2f} ({low:.2f} to {high:.2f}), {counts}."


def _vertical_lines(vertical: VerticalCorrelation | str) -> tuple[str, ...]:
    if isinstance(vertical, str):
        return (f"Share and depth of the large part stand as they were: {vertical}.",)
    count = f"{vertical.apart_m.size} pairs of levels, {vertical.soundings} soundings"
    share, depth = vertical.large_share_95, vertical.large_depth_95_m
    return (
        f"Large part: {vertical.large_share:.2f} of the variance ({share[0]:.2f} to {share[1]:.2f}), depth "
        f"{vertical.large_depth_m / 1000.0:.1f} km ({depth[0] / 1000.0:.1f} to {depth[1] / 1000.0:.1f}), with waves of "
        f"{vertical.wave_depth_m / 1000.0:g} km; {count}.",
    )
