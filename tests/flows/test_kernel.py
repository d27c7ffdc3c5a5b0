"""The compiled kernel against two other programs: plain numpy over all flights, and tiny steps in time."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from columns import SITE, column_field, example_train
from ensembles import ensemble
from oracle.forecasts import forecast_field, hills
from oracle.plain_flights import fly_plainly
from oracle.tiny_steps import land_by_tiny_steps
from pappus.earth import distance_m
from pappus.errors import OutOfRange
from pappus.flight_train import CutDown, FillWish
from pappus.ground import FlatGround, TerrainGrid
from pappus.trajectory import (
    AscentEnd,
    Conditions,
    Draws,
    Flights,
    Outcome,
    fly,
    join_flights,
    kernel_is_compiled,
)
from pappus.wind import WindField


def compared(shared: Conditions, draws: Draws) -> tuple[Flights, Flights]:
    """Both ways; the same ends, and 99 % of the last known positions within 10 m of each other."""
    heights = (5_000.0, 18_000.0)
    kernel, plain = fly(shared, draws, heights_msl_m=heights), fly_plainly(shared, draws)
    assert np.array_equal(kernel.outcome, plain.outcome)
    assert np.array_equal(kernel.ascent_end, plain.ascent_end)
    apart = distance_m(
        kernel.end_latitude_deg, kernel.end_longitude_deg, plain.end_latitude_deg, plain.end_longitude_deg
    )
    print(f"kernel to plain numpy: median {np.median(apart):.2f} m, largest {apart.max():.2f} m")
    assert np.quantile(apart, 0.99) < 10.0
    assert np.quantile(np.abs(kernel.top_height_msl_m - plain.top_height_msl_m), 0.99) < 2.0
    assert np.quantile(np.abs(kernel.end_time_s - plain.end_time_s), 0.99) < 2.0
    assert np.array_equal(np.isnan(kernel.touchdown_m_s), np.isnan(plain.touchdown_m_s))
    assert np.nanquantile(np.abs(kernel.touchdown_m_s / plain.touchdown_m_s - 1.0), 0.98) < 1e-4
    for height in heights:
        assert np.quantile(np.abs(kernel.time_above_s(height) - plain.time_above_s(height)), 0.99) < 2.0
    return kernel, plain


def test_members_terrain_and_wind_error_as_in_plain_numpy() -> None:
    kernel, _ = compared(*ensemble(300))
    assert kernel.landed.all()
    assert kernel.end_height_msl_m.std() > 50.0  # they did come down on hills


def test_all_cut_downs_as_in_plain_numpy() -> None:
    south, north, west, east = SITE[0] - 2.0, SITE[0] + 2.0, SITE[1] - 2.0, SITE[1] + 0.95
    area = ((south, west), (south, east), (north, east - 0.2), (north, west))
    train = example_train(
        CutDown("timer", 1, "time", "timer", after_release_s=5_500.0),
        CutDown("ceiling", 1, "height", "gnss", height_msl_m=30_000.0),
        CutDown("fence", 2, "area", "gnss", keep_inside_deg=area),
        CutDown("radio", 1, "command", "radio"),
        early_burst_chance=0.3,
    )
    shared, draws = ensemble(300, train=train)
    kernel, _ = compared(shared, draws)
    cut = kernel.ascent_end == AscentEnd.CUT_DOWN
    by_timer = cut & (np.abs(kernel.top_time_s - draws.release_delay_s - 5_500.0) < 1e-6)
    by_height = cut & (np.abs(kernel.top_height_msl_m - 30_000.0) < 1e-6)
    assert by_timer.sum() > 5
    assert by_height.sum() > 5
    assert (cut & ~by_timer & ~by_height).sum() > 5  # by the fence
    assert (kernel.ascent_end == AscentEnd.BURST).sum() > 20


def test_floaters_as_in_plain_numpy() -> None:
    """So little free lift that the film's squeeze stops some flights for good and others for a while."""
    train = example_train()
    train = replace(train, envelope=replace(train.envelope, burst_diameter_m=8.6))
    field = column_field(u=lambda z: 3.0 * np.sin(z / 5_000.0))
    shared, draws = ensemble(
        120, field=field, train=train, wish=FillWish("free_lift", 1.6), longest_flight_s=6 * 3600.0
    )
    kernel, _ = compared(shared, draws)
    assert 5 < (kernel.outcome == Outcome.STILL_ALOFT).sum() < 115


@pytest.mark.parametrize(
    "field",
    [
        forecast_field(points=5),
        forecast_field(times=3),
        column_field(u=lambda z: 9.0 + 0.0 * z, radius_m=75_000.0),
        column_field(u=lambda z: 12.0 + 0.0 * z, site=(SITE[0], 179.9), radius_m=95_000.0),
        column_field(top_msl_m=32_500.0),
    ],
    ids=["box", "time", "disc", "disc over the date line", "top"],
)
def test_the_end_of_the_winds_as_in_plain_numpy(field: WindField) -> None:
    shared, draws = ensemble(150, field=field)
    if field.kind == "sounding":
        site = field.coverage.centre_deg
        assert site is not None
        shared = replace(shared, release=replace(shared.release, latitude_deg=site[0], longitude_deg=site[1]))
    kernel, _ = compared(shared, draws)
    assert (kernel.outcome == Outcome.LEFT_COVERAGE).sum() > 5


