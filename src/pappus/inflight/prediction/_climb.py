"""What the climb so far tells of gas, drag and burst: balloons drawn from the prior, weighed by the rates seen.

The laws are drawn and their rates worked out once, before the flight. Each new rate then only changes their weights.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import dynamic_viscosity_pa_s
from pappus.earth import gravity_m_s2
from pappus.flight_train import (
    EARLY_BURST_FLOOR_MSL_M,
    Fill,
    FlightPrior,
    FlightTrain,
    climb_rate_m_s,
    gas_excess_k,
    height_share,
    inflated_diameter_m,
    molar_mass_kg_mol,
    sphere_volume_m3,
    square_root,
)
from pappus.inflight.prediction._air import AirColumn
from pappus.trajectory import Draws, Sun, joined_draws, sample_draws

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

LAYER_M = 1_000.0
SLOWEST_M_S = 0.3
"""A layer takes a law no longer than at this rate; slower ones hardly leave their height."""
LAWS = (3_000, 750, 750)
"""As the plan and its prior have them; all with a leak; with gas and drag scattered wider. Weights make up for it."""
WIDER = 2.5
BADLY = 4.0
"""Mean square of the best law's misfit, in standard deviations, beyond which no law of the plan fits the climb."""
RATE_SD_M_S = 0.1
"""Of a rate over a layer, from the noise of two heights [own prior]."""


@dataclass(frozen=True, eq=False)
class ClimbSeen:
    """Mean rates of layers of about 1 km, shape (S,), and the rate now."""

    middle_msl_m: Array
    rate_m_s: Array
    sd_m_s: Array
    """Noise of each rate as measured."""


@dataclass(frozen=True, eq=False)
class ClimbLaws:
    """Balloons, their weight in the prior, and how fast each climbs; N laws, K layers."""

    draws: Draws
    weight: Array
    middle_msl_m: Array
    """Shape (K,)."""
    rate_m_s: Array
    """Shape (N, K)."""

    def rate_at_m_s(self, height_msl_m: Array) -> Array:
        """Rates at heights, linear between the layers' middles, shape (N, M)."""
        heights = np.asarray(height_msl_m, dtype=float)
        right = np.clip(np.searchsorted(self.middle_msl_m, heights), 1, len(self.middle_msl_m) - 1)
        low, high = self.middle_msl_m[right - 1], self.middle_msl_m[right]
        share = np.clip((heights - low) / (high - low), 0.0, 1.0)
        return np.asarray(self.rate_m_s[:, right - 1] * (1.0 - share) + self.rate_m_s[:, right] * share)


@dataclass(frozen=True, eq=False)
class Lift:
    """The balloon as it is now, for N flights."""

    draws: Draws
    """Gas that is left now, its leak as a share of that; burst diameters above the present one; how the climb strays
    from its law on the levels that are flown.
    """
    fits: bool
    """Whether any balloon of the plan climbs like this one."""
    effective_laws: float


def climb_laws(
    train: FlightTrain,
    fill: Fill,
    prior: FlightPrior,
    scale_sd_n: float,
    air: AirColumn,
    sun: Sun,
    *,
    release_msl_m: float,
    release_s: float,
    nominal_top_msl_m: float,
    rng: np.random.Generator,
) -> ClimbLaws:
    """Laws of the plan's balloon, with rates from the release upwards in the air along the nominal climb."""

    def drawn(count: int, wider: float, leaks: FlightPrior) -> Draws:
        return sample_draws(
            train, fill, replace(leaks, drag_factor_ln_sd=wider * leaks.drag_factor_ln_sd,
                                 gas_excess_sd_k=leaks.gas_excess_sd_k),
            flights=count, members=1, scale_sd_n=wider * scale_sd_n, nominal_top_msl_m=nominal_top_msl_m,
            level_height_msl_m=np.zeros(1), rng=rng,
        )  # fmt: skip

    parts = [
        drawn(LAWS[0], 1.0, prior),
        drawn(LAWS[1], 1.0, replace(prior, leak_chance=1.0)),
        drawn(LAWS[2], WIDER, prior),
    ]
    draws = joined_draws(parts)
    edges = np.arange(release_msl_m, nominal_top_msl_m + 6.0 * LAYER_M, LAYER_M)
    middle = 0.5 * (edges[1:] + edges[:-1])
    rates = _rates_m_s(draws, train, middle, air, sun, release_s)
    return ClimbLaws(draws, _prior_weight(draws, fill, train, prior, scale_sd_n), middle, rates)


