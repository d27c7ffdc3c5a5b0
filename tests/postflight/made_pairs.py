"""Pairs of forecast and measured winds whose errors are known: written as a file, and read like any other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pappus.wind import WindPrior

Array = NDArray[np.float64]

LEVELS_HPA = (1000.0, 925.0, 850.0, 700.0, 500.0, 400.0, 300.0, 250.0, 200.0, 150.0, 100.0, 50.0)
HEAD = (
    "model,member,run,lead_h,valid,station,lat,lon,elev_m,p_hPa,"
    "fc_z_m,fc_T_K,fc_dir_deg,fc_speed_ms,obs_z_m,obs_T_K,obs_dir_deg,obs_speed_ms"
)
FIRST = datetime(2021, 3, 1)  # noqa: DTZ001 - as the files write it, UTC without saying so
INSTRUMENT_M_S = 0.5


def example_prior() -> WindPrior:
    """A prior of plausible size; no test depends on its being right."""
    return WindPrior(
        level_pa=100.0 * np.array([1000.0, 850.0, 500.0, 250.0, 100.0, 50.0, 10.0, 5.0]),
        lead_s=3600.0 * np.array([3.0, 24.0, 48.0, 72.0]),
        sd_m_s=np.array(
            [
                [1.8, 2.3, 2.9, 3.5], [1.8, 2.3, 2.9, 3.5], [2.0, 2.6, 3.6, 4.8], [2.8, 3.4, 4.8, 6.4],
                [2.2, 2.5, 3.0, 3.6], [2.2, 2.5, 2.8, 3.2], [3.2, 3.5, 4.0, 4.6], [4.5, 5.0, 5.5, 6.0],
            ]
        ),
        large_share=0.6,
        large_depth_m=5000.0,
        large_time_s=21_600.0,
        large_distance_m=400_000.0,
        wave_depth_m=1000.0,
        wave_time_s=5400.0,
        wave_distance_m=75_000.0,
        advection_m_s=15.0,
        held_by_level=np.array([1.8, 1.8, 2.0, 2.8, 2.2, 2.2, 3.2, 4.5]) / 2.8, age_factor=1.0,
        instrument_sd_m_s=INSTRUMENT_M_S,
        growth_beyond_per_s=1e-3,
    )  # fmt: skip


def height_m(pressure_hpa: float) -> float:
    """A plain exponential atmosphere."""
    return 7000.0 * float(np.log(1013.25 / pressure_hpa))


@dataclass(frozen=True)
class Report:
    """How winds are written: steps of direction and speed; None for as they are."""

    direction_deg: float | None = None
    speed_m_s: float | None = None

    def written(self, u: float, v: float) -> str:
        speed, direction = float(np.hypot(u, v)), float(np.degrees(np.arctan2(-u, -v)) % 360.0)
        if self.direction_deg is not None:
            direction = round(direction / self.direction_deg) * self.direction_deg
        if self.speed_m_s is not None:
            speed = round(speed / self.speed_m_s) * self.speed_m_s
        return f"{direction:.6f},{speed:.6f}"


Errors = Callable[[np.random.Generator, int], Array]
"""Of one forecast: (generator, lead in hours) to the errors of its members, shape (members, levels, 2)."""


def write_pairs(
    path: Path,
    errors: Errors,
    *,
    leads_h: Sequence[int],
    stations: int = 30,
    hours: int = 12,
    hours_apart: int = 24,
    levels_hpa: Sequence[float] = LEVELS_HPA,
    seed: int = 1,
    forecast_report: Report | None = None,
    sonde_report: Report | None = None,
    instrument_m_s: float = INSTRUMENT_M_S,
) -> Path:
    """A file of ``stations`` x ``hours`` soundings; by default a day apart, so that each is a block of its own."""
    rng = np.random.default_rng(seed)
    forecast_report, sonde_report = forecast_report or Report(), sonde_report or Report()
    lines = [HEAD]
    for hour in range(hours):
        valid = FIRST + timedelta(hours=hours_apart * hour)
        for station in range(stations):
            truth = rng.normal(0.0, 15.0, (len(levels_hpa), 2))
            seen = truth + rng.normal(0.0, instrument_m_s, truth.shape)
            for lead in leads_h:
                winds = truth + errors(rng, lead)
                for member, wind in enumerate(winds):
                    for level, pressure in enumerate(levels_hpa):
                        height = f"{height_m(pressure):.1f},250.0"
                        left = f"made,{member},{valid - timedelta(hours=lead)},{lead},{valid},{100 + station}"
                        lines.append(
                            f"{left},50.0,10.0,20.0,{pressure},{height},{forecast_report.written(*wind[level])},"
                            f"{height},{sonde_report.written(*seen[level])}"
                        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def independent(sd_m_s: Callable[[int], Array | float], levels: int = len(LEVELS_HPA)) -> Errors:
    """Errors of one forecast that no two levels share; the size by lead time, a number or one for each level."""

    def draw(rng: np.random.Generator, lead: int) -> Array:
        return rng.standard_normal((1, levels, 2)) * np.reshape(np.broadcast_to(sd_m_s(lead), levels), (1, levels, 1))

    return draw


def correlated(sd_m_s: float, correlation: Array) -> Errors:
    """Errors of one forecast with a correlation between levels."""
    factor = np.linalg.cholesky(correlation + 1e-9 * np.eye(len(correlation)))

    def draw(rng: np.random.Generator, _lead: int) -> Array:
        return sd_m_s * (factor @ rng.standard_normal((len(correlation), 2)))[None]

    return draw


def ensemble(members: int, member_sd_m_s: float, error_sd_m_s: float, levels: int = len(LEVELS_HPA)) -> Errors:
    """Members around a mean that differs from the truth by ``error_sd_m_s``."""

    def draw(rng: np.random.Generator, _lead: int) -> Array:
        centre = rng.normal(0.0, error_sd_m_s, (1, levels, 2))
        return centre + rng.normal(0.0, member_sd_m_s, (members, levels, 2))

    return draw