def test_within_ten_metres_of_tiny_steps() -> None:
    """Runge-Kutta in time, 4 s, double precision; heights come out of it and not levels."""
    shared, draws = ensemble(40)
    shared = replace(shared, ground=FlatGround(150.0, "flat"))
    kernel, tiny = fly(shared, draws), land_by_tiny_steps(shared, draws, step_s=4.0)
    apart = distance_m(kernel.end_latitude_deg, kernel.end_longitude_deg, tiny.latitude_deg, tiny.longitude_deg)
    print(f"kernel to tiny steps: median {np.median(apart):.2f} m, largest {apart.max():.2f} m")
    assert np.quantile(apart, 0.99) < 10.0
    assert np.abs(kernel.top_height_msl_m - tiny.top_msl_m).max() < 3.0
    assert np.abs(kernel.end_time_s - tiny.time_s).max() < 3.0


def test_threads_and_neighbours_change_no_bit() -> None:
    numba = pytest.importorskip("numba")
    shared, draws = ensemble(600)
    before, found = numba.get_num_threads(), []
    for threads in (1, min(2, before)):
        numba.set_num_threads(threads)
        found.append(fly(shared, draws, heights_msl_m=(10_000.0,)))
    numba.set_num_threads(before)
    for field in fields(Flights):
        first, second = (getattr(flights, field.name) for flights in found)
        assert np.array_equal(first, second, equal_nan=True) if isinstance(first, np.ndarray) else first == second
    for row in (0, 31, 32, 599):
        alone = fly(shared, Draws(**{field.name: getattr(draws, field.name)[[row]] for field in fields(Draws)}))
        assert alone.end_latitude_deg[0] == found[0].end_latitude_deg[row]
        assert alone.end_time_s[0] == found[0].end_time_s[row]


def test_tracks_are_kept_for_the_first_flights_only() -> None:
    shared, draws = ensemble(50)
    few, all_of_them = fly(shared, draws, heights_msl_m=(12_000.0,), tracks=7), fly(shared, draws)
    assert few.track_time_s.shape[0] == 7
    steps = few.track_time_s.shape[1]
    assert np.array_equal(few.track_height_msl_m, all_of_them.track_height_msl_m[:7, :steps], equal_nan=True)
    assert np.allclose(few.time_above_s(12_000.0), all_of_them.time_above_s(12_000.0), atol=1e-6)
    with pytest.raises(ValueError, match="13000 m was not asked for"):
        few.time_above_s(13_000.0)
    joined = join_flights([few, few])
    assert list(joined.tracked) == [0, 1, 2, 3, 4, 5, 6, 50, 51, 52, 53, 54, 55, 56]
    assert np.array_equal(joined.time_above_s(12_000.0)[50:], few.time_above_s(12_000.0))
    with pytest.raises(ValueError, match="different heights"):
        join_flights([few, all_of_them])


def test_terrain_grids_lie_on_each_other_as_they_do_elsewhere() -> None:
    """A fine grid with a hole over a coarse one over flat land, given in another convention of longitudes."""
    shared, draws = ensemble(200)
    fine = hills(201)
    holed = fine.grid_msl_m.copy()
    holed[60:120, 100:150] = np.nan
    coarse = TerrainGrid(
        SITE[0] + np.array([-3.0, -1.0, 0.3, 2.0]), SITE[1] + 360.0 + np.array([-3.0, 0.0, 1.0, 5.0]),
        np.arange(16.0).reshape(4, 4) * 20.0, "coarse", FlatGround(40.0, "flat"),
    )  # fmt: skip
    small = slice(50, 150)
    patch = TerrainGrid(
        fine.latitude_deg[small], fine.longitude_deg[small], holed[small, small], "fine with a hole", coarse
    )
    kernel, _ = compared(replace(shared, ground=patch), draws)
    ground = patch.height_msl_m(kernel.end_latitude_deg, kernel.end_longitude_deg)
    assert np.quantile(np.abs(kernel.end_height_msl_m - ground), 0.9) < 5.0


def test_what_the_kernel_cannot_read_is_refused() -> None:
    shared, draws = ensemble(3)
    field = shared.field
    wind = field.wind_u_m_s.copy()
    wind[0, 0, 3, 0, 0] = np.nan
    with pytest.raises(ValueError, match="not numbers"):
        fly(replace(shared, field=replace(field, wind_u_m_s=wind)), draws)
    with pytest.raises(OutOfRange, match="air temperature"):
        fly(replace(shared, field=replace(field, temperature_k=field.temperature_k - 273.15)), draws)
    with pytest.raises(ValueError, match="members"):
        fly(shared, replace(draws, member=draws.member + 3))
    assert draws.wind_error_m_s is not None
    with pytest.raises(ValueError, match="wind error"):
        fly(shared, replace(draws, wind_error_m_s=draws.wind_error_m_s[:, :, 1:]))


def test_the_next_start_finds_the_kernel_compiled(tmp_path: Path) -> None:
    shared, draws = ensemble(1)
    fly(shared, draws)
    assert kernel_is_compiled()
    ask = "from pappus.trajectory import kernel_is_compiled; print(kernel_is_compiled())"

    def asked(**more: str) -> str:
        path = os.pathsep.join(place for place in sys.path if place)
        environment = {**os.environ, "PYTHONPATH": path, **more}
        return subprocess.run(
            [sys.executable, "-c", ask], env=environment, capture_output=True, text=True, check=True
        ).stdout.strip()

    assert asked() == "True"
    assert asked(NUMBA_CACHE_DIR=str(tmp_path)) == "False"
