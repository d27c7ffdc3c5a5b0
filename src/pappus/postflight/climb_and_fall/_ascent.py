"""How recorded ascents went on, against what their first 3 km said beforehand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import FlightPrior
from pappus.landing import crps_ensemble
from pappus.postflight._campaigns import campaigns, of_other_campaigns
from pappus.postflight._inside import InsideCount, inside_counts
from pappus.postflight._record import Leg
from pappus.postflight.climb_and_fall._climb_fit import (
    LAYER_M,
    SEEN_LAYERS,
    ClimbCurve,
    climb_curves,
    fit_climb_shape,
)
from pappus.postflight.climb_and_fall._climb_law import (
    STRAIGHT,
    ClimbDraws,
    ClimbShape,
    Layers,
    effective_draws,
    law_weights,
    weighed,
)
from pappus.sources import Sounding

Array = NDArray[np.float64]

_FIRST_M = SEEN_LAYERS * LAYER_M
TIME_HEIGHTS_M = (10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0)
RATE_EDGES_M = (0.0, 5_000.0, 10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0, 35_000.0)
LEAST_RATE_DEPTH_M = 1_000.0
FLIGHTS = 2_000

Five = tuple[float, float, float, float, float]


def _to(height_msl_m: float) -> str:
    return f"to {height_msl_m / 1000:.0f} km"


def _between(low_msl_m: float, high_msl_m: float) -> str:
    return f"{low_msl_m / 1000:.0f}-{high_msl_m / 1000:.0f} km"


_NAMES = [*map(_to, TIME_HEIGHTS_M), *(_between(low, high) for low, high in pairwise(RATE_EDGES_M))]


@dataclass(frozen=True)
class Predicted:
    """One number of one flight: recorded, and predicted with and without the flight's own first 3 km.

    The bands are the 5, 25, 50, 75 and 95 % points of the prediction.
    """

    name: str
    recorded: float
    predicted: Five
    prior: Five
    """By the prior alone."""
    crps: float
    prior_crps: float
    """Continuous ranked probability scores, in the unit of the number; smaller is better."""

    @property
    def inside_50(self) -> bool:
        """Whether the recorded number lies in the middle half of the prediction."""
        return self.predicted[1] <= self.recorded <= self.predicted[3]

    @property
    def inside_90(self) -> bool:
        """Whether it lies between the 5 and 95 % points."""
        return self.predicted[0] <= self.recorded <= self.predicted[4]

    @property
    def error(self) -> float:
        """Median less recorded."""
        return self.predicted[2] - self.recorded

    @property
    def prior_error(self) -> float:
        """The same of the prior alone."""
        return self.prior[2] - self.recorded


@dataclass(frozen=True)
class AscentCheck:
    """One recorded ascent, predicted from its first 3 km."""

    file: str
    flight: str
    release: datetime
    latitude_deg: float
    longitude_deg: float
    start_msl_m: float
    top_msl_m: float
    first_rate_m_s: float
    """Mean over the first 3 km."""
    prior_first_rate_m_s: float
    """Median of the prior over the same."""
    free_lift_kg: tuple[float, float, float]
    drag_factor: tuple[float, float, float]
    """5, 50 and 95 % points of what the first 3 km leave; balloon and gas are unknown, so the two hang together."""
    joint_correlation: float
    """Of ln(free lift) and ln(drag factor) after the first 3 km: a strong balloon with more drag climbs the same."""
    effective_draws: float
    """Equally weighed draws behind these numbers."""
    times: tuple[Predicted, ...]
    """Seconds from the end of the first 3 km to heights."""
    rates: tuple[Predicted, ...]
    """Mean rates [m/s] by layer."""


@dataclass(frozen=True)
class AscentChecks:
    """All ascents that can be judged, and why the others cannot."""

    law: tuple[AscentCheck, ...]
    """By the bare drag law."""
    bent: tuple[AscentCheck, ...]
    """By the law bent as flights of other campaigns flew: nothing of a flight's own campaign enters its shape."""
    left_out: tuple[str, ...]

    @property
    def counts(self) -> tuple[InsideCount, ...]:
        """Numbers inside the bands of the bare drag law."""
        return _counts(self.law)

    @property
    def counts_bent(self) -> tuple[InsideCount, ...]:
        """Numbers inside the bands of the bent law."""
        return _counts(self.bent)


