"""Errors of forecast winds: made errors of known size and reach are found again; the open file stays within bounds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scipy.optimize
import scipy.stats

from pappus.postflight.forecasts._check import WindError, same_hour_correlation, wind_errors
from pappus.postflight.forecasts._resampled import Resampled, interval_95
from pappus.postflight.forecasts._vertical import LENGTHS_M, VerticalCorrelation, vertical_correlation
from pappus.sources import ForecastPairs, read_forecast_pairs
from pappus.wind import WindPrior, forecast_wind_sd_m_s
from postflight.made_pairs import (
    LEVELS_HPA,
    Report,
    correlated,
    ensemble,
    example_prior,
    height_m,
    independent,
    write_pairs,
)

SharedData = Callable[[str], Path]
REAL = "nwp/meps_forecast_vs_radiosonde_20190217.csv.gz"
PRIOR = example_prior()


def prior_sd(lead_h: int, factor: float = 1.0) -> np.ndarray:
    pressure = 100.0 * np.array(LEVELS_HPA)
    return factor * forecast_wind_sd_m_s(pressure, np.full(len(pressure), 3600.0 * lead_h), PRIOR)


def of_levels(errors: tuple[WindError, ...]) -> list[WindError]:
    return [error for error in errors if not np.isnan(error.pressure_pa)]


def test_intervals_hold_the_true_size_as_often_as_they_say(tmp_path: Path) -> None:
    """48 sizes of independent errors: how many 95 % intervals may miss, by the binomial distribution of scipy."""
    leads = (6, 12, 24, 48)
    path = write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=leads, stations=20, hours=10)
    found = of_levels(wind_errors(read_forecast_pairs(path), PRIOR, seed=3))
    assert len(found) == 48
    held = [error.sd_95_m_s[0] <= error.expected_sd_m_s <= error.sd_95_m_s[1] for error in found]
    assert 48 - sum(held) <= scipy.stats.binom.ppf(0.998, 48, 0.05)
    assert [error.verdict == "as expected" for error in found] == held
    # the sonde's own 0.5 m/s is part of what is seen, and said
    assert all(error.noise_sd_m_s == pytest.approx(PRIOR.instrument_sd_m_s) for error in found)
    ratio = [error.sd_m_s / error.expected_sd_m_s for error in found]
    assert np.mean(ratio) == pytest.approx(1.0, abs=0.02)
    # 400 squares of u and v: a width of 4 sd / sqrt(2 n), from the chi2 distribution
    widths = [(error.sd_95_m_s[1] - error.sd_95_m_s[0]) / error.sd_m_s for error in found]
    assert np.mean(widths) == pytest.approx(2 * 1.96 / np.sqrt(2 * 400), rel=0.15)


@pytest.mark.parametrize(("factor", "verdict"), [(1.4, "larger"), (0.6, "smaller")])
def test_errors_of_another_size_are_told(tmp_path: Path, factor: float, verdict: str) -> None:
    path = write_pairs(tmp_path / "a.csv", independent(lambda lead: prior_sd(lead, factor)), leads_h=(0, 24))
    found = wind_errors(read_forecast_pairs(path), PRIOR, seed=3)
    assert {error.verdict for error in found if error.lead_s[1] == 0.0} == {"not judged: lead 0"}
    assert {error.verdict for error in found if error.lead_s[1] > 0.0} == {verdict}
    assert [error.pressure_pa for error in found[:12]] == [100.0 * level for level in LEVELS_HPA]
    assert np.isnan(found[12].pressure_pa)


def test_few_soundings_are_not_judged(tmp_path: Path) -> None:
    path = write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=(24,), stations=3, hours=3)
    found = wind_errors(read_forecast_pairs(path), PRIOR, seed=3)
    assert {error.verdict for error in found} == {"not judged: 9 soundings"}


def test_an_interval_that_agrees_with_anything_is_no_agreement(tmp_path: Path) -> None:
    """One sounding in forty errs twenty times as much as the others."""

    def wild(rng: np.random.Generator, _lead: int) -> np.ndarray:
        return rng.standard_normal((1, len(LEVELS_HPA), 2)) * (30.0 if rng.random() < 0.025 else 1.5)

    path = write_pairs(tmp_path / "a.csv", wild, leads_h=(24,), stations=20, hours=4)
    found = of_levels(wind_errors(read_forecast_pairs(path), PRIOR, seed=3))
    wide = [error for error in found if error.sd_95_m_s[1] > 2.0 * error.sd_95_m_s[0]]
    assert len(wide) > 6
    assert all(error.verdict in ("cannot tell: wide interval", "larger") for error in wide)
    assert any(error.verdict.startswith("cannot tell") for error in wide)
    assert all(error.greatest_share > 0.2 for error in wide)


def test_a_file_without_controls_is_judged_by_all_members(tmp_path: Path) -> None:
    path = write_pairs(tmp_path / "a.csv", ensemble(3, 1.0, 1.0), leads_h=(0, 24))
    pairs = read_forecast_pairs(path)
    assert wind_errors(pairs, PRIOR, seed=1)[-1].forecasts == len(pairs) / 6
    numbered = replace(pairs, member=pairs.member + 1)
    assert wind_errors(numbered, PRIOR, seed=1)[-1].forecasts == len(pairs) / 2


def test_lead_zero_alone_tells_nothing_of_stations(tmp_path: Path) -> None:
    pairs = read_forecast_pairs(write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=(0,)))
    assert same_hour_correlation(pairs)[1] == 0


def test_a_bias_is_found_with_its_interval(tmp_path: Path) -> None:
    shift = np.array([1.5, -0.7])

    def errors(rng: np.random.Generator, _lead: int) -> np.ndarray:
        return rng.normal(0.0, 2.0, (1, len(LEVELS_HPA), 2)) + shift

    found = of_levels(
        wind_errors(read_forecast_pairs(write_pairs(tmp_path / "a.csv", errors, leads_h=(24,))), PRIOR, seed=3)
    )
    inside = [error.bias_u_95_m_s[0] < 1.5 < error.bias_u_95_m_s[1] for error in found]
    inside += [error.bias_v_95_m_s[0] < -0.7 < error.bias_v_95_m_s[1] for error in found]
    assert sum(inside) >= 20
    assert np.mean([error.bias_u_m_s for error in found]) == pytest.approx(1.5, abs=0.1)
    # the size is about zero: bias and spread in quadrature
    sd = np.sqrt(2.0**2 + 0.5 * float((shift**2).sum()) + PRIOR.instrument_sd_m_s**2)
    assert np.mean([error.sd_m_s for error in found]) == pytest.approx(sd, rel=0.02)


def test_blocks_that_are_single_soundings_give_the_plain_bootstrap(tmp_path: Path) -> None:
    """scipy's percentile bootstrap of the same squares."""
    path = write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=(24,), stations=40, hours=1)
    pairs = read_forecast_pairs(path)
    rows = np.flatnonzero(pairs.pressure_pa == 50_000.0)
    square = (pairs.forecast_u_m_s[rows] - pairs.observed_u_m_s[rows]) ** 2
    resampled = Resampled.of(pairs, seed=1)
    ours = interval_95(resampled.sums(rows, square) / resampled.sums(rows, np.ones(rows.size)))
    theirs = scipy.stats.bootstrap(
        (square,), np.mean, method="percentile", n_resamples=4000, rng=np.random.default_rng(2)
    ).confidence_interval
    assert ours == pytest.approx(theirs, rel=0.1)