def _prior_weight(draws: Draws, fill: Fill, train: FlightTrain, prior: FlightPrior, scale_sd_n: float) -> Array:
    """Density of the prior over that of the mixture that the laws were drawn from, sum 1."""
    fill_spread = scale_sd_n / max(fill.gross_lift_n, scale_sd_n)
    # drag and fill as the one normal each came from, over what the prior gives them
    scores = np.zeros((2, draws.flights))
    if fill_spread > 0.0:
        scores[0] = (draws.gas_mol / fill.gas_mol - 1.0) / fill_spread
    if prior.drag_factor_ln_sd > 0.0:
        scores[1] = np.log(draws.drag_factor / train.envelope.drag_factor) / prior.drag_factor_ln_sd
    free = (fill_spread > 0.0) + (prior.drag_factor_ln_sd > 0.0)
    square = (scores**2).sum(axis=0)
    plain, wide = np.exp(-0.5 * square), np.exp(-0.5 * square / WIDER**2) / WIDER**free
    leaks = draws.leak_per_s > 0.0
    chance = np.where(leaks, prior.leak_chance, 1.0 - prior.leak_chance)
    of_leaks = np.where(leaks, 1.0, 0.0)
    share = np.array(LAWS) / sum(LAWS)
    mixture = share[0] * plain * chance + share[1] * plain * of_leaks + share[2] * wide * chance
    weight = plain * chance / mixture
    return np.asarray(weight / weight.sum())


def _rates_m_s(
    draws: Draws, train: FlightTrain, middle_msl_m: Array, air: AirColumn, sun: Sun, release_s: float
) -> Array:
    pressure, temperature, density = air.at(middle_msl_m)
    bend = train.envelope.climb_bend.rate_factor(density)
    rates, time = np.empty((draws.flights, len(middle_msl_m))), np.full(draws.flights, release_s)
    for layer in range(len(middle_msl_m)):
        where = float(middle_msl_m[layer]), float(pressure[layer]), float(temperature[layer]), float(density[layer])
        rate = bend[layer] * _rate_m_s(draws, gas_left(draws, time - release_s), train, where, time, sun)
        rates[:, layer] = rate
        time = time + LAYER_M / np.maximum(rate, SLOWEST_M_S)
    return rates


def gas_left(draws: Draws, since_release_s: Array | float) -> Array:
    """Share of the gas at release that is still inside."""
    return np.asarray(1.0 - np.clip(draws.leak_per_s * since_release_s, 0.0, 0.99))


def _diameter_m(
    draws: Draws, left: Array, train: FlightTrain, where: tuple[float, ...], time_s: Array, sun: Sun
) -> Array:
    height, pressure, temperature, _ = where
    warm = gas_excess_k(pressure, height, sun.elevation_at_deg(time_s))
    warm = warm + draws.gas_excess_offset_k * height_share(pressure)
    envelope = train.envelope
    return inflated_diameter_m(
        draws.gas_mol * left, pressure, temperature + warm, envelope.mass_kg, envelope.unstretched_diameter_m
    )


def _rate_m_s(
    draws: Draws, left: Array, train: FlightTrain, where: tuple[float, ...], time_s: Array, sun: Sun
) -> Array:
    """By the drag law, the bend left aside."""
    height, _, temperature, density = where
    diameter = _diameter_m(draws, left, train, where, time_s, sun)
    carried = train.envelope.mass_kg + train.train_mass_kg + draws.gas_mol * left * molar_mass_kg_mol(train.gas)
    net = (density * sphere_volume_m3(diameter) - carried) * gravity_m_s2(height)
    return climb_rate_m_s(net, diameter, density, dynamic_viscosity_pa_s(temperature), draws.drag_factor)


