"""The prior of the fall law from recorded descents: the exponent between flights, the scatter within a flight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import SEA_LEVEL_DENSITY_KG_M3, FallPrior
from pappus.postflight._record import leg_of
from pappus.postflight.climb_and_fall._descent import seen_speeds_m_s
from pappus.sources import Sounding

Array = NDArray[np.float64]

LEAST_DEPTH_M = 5_000.0
"""Less fall than this cannot tell an exponent from the scatter within a flight."""
FEWEST_FLIGHTS = 3
WITHIN_LN_SD_GRID = np.geomspace(0.03, 0.6, 20)
DEPTH_GRID_M = np.geomspace(500.0, 32_000.0, 19)
LAYER_LN_SD_GRID = np.array([0.01, 0.02, 0.035, 0.05, 0.07, 0.1])
_HALF_CHI2_95 = 1.92
"""Half the 95 % point of chi-square with one degree of freedom."""


@dataclass(frozen=True)
class FallPriorFit:
    """What recorded descents say about the prior of the fall law."""

    prior: FallPrior
    """Its scatter of the exponent holds that between flights and the error of the mean."""
    flights: int
    exponents: tuple[tuple[str, float, float], ...]
    """Flight, n and its standard error."""
    exponent_interval: tuple[float, float]
    exponent_sd_interval: tuple[float, float]
    within_ln_sd_interval: tuple[float, float]
    within_depth_interval_m: tuple[float, float]
    """All 95 %; those of the scatter within a flight end at the grid where the data do not bound them."""
    layer_ln_sd: float
    """Of one layer of 250 m beside the law, independent of the next one."""
    evidence: str
    left_out: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Fall:
    name: str
    height_msl_m: Array
    ln_speed: Array
    columns: Array
    """One, and ln(rho0 / rho)."""


def fit_fall_prior(descents: Sequence[Sounding]) -> FallPriorFit | str:
    """Fit the prior, or say why there is too little to fit.

    Restricted likelihood (Patterson & Thompson 1971, Biometrika 58, 545) for the scatter within a flight, with speed
    scale and exponent free for each flight; then the exponents of all flights as a random effect (Paule & Mandel 1982,
    J. Res. NBS 87, 377; interval by the Q profile, Viechtbauer 2007, Stat. Med. 26, 37), papers from memory.
    """
    falls, left_out = [], []
    for descent in descents:
        fall = _fall_of(descent)
        if isinstance(fall, str):
            left_out.append(f"{descent.source.name}: {fall}")
        else:
            falls.append(fall)
    if len(falls) < FEWEST_FLIGHTS:
        return f"only {len(falls)} descents of {LEAST_DEPTH_M / 1000:.0f} km or more; {FEWEST_FLIGHTS} are needed"
    grids = (WITHIN_LN_SD_GRID, DEPTH_GRID_M, LAYER_LN_SD_GRID)
    likelihood = np.sum([_likelihoods(fall) for fall in falls], axis=0)
    best = np.unravel_index(np.argmax(likelihood), likelihood.shape)
    within_sd, within_depth, layer_sd = (float(grid[i]) for grid, i in zip(grids, best, strict=True))
    near = likelihood >= likelihood.max() - _HALF_CHI2_95
    fits = [_exponent(fall, within_sd, within_depth, layer_sd) for fall in falls]
    exponent, se = (np.array([fit[k] for fit in fits]) for k in (0, 1))
    mean, mean_se, mean_interval, spread, spread_interval = random_effect(exponent, se)
    sd_interval = _reach(WITHIN_LN_SD_GRID, near.any(axis=(1, 2)))
    depth_interval = _reach(DEPTH_GRID_M, near.any(axis=(0, 2)))
    return FallPriorFit(
        prior=FallPrior(mean, float(np.hypot(spread, mean_se)), within_sd, within_depth),
        flights=len(falls),
        exponents=tuple((fall.name, float(n), float(e)) for fall, n, e in zip(falls, exponent, se, strict=True)),
        exponent_interval=mean_interval,
        exponent_sd_interval=spread_interval,
        within_ln_sd_interval=sd_interval,
        within_depth_interval_m=depth_interval,
        layer_ln_sd=layer_sd,
        evidence=(
            f"{len(falls)} recorded descents: exponent {mean:.2f} ({mean_interval[0]:.2f} to {mean_interval[1]:.2f}), "
            f"sd between flights {spread:.2f} ({spread_interval[0]:.2f} to {spread_interval[1]:.2f}), within a flight "
            f"{within_sd:.2f} ({sd_interval[0]:.2f} to {sd_interval[1]:.2f}) over {within_depth / 1000:.1f} km "
            f"({depth_interval[0] / 1000:.1f} to {depth_interval[1] / 1000:.1f})"
        ),
        left_out=tuple(left_out),
    )


def random_effect(values: Array, se: Array) -> tuple[float, float, tuple[float, float], float, tuple[float, float]]:
    """Of estimates with known errors: mean, its error and 95 % interval, standard deviation between units and interval.

    The mean's interval is Student's t about the weighted mean (Hartung & Knapp 2001, Stat. Med. 20, 1771, from memory).
    """
    from scipy.optimize import brentq
    from scipy.stats import chi2, t

    degrees = len(values) - 1

    def weighted(variance: float) -> tuple[float, float]:
        weight = 1.0 / (se**2 + variance)
        middle = float(np.sum(weight * values) / weight.sum())
        return middle, float(np.sum(weight * (values - middle) ** 2))

    def variance_with(q: float) -> float:
        most = 100.0 * float(np.var(values) + np.max(se) ** 2)
        if weighted(0.0)[1] <= q:
            return 0.0
        return most if weighted(most)[1] >= q else float(brentq(lambda v: weighted(v)[1] - q, 0.0, most))

    variance = variance_with(float(degrees))
    middle, q = weighted(variance)
    mean_se = float(np.sqrt(max(q / degrees, 1.0) / np.sum(1.0 / (se**2 + variance))))
    reach = float(t.ppf(0.975, degrees)) * mean_se
    low, high = (float(np.sqrt(variance_with(float(chi2.ppf(p, degrees))))) for p in (0.975, 0.025))
    return middle, mean_se, (middle - reach, middle + reach), float(np.sqrt(variance)), (low, high)


def _reach(grid: Array, near: NDArray[np.bool_]) -> tuple[float, float]:
    """Ends of an interval on a grid: the points just outside what is near enough to the best."""
    inside = np.flatnonzero(near)
    return float(grid[max(inside[0] - 1, 0)]), float(grid[min(inside[-1] + 1, len(grid) - 1)])


def _fall_of(descent: Sounding) -> _Fall | str:
    leg = leg_of(descent)
    if isinstance(leg, str):
        return leg
    height, speed = seen_speeds_m_s(leg, float(leg.height_msl_m[-1]))
    if not len(height) or np.ptp(height) < LEAST_DEPTH_M:
        depth = leg.height_msl_m[0] - leg.height_msl_m[-1]
        return f"{depth:.0f} m of descent, at least {LEAST_DEPTH_M:.0f} m are needed"
    ratio = np.log(SEA_LEVEL_DENSITY_KG_M3 / leg.density_at_kg_m3(height))
    name = f"{descent.source.name}, {descent.release:%Y-%m-%d %H:%MZ}"
    return _Fall(name, height, np.log(speed), np.column_stack([np.ones_like(ratio), ratio]))


def _likelihoods(fall: _Fall) -> Array:
    """Restricted log-likelihood, up to a constant, over the three grids, with scale and exponent free.

    For one depth all covariances share their eigenvectors, so that sd and noise only move the eigenvalues.
    """
    signal, noise = WITHIN_LN_SD_GRID[:, None, None] ** 2, LAYER_LN_SD_GRID[None, :, None] ** 2
    found = []
    for depth in DEPTH_GRID_M:
        values, vectors = np.linalg.eigh(_correlation(fall, depth))
        x, y = vectors.T @ fall.columns, vectors.T @ fall.ln_speed
        variance = signal * np.maximum(values, 0.0) + noise
        information = np.einsum("ki,kj,snk->snij", x, x, 1.0 / variance)
        towards = np.einsum("ki,k,snk->sni", x, y, 1.0 / variance)
        beta = np.linalg.solve(information, towards[..., None])[..., 0]
        misfit = np.sum(y**2 / variance, axis=-1) - np.sum(towards * beta, axis=-1)
        found.append(-0.5 * (np.log(variance).sum(axis=-1) + np.linalg.slogdet(information)[1] + misfit))
    return np.stack(found, axis=1)


def _exponent(fall: _Fall, within_ln_sd: float, within_depth_m: float, layer_ln_sd: float) -> tuple[float, float]:
    """Exponent of one flight by generalised least squares, and its standard error."""
    noise = layer_ln_sd**2 * np.eye(len(fall.ln_speed))
    weighted = np.linalg.solve(within_ln_sd**2 * _correlation(fall, within_depth_m) + noise, fall.columns)
    covariance = np.linalg.inv(fall.columns.T @ weighted)
    return float((covariance @ (weighted.T @ fall.ln_speed))[1]), float(np.sqrt(covariance[1, 1]))


def _correlation(fall: _Fall, depth_m: float) -> Array:
    return np.asarray(np.exp(-np.abs(fall.height_msl_m[:, None] - fall.height_msl_m) / depth_m))
