"""What varies from flight to flight: one row per flight of an ensemble."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import EARLY_BURST_FLOOR_MSL_M, Fill, FlightPrior, FlightTrain

Array = NDArray[np.float64]

FOULED_DRAG_AREA = (0.1, 0.4)
"""A fouled canopy keeps this share of its drag area [own prior around field notes of radiosonde recoveries]."""


@dataclass(frozen=True)
class Draws:
    """Parameters of N flights; every array has shape (N,) unless said."""

    member: NDArray[np.intp]
    gas_mol: Array
    drag_factor: Array
    burst_diameter_m: Array
    early_burst_msl_m: Array
    """Height of an early burst; NaN for a balloon that reaches its diameter."""
    gas_excess_offset_k: Array
    """Added to the gas temperature excess, times the share of the atmosphere below."""
    drag_area_m2: Array
    """Cd S of the canopy, fouled or not."""
    fouled: NDArray[np.bool_]
    fall_exponent: Array
    remnant_kg: Array
    """Film that hangs on the train after a burst; none after a cut."""
    leak_per_s: Array
    """Share of the gas at release that escapes each second."""
    release_delay_s: Array
    """After the planned release."""
    climb_ln: NDArray[np.floating] | None = None
    fall_ln: NDArray[np.floating] | None = None
    """(N, levels) logarithm of the rate of climb over that of the bent drag law, and of the fall speed over that of the
    power law, on the levels that are flown; one row for all flights, or None for none.
    """
    wind_error_m_s: NDArray[np.floating] | None = None
    """(N, 2 legs, levels, 2 components) on the levels of the field that is flown; None for no error."""

    @property
    def flights(self) -> int:
        """Number of flights."""
        return len(self.gas_mol)

    def take(self, rows: NDArray[np.intp]) -> Draws:
        """Chosen flights, without what hangs on the levels that are flown."""
        return Draws(**{name: getattr(self, name)[rows] for name in _PLAIN})

    @property
    def nominal(self) -> NDArray[np.bool_]:
        """Flights whose balloon and canopy do what they should."""
        return np.asarray(np.isnan(self.early_burst_msl_m) & ~self.fouled & (self.leak_per_s == 0.0))


_PLAIN = tuple(one.name for one in fields(Draws) if one.name not in ("climb_ln", "fall_ln", "wind_error_m_s"))


def joined_draws(parts: Sequence[Draws]) -> Draws:
    """Draws one behind the other, without what hangs on the levels that are flown."""
    return Draws(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in _PLAIN})


def nominal_draw(train: FlightTrain, fill: Fill, prior: FlightPrior) -> Draws:
    """The one flight in which everything takes its central value."""
    one = np.ones(1)
    return Draws(
        member=np.zeros(1, dtype=np.intp),
        gas_mol=fill.gas_mol * one,
        drag_factor=train.envelope.drag_factor * one,
        burst_diameter_m=train.envelope.burst_diameter_m * one,
        early_burst_msl_m=np.full(1, np.nan),
        gas_excess_offset_k=0.0 * one,
        drag_area_m2=train.canopy.drag_coefficient * train.canopy.area_m2 * one,
        fouled=np.zeros(1, dtype=bool),
        fall_exponent=prior.fall.exponent * one,
        remnant_kg=0.5 * train.envelope.mass_kg * one,
        leak_per_s=0.0 * one,
        release_delay_s=0.0 * one,
    )


def sample_draws(
    train: FlightTrain,
    fill: Fill,
    prior: FlightPrior,
    *,
    flights: int,
    members: int,
    scale_sd_n: float,
    nominal_top_msl_m: float,
    level_height_msl_m: Array,
    rng: np.random.Generator,
) -> Draws:
    """Random flights around the fill; ``nominal_top_msl_m`` bounds the early bursts.

    Independent draws: gas by the scatter of the scale, drag factor, burst diameter and drag area lognormal, gas
    temperature and fall exponent normal, the release late by the size of a normal, remnant uniform from none to all of
    the film, climb and fall about their laws Gaussian over the heights of the levels. Early bursts, fouled canopies and
    leaks come with the chances of plan and prior, apart from each other.
    """
    envelope, canopy = train.envelope, train.canopy
    normal = rng.standard_normal((7, flights))
    uniform = rng.random((7, flights))
    fill_spread = scale_sd_n / max(fill.gross_lift_n, scale_sd_n)
    early = uniform[0] < envelope.early_burst_chance
    floor = min(EARLY_BURST_FLOOR_MSL_M, nominal_top_msl_m)
    fouled = uniform[2] < canopy.fouled_chance
    lowest, highest = FOULED_DRAG_AREA
    kept = np.where(fouled, lowest + (highest - lowest) * uniform[3], 1.0)
    nominal_area = canopy.drag_coefficient * canopy.area_m2
    leaks = uniform[5] < prior.leak_chance
    fall, climb, levels = prior.fall, prior.climb_scatter, len(level_height_msl_m)
    return Draws(
        member=np.arange(flights, dtype=np.intp) % members,
        gas_mol=fill.gas_mol * np.maximum(1.0 + fill_spread * normal[0], 0.1),
        drag_factor=envelope.drag_factor * np.exp(prior.drag_factor_ln_sd * normal[1]),
        burst_diameter_m=envelope.burst_diameter_m * np.exp(envelope.burst_ln_sd * normal[2]),
        early_burst_msl_m=np.where(early, floor + (nominal_top_msl_m - floor) * uniform[1], np.nan),
        gas_excess_offset_k=prior.gas_excess_sd_k * normal[3],
        drag_area_m2=nominal_area * np.exp(canopy.drag_area_ln_sd * normal[4]) * kept,
        fouled=fouled,
        fall_exponent=np.maximum(prior.fall.exponent + prior.fall.exponent_sd * normal[5], 0.0),
        remnant_kg=envelope.mass_kg * uniform[4],
        leak_per_s=np.where(leaks, prior.leak_per_h / 3600.0 * uniform[6], 0.0),
        release_delay_s=prior.release_sd_s * np.abs(normal[6]),
        fall_ln=_rates_ln(level_height_msl_m, fall.within_ln_sd * np.ones(levels), fall.within_depth_m, flights, rng),
        climb_ln=_rates_ln(level_height_msl_m, climb.ln_sd(level_height_msl_m), climb.depth_m, flights, rng),
    )


def _rates_ln(
    height_msl_m: Array, ln_sd: Array, depth_m: float, flights: int, rng: np.random.Generator
) -> NDArray[np.float32] | None:
    """Logarithm of rates about their law on rising heights, shape (flights, heights): a Gaussian process with
    exponential correlation, drawn from height to height. None where its standard deviation is zero throughout.
    """
    if not ln_sd.any():
        return None
    kept = np.exp(-np.diff(height_msl_m, prepend=height_msl_m[0]) / depth_m)
    drawn = np.empty((flights, len(height_msl_m)), dtype=np.float32)
    value = rng.standard_normal(flights)
    for level, share in enumerate(kept):
        value = share * value + np.sqrt(1.0 - share**2) * rng.standard_normal(flights)
        drawn[:, level] = ln_sd[level] * value
    return drawn
