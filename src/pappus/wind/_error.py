"""What we do not know about the wind: a Gaussian error field on the nodes of both legs of a flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.wind._prior import WindPrior

Array = NDArray[np.float64]

_AT_ONCE = 4096


@dataclass(frozen=True)
class FlightKnots:
    """Where a mean flight meets the nodes of the wind: both legs, shape (2, L); first index 0 is up, 1 is down."""

    height_msl_m: Array
    time_s: Array
    east_m: Array
    north_m: Array
    large_sd_m_s: Array
    """Standard deviation per component of the large, smooth part at each knot."""
    wave_sd_m_s: Array
    """The same of the wave part."""
    member_deviation_m_s: Array
    """Of each forecast member from their mean, shape (members, 2, L, 2 components): what they carry themselves and the
    error field does not; zero for one member."""

    @property
    def member_sd_m_s(self) -> Array:
        """Spread of the members per component; zero for one member."""
        return member_sd_m_s(self.member_deviation_m_s)

    @property
    def sd_m_s(self) -> Array:
        """Standard deviation per component of the error field."""
        return np.asarray(np.hypot(self.large_sd_m_s, self.wave_sd_m_s))

    @property
    def total_sd_m_s(self) -> Array:
        """Standard deviation per component of the wind that the flights meet: members and error field."""
        return np.asarray(np.hypot(self.sd_m_s, self.member_sd_m_s))


def member_sd_m_s(deviation_m_s: Array) -> Array:
    """Standard deviation per component [m/s] of members about their mean, shape (2, L), from (members, 2, L, 2)."""
    members = len(deviation_m_s)
    return np.asarray(np.sqrt((deviation_m_s**2).sum(axis=0).mean(axis=-1) / max(members - 1, 1)))


def knot_covariance(knots: FlightKnots, prior: WindPrior) -> Array:
    """Covariance [m2/s2] of the error field, one wind component, over all 2L knots.

    A large part, smooth in height, time and distance (squared exponential), and a wave part, rough in all three
    (exponential).
    """
    height, time = knots.height_msl_m.ravel(), knots.time_s.ravel()
    east, north = knots.east_m.ravel(), knots.north_m.ravel()
    large_sd, wave_sd = knots.large_sd_m_s.ravel(), knots.wave_sd_m_s.ravel()
    depth2 = (height[:, None] - height) ** 2
    lag2 = (time[:, None] - time) ** 2
    apart2 = (east[:, None] - east) ** 2 + (north[:, None] - north) ** 2
    large = np.exp(
        -0.5 * (depth2 / prior.large_depth_m**2 + lag2 / prior.large_time_s**2 + apart2 / prior.large_distance_m**2)
    )
    wave = np.exp(
        -np.sqrt(depth2) / prior.wave_depth_m
        - np.sqrt(lag2) / prior.wave_time_s
        - np.sqrt(apart2) / prior.wave_distance_m
    )
    return np.asarray(large_sd[:, None] * large_sd * large + wave_sd[:, None] * wave_sd * wave)


def draw_wind_error(
    knots: FlightKnots, flights: int, rng: np.random.Generator, prior: WindPrior
) -> NDArray[np.float32]:
    """Draws of the error field [m/s], shape (flights, 2 legs, L, 2 components), in single precision; u and v are
    independent.
    """
    covariance = knot_covariance(knots, prior)
    size = covariance.shape[0]
    factor = np.linalg.cholesky(covariance + 1e-6 * np.eye(size)).T
    drawn = np.empty((flights, 2, size // 2, 2), dtype=np.float32)
    for first in range(0, flights, _AT_ONCE):  # all at once would take four times the memory
        some = drawn[first : first + _AT_ONCE]
        # one product of two matrices: a stack of small ones takes ten times as long
        error = rng.standard_normal((2 * len(some), size)) @ factor
        some[...] = np.moveaxis(error.reshape(len(some), 2, 2, size // 2), 1, -1)
    return drawn


def drift_sd_m(residence_s: Array, sd_m_s: Array, height_m: Array, depth_m: float) -> float:
    """Standard deviation [m] per component of the drift through layers, one exponential length: ``sqrt(w' C w)``.

    ``residence_s`` is the time spent in each layer; the plain estimate that a director can check by hand.
    """
    correlation = np.exp(-np.abs(height_m[:, None] - height_m) / depth_m)
    weighted = residence_s * sd_m_s
    return float(np.sqrt(weighted @ correlation @ weighted))
