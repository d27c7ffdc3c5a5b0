"""What varies from flight to flight: one row per flight of an ensemble."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import EARLY_BURST_FLOOR_MSL_M, EXCESS_SD_K, Fill, FlightTrain

Array = NDArray[np.float64]

DRAG_FACTOR_LN_SD = 0.12
"""Scale of the balloon's drag law [own prior]."""
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
    wind_error_m_s: NDArray[np.floating] | None = None
    """(N, 2 legs, levels, 2 components) on the levels of the field that is flown; None for no error."""

    @property
    def flights(self) -> int:
        """Number of flights."""
        return len(self.gas_mol)

    @property
    def nominal(self) -> NDArray[np.bool_]:
        """Flights whose balloon and canopy do what they should."""
        return np.asarray(np.isnan(self.early_burst_msl_m) & ~self.fouled)


def nominal_draw(train: FlightTrain, fill: Fill) -> Draws:
    """The one flight in which everything takes its central value."""
    one = np.ones(1)
    return Draws(
        member=np.zeros(1, dtype=np.intp),
        gas_mol=fill.gas_mol * one,
        drag_factor=one,
        burst_diameter_m=train.envelope.burst_diameter_m * one,
        early_burst_msl_m=np.full(1, np.nan),
        gas_excess_offset_k=0.0 * one,
        drag_area_m2=train.canopy.drag_coefficient * train.canopy.area_m2 * one,
        fouled=np.zeros(1, dtype=bool),
        fall_exponent=train.canopy.fall_exponent * one,
        remnant_kg=0.5 * train.envelope.mass_kg * one,
    )


def sample_draws(
    train: FlightTrain,
    fill: Fill,
    *,
    flights: int,
    members: int,
    scale_sd_n: float,
    nominal_top_msl_m: float,
    rng: np.random.Generator,
) -> Draws:
    """Random flights around the fill; ``nominal_top_msl_m`` bounds the early bursts.

    Independent draws: gas by the scatter of the scale, drag factor, burst diameter and drag area lognormal, gas
    temperature and fall exponent normal, remnant uniform from none to all of the film. Early bursts and fouled
    canopies come with the chances of the plan. All spreads not in the plan are our own priors.
    """
    envelope, canopy = train.envelope, train.canopy
    normal = rng.standard_normal((5, flights))
    uniform = rng.random((5, flights))
    fill_spread = scale_sd_n / max(fill.gross_lift_n, scale_sd_n)
    early = uniform[0] < envelope.early_burst_chance
    floor = min(EARLY_BURST_FLOOR_MSL_M, nominal_top_msl_m)
    fouled = uniform[2] < canopy.fouled_chance
    lowest, highest = FOULED_DRAG_AREA
    kept = np.where(fouled, lowest + (highest - lowest) * uniform[3], 1.0)
    nominal_area = canopy.drag_coefficient * canopy.area_m2
    return Draws(
        member=np.arange(flights, dtype=np.intp) % members,
        gas_mol=fill.gas_mol * np.maximum(1.0 + fill_spread * normal[0], 0.1),
        drag_factor=np.exp(DRAG_FACTOR_LN_SD * normal[1]),
        burst_diameter_m=envelope.burst_diameter_m * np.exp(envelope.burst_ln_sd * normal[2]),
        early_burst_msl_m=np.where(early, floor + (nominal_top_msl_m - floor) * uniform[1], np.nan),
        gas_excess_offset_k=EXCESS_SD_K * normal[3],
        drag_area_m2=nominal_area * np.exp(canopy.drag_area_ln_sd * normal[4]) * kept,
        fouled=fouled,
        fall_exponent=np.maximum(canopy.fall_exponent + canopy.fall_exponent_sd * rng.standard_normal(flights), 0.0),
        remnant_kg=envelope.mass_kg * uniform[4],
    )
