"""Rates, winds and burst times against answers worked out in another way, and whether their spreads are honest."""

from __future__ import annotations

import time
import tracemalloc
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from flown import fix_at, made, noisy, packets

from pappus.earth import geodesic_direct
from pappus.tracking import Estimator, _estimator, _track, received
from pappus.tracking._burst import fit_fall_start
from pappus.tracking._climb import HEIGHT_SD_M, RATE_SD_START_M_S, RATE_WALK_M2_S3, first_climb, next_climb
from pappus.tracking._limits import east_north_m


def test_the_filter_is_the_exact_posterior() -> None:
    """One batch solve of the same Gaussian model, all heights at once; learning of the noise switched off by chance."""
    rng = np.random.default_rng(2)
    times = np.cumsum(rng.uniform(0.5, 12.0, 30))
    heights = 1000.0 + 5.0 * times + rng.normal(0.0, 4.0, 30)
    climb = first_climb(float(times[0]), float(heights[0]))
    noise = []
    for t, h in zip(times[1:], heights[1:], strict=True):
        noise.append(climb.noise_var_m2)
        climb = next_climb(climb, float(t), float(h))
        assert abs(climb.surprise) < 3.5
    # states (height, rate) at every time; prior of the first, then steps with white-noise acceleration
    n = len(times)
    precision, shift = np.zeros((2 * n, 2 * n)), np.zeros(2 * n)
    first = np.diag([1.0 / HEIGHT_SD_M**2, 1.0 / RATE_SD_START_M_S**2])
    precision[:2, :2] += first
    shift[:2] += first @ [heights[0], 0.0]
    for k in range(1, n):
        dt = times[k] - times[k - 1]
        step = np.array([[1.0, dt], [0.0, 1.0]])
        walk = np.linalg.inv(RATE_WALK_M2_S3 * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]]))
        both = np.hstack([-step, np.eye(2)])
        here = slice(2 * k - 2, 2 * k + 2)
        precision[here, here] += both.T @ walk @ both
        precision[2 * k, 2 * k] += 1.0 / noise[k - 1]
        shift[2 * k] += heights[k] / noise[k - 1]
    covariance = np.linalg.inv(precision)
    mean = covariance @ shift
    assert climb.height_msl_m == pytest.approx(mean[-2], abs=1e-5)
    assert climb.rate_m_s == pytest.approx(mean[-1], abs=1e-6)
    assert climb.height_var_m2 == pytest.approx(covariance[-2, -2], rel=1e-6)
    assert climb.rate_var_m2_s2 == pytest.approx(covariance[-1, -1], rel=1e-6)


@pytest.mark.parametrize("sd_m", [5.0, 12.0, 25.0])
def test_the_noise_is_learned_and_the_rate_is_as_good_as_told(sd_m: float) -> None:
    ratios, learned = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        climb = first_climb(0.0, float(rng.normal(0.0, sd_m)))
        for t in range(1, 200):
            climb = next_climb(climb, float(t), 5.0 * t + float(rng.normal(0.0, sd_m)))
        ratios.append((climb.rate_m_s - 5.0) / climb.rate_var_m2_s2**0.5)
        learned.append(climb.noise_var_m2**0.5)
    assert np.median(learned) == pytest.approx(sd_m, rel=0.25)
    # the rate here never wanders, and the filter leaves room for one that does: it may only be too careful
    assert np.sqrt(np.mean(np.square(ratios))) < 1.1


def test_a_step_of_the_rate_is_taken_up_in_a_few_heights() -> None:
    climb = first_climb(0.0, 20_000.0)
    for t in range(1, 60):
        climb = next_climb(climb, float(t), 20_000.0 + 5.0 * t)
    for t in range(60, 65):
        climb = next_climb(climb, float(t), 20_295.0 - 25.0 * (t - 59))
    assert climb.rate_m_s == pytest.approx(-25.0, abs=3.0)


@pytest.mark.parametrize(("latitude_deg", "azimuth_deg"), [(0.0, 45.0), (48.0, 100.0), (-70.0, 300.0), (80.0, 20.0)])
def test_short_ways_are_those_of_the_geodesic(latitude_deg: float, azimuth_deg: float) -> None:
    """Reference: Karney's geodesic (2013) in pappus.earth, checked there against GeographicLib."""
    for distance in (50.0, 5_000.0, 50_000.0):
        lat, lon, _ = geodesic_direct(latitude_deg, 179.99, azimuth_deg, distance)
        east, north = east_north_m(latitude_deg, 179.99, lat, lon, 0.0)
        assert np.hypot(east, north) == pytest.approx(distance, rel=1e-4)
        middle = 0.5 * (azimuth_deg + (np.degrees(np.arctan2(east, north)) % 360.0))
        assert middle == pytest.approx(azimuth_deg, abs=1.5)