def test_errors_that_last_all_day_widen_the_interval(tmp_path: Path) -> None:
    """Four soundings a day that say the same are one: twice the width of four that differ."""
    path = write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=(6,), stations=40, hours=8, hours_apart=6)
    pairs = read_forecast_pairs(path)
    rows = np.flatnonzero(pairs.pressure_pa == 50_000.0)
    resampled = Resampled.of(pairs, seed=1)
    assert resampled.weights.shape[1] == 80
    assert resampled.soundings(rows) == 320
    rng = np.random.default_rng(5)
    of_block = rng.standard_normal(80)[resampled.block[rows]]
    counts = resampled.sums(rows, np.ones(rows.size))
    lasting, apart = (
        interval_95(resampled.sums(rows, values) / counts) for values in (of_block, rng.standard_normal(rows.size))
    )
    assert np.ptp(lasting) / np.ptp(apart) == pytest.approx(2.0, rel=0.2)
    assert np.ptp(lasting) == pytest.approx(2 * 1.96 / np.sqrt(80), rel=0.2)


def test_draws_without_data_give_no_interval(tmp_path: Path) -> None:
    path = write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=(6,), stations=2, hours=1)
    pairs = read_forecast_pairs(path)
    one = np.array([0])  # of two blocks, a quarter of the draws lack any one
    assert np.isnan(interval_95(Resampled.of(pairs, seed=1).sums(one, np.ones(1)))).all()


