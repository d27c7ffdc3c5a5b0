"""Re-prediction over many simulated flights: landing error and coverage at six moments, with and without the winds.

Run with ``python benchmarks/rehearsal_study.py [flights]``; ``make evidence`` calls ``study`` and ``study_page``. The
forecast, the plan's places and all flights are invented. Truth is drawn from the project's own model, or from another
one: wind errors half as large again and of half the depth, a canopy that falls faster than its prior, vertical wind.
Each truth is heard as noisy fixes through the estimator; nothing else of it reaches the prediction. A third group sets
the gain by the measured winds beside what the Gaussian update promises: all scatter but that of the wind is taken out
of the prior, for truth and prediction alike, and a cut-down ends the climb, so that no film hangs on the train.
"""

from __future__ import annotations

import math
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from columns import EPOCH, PRIOR
from oracle.forecasts import forecast_field
from pappus.earth import distance_m
from pappus.flight_train import ClimbBend, CutDown
from pappus.inflight import InFlightModel, Prediction, repredict
from pappus.plan import example_plan_text, load_plan
from pappus.tracking import Estimate, Estimator, Fix, LaunchPlace, received
from pappus.trajectory import Draws, Flights, flight_knots, flight_threads, fly
from pappus.wind import FlightKnots, WindPrior, WindSeen, draw_wind_error, posterior, total_covariance

Array = NDArray[np.float64]

MOMENTS = ("release", "half ascent", "burst - 5 min", "burst + 2 min", "10 km down", "5 km down")
FIX_EVERY_S = 10.0
POSITION_SD_M, HEIGHT_SD_M = 4.0, 7.0
GROUND_S = 60.0
CUT_MSL_M = 30_000.0
FLIGHTS = 500
SIGMA, DEPTH, CANOPY, VERTICAL_M_S, VERTICAL_DEPTH_M = 1.5, 0.5, 1.15, 0.5, 2_000.0
"""The other model: factors on the size and depth of the wind errors and on the fall speed; vertical wind."""


@dataclass(frozen=True)
class Shot:
    """One prediction of one flight at one moment."""

    moment: str
    with_winds: bool
    error_m: float
    claimed_m: float
    """Root mean square distance of the ensemble from its middle."""
    inside_50: bool
    inside_90: bool
    area_90_km2: float | None
    wind_ratio: float | None
    """Of the drift that is left, after over before the winds: the exact Gaussian, for the winds alone."""
    drift_left_m: float
    """By the wind errors of this very flight; with winds less what the exact Gaussian says of it."""