def ascent_check(curve: ClimbCurve, shape: ClimbShape, rng_seed: int) -> AscentCheck:
    """Predict a recorded ascent from its first 3 km by the law, bent by a shape.

    Pressure and temperature of the air are those that the ascent measured, as a good forecast would give them.
    """
    leg, layers, rates = curve.leg, curve.layers, curve.recorded_m_s
    times = leg.time_at_s(layers.edges_msl_m)
    seen = SEEN_LAYERS
    rng = np.random.default_rng(rng_seed)
    laws = curve.laws.bent(shape, layers)
    after = weighed(laws, layers, shape.scatter, rates[:seen], FLIGHTS, rng)
    before = weighed(laws, layers, shape.scatter, rates[:0], FLIGHTS, rng)
    lift, factor = np.log(after.free_lift_kg), np.log(after.drag_factor)
    return AscentCheck(
        file=curve.file,
        flight=curve.flight,
        release=curve.release,
        latitude_deg=curve.latitude_deg,
        longitude_deg=curve.longitude_deg,
        start_msl_m=float(leg.height_msl_m[0]),
        top_msl_m=float(leg.height_msl_m[-1]),
        first_rate_m_s=float(_FIRST_M / (times[seen] - times[0])),
        prior_first_rate_m_s=float(np.median(_FIRST_M / np.sum(LAYER_M / before.rate_m_s[:, :seen], axis=1))),
        free_lift_kg=_three(after.free_lift_kg),
        drag_factor=_three(after.drag_factor),
        joint_correlation=float(np.corrcoef(lift, factor)[0, 1]),
        effective_draws=effective_draws(law_weights(laws, layers, shape.scatter, rates[:seen])),
        times=tuple(_times(layers, seen, leg, after, before)),
        rates=tuple(_rates(layers, seen, leg, after, before)),
    )


def ascent_checks(
    soundings: Sequence[Sounding], prior: FlightPrior, rng_seed: int, step: Callable[[str], None] = lambda _: None
) -> AscentChecks:
    """Judge every ascent twice: by the bare drag law, and by the law bent as other campaigns flew."""
    curves, left_out = climb_curves(soundings, prior, rng_seed, step)
    bent = []
    # flights of one campaign leave out the same flights
    shapes: dict[tuple[int, ...], ClimbShape | str] = {}
    for curve in curves:
        others = of_other_campaigns(curve, curves)
        key = tuple(id(other) for other in others)
        shape = shapes[key] if key in shapes else shapes.setdefault(key, fit_climb_shape(others))
        if isinstance(shape, str):
            left_out.append(f"{curve.file}, {curve.flight}, law bent by other campaigns: {shape}")
        else:
            bent.append(ascent_check(curve, shape, rng_seed))
    straight = [ascent_check(curve, STRAIGHT, rng_seed) for curve in curves]
    return AscentChecks(tuple(straight), tuple(bent), tuple(left_out))


def _counts(checks: tuple[AscentCheck, ...]) -> tuple[InsideCount, ...]:
    rows = [
        (number.name, campaign, number.inside_50, number.inside_90)
        for campaign, group in enumerate(campaigns(checks))
        for check in group
        for number in (*check.times, *check.rates)
    ]
    return inside_counts(sorted(rows, key=lambda row: _NAMES.index(row[0])))


def _times(layers: Layers, seen: int, leg: Leg, after: ClimbDraws, before: ClimbDraws) -> list[Predicted]:
    start, end = layers.edges_msl_m[seen], layers.edges_msl_m[-1]
    started = float(leg.time_at_s(start))
    return [
        _predicted(
            _to(height),
            float(leg.time_at_s(height)) - started,
            _passed_s(layers, seen, after, height),
            _passed_s(layers, seen, before, height),
        )
        for height in TIME_HEIGHTS_M
        if start + LEAST_RATE_DEPTH_M <= height <= end
    ]


def _rates(layers: Layers, seen: int, leg: Leg, after: ClimbDraws, before: ClimbDraws) -> list[Predicted]:
    start, end = layers.edges_msl_m[seen], layers.edges_msl_m[-1]
    made = []
    for low, high in pairwise(RATE_EDGES_M):
        bottom, top = max(low, start), min(high, end)
        if top - bottom < LEAST_RATE_DEPTH_M:
            continue
        recorded, posterior, alone = (
            (top - bottom) / (at(top) - at(bottom))
            for at in (
                leg.time_at_s,
                lambda height: _passed_s(layers, seen, after, height),
                lambda height: _passed_s(layers, seen, before, height),
            )
        )
        made.append(_predicted(_between(low, high), float(recorded), posterior, alone))
    return made


def _passed_s(layers: Layers, seen: int, draws: ClimbDraws, height_msl_m: float) -> Array:
    """Seconds from the end of the seen layers to a height inside the layers above, one for each flight."""
    edges = layers.edges_msl_m[seen:]
    depth = np.clip(height_msl_m - edges[:-1], 0.0, LAYER_M)
    return np.asarray((depth / draws.rate_m_s[:, seen:]).sum(axis=1))


def _predicted(name: str, recorded: float, after: Array, before: Array) -> Predicted:
    return Predicted(
        name=name,
        recorded=recorded,
        predicted=_five(after),
        prior=_five(before),
        crps=float(crps_ensemble(after, recorded)),
        prior_crps=float(crps_ensemble(before, recorded)),
    )


def _five(values: Array) -> Five:
    a, b, c, d, e = (float(value) for value in np.quantile(values, (0.05, 0.25, 0.5, 0.75, 0.95)))
    return a, b, c, d, e


def _three(values: Array) -> tuple[float, float, float]:
    low, middle, high = (float(value) for value in np.quantile(values, (0.05, 0.5, 0.95)))
    return low, middle, high
