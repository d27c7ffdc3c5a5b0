"""Search cells against the normal integral and repeated ensembles; Bayes by hand; the offset after the loss."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.earth import LocalPlane, distance_m
from pappus.errors import NoSolution, OutOfRange
from pappus.recovery import Landings, LastHeard, after_search, loss_offset_m, search_cells

PLANE = LocalPlane(48.0, 11.0)


def landings(seed: int, count: int = 2000, unknown: int = 0, sd_m: float = 800.0) -> Landings:
    points = np.random.default_rng(seed).normal(0.0, sd_m, (count, 2))
    north, east = PLANE.to_latitude_longitude_deg(points[:, 0], points[:, 1])
    return Landings(north, east, np.full(count, 600.0), unknown)


def test_the_offset_of_the_trade() -> None:
    """wind x h / v: 600 m at 5 m/s in 8 m/s of wind is 960 m in 120 s (kinematics)."""
    offset, seconds = loss_offset_m(600.0, 5.0, 8.0)
    assert float(offset) == pytest.approx(960.0, rel=1e-6)
    assert float(seconds) == pytest.approx(120.0, rel=1e-6)
    with pytest.raises(OutOfRange, match="sink"):
        loss_offset_m(600.0, 0.0, 8.0)


@given(st.integers(1, 300), st.integers(0, 50), st.floats(0.05, 0.99), st.floats(1.0, 5000.0), st.integers(0, 9))
def test_cells_hold_what_is_asked(count: int, unknown: int, share: float, sd: float, seed: int) -> None:
    cells = search_cells(landings(seed, count, unknown, sd), share=share)
    landed = count / (count + unknown)
    total = float(cells.probability.sum())
    assert total == pytest.approx(float(cells.cumulative[-1]))
    assert (np.diff(cells.probability) <= 1e-15).all()
    assert (cells.probability_sd >= 0.0).all()
    if share <= landed - 1e-9:
        assert total >= share - 1e-9
        assert total - float(cells.probability[-1]) <= share + 1e-9  # one cell fewer does not hold it
        assert cells.why_less == ""
    else:
        assert total == pytest.approx(landed)
        assert (cells.why_less != "") == (share > landed + 1e-9)


def test_chances_are_those_of_the_normal_law() -> None:
    """2-D normal with sd 800 m, cells of 400 m: the product of two error-function integrals."""
    cells = search_cells(landings(1, 20_000), cell_m=400.0, share=0.9)
    # the grid lies about the median of the landings, some metres from the middle of the law
    east, north = PLANE.to_east_north_m(cells.latitude_deg, cells.longitude_deg)

    def within(middle: float) -> float:
        low, high = ((middle + side) / (800.0 * math.sqrt(2.0)) for side in (-200.0, 200.0))
        return 0.5 * (math.erf(high) - math.erf(low))

    exact = np.array([within(x) * within(y) for x, y in zip(east, north, strict=True)])
    off = cells.probability - exact
    print(f"largest miss {np.abs(off).max():.5f} of {exact.max():.4f}; sampling {cells.probability_sd.max():.5f}")
    # kernels of 0.19 sd blur the peak by 3.7 %
    assert (np.abs(off) <= 0.04 * exact.max() + 4.0 * cells.probability_sd).all()
    assert np.abs(off).max() < 0.08 * exact.max()
    assert cells.cumulative[-1] == pytest.approx(0.9, abs=0.01)
    assert cells.area_km2 == len(cells.probability) * 0.16


def test_sampling_error_is_that_of_repeated_ensembles() -> None:
    """The same four cells in 200 ensembles of 400 flights: their scatter against the error that each states."""
    seen, stated = [], []
    for seed in range(200):
        cells = search_cells(landings(seed, 400), cell_m=500.0, share=0.95)
        east, north = PLANE.to_east_north_m(cells.latitude_deg, cells.longitude_deg)
        order = np.argsort(np.hypot(east - 600.0, north + 300.0))[:4]
        seen.append(cells.probability[order].mean())
        stated.append(cells.probability_sd[order].mean())
    # neighbouring cells share kernels and the grid moves with the median, so only the size is compared
    assert 0.4 < np.std(seen) / np.mean(stated) < 1.6


def test_search_without_a_find_follows_bayes() -> None:
    cells = search_cells(landings(4, unknown=200), share=0.8)
    searched = np.zeros(len(cells.probability), dtype=bool)
    searched[:20] = True
    after = after_search(cells, searched, 0.9)
    hidden = 1.0 - 0.9 * float(cells.probability[:20].sum())
    expected = np.sort(np.where(searched, 0.1, 1.0) * cells.probability / hidden)[::-1]
    assert after.probability == pytest.approx(expected)
    assert after.cumulative[-1] < cells.cumulative[-1]
    outside = 1.0 - float(cells.probability.sum())
    assert float(after.probability.sum()) + outside / hidden == pytest.approx(1.0)
    moved = distance_m(after.latitude_deg[0], after.longitude_deg[0], cells.latitude_deg[0], cells.longitude_deg[0])
    assert moved > cells.cell_m
    with pytest.raises(OutOfRange, match="detection"):
        after_search(cells, searched, 1.0)


def test_the_middle_of_the_best_cell_is_where_most_land() -> None:
    north, east = PLANE.to_latitude_longitude_deg(
        np.concatenate((np.random.default_rng(1).normal(0, 100, 700), np.random.default_rng(2).normal(4000, 100, 300))),
        np.random.default_rng(3).normal(0, 100, 1000),
    )
    cells = search_cells(Landings(north, east, np.zeros(1000), 0), cell_m=50.0)
    x, _ = PLANE.to_east_north_m(cells.latitude_deg, cells.longitude_deg)
    assert abs(x[0]) < 150.0
    assert float(cells.probability[x < 2000.0].sum()) == pytest.approx(0.7, abs=0.06)


def test_what_is_not_known_is_said() -> None:
    last = LastHeard(48.0, 11.0, 900.0, 400.0, 1500.0)
    cells = search_cells(landings(2, unknown=1000), last=last)
    assert cells.why_less
    assert np.isnan(cells.road_m).all()
    assert any("400 m above the ground, 25 min ago" in note for note in cells.notes)
    assert any("1,000 of 3,000" in note for note in cells.notes)
    with pytest.raises(NoSolution, match="no flight landed"):
        search_cells(Landings(np.empty(0), np.empty(0), np.empty(0), 5))
    with pytest.raises(OutOfRange, match="cells of the grid"):
        search_cells(landings(1, sd_m=20_000.0), cell_m=5.0)
    with pytest.raises(ValueError, match="finite"):
        Landings(np.array([np.nan]), np.zeros(1), np.zeros(1), 0)


def test_a_lone_landing_far_away_lies_in_no_cell() -> None:
    many = landings(3, 99)
    north, east = np.append(many.latitude_deg, -30.0), np.append(many.longitude_deg, 170.0)
    cells = search_cells(Landings(north, east, np.zeros(100), 0), share=0.995)
    assert float(cells.probability.sum()) == pytest.approx(0.99)
    assert any("1 flights landed over 300 km" in note for note in cells.notes)
    assert cells.why_less
