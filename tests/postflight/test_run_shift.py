"""The landing from run to run: columns whose shift is known, and four real runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from pappus.errors import BadInput
from pappus.export import Grid
from pappus.postflight.forecasts._page import run_shift_section
from pappus.postflight.forecasts._run_shift import run_shifts
from pappus.sources import read_forecast
from pappus.wind import Coverage, WindField

SharedData = Callable[[str], Path]
ISSUED = datetime(2021, 3, 1, tzinfo=UTC)
TEMPERATURE_K = 250.0
GAS_CONSTANT = 287.05287  # of dry air, ISO 2533
SCALE_M = GAS_CONSTANT * TEMPERATURE_K / 9.80665
BOTTOM_M, TOP_M = 500.0, 30_000.0


def column(hours_later: int, wind_u_m_s: Callable[[np.ndarray], np.ndarray], top_m: float = 32_000.0) -> WindField:
    """An isothermal column every 3 h to 96 h; the wind blows by the time after the first issue."""
    issued = ISSUED + timedelta(hours=hours_later)
    heights = np.linspace(BOTTOM_M, top_m, 60)
    time = 3600.0 * np.arange(0.0, 97.0, 3.0)
    shape = (1, time.size, heights.size, 1, 1)
    height = np.broadcast_to(heights[None, None, :, None, None], shape).copy()
    u = np.broadcast_to(wind_u_m_s(time + 3600.0 * hours_later)[None, :, None, None, None], shape).copy()
    coverage = Coverage(issued, issued + timedelta(hours=96), 45.0, 49.0, 8.0, 12.0, BOTTOM_M, top_m)
    return WindField(
        name="made", kind="forecast", issued=issued, epoch=issued, time_s=time,
        latitude_deg=np.array([47.0]), longitude_deg=np.array([10.0]),
        pressure_pa=101_325.0 * np.exp(-height / SCALE_M), height_msl_m=height,
        temperature_k=np.full(shape, TEMPERATURE_K), wind_u_m_s=u, wind_v_m_s=np.zeros(shape),
        coverage=coverage, sources=(),
    )  # fmt: skip


def flight_s() -> float:
    """Rise at 5 m/s; fall in an isothermal air in closed form, 1 kg on 0.64 m2 of drag area."""
    at_sea_level = np.sqrt(2.0 * 9.80665 / (1.225 * 0.64))
    density = 101_325.0 / (GAS_CONSTANT * TEMPERATURE_K)
    reach = 2.0 * SCALE_M * (np.exp(-BOTTOM_M / (2.0 * SCALE_M)) - np.exp(-TOP_M / (2.0 * SCALE_M)))
    return float((TOP_M - BOTTOM_M) / 5.0 + np.sqrt(density / 1.225) * reach / at_sea_level)


def test_runs_that_differ_by_a_steady_wind_shift_by_wind_times_flight() -> None:
    """2 m/s for the whole flight; the ellipsoid at flight height takes off what a mean height of 12 km takes."""
    shifts = run_shifts([column(6, lambda t: 12.0 + 0.0 * t), column(0, lambda t: 10.0 + 0.0 * t)])
    assert [shift.lead_s for shift in shifts] == [
        (43_200.0, 86_400.0), (108_000.0, 172_800.0), (194_400.0, 259_200.0), (280_800.0, 324_000.0)
    ]  # fmt: skip
    for shift in shifts:
        assert shift.mean_m == pytest.approx(2.0 * flight_s(), rel=0.003)
        assert shift.greatest_m == pytest.approx(shift.mean_m, rel=1e-3)
        assert shift.run_pairs == 1


def test_the_same_weather_in_each_run_shifts_nothing() -> None:
    """A wind that changes with the clock: runs issued 6 h apart must read it at the same time."""
    shifts = run_shifts([column(hours, lambda t: 5.0 + t / 7200.0) for hours in (0, 6, 12)])
    assert all(shift.greatest_m < 1e-3 for shift in shifts)
    assert all(len(shift.by_pair_m) == 2 for shift in shifts[:3])


def test_columns_that_cannot_be_compared_are_refused() -> None:
    one = column(0, lambda t: 0.0 * t)
    with pytest.raises(BadInput, match="two or more"):
        run_shifts([one])
    with pytest.raises(BadInput, match="named twice"):
        run_shifts([one, one])
    with pytest.raises(BadInput, match="same point"):
        run_shifts([one, replace(column(6, lambda t: 0.0 * t), latitude_deg=np.array([48.0]))])
    with pytest.raises(BadInput, match="end below 30 km"):
        run_shifts([one, column(6, lambda t: 0.0 * t, top_m=25_000.0)])


def test_four_real_runs_shift_more_the_older_they_are(shared_data: SharedData) -> None:
    """3 to 5 km to 72 h, 8 to 11 to 120 h, 12 to 18 beyond: another program's reckoning on the same files."""
    names = [f"nwp/gfs_kmso_20170401{hour}_bufkit.txt.gz" for hour in ("00", "06", "12", "18")]
    shifts = run_shifts([read_forecast([shared_data(name)])[0].field for name in names])
    print([(shift.lead_s[1] / 3600.0, f"{shift.mean_m / 1000.0:.1f} km") for shift in shifts])
    limits = [(3.0, 5.5), (3.0, 5.5), (3.0, 5.5), (8.0, 11.0), (12.0, 18.0)]
    assert len(shifts) == 5
    for shift, (low, high) in zip(shifts, limits, strict=True):
        assert low < shift.mean_m / 1000.0 < high
        assert shift.run_pairs == 3
    # launches every 6 h from 6 h after each newer run to the last that lands within 180 h of the older one
    assert sum(shift.launches for shift in shifts) == 3 * 28
    grid = run_shift_section(shifts)
    assert isinstance(grid, Grid)
    assert [row[0] for row in grid.rows] == ["12 to 24", "30 to 48", "54 to 72", "78 to 120", "126 to 174"]
    assert all(len(row) == len(grid.columns) for row in grid.rows)
