"""What recorded ascents say about the climb law: how it bends with height, and how flights differ in scale."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse
from pappus.flight_train import DRAG_POWER, ClimbScatter, FlightPrior
from pappus.postflight._campaigns import campaigns
from pappus.postflight._record import Leg, leg_of
from pappus.postflight.climb_and_fall._climb_law import (
    ClimbDraws,
    ClimbShape,
    Layers,
    draw_laws,
)
from pappus.sky import sun_elevation_deg
from pappus.sources import Sounding

Array = NDArray[np.float64]

LAYER_M = 1_000.0
SEEN_LAYERS = 3
"""The first 3 km."""
LEAST_LAYERS = 5
HIGHEST_START_M = 300.0
"""A record that starts higher above its station does not hold the first 3 km."""
SHAPE_STEP = 0.25
SHAPE_TOP = 5.0
"""Grid of ln(density at release over density): 5 is about 35 km."""
LN_SD_GRID = (0.05, 0.07, 0.09, 0.11, 0.13, 0.16, 0.2)
DEPTH_GRID_M = (1_000.0, 2_000.0, 4_000.0, 8_000.0, 16_000.0)
TWIN_S, TWIN_M, TWIN_LN = 120.0, 1_000.0, 0.1
"""Two records this alike in release, place and rate of every layer are of one balloon: two balloons side by side differ
by more in some layer [own choice]."""
FEWEST_FLIGHTS = 5
"""Fewer curves give no mean."""


@dataclass(frozen=True, eq=False)
class ClimbCurve:
    """One recorded ascent against the median flight of the prior in the same air."""

    file: str
    flight: str
    release: datetime
    latitude_deg: float
    longitude_deg: float
    leg: Leg
    layers: Layers
    recorded_m_s: Array
    """Mean rate of each layer, shape (K,)."""
    laws: ClimbDraws
    """Flights of the prior in the same air."""
    law_m_s: Array
    """Their median rate in each layer."""
    ln_ratio: Array
    """ln(recorded over law) on the grid of the shape, less its mean over the first 3 km; NaN above the record."""

    @property
    def first_ln_ratio(self) -> float:
        """ln(recorded over law) over the first 3 km."""
        seen = slice(0, SEEN_LAYERS)
        return float(np.log(np.sum(1.0 / self.law_m_s[seen]) / np.sum(1.0 / self.recorded_m_s[seen])))


@dataclass(frozen=True)
class ClimbScaleFit:
    """How flights differ in the first 3 km; without recorded gas this is fill and drag together."""

    flights: int
    median: float
    """Of recorded over law."""
    median_interval: tuple[float, float]
    """95 %, by order statistics."""
    ln_sd: float
    ln_sd_interval: tuple[float, float]
    """95 %, for a normal ln."""
    drag_factor: float
    """Median drag factor, were every balloon filled as the handbook says."""
    drag_factor_ln_sd: float
    """Scatter of ln(drag factor) under the same: an upper limit, for the fills differ too."""
    evidence: str


def shape_grid() -> Array:
    """Values of ln(density at release over density) at which shapes are given."""
    return np.arange(0.0, SHAPE_TOP + SHAPE_STEP / 2.0, SHAPE_STEP)


def climb_curves(
    soundings: Sequence[Sounding], prior: FlightPrior, rng_seed: int, step: Callable[[str], None] = lambda _: None
) -> tuple[list[ClimbCurve], list[str]]:
    """The curves of all ascents, one for each balloon, and a line for each record that gives none."""
    curves: list[ClimbCurve] = []
    left_out = []
    for ascent in soundings:
        if ascent.is_descent:
            continue
        step(ascent.source.name)
        curve = climb_curve(ascent, prior, rng_seed)
        if isinstance(curve, ClimbCurve):
            twin = next((one for one in curves if _same_balloon(one, curve)), None)
            if twin is None:
                curves.append(curve)
                continue
            curve = f"hung on the balloon of {twin.file}, which counts once"
        left_out.append(f"{ascent.source.name}, {ascent.station} {ascent.release:%Y-%m-%d %H:%MZ}: {curve}")
    return curves, left_out


def _same_balloon(one: ClimbCurve, other: ClimbCurve) -> bool:
    """Two sondes went up from one place at one time and passed every layer alike."""
    if abs((one.release - other.release).total_seconds()) > TWIN_S:
        return False
    apart, *_ = geodesic_inverse(one.latitude_deg, one.longitude_deg, other.latitude_deg, other.longitude_deg)
    layers = min(len(one.recorded_m_s), len(other.recorded_m_s))
    ratio = np.log(one.recorded_m_s[:layers] / other.recorded_m_s[:layers])
    return bool(apart < TWIN_M and np.abs(ratio).max() < TWIN_LN)


def climb_curve(ascent: Sounding, prior: FlightPrior, rng_seed: int) -> ClimbCurve | str:
    """The curve of one ascent, or why it gives none."""
    leg = leg_of(ascent)
    if isinstance(leg, str):
        return leg
    bottom, top = float(leg.height_msl_m[0]), float(leg.height_msl_m[-1])
    ground = ascent.station_height_msl_m
    if ground is not None and bottom - ground > HIGHEST_START_M:
        return f"the record starts {bottom - ground:.0f} m above its station: the first 3 km are not in it"
    if top - bottom < LEAST_LAYERS * LAYER_M:
        return f"the record holds only {top - bottom:.0f} m of ascent"
    layers = layers_over(leg, ascent.latitude_deg, ascent.longitude_deg)
    recorded = LAYER_M / np.diff(leg.time_at_s(layers.edges_msl_m))
    laws = draw_laws(layers, prior, np.random.default_rng(rng_seed))
    law = np.median(laws.rate_m_s, axis=0)
    ratio = np.log(recorded / law)
    on_grid = np.interp(shape_grid(), layers.log_density_ratio, ratio, right=np.nan)
    return ClimbCurve(
        file=ascent.source.name,
        flight=ascent.station,
        release=ascent.release,
        latitude_deg=ascent.latitude_deg,
        longitude_deg=ascent.longitude_deg,
        leg=leg,
        layers=layers,
        recorded_m_s=recorded,
        laws=laws,
        law_m_s=law,
        ln_ratio=on_grid - float(ratio[:SEEN_LAYERS].mean()),
    )


def layers_over(leg: Leg, latitude_deg: float, longitude_deg: float) -> Layers:
    """Whole layers of 1 km from the first level of an ascent to its top, with the air it measured."""
    bottom, top = leg.height_msl_m[0], leg.height_msl_m[-1]
    edges = bottom + LAYER_M * np.arange(int((top - bottom) / LAYER_M) + 1)
    middle = 0.5 * (edges[1:] + edges[:-1])
    # a climb of 5 m/s is near enough to say how high the sun stands
    when = [leg.start + timedelta(seconds=float(above / 5.0)) for above in middle - bottom]
    density = leg.density_at_kg_m3(middle)
    return Layers(
        edges_msl_m=edges,
        pressure_pa=leg.pressure_at_pa(middle),
        temperature_k=np.interp(middle, leg.height_msl_m, leg.temperature_k),
        sun_elevation_deg=sun_elevation_deg(when, latitude_deg, longitude_deg),
        log_density_ratio=np.log(leg.density_kg_m3[0] / density),
    )


def fit_climb_shape(curves: Sequence[ClimbCurve]) -> ClimbShape | str:
    """Mean bend of recorded climbs against the law, or why there is none. Above the flights that go on, the last holds.

    Each campaign counts as one, however many flights it made: its balloons are of one make, filled by one crew. A grid
    point counts where five or more flights reach it.
    """
    if len(curves) < FEWEST_FLIGHTS:
        return f"only {len(curves)} flights; at least {FEWEST_FLIGHTS} are needed"
    groups = campaigns(curves)
    curves = [curve for group in groups for curve in group]
    weight = np.array([1.0 / len(group) for group in groups for _ in group])
    table = np.stack([curve.ln_ratio for curve in curves])
    reached = np.isfinite(table).sum(axis=0) >= FEWEST_FLIGHTS
    grid, table = shape_grid()[reached], table[:, reached]
    shares = weight[:, None] * np.isfinite(table)
    shares = shares / shares.sum(axis=0)
    mean = np.nansum(shares * table, axis=0)
    deepest = int(np.argmin(mean))
    scatter = _fit_scatter(curves, weight, grid, mean)
    low, high = scatter.low_ln_sd, scatter.high_ln_sd
    evidence = (
        f"{len(curves)} recorded ascents of {len(groups)} campaigns, each of which counts as one: slower than the law "
        f"by {-np.expm1(mean[deepest]):.0%} where the air is {np.exp(grid[deepest]):.1f} times thinner than at "
        f"release, {np.expm1(mean[-1]):+.0%} at {np.exp(grid[-1]):.0f} times; flights stray by "
        f"{low:.0%} below 10 km and {high:.0%} above 15 km over {scatter.depth_m / 1000:g} km"
    )
    return ClimbShape(grid, mean, scatter, len(curves), evidence)


def _fit_scatter(curves: Sequence[ClimbCurve], weight: Array, grid: Array, ln_rate: Array) -> ClimbScatter:
    """Likeliest straying from the bent law, on a grid; each flight is free in scale, each campaign counts as one.

    With the scale as a fixed effect (restricted likelihood, Patterson & Thompson 1971, from memory), flights weighed
    by one over the flights of their campaign (composite likelihood: Varin, Reid & Firth 2011, from memory).
    """
    candidates = (ClimbScatter(*point) for point in product(LN_SD_GRID, LN_SD_GRID, DEPTH_GRID_M))
    return max(
        candidates,
        key=lambda scatter: sum(
            share * _likelihood(curve, grid, ln_rate, scatter) for share, curve in zip(weight, curves, strict=True)
        ),
    )


def _likelihood(curve: ClimbCurve, grid: Array, ln_rate: Array, scatter: ClimbScatter) -> float:
    layers = curve.layers
    off = np.log(curve.recorded_m_s / curve.law_m_s) - np.interp(layers.log_density_ratio, grid, ln_rate)
    root = np.linalg.cholesky(scatter.covariance(layers.middle_msl_m))
    x, y = np.linalg.solve(root, np.column_stack([np.ones_like(off), off])).T
    information = float(x @ x)
    misfit = float(y @ y) - float(x @ y) ** 2 / information
    return float(-np.log(np.diag(root)).sum() - 0.5 * (np.log(information) + misfit))


def fit_drag_factor(curves: Sequence[ClimbCurve]) -> ClimbScaleFit | str:
    """Scale of the climb over its first 3 km against the law, and the drag factor that it would stand for."""
    from scipy.stats import binom, chi2

    n = len(curves)
    if n < FEWEST_FLIGHTS:
        return f"only {n} flights; at least {FEWEST_FLIGHTS} are needed"
    ln_ratio = np.sort([curve.first_ln_ratio for curve in curves])
    sd = float(np.std(ln_ratio, ddof=1))
    # the k-th smallest and the k-th largest hold the median with 1 - 2 P(fewer than k of n lie below it)
    k = max(int(binom.ppf(0.025, n, 0.5)), 1)
    low, high = (float(sd * np.sqrt((n - 1) / chi2.ppf(p, n - 1))) for p in (0.975, 0.025))
    median = float(np.exp(np.median(ln_ratio)))
    interval = float(np.exp(ln_ratio[k - 1])), float(np.exp(ln_ratio[n - k]))
    power = 2.0 + DRAG_POWER
    return ClimbScaleFit(
        flights=n,
        median=median,
        median_interval=interval,
        ln_sd=sd,
        ln_sd_interval=(low, high),
        drag_factor=median**-power,
        drag_factor_ln_sd=power * sd,
        evidence=(
            f"{n} recorded ascents, first 3 km: climb over law {median:.2f} ({interval[0]:.2f} to {interval[1]:.2f}), "
            f"ln sd {sd:.2f} ({low:.2f} to {high:.2f}); fills not recorded, so fill and drag cannot be told apart"
        ),
    )