def test_what_stations_share_in_an_hour_is_measured(tmp_path: Path) -> None:
    """numpy's own correlation over all pairs of stations."""
    path = write_pairs(tmp_path / "a.csv", independent(lambda _: 0.0), leads_h=(6,), stations=6, hours=40)
    pairs = read_forecast_pairs(path)
    rng = np.random.default_rng(8)
    hour = np.unique(pairs.valid_s, return_inverse=True)[1]
    level = np.unique(pairs.pressure_pa, return_inverse=True)[1]
    shared = rng.standard_normal((40, 12, 2))[hour, level]
    error = np.sqrt(0.4) * shared + np.sqrt(0.6) * rng.standard_normal(shared.shape)
    made = replace(
        pairs, forecast_u_m_s=pairs.observed_u_m_s + error[:, 0], forecast_v_m_s=pairs.observed_v_m_s + error[:, 1]
    )
    found, couples = same_hour_correlation(made)
    assert couples == 40 * 12 * 15
    table = np.full((6, 40 * 12 * 2), np.nan)
    for component in range(2):
        table[pairs.station, (hour * 12 + level) * 2 + component] = error[:, component]
    reference = np.corrcoef(table)[np.triu_indices(6, 1)].mean()
    assert found == pytest.approx(float(reference), abs=0.02)
    assert found == pytest.approx(0.4, abs=0.05)
    alone = read_forecast_pairs(write_pairs(tmp_path / "b.csv", independent(prior_sd), leads_h=(6,), stations=1))
    assert same_hour_correlation(alone)[1] == 0


FINE_HPA = tuple(float(level) for level in np.geomspace(1000.0, 100.0, 20))


def vertical_of(tmp_path: Path, correlation: np.ndarray, prior: WindPrior, **report: Report) -> VerticalCorrelation:
    path = write_pairs(
        tmp_path / "a.csv", correlated(2.5, correlation), leads_h=(24,), levels_hpa=FINE_HPA, stations=25, **report
    )
    found = vertical_correlation(read_forecast_pairs(path), prior, seed=2)
    assert isinstance(found, VerticalCorrelation)
    return found


def fine_distances_m() -> np.ndarray:
    heights = np.array([height_m(level) for level in FINE_HPA])
    return np.abs(heights[:, None] - heights)


def test_one_length_is_found_again_under_noise_and_rounding(tmp_path: Path) -> None:
    """Errors that correlate as exp(-apart / 2 km); the sonde's error and rounded reports hide none of it."""
    report = {"sonde_report": Report(5.0, 1.0), "forecast_report": Report(1.0, 1.0)}
    found = vertical_of(tmp_path, np.exp(-fine_distances_m() / 2000.0), PRIOR, **report)
    assert found.length_95_m[0] < 2000.0 < found.length_95_m[1]
    assert found.length_m == pytest.approx(2000.0, rel=0.12)
    near = found.apart_m < 1000.0
    assert np.mean(found.correlation[near] - np.exp(-found.apart_m[near] / 2000.0)) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize(("share", "depth_m"), [(0.6, 4000.0), (0.3, 2500.0)])
