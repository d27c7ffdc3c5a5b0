"""Invented soundings of exact make, and the priors that the checks of climb and fall are tested with."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import standard_air
from pappus.flight_train import FallPrior
from pappus.sources import Sounding, read_prior
from pappus.trajectory import drift
from pappus.wind import SourceFile

Array = NDArray[np.float64]

RELEASE = datetime(2024, 5, 4, 9, 30, tzinfo=UTC)
FALL = FallPrior(exponent=0.35, exponent_sd=0.12, within_ln_sd=0.15, within_depth_m=5_000.0)
FLIGHT = replace(read_prior().flight, drag_factor=1.0, drag_factor_ln_sd=0.12, gas_excess_sd_k=8.0, fall=FALL)
WIND = read_prior().wind


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
