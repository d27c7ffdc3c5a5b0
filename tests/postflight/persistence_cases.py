"""Made-up soundings and error fields whose truth is known, and one prior, for the tests of earlier winds."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import standard_air
from pappus.postflight.held_winds._error_correlation import error_correlation
from pappus.postflight.held_winds._pairs import ErrorField, Pair
from pappus.sources import Sounding
from pappus.wind import SourceFile, WindPrior

Array = NDArray[np.float64]

PRIOR = WindPrior(
    level_pa=np.array([1000.0, 850.0, 500.0, 250.0, 100.0, 50.0, 10.0, 5.0]) * 100.0,
    lead_s=np.array([3.0, 24.0, 48.0, 72.0]) * 3600.0,
    sd_m_s=np.array(
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
    ),
    large_share=0.6,
    large_depth_m=5000.0,
    large_time_s=6.0 * 3600.0,
    large_distance_m=400_000.0,
    wave_depth_m=1000.0,
    wave_time_s=1.5 * 3600.0,
    wave_distance_m=75_000.0,
    advection_m_s=15.0,
    held_by_level=np.array([1.8, 1.8, 2.0, 2.8, 2.2, 2.2, 3.2, 4.5]) / 2.8,
    age_factor=1.0,
    instrument_sd_m_s=0.5,
    growth_beyond_per_s=1e-3,
)
NOON = datetime(2031, 4, 2, 12, 0, tzinfo=UTC)


def ascent(
    release: datetime = NOON,
    *,
    wind: tuple[float, float] = (10.0, 0.0),
    top_msl_m: float = 31_000.0,
    rate_m_s: float = 6.0,
    latitude_deg: float = 47.3,
    longitude_deg: float = 8.5,
    station: str = "hill",
) -> Sounding:
    """An ascent at a constant rate through a constant wind, times but no positions along it."""
    height = np.append(np.arange(400.0, top_msl_m, 100.0), top_msl_m)
    air = standard_air(height)
    return Sounding(
        station=station,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        station_height_msl_m=400.0,
        release=release,
        is_descent=False,
        time_s=(height - height[0]) / rate_m_s,
        pressure_pa=air.pressure_pa,
        height_msl_m=height,
        temperature_k=air.temperature_k,
        wind_u_m_s=np.full_like(height, wind[0]),
        wind_v_m_s=np.full_like(height, wind[1]),
        level_latitude_deg=None,
        level_longitude_deg=None,
        positions_measured=False,
        source=SourceFile("made-up", "0" * 64, "made-up ascent"),
        notes=(),
    )


def later_by(hours: float, sounding: Sounding) -> Sounding:
    """The same ascent some hours later."""
    return replace(sounding, release=sounding.release + timedelta(hours=hours))


def error_field(heights_msl_m: Array, *, other_sd_m_s: float = 0.5) -> ErrorField:
    """Layers of 500 m, each crossed in 100 s, with a wind error that grows with height."""
    middle = np.arange(250.0, float(heights_msl_m[-1]), 500.0)
    zero = np.zeros(len(middle))
    return ErrorField(
        residence_s=100.0 * (middle < heights_msl_m[:, None]),
        age_sd_m_s=4.0 + middle / 10_000.0,
        other_sd_m_s=np.full_like(middle, other_sd_m_s),
        correlation=error_correlation(middle, middle / 5.0, zero, zero, PRIOR),
    )


def pairs_of_known_factor(factor: float, *, days: int, a_day: int, seed: int, other_sd_m_s: float = 0.5) -> list[Pair]:
    """Pairs whose errors are drawn from their own error field with that factor."""
    rng = np.random.default_rng(seed)
    heights = np.array([10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0])
    field = error_field(heights, other_sd_m_s=other_sd_m_s)
    root = np.linalg.cholesky(field.covariance_m2(factor))
    return [
        Pair(
            station="hill",
            earlier_release=NOON + timedelta(days=day, hours=-6),
            later_release=NOON + timedelta(days=day),
            height_msl_m=heights,
            error_m=root @ rng.standard_normal((len(heights), 2)),
            drift_m=np.full(len(heights), 5e4),
            field=field,
            timed=True,
            from_positions=True,
        )
        for day in range(days)
        for _ in range(a_day)
    ]
