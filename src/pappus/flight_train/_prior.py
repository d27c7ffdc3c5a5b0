"""What we think of balloons and canopies in general, before the plan says more and before a flight shows more."""

from __future__ import annotations

from dataclasses import dataclass


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
class FlightPrior:
    """Scatter that no plan knows, unless it says so."""

    drag_factor: float
    """Median over balloons of the drag against the law; ``drag_factor_ln_sd`` is the scatter of its logarithm."""
    drag_factor_ln_sd: float
    gas_excess_sd_k: float
    """Of the gas temperature by day, at the top of the air."""
    fall: FallPrior
    leak_chance: float
    """Chance that gas escapes on the way."""
    leak_per_h: float
    """The largest share of the gas that escapes in an hour then; all shares up to it are equally likely."""
    release_sd_s: float
    """The release is late by the size of a normal with this standard deviation: crews wait, they do not hurry."""