def test_wind_spreads_are_honest() -> None:
    """Invented flights with noise of 5 m and gusts of 0.8 m/s that last 20 s: told spread against error of the mean."""
    truth = made(top_msl_m=6000.0, ground_s=20.0, landed_s=20.0)
    ratios: dict[str, list[float]] = {"up": [], "down": []}
    for seed in range(6):
        rng = np.random.default_rng(seed)
        flown = noisy(truth, seed, sd_m=5.0)
        # an Ornstein-Uhlenbeck gust, added up to a displacement
        gust, way, ways = 0.0, 0.0, []
        for _ in flown.time_s:
            gust += -gust / 20.0 + rng.normal(0.0, 0.8 * np.sqrt(2.0 / 20.0))
            way += gust
            ways.append(way)
        east_deg = np.degrees(np.array(ways) / 6.39e6) / np.cos(np.radians(48.0))
        fixes = [
            fix_at(flown, i, longitude_deg=float(flown.longitude_deg[i] + east_deg[i]))
            for i in range(len(flown.time_s))
        ]
        estimator = Estimator()
        for heard, fix in packets(flown, fixes):
            estimator.take(heard, fix)
        last = estimator.estimate()
        assert last is not None
        for layer in last.wind:
            if layer.seconds > 20.0 and 750.0 <= layer.low_msl_m <= 5500.0:
                ratios[layer.leg].append((layer.wind_u_m_s - 15.0) / layer.wind_sd_m_s)
    for leg, found in ratios.items():
        spread = float(np.sqrt(np.mean(np.square(found))))
        print(f"{leg}: {len(found)} layers, error over spread {spread:.2f} rms")
        assert len(found) > 110
        assert 0.6 < spread < 1.4
        assert (np.abs(found) > 3.0).mean() < 0.03


def test_the_start_of_a_fall_is_found_as_well_as_told() -> None:
    """A fall stepped through in 10 ms with drag of the square of the speed in thinning air, noise of 8 m, 1 Hz."""
    offs, ratios = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        climb, terminal, burst_s = rng.uniform(3.0, 7.0), rng.uniform(10.0, 45.0), rng.uniform(60.0, 61.0)
        h, v, t, rows = 25_000.0, climb, 0.0, []
        while t < burst_s + 30.0:
            if abs(t - round(t)) < 1e-6:
                rows.append((t, h + float(rng.normal(0.0, 8.0))))
            if t >= burst_s:
                w = terminal * np.exp((h - 25_000.0 - climb * burst_s) / 13_000.0)
                v += 0.01 * (-9.8 + 9.8 * (v / w) ** 2 * (1.0 if v < 0.0 else -1.0))
            h, t = h + 0.01 * v, round(t + 0.01, 2)
        found = fit_fall_start(rows, float(np.ceil(burst_s)) + 2.0)
        assert found is not None
        offs.append(found.time_utc.timestamp() - burst_s)
        ratios.append(offs[-1] / found.time_sd_s)
    print(f"start of a fall: off by {np.mean(offs):.1f} s in the mean, {np.std(offs):.1f} s scatter")
    # a box rises on for v/g = 0.5 s after the burst, which the model leaves out
    assert abs(np.mean(offs)) < 1.0
    assert np.sqrt(np.mean(np.square(ratios))) < 1.2
    assert np.abs(offs).max() < 5.0


def test_more_than_two_thousand_fixes_a_second() -> None:
    """Of the processor: another test may be running beside."""
    log = packets(noisy(made(top_msl_m=5000.0), 1))
    estimator = Estimator()
    began = time.process_time()
    for heard, fixes in log:
        estimator.feed(heard, fixes)
    rate = len(log) / (time.process_time() - began)
    print(f"{rate:.0f} fixes a second")
    assert rate > 2000


def test_memory_stays_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Five fixes a second heard by ten receivers; what is remembered is cut short, so that it is full soon."""
    monkeypatch.setattr(_track, "REMEMBERED", 100)
    monkeypatch.setattr(_track, "MOST_KEPT", 100)
    monkeypatch.setattr(_track, "FLOWN_MOST", 20)
    monkeypatch.setattr(_estimator, "IDENTITIES_KEPT", 20)
    start = datetime(2026, 5, 1, 9, tzinfo=UTC)
    flown, estimator, count, sizes = made(top_msl_m=1000.0), Estimator(), 0, []
    tracemalloc.start()
    try:
        for tick in range(1400):
            when = start + timedelta(seconds=tick / 5)
            # ten minutes about one height, as at float: one layer of wind
            height = 5000.0 + 30.0 * np.sin(tick / 60.0)
            fix = fix_at(flown, 0, time_utc=when, latitude_deg=48.0 + 1e-5 * tick, height_msl_m=float(height))
            for number in range(10):
                count += 1
                when_heard = when + timedelta(seconds=0.2)
                estimator.take(received(f"hill {number}", count, when_heard, "json", b"%d" % tick), (fix,))
            if tick in (699, 1399):
                sizes.append(tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    print(f"{sizes[0] / 1e3:.0f} kB after {count // 2} packets, {sizes[1] / 1e3:.0f} kB after {count}")
    estimate = estimator.estimate()
    assert estimate is not None
    assert (estimate.trackers[0].accepted, estimate.trackers[0].duplicates) == (1400, 9 * 1400)
    assert len(estimator.flown()) <= 20 + 120 // 5 + 1
    assert sizes[1] < 1.1 * sizes[0]
