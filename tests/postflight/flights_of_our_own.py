"""Invented soundings of exact make, and the priors that the checks of climb and fall are tested with."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import standard_air
from pappus.flight_train import FallPrior, FlightPrior
from pappus.sources import Sounding
from pappus.trajectory import drift
from pappus.wind import SourceFile, WindPrior

Array = NDArray[np.float64]

RELEASE = datetime(2024, 5, 4, 9, 30, tzinfo=UTC)
FALL = FallPrior(exponent=0.35, exponent_sd=0.12, within_ln_sd=0.15, within_depth_m=5_000.0)
FLIGHT = FlightPrior(
    drag_factor=1.0, drag_factor_ln_sd=0.12, gas_excess_sd_k=8.0, fall=FALL, leak_chance=0.02, leak_per_h=0.1,
    release_sd_s=300.0,
)  # fmt: skip
WIND = WindPrior(
    level_pa=100.0 * np.array([1000.0, 850.0, 500.0, 250.0, 100.0, 50.0, 10.0, 5.0]),
    lead_s=3600.0 * np.array([3.0, 24.0, 48.0, 72.0]),
    sd_m_s=np.array(
        [
            [1.8, 2.3, 2.9, 3.5], [1.8, 2.3, 2.9, 3.5], [2.0, 2.6, 3.6, 4.8], [2.8, 3.4, 4.8, 6.4],
            [2.2, 2.5, 3.0, 3.6], [2.2, 2.5, 2.8, 3.2], [3.2, 3.5, 4.0, 4.6], [4.5, 5.0, 5.5, 6.0],
        ]
    ),
    large_share=0.6, large_depth_m=5_000.0, large_time_s=6 * 3600.0, large_distance_m=400_000.0,
    wave_depth_m=1_000.0, wave_time_s=1.5 * 3600.0, wave_distance_m=75_000.0, advection_m_s=15.0,
    held_factor=1.0, instrument_sd_m_s=0.5, growth_beyond_per_s=1e-3,
)  # fmt: skip


def wind_m_s(height_msl_m: Array) -> tuple[Array, Array]:
    """A westerly jet at 11 km and a light southerly, the same at all times."""
    return 4.0 + 26.0 * np.exp(-(((height_msl_m - 11_000.0) / 5_000.0) ** 2)), np.full_like(height_msl_m, 2.0)


def invented(
    rate_m_s: Array,
    height_msl_m: Array,
    *,
    start: datetime = RELEASE,
    start_deg: tuple[float, float] = (52.0, 7.0),
    station: str = "invented",
) -> Sounding:
    """A flight through the standard atmosphere along heights in the order of flight, at the rate between each two."""
    time = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(height_msl_m)) / rate_m_s)])
    u, v = wind_m_s(height_msl_m)
    latitude, longitude = drift(time, height_msl_m, u, v, *start_deg)
    air = standard_air(height_msl_m)
    is_descent = bool(height_msl_m[0] > height_msl_m[-1])
    up = slice(None, None, -1 if is_descent else 1)
    return Sounding(
        station=station,
        latitude_deg=start_deg[0],
        longitude_deg=start_deg[1],
        station_height_msl_m=None if is_descent else float(height_msl_m[0]),
        release=start,
        is_descent=is_descent,
        time_s=time[up],
        pressure_pa=air.pressure_pa[up],
        height_msl_m=height_msl_m[up],
        temperature_k=air.temperature_k[up],
        wind_u_m_s=u[up],
        wind_v_m_s=v[up],
        level_latitude_deg=latitude[up],
        level_longitude_deg=longitude[up],
        positions_measured=True,
        source=SourceFile("invented.csv", "0" * 64, "invented"),
        notes=(),
    )


def ascent_to(top_msl_m: float, rate_m_s: float = 5.0) -> Sounding:
    """A steady climb from 100 m."""
    heights = np.arange(100.0, top_msl_m + 1.0, 50.0)
    return invented(np.full(len(heights) - 1, rate_m_s), heights)


def descent_after(ascent: Sounding, ln_speed_at: Array, end_msl_m: float = 200.0, step_m: float = 50.0) -> Sounding:
    """A fall from the top of an ascent at ``exp(ln_speed_at)``, given at 25 m and then every 50 m below the top."""
    top = float(ascent.height_msl_m[-1])
    heights = np.arange(top, end_msl_m - 1.0, -step_m)
    assert ascent.time_s is not None
    assert ascent.level_latitude_deg is not None
    assert ascent.level_longitude_deg is not None
    return invented(
        np.exp(ln_speed_at[: len(heights) - 1]),
        heights,
        start=ascent.release + timedelta(seconds=float(ascent.time_s[-1])),
        start_deg=(float(ascent.level_latitude_deg[-1]), float(ascent.level_longitude_deg[-1])),
    )
