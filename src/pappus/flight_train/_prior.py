"""What we think of balloons and canopies in general, before the plan says more and before a flight shows more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.flight_train._climb_scatter import ClimbScatter
from pappus.flight_train._drag import SEA_LEVEL_DENSITY_KG_M3


@dataclass(frozen=True)
class FallPrior:
    """Fall under a canopy, ``w = w0 (rho0 / rho)^n exp(g(z))``: a power law times a random function of height."""

    exponent: float
    exponent_sd: float
    """n and its standard deviation from flight to flight; 0.5 is the textbook law of a constant drag area."""
    within_ln_sd: float
    """Standard deviation of g, Gaussian with mean zero."""
    within_depth_m: float
    """Length in height over which g is correlated (exponential)."""


@dataclass(frozen=True)
class ClimbBend:
    """How climbs stray from the drag law: ln(rate over law) by how much thinner the air is than 1.225 kg/m3.

    Linear between the entries, held beyond them.
    """

    ln_thinner: tuple[float, ...]
    """Logarithm of 1.225 kg/m3 over the density, rising."""
    ln_rate: tuple[float, ...]

    def rate_factor(self, density_kg_m3: ArrayLike) -> NDArray[np.float64]:
        """By which the rate of the law is multiplied."""
        thinner = np.log(SEA_LEVEL_DENSITY_KG_M3 / np.asarray(density_kg_m3, dtype=float))
        return np.asarray(np.exp(np.interp(thinner, self.ln_thinner, self.ln_rate)))


NO_BEND = ClimbBend((0.0,), (0.0,))
"""The law as it stands."""


@dataclass(frozen=True)
class FlightPrior:
    """Scatter that no plan knows, unless it says so."""

    drag_factor: float
    """Median over balloons of the drag against the law; ``drag_factor_ln_sd`` is the scatter of its logarithm."""
    drag_factor_ln_sd: float
    climb: ClimbBend
    climb_scatter: ClimbScatter
    """About that, from flight to flight."""
    gas_excess_sd_k: float
    """Of the gas temperature by day, at the top of the air."""
    fall: FallPrior
    leak_chance: float
    """Chance that gas escapes on the way."""
    leak_per_h: float
    """The largest share of the gas that escapes in an hour then; all shares up to it are equally likely."""
    release_sd_s: float
    """The release is late by the size of a normal with this standard deviation: crews wait, they do not hurry."""
