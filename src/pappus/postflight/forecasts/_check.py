"""Errors of forecast winds against radiosondes: their size by level and lead time beside that of the prior.

Only controls (member 0 or less) are judged, or all members of a file that has none: the prior speaks of one forecast.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.postflight.forecasts._resampled import Resampled, interval_95
from pappus.sources import ForecastPairs
from pappus.wind import WindPrior, forecast_wind_sd_m_s

Array = NDArray[np.float64]

LEAD_EDGES_S = tuple(3600.0 * hour for hour in (-1.0, 0.0, 9.0, 18.0, 33.0, 60.0, 1000.0))
"""Lead times are taken together between these; lead 0 stands alone."""
FEWEST_SOUNDINGS = 10
"""Fewer than this are printed, not judged."""
WIDEST = 2.0
"""An interval whose ends differ by more than this factor agrees with anything (own choice)."""


@dataclass(frozen=True)
class WindError:
    """Errors at one level and between two lead times, per component of the wind."""

    pressure_pa: float
    """NaN for all levels together."""
    lead_s: tuple[float, float]
    """Shortest and longest lead time met."""
    forecasts: int
    soundings: int
    sd_m_s: float
    """About zero, u and v together, with what observation and rounding add."""
    sd_95_m_s: tuple[float, float]
    bias_u_m_s: float
    bias_u_95_m_s: tuple[float, float]
    bias_v_m_s: float
    bias_v_95_m_s: tuple[float, float]
    prior_sd_m_s: float
    """Root mean square of the prior at the same levels and lead times."""
    noise_sd_m_s: float
    """Root mean square of what the sonde and the rounding of both reports add."""
    greatest_share: float
    """Part of the sum of squares that comes from one sounding."""
    verdict: str
    """"as expected", "smaller" or "larger" than the prior with its noise; else why that cannot be told."""

    @property
    def expected_sd_m_s(self) -> float:
        """What the prior leads one to see."""
        return float(np.hypot(self.prior_sd_m_s, self.noise_sd_m_s))


def controls(pairs: ForecastPairs) -> NDArray[np.intp]:
    """Rows of the control forecasts; all rows where there is none."""
    rows = np.flatnonzero(pairs.member <= 0)
    return rows if rows.size else np.arange(len(pairs))


def noise_variance_m2_s2(pairs: ForecastPairs, prior: WindPrior) -> Array:
    """Variance per component that is no error of the forecast: the sonde's own, and the rounding of both reports."""
    return np.asarray(prior.instrument_sd_m_s**2 + pairs.observed_rounding_m2_s2 + pairs.forecast_rounding_m2_s2)


def wind_errors(pairs: ForecastPairs, prior: WindPrior, *, seed: int) -> tuple[WindError, ...]:
    """By lead time and level from the ground up, then all levels of each lead time together.

    The prior is compared after adding in quadrature what is no error of the forecast (``noise_variance_m2_s2``). It is
    judged against the 95 % interval of the error; lead 0 is not judged, since the analysis has seen the sounding.
    """
    resampled = Resampled.of(pairs, seed=seed)
    controlled = controls(pairs)
    found = []
    for low, high in pairwise(LEAD_EDGES_S):
        here = controlled[(pairs.lead_s[controlled] > low) & (pairs.lead_s[controlled] <= high)]
        for pressure in np.unique(pairs.pressure_pa[here])[::-1]:
            rows = here[pairs.pressure_pa[here] == pressure]
            found.append(_wind_error(pairs, rows, prior, resampled, float(pressure)))
        if here.size:
            found.append(_wind_error(pairs, here, prior, resampled, float("nan")))
    return tuple(found)


def same_hour_correlation(pairs: ForecastPairs) -> tuple[float, int]:
    """Correlation of the controls' errors at two stations in the same hour and level, and the number of such pairs.

    Errors at lead times above zero, averaged over the forecasts of a sounding, in units of their size at the level.
    The intervals take it to be zero. NaN and 0 when no two stations share an hour.
    """
    rows = controls(pairs)
    rows = rows[pairs.lead_s[rows] > 0.0]
    keys = np.column_stack([pairs.pressure_pa[rows], pairs.valid_s[rows], pairs.station[rows]])
    where, group, count = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    level = np.unique(where[:, 0], return_inverse=True)[1]
    together = np.unique(where[:, :2], axis=0, return_inverse=True)[1].ravel()
    number = np.bincount(together)
    products = 0.0
    for forecast, observed in (
        (pairs.forecast_u_m_s, pairs.observed_u_m_s),
        (pairs.forecast_v_m_s, pairs.observed_v_m_s),
    ):
        error = np.bincount(group.ravel(), weights=(forecast - observed)[rows]) / count
        size = np.sqrt(np.bincount(level, weights=error**2) / np.bincount(level))[level]
        error = np.divide(error, size, out=np.zeros_like(error), where=size > 0.0)
        # (sum of all)^2 holds each product of two stations twice, and the squares
        total, squares = np.bincount(together, weights=error), np.bincount(together, weights=error**2)
        products += 0.5 * float((0.5 * (total**2 - squares)).sum())
    couples = int((number * (number - 1) // 2).sum())
    return (products / couples, couples) if couples else (float("nan"), 0)


def _wind_error(
    pairs: ForecastPairs, rows: NDArray[np.intp], prior: WindPrior, resampled: Resampled, pressure_pa: float
) -> WindError:
    u = pairs.forecast_u_m_s[rows] - pairs.observed_u_m_s[rows]
    v = pairs.forecast_v_m_s[rows] - pairs.observed_v_m_s[rows]
    square = 0.5 * (u**2 + v**2)
    counts = resampled.sums(rows, np.ones(rows.size))
    sd_95, u_95, v_95 = (
        interval_95(values)
        for values in (
            np.sqrt(resampled.sums(rows, square) / counts),
            resampled.sums(rows, u) / counts,
            resampled.sums(rows, v) / counts,
        )
    )
    lead = pairs.lead_s[rows]
    own = forecast_wind_sd_m_s(pairs.pressure_pa[rows], lead, prior) ** 2
    noise = noise_variance_m2_s2(pairs, prior)[rows]
    expected, soundings = float(np.sqrt(np.mean(own + noise))), resampled.soundings(rows)
    return WindError(
        pressure_pa=pressure_pa,
        lead_s=(float(lead.min()), float(lead.max())),
        forecasts=int(rows.size),
        soundings=soundings,
        sd_m_s=float(np.sqrt(square.mean())),
        sd_95_m_s=sd_95,
        bias_u_m_s=float(u.mean()),
        bias_u_95_m_s=u_95,
        bias_v_m_s=float(v.mean()),
        bias_v_95_m_s=v_95,
        prior_sd_m_s=float(np.sqrt(own.mean())),
        noise_sd_m_s=float(np.sqrt(noise.mean())),
        greatest_share=resampled.greatest_share(rows, square),
        verdict=_verdict(float(lead.max()), soundings, sd_95, expected),
    )


def _verdict(longest_lead_s: float, soundings: int, sd_95: tuple[float, float], expected: float) -> str:
    if longest_lead_s <= 0.0:
        return "not judged: lead 0"
    if soundings < FEWEST_SOUNDINGS or not np.isfinite(sd_95).all():
        return f"not judged: {soundings} soundings"
    if expected < sd_95[0]:
        return "larger"
    if expected > sd_95[1]:
        return "smaller"
    return "as expected" if sd_95[1] < WIDEST * sd_95[0] else "cannot tell: wide interval"