def lift_now(
    laws: ClimbLaws,
    seen: ClimbSeen,
    train: FlightTrain,
    prior: FlightPrior,
    air: AirColumn,
    sun: Sun,
    *,
    level_height_msl_m: Array,
    height_msl_m: float,
    time_s: float,
    release_s: float,
    rate_now_m_s: tuple[float, float] | None,
    floats: bool,
    nominal_top_msl_m: float,
    flights: int,
    rng: np.random.Generator,
) -> Lift:
    """N balloons as likely as the climb so far makes them, at a height and time, none of them burst yet.

    A law weighs what its misfit is worth under the scatter about it, times the chance that its balloon has not burst at
    the diameter that it has now. How the flight strays from its law now goes on for a while: it is drawn on the levels
    given what was seen of it. Where no law fits, or the balloon floats, the gas is what the present rate asks for.

    :param level_height_msl_m: levels that are flown, rising.
    :param rate_now_m_s: and its standard deviation.
    """
    scatter = prior.climb_scatter
    envelope = train.envelope
    where = (height_msl_m, *(float(value[0]) for value in air.at(np.array([height_msl_m]))))
    time = np.full(laws.draws.flights, time_s)
    left = gas_left(laws.draws, time_s - release_s)
    diameter = _diameter_m(laws.draws, left, train, where, time, sun)
    log_weight = np.log(np.maximum(laws.weight, 1e-300)) + np.log(
        np.maximum(_survival(np.log(diameter / envelope.burst_diameter_m) / envelope.burst_ln_sd), 1e-300)
    )
    known = len(seen.rate_m_s)
    both = scatter.covariance(np.concatenate([seen.middle_msl_m, level_height_msl_m]))
    own = both[:known, :known] + np.diag((seen.sd_m_s / seen.rate_m_s) ** 2)
    misfit, off = 0.0, np.zeros((laws.draws.flights, known))
    if known:
        off = np.log(seen.rate_m_s) - np.log(np.maximum(laws.rate_at_m_s(seen.middle_msl_m), SLOWEST_M_S))
        square = np.sum(off * np.linalg.solve(own, off.T).T, axis=1)
        misfit = float(square.min()) / known
        # a climb that no law explains must not choose among them by a hair
        log_weight = log_weight - 0.5 * square / max(misfit, 1.0)
    fits = misfit <= BADLY
    by_gas = rate_now_m_s is not None and (floats or not fits)
    weight = np.exp(log_weight - log_weight.max())
    rows = resampled(weight, flights, rng)
    draws = laws.draws.take(rows)
    left, diameter = left[rows], diameter[rows]
    # what no law explains says nothing of how this flight strays from one
    gain = np.zeros((len(level_height_msl_m), known)) if by_gas else np.linalg.solve(own, both[:known, known:]).T
    rest = both[known:, known:] - gain @ both[:known, known:]
    strays = off[rows] @ gain.T + rng.standard_normal((flights, len(rest))) @ square_root(rest)
    draws = replace(
        draws,
        member=np.zeros(flights, dtype=np.intp),
        gas_mol=draws.gas_mol * left,
        leak_per_s=draws.leak_per_s / left,
        climb_ln=strays.astype(np.float32),
        release_delay_s=np.zeros(flights),
        early_burst_msl_m=_early_bursts(train, height_msl_m, nominal_top_msl_m, flights, rng),
    )
    if by_gas and rate_now_m_s is not None:
        wanted = np.maximum(rate_now_m_s[0] + rate_now_m_s[1] * rng.standard_normal(flights), 0.0)
        stray = np.exp([np.interp(height_msl_m, level_height_msl_m, row) for row in strays])
        draws = _with_gas_for(draws, wanted / stray, train, where, np.full(flights, time_s), sun)
    diameter = _diameter_m(draws, np.ones(flights), train, where, np.full(flights, time_s), sun)
    burst = _burst_diameters(diameter, train, rng)
    return Lift(replace(draws, burst_diameter_m=burst), fits, float(weight.sum() ** 2 / np.sum(weight**2)))


def _early_bursts(
    train: FlightTrain, height_msl_m: float, nominal_top_msl_m: float, flights: int, rng: np.random.Generator
) -> Array:
    """Heights of early bursts still to come; NaN for the balloons that reach their diameter."""
    floor = min(EARLY_BURST_FLOOR_MSL_M, nominal_top_msl_m)
    span = max(nominal_top_msl_m - floor, 1.0)
    ahead = min(max(nominal_top_msl_m - max(height_msl_m, floor), 0.0) / span, 1.0)
    chance = train.envelope.early_burst_chance
    chance = chance * ahead / (1.0 - chance * (1.0 - ahead))
    early = rng.random(flights) < chance
    return np.asarray(np.where(early, nominal_top_msl_m - ahead * span * rng.random(flights), np.nan))


def _burst_diameters(diameter_m: Array, train: FlightTrain, rng: np.random.Generator) -> Array:
    """Burst diameters of balloons that have not burst at their present diameter: the prior, cut off below."""
    from scipy.special import ndtri

    envelope = train.envelope
    if envelope.burst_ln_sd <= 0.0:
        return np.maximum(diameter_m, envelope.burst_diameter_m)
    above = _survival(np.log(diameter_m / envelope.burst_diameter_m) / envelope.burst_ln_sd)
    tail = np.maximum(above * (1.0 - rng.random(len(diameter_m))), 1e-300)
    score = -ndtri(tail)
    return np.asarray(np.maximum(envelope.burst_diameter_m * np.exp(envelope.burst_ln_sd * score), diameter_m))


def _survival(score: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(-score))


def _with_gas_for(
    draws: Draws, rate_m_s: Array, train: FlightTrain, where: tuple[float, ...], time_s: Array, sun: Sun
) -> Draws:
    """The balloons with as much gas as climbs at these rates here, by halving; none leaks any more."""
    bend = float(train.envelope.climb_bend.rate_factor(where[3]))
    low, high = 0.1 * draws.gas_mol, 2.0 * draws.gas_mol
    for _ in range(24):
        middle = 0.5 * (low + high)
        fast = bend * _rate_m_s(replace(draws, gas_mol=middle), np.ones(len(low)), train, where, time_s, sun) > rate_m_s
        low, high = np.where(fast, low, middle), np.where(fast, middle, high)
    return replace(draws, gas_mol=high, leak_per_s=np.zeros(len(low)))


def resampled(weight: Array, flights: int, rng: np.random.Generator) -> Rows:
    """Systematic resampling, in random order: one random number, even steps."""
    steps = (rng.random() + np.arange(flights)) / flights * weight.sum()
    rows = np.minimum(np.searchsorted(np.cumsum(weight), steps), len(weight) - 1)
    return np.asarray(rng.permutation(rows))
