"""The canopy: two Gaussian laws of the fall, sound and fouled, conditioned on the speeds seen and weighed by them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pappus.earth import gravity_m_s2
from pappus.flight_train import (
    FallLaw,
    FallPrior,
    FallScale,
    FlightTrain,
    condition_fall,
    fall_rate_m_s,
    prior_fall_law,
    square_root,
)
from pappus.inflight.prediction._air import AirColumn
from pappus.trajectory import Draws
from pappus.units import standard_gravity_m_s2

Array = NDArray[np.float64]

LAYER_M = 250.0
LAYER_LN_SD = 0.05
"""Of a speed over one layer as a sample of the law: swings, vertical air motion [own prior]; it falls with the root of
the depth."""
HEIGHT_SD_M = 8.0
"""Noise of a satellite height (from memory)."""
OPENING_S = 30.0
"""Left out after the top: the canopy opens and slows down."""
STRETCH_M = 500.0
FOULED_SHARE = 0.25
"""Of its drag area that a fouled canopy keeps: middle of what the draws have."""


@dataclass(frozen=True, eq=False)
class FallSeen:
    """Fall speeds over stretches of height, shape (M,)."""

    middle_msl_m: Array
    speed_m_s: Array
    ln_sd: Array


@dataclass(frozen=True, eq=False)
class Canopy:
    """What is thought of the canopy: one law for each branch, and the chance of the second."""

    sound: FallLaw
    fouled: FallLaw
    fouled_chance: float
    seen: int
    """How many speeds it rests on."""


def seen_fall(middle_msl_m: Array, speed_m_s: Array, depth_m: Array) -> FallSeen:
    """Speeds with the noise that they have as samples of the law."""
    noise = np.hypot(LAYER_LN_SD * np.sqrt(LAYER_M / depth_m), np.sqrt(2.0) * HEIGHT_SD_M / depth_m)
    return FallSeen(middle_msl_m, speed_m_s, noise)


def prior_canopy(draws: Draws, train: FlightTrain, prior: FallPrior, air: AirColumn) -> Canopy:
    """The two laws before anything was seen: Gaussians with the mean and spread that the draws have."""
    ln_scale = np.log(_scale_m_s(draws, train))
    means = []
    for rows in (~draws.fouled, draws.fouled):
        some = ln_scale[rows] if rows.sum() >= 2 else ln_scale
        means.append(FallScale(float(np.exp(some.mean())), max(float(some.std()), 1e-3)))
    # a fifth of the depth apart, as the law asks for
    low, high = float(air.height_msl_m[0]), float(air.height_msl_m[-1])
    knots = np.linspace(low, high, int(np.ceil((high - low) / (0.2 * prior.within_depth_m))) + 1)
    _, _, density = air.at(knots)
    sound, fouled = (prior_fall_law(knots, density, scale, prior) for scale in means)
    return Canopy(sound, fouled, train.canopy.fouled_chance, 0)


def canopy_seen(canopy: Canopy, seen: FallSeen) -> Canopy:
    """Both laws after the speeds, and the chance of a fouled canopy by how likely each law made them."""
    if not len(seen.speed_m_s):
        return canopy
    sound, fouled = (
        condition_fall(law, seen.middle_msl_m, seen.speed_m_s, seen.ln_sd) for law in (canopy.sound, canopy.fouled)
    )
    chance = canopy.fouled_chance
    if 0.0 < chance < 1.0:
        odds = np.log(chance / (1.0 - chance))
        odds += _log_likelihood(canopy.fouled, seen) - _log_likelihood(canopy.sound, seen)
        chance = float(1.0 / (1.0 + np.exp(-np.clip(odds, -700.0, 700.0))))
    return Canopy(sound, fouled, chance, len(seen.speed_m_s))


def _log_likelihood(law: FallLaw, seen: FallSeen) -> float:
    mean, covariance = law.ln_speed(seen.middle_msl_m)
    covariance = covariance + np.diag(seen.ln_sd**2)
    off = np.log(seen.speed_m_s) - mean
    return float(-0.5 * off @ np.linalg.solve(covariance, off) - 0.5 * np.linalg.slogdet(covariance)[1])


def with_canopy(draws: Draws, canopy: Canopy, train: FlightTrain, air: AirColumn, rng: np.random.Generator) -> Draws:
    """The draws with falls drawn from what is thought of the canopy.

    Each flight keeps a drag area and a remnant of its own; what its law differs from theirs goes into ``fall_ln``.
    """
    flights, heights = draws.flights, air.height_msl_m
    fouled = rng.permutation(np.arange(flights) < rng.binomial(flights, canopy.fouled_chance))
    whole = train.canopy.drag_coefficient * train.canopy.area_m2
    own, was = draws.drag_area_m2, draws.fouled
    area = np.where(fouled, np.where(was, own, FOULED_SHARE * whole), np.where(was, whole, own))
    speed = np.empty((flights, len(heights)))
    for law, rows in ((canopy.sound, ~fouled), (canopy.fouled, fouled)):
        if rows.any():
            # drawn as the few numbers of the law, not at the many heights
            drawn = law.mean + rng.standard_normal((int(rows.sum()), len(law.mean))) @ square_root(law.covariance)
            speed[rows] = np.exp(drawn @ law.rows(heights).T)
    _, _, density = air.at(heights)
    plain = fall_rate_m_s(
        (train.train_mass_kg + draws.remnant_kg)[:, None], area[:, None], density, gravity_m_s2(heights),
        draws.fall_exponent[:, None],
    )  # fmt: skip
    return replace(draws, fouled=fouled, drag_area_m2=area, fall_ln=np.log(speed / plain).astype(np.float32))


def _scale_m_s(draws: Draws, train: FlightTrain) -> Array:
    """Fall speed in air of 1.225 kg/m3 after a burst."""
    mass = train.train_mass_kg + draws.remnant_kg
    return fall_rate_m_s(mass, draws.drag_area_m2, 1.225, standard_gravity_m_s2, draws.fall_exponent)