@cache
def model_of(quiet: bool, members: int = 1) -> InFlightModel:
    """The example plan in an invented forecast; ``quiet``: nothing varies but the wind, a cut-down ends the climb."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "flight.toml"
        path.write_text(example_plan_text(), encoding="utf-8")
        plan = load_plan(path)
    prior, site = PRIOR, plan.sites[0]
    if quiet:
        train = plan.flight_train
        envelope = replace(train.envelope, burst_ln_sd=1e-4, early_burst_chance=0.0)
        canopy = replace(train.canopy, drag_area_ln_sd=1e-4, fouled_chance=0.0)
        cut = CutDown("at a height", 1, "height", "own barometer", height_msl_m=CUT_MSL_M)
        plan = replace(plan, flight_train=replace(train, envelope=envelope, canopy=canopy, cut_downs=(cut,)),
                       fill=replace(plan.fill, scale_sd_n=1e-3))  # fmt: skip
        fall = replace(PRIOR.flight.fall, exponent_sd=1e-4, within_ln_sd=1e-4)
        flight = replace(PRIOR.flight, drag_factor_ln_sd=1e-4, gas_excess_sd_k=1e-3, leak_chance=0.0, fall=fall,
                         climb_scatter=replace(PRIOR.flight.climb_scatter, low_ln_sd=0.0, high_ln_sd=0.0),
                         release_sd_s=0.0)  # fmt: skip
        prior = replace(PRIOR, flight=flight)
    field = forecast_field(members=members, points=13, times=13, step_deg=1.0)
    return InFlightModel.prepare(plan, field, prior, site, EPOCH + timedelta(hours=2))


def other_wind(prior: WindPrior) -> WindPrior:
    """Errors half as large again that forget over half the depth."""
    return replace(
        prior, sd_m_s=SIGMA * prior.sd_m_s, large_depth_m=DEPTH * prior.large_depth_m,
        wave_depth_m=DEPTH * prior.wave_depth_m,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class TrueWinds:
    """The wind errors of one flight, and where they hold: at the places and times of its own way, as a balloon that
    bursts early comes back through winds that it met a moment before.
    """

    path: Flights
    """The flight without them."""
    knots: FlightKnots
    error_m_s: Array
    """Shape (2L, 2 components), up first."""

    def drift_left_m(self, now_s: float, seen: bool, prior: WindPrior) -> float:
        """Drift by these errors from now on; where the winds are ``seen``, less what the exact Gaussian says of it once
        the knots that were passed are known. Along the way without errors, and by no code of the re-prediction.
        """
        mean = np.zeros((2, len(self.error_m_s)))
        passed = np.flatnonzero((self._seconds(-np.inf) > 0.0) & (self.knots.time_s.ravel() <= now_s))
        if seen and len(passed):
            told = WindSeen(np.eye(len(self.error_m_s))[passed], self.error_m_s[passed], np.full(len(passed), 0.1))
            mean, _ = posterior(total_covariance(self.knots, prior), told)
        return float(np.hypot(*(self._seconds(now_s) @ (self.error_m_s - mean.T))))

    def _seconds(self, from_s: float) -> Array:
        """Spent by each knot from a time on, the wind between two of them being linear."""
        known = np.isfinite(self.path.track_time_s[0])
        time, height = self.path.track_time_s[0, known], self.path.track_height_msl_m[0, known]
        at = np.arange(max(from_s, float(time[0])), float(time[-1]), 1.0)
        levels = self.knots.height_msl_m[0]
        middle = np.interp(at + 0.5, time, height)
        right = np.clip(np.searchsorted(levels, middle), 1, len(levels) - 1)
        share = np.clip((middle - levels[right - 1]) / (levels[right] - levels[right - 1]), 0.0, 1.0)
        leg = np.where(at < float(self.path.top_time_s[0]), 0, len(levels))
        seconds = np.zeros(2 * len(levels))
        np.add.at(seconds, leg + right - 1, 1.0 - share)
        np.add.at(seconds, leg + right, share)
        return seconds


def truth_of(model: InFlightModel, other: bool, seed: int) -> Flights | None:
    """One flight with its track; None when it does not land in the data."""
    return truth_with_winds(model, other, seed)[0]


def truth_with_winds(model: InFlightModel, other: bool, seed: int) -> tuple[Flights | None, TrueWinds]:
    """The same, and its wind errors."""
    rng = np.random.default_rng([seed, 77])
    draws = model.fresh_draws(1, rng)
    draws = replace(draws, member=rng.integers(0, model.conditions.field.members, 1))
    conditions, prior = model.conditions, model.prior.wind
    if other:
        prior = other_wind(prior)
        draws, bend = _vertical(model, draws, rng)
        train = conditions.train
        conditions = conditions.moved(train=replace(train, envelope=replace(train.envelope, climb_bend=bend)))
    path = fly(conditions, draws)
    knots = flight_knots(conditions.field, path, prior)
    error = draw_wind_error(knots, 1, rng, prior)
    flown = fly(conditions, replace(draws, wind_error_m_s=error))
    winds = TrueWinds(path, knots, error[0].reshape(-1, 2).astype(np.float64))
    return flown if flown.landed[0] else None, winds


def _vertical(model: InFlightModel, draws: Draws, rng: np.random.Generator) -> tuple[Draws, ClimbBend]:
    """Vertical wind as a bend of the climb and of the fall, and a canopy that falls faster than thought."""
    heights = model.conditions.field.level_height_msl_m
    apart = np.abs(heights[:, None] - heights)
    root = np.linalg.cholesky(VERTICAL_M_S**2 * np.exp(-apart / VERTICAL_DEPTH_M) + 1e-9 * np.eye(len(heights)))
    up, down = root @ rng.standard_normal((len(heights), 2)).T[0], root @ rng.standard_normal(len(heights))
    _, _, density = model.air.at(heights)
    bend = model.conditions.train.envelope.climb_bend
    thinner = np.log(1.225 / density)
    order = np.argsort(thinner)
    ln_rate = np.log(bend.rate_factor(density)) + np.log(np.maximum(1.0 + up / 5.0, 0.3))
    falls = 5.0 * np.exp(0.5 * np.maximum(thinner, 0.0))
    base = np.zeros((1, len(heights))) if draws.fall_ln is None else draws.fall_ln
    fall_ln = base + math.log(CANOPY) + np.log(np.maximum(1.0 - down / falls, 0.3))
    return replace(draws, fall_ln=fall_ln.astype(np.float32)), ClimbBend(
        tuple(thinner[order].tolist()), tuple(ln_rate[order].tolist())
    )


def moments_of(truth: Flights) -> dict[str, float]:
    """Times of the moments after the epoch that this flight has."""
    start, top, end = float(truth.track_time_s[0, 0]), float(truth.top_time_s[0]), float(truth.end_time_s[0])
    known = np.isfinite(truth.track_time_s[0])
    time, height = truth.track_time_s[0, known], truth.track_height_msl_m[0, known]
    falls = time >= top
    passed = {h: float(np.interp(-h, -height[falls], time[falls])) for h in (10_000.0, 5_000.0)}
    found = {"release": start - 1.0, "half ascent": 0.5 * (start + top), "burst - 5 min": top - 300.0}
    found["burst + 2 min"] = top + 120.0
    if truth.top_height_msl_m[0] > 12_000.0:
        found["10 km down"] = passed[10_000.0]
    if truth.top_height_msl_m[0] > 7_000.0:
        found["5 km down"] = passed[5_000.0]
    return {name: at for name, at in found.items() if at < end - 60.0 and (name == "release" or at > start + 120.0)}


def heard(model: InFlightModel, truth: Flights, until_s: Sequence[float], seed: int) -> list[Estimate]:
    """Estimates at the times, from a noisy fix each ten seconds."""
    rng = np.random.default_rng([seed, 78])
    known = np.isfinite(truth.track_time_s[0])
    track = [values[0, known] for values in (truth.track_time_s, truth.track_latitude_deg, truth.track_longitude_deg,
                                             truth.track_height_msl_m)]  # fmt: skip
    site = model.site
    estimator = Estimator(LaunchPlace(site.latitude_deg, site.longitude_deg, site.height_msl_m))
    times = np.arange(track[0][0] - GROUND_S, max(until_s) + FIX_EVERY_S, FIX_EVERY_S)
    latitude, longitude, height = (np.interp(times, track[0], values) for values in track[1:])
    noise = rng.standard_normal((3, len(times)))
    latitude = latitude + np.degrees(POSITION_SD_M * noise[0] / 6.37e6)
    longitude = longitude + np.degrees(POSITION_SD_M * noise[1] / 6.37e6) / np.cos(np.radians(latitude))
    height = height + HEIGHT_SD_M * noise[2]
    estimates: list[Estimate] = []
    wanted = sorted(until_s)

    def asked(until: float) -> None:
        while wanted and until > wanted[0]:
            estimate = estimator.estimate()
            assert estimate is not None
            estimates.append(estimate)
            wanted.pop(0)

    for index, at in enumerate(times):
        asked(float(at))
        when = model.epoch + timedelta(seconds=float(at))
        fix = Fix(tracker="BALLOON-1", time_utc=when, time_quality="full", latitude_deg=float(latitude[index]),
                  longitude_deg=float(longitude[index]), height_msl_m=float(height[index]), height_ellipsoid_m=None,
                  fix_quality="three-dimensional", checked=True)  # fmt: skip
        estimator.take(received("hill", index, when, "json", str(index).encode()), (fix,))
    asked(math.inf)
    return estimates


def shots_of(seed: int, other: bool, quiet: bool, flights: int = FLIGHTS) -> list[Shot]:
    """All predictions of one flight."""
    model = model_of(quiet)
    truth, winds = truth_with_winds(model, other, seed)
    if truth is None:
        return []
    moments = moments_of(truth)
    order = sorted(moments, key=lambda name: moments[name])
    prior = other_wind(model.prior.wind) if other else model.prior.wind
    shots = []
    with flight_threads() as threads:
        for name, estimate in zip(order, heard(model, truth, list(moments.values()), seed), strict=True):
            for with_winds in (True, False):
                now = model.epoch + timedelta(seconds=moments[name])
                made = repredict(
                    model, estimate, now, flights=flights, seed=seed, with_winds=with_winds, tracks=0, threads=threads
                )
                left_m = winds.drift_left_m(moments[name], with_winds, prior)
                shots.append(shot_of(name, with_winds, made, truth, left_m))
    return shots


def shot_of(name: str, with_winds: bool, made: Prediction, truth: Flights, left_m: float) -> Shot:
    """How one prediction did."""
    end = float(truth.end_latitude_deg[0]), float(truth.end_longitude_deg[0])
    latitude, longitude = made.area.latitude_deg, made.area.longitude_deg
    middle = float(np.median(latitude)), float(np.median(longitude))
    apart = distance_m(*middle, latitude, longitude)
    return Shot(
        name,
        with_winds,
        float(distance_m(*middle, *end)),
        float(np.sqrt(np.mean(apart**2))),
        inside(made, 0, end),
        inside(made, 1, end),
        made.area.parts[1].area_km2,
        made.winds.drift_ratio,
        left_m,
    )


def inside(made: Prediction, part: int, point_deg: tuple[float, float]) -> bool:
    """Whether a place lies in an area: the area counts it as its only flight."""
    rings = [ring for polygon in made.area.parts[part].polygons for ring in polygon]
    only = replace(
        made.area, latitude_deg=np.array(point_deg[:1]), longitude_deg=np.array(point_deg[1:]), landed=1, flights=1
    )
    return bool(rings) and only.probability_inside(rings).p == 1.0


def study(
    flights: int, *, other: bool = False, quiet: bool = False, seed: int = 1, ensemble: int = FLIGHTS, workers: int = 1
) -> list[Shot]:
    """All predictions of so many flights."""
    seeds = [1000 * seed + k for k in range(flights)]
    if workers == 1:
        return [shot for one in seeds for shot in shots_of(one, other, quiet, ensemble)]
    with ProcessPoolExecutor(workers) as pool:
        count = len(seeds)
        made = pool.map(shots_of, seeds, [other] * count, [quiet] * count, [ensemble] * count, chunksize=4)
        return [shot for some in made for shot in some]


def study_page(title: str, shots: Sequence[Shot]) -> list[str]:
    """A table, one line for each moment."""
    lines = [
        f"### {title}",
        "",
        "| moment | flights | error with winds, median / 90 % km | without | 50 % area holds (with / without) | "
        "90 % area holds | 90 % area km2 | ratio of rms errors | claimed | winds alone, exact | on these flights |",
        "|--|--|--|--|--|--|--|--|--|--|--|",
    ]
    for moment in MOMENTS:
        yes = [s for s in shots if s.moment == moment and s.with_winds]
        no = [s for s in shots if s.moment == moment and not s.with_winds]
        if not yes:
            continue

        def km(some: Sequence[Shot]) -> str:
            errors = np.array([s.error_m for s in some]) / 1000.0
            return f"{np.median(errors):.2f} / {np.quantile(errors, 0.9):.2f}"

        def rms(some: Sequence[Shot], of: Callable[[Shot], float]) -> float:
            return float(np.sqrt(np.mean(np.square([of(s) for s in some]))))

        ratio = rms(yes, lambda s: s.error_m) / rms(no, lambda s: s.error_m)
        claimed = rms(yes, lambda s: s.claimed_m) / rms(no, lambda s: s.claimed_m)
        drift = rms(yes, lambda s: s.drift_left_m) / rms(no, lambda s: s.drift_left_m)
        exact = [s.wind_ratio for s in yes if s.wind_ratio is not None]
        lines.append(
            f"| {moment} | {len(yes)} | {km(yes)} | {km(no)} | {np.mean([s.inside_50 for s in yes]):.0%} / "
            f"{np.mean([s.inside_50 for s in no]):.0%} | {np.mean([s.inside_90 for s in yes]):.0%} / "
            f"{np.mean([s.inside_90 for s in no]):.0%} | "
            f"{np.median([s.area_90_km2 or np.nan for s in yes]):.0f} / "
            f"{np.median([s.area_90_km2 or np.nan for s in no]):.0f} | {ratio:.2f} | {claimed:.2f} | "
            f"{np.mean(exact) if exact else 1.0:.2f} | {drift:.2f} |"
        )
    return [*lines, ""]


def main() -> None:
    """The three studies."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    workers = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    for title, other, quiet in (
        ("Nothing varies but the wind", False, True),
        ("Truth from the model", False, False),
        ("Truth from another model", True, False),
    ):
        start = time.perf_counter()
        shots = study(count, other=other, quiet=quiet, workers=workers)
        print("\n".join(study_page(f"{title}: {count} flights, {time.perf_counter() - start:.0f} s", shots)))


if __name__ == "__main__":
    main()