def test_two_parts_are_found_again(tmp_path: Path, share: float, depth_m: float) -> None:
    """A smooth and a rough part as in the error field; scipy's least squares on the same correlations."""
    apart = fine_distances_m()

    def curve(distance: np.ndarray, s: float, d: float) -> np.ndarray:
        return s * np.exp(-0.5 * (distance / d) ** 2) + (1.0 - s) * np.exp(-distance / PRIOR.wave_depth_m)

    found = vertical_of(tmp_path, curve(apart, share, depth_m), PRIOR)
    assert found.large_share_95[0] < share < found.large_share_95[1]
    assert found.large_depth_95_m[0] < depth_m < found.large_depth_95_m[1]
    (s, d), _ = scipy.optimize.curve_fit(
        curve, found.apart_m, found.correlation, p0=(0.5, 3000.0), sigma=found.profiles**-0.5
    )
    assert found.large_share == pytest.approx(s, abs=0.03)
    assert found.large_depth_m == pytest.approx(d, rel=0.06)  # depths are tried 5 % apart
    assert np.max(LENGTHS_M[1:] / LENGTHS_M[:-1]) < 1.052


def test_nothing_to_fit_is_said(tmp_path: Path) -> None:
    path = write_pairs(tmp_path / "a.csv", independent(prior_sd), leads_h=(0,))
    assert vertical_correlation(read_forecast_pairs(path), PRIOR, seed=1) == "no forecast with a lead time"
    path = write_pairs(tmp_path / "b.csv", independent(prior_sd), leads_h=(24,), stations=2, hours=3)
    said = vertical_correlation(read_forecast_pairs(path), PRIOR, seed=1)
    assert said == "no two levels have 20 profiles together"


@pytest.fixture(scope="module")
def real_pairs(shared_data: SharedData) -> ForecastPairs:
    return read_forecast_pairs(shared_data(REAL))


def test_the_open_file_shows_errors_that_grow(real_pairs: ForecastPairs) -> None:
    """Bounds, not fits: 1 to 6 m/s is what limited-area winds err by (errors of 1.5 to 6 m/s are common practice)."""
    found = wind_errors(real_pairs, PRIOR, seed=1)
    together = [error for error in found if np.isnan(error.pressure_pa)]
    sizes = [error.sd_m_s for error in together]
    print("all levels, m/s by bracket of lead time:", [f"{size:.2f}" for size in sizes])
    assert len(together) == 5
    assert sizes == sorted(sizes)
    assert sizes[0] < 2.0
    assert all(0.8 < error.sd_m_s < 6.0 for error in found)
    assert all(0.5 < error.noise_sd_m_s < 0.8 for error in found)
    # sum of all controls' pairs, counted from the file by itself: member 0 or less, the twin model left out
    assert sum(error.forecasts for error in together) == int((real_pairs.member <= 0).sum())
    correlation, couples = same_hour_correlation(real_pairs)
    assert couples > 3000
    assert abs(correlation) < 0.1  # stations some hundred kilometres apart may be drawn apart


def test_the_open_file_shows_errors_that_fade_within_some_kilometres(real_pairs: ForecastPairs) -> None:
    found = vertical_correlation(real_pairs, PRIOR, seed=1)
    assert isinstance(found, VerticalCorrelation)
    assert found.apart_m.size == 66
    print(f"length {found.length_m:.0f} m {found.length_95_m}, share {found.large_share:.2f} {found.large_share_95}")
    assert 300.0 < found.length_95_m[0] < found.length_m < found.length_95_m[1] < 4000.0
    assert 0.4 < found.correlation[found.apart_m < 700.0].mean() < 0.9
    assert abs(found.correlation[found.apart_m > 10_000.0].mean()) < 0.15
