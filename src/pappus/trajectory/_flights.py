"""What comes out of a computation: the flights, their ends and their tracks."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Outcome(IntEnum):
    """How the knowledge of a flight ends."""

    LANDED = 0
    STILL_ALOFT = 1
    """In the air at the longest flight time of the plan."""
    LEFT_COVERAGE = 2
    """Beyond the place, time or height that the winds hold."""


class AscentEnd(IntEnum):
    """What ended the ascent."""

    NONE = 0
    BURST = 1
    CUT_DOWN = 2


@dataclass(frozen=True)
class Release:
    """Where and when the balloon leaves the hand; ``time_s`` counts from the epoch of the wind field."""

    latitude_deg: float
    longitude_deg: float
    height_msl_m: float
    time_s: float


@dataclass(frozen=True)
class Flights:
    """N flights; arrays have shape (N,), tracks (N, steps) padded with NaN behind the end of a flight.

    ``top_*`` is where the ascent ended (or the last known position), ``end_*`` the touchdown or the last known
    position, whichever ``outcome`` says. Times count from the epoch of the wind field.
    """

    outcome: NDArray[np.int8]
    ascent_end: NDArray[np.int8]
    top_latitude_deg: Array
    top_longitude_deg: Array
    top_height_msl_m: Array
    top_time_s: Array
    end_latitude_deg: Array
    end_longitude_deg: Array
    end_height_msl_m: Array
    end_time_s: Array
    touchdown_m_s: Array
    """Sink rate at touchdown; NaN where the flight has not landed."""
    track_time_s: Array
    track_latitude_deg: Array
    track_longitude_deg: Array
    track_height_msl_m: Array
    release_time_s: float

    @property
    def landed(self) -> NDArray[np.bool_]:
        """Which flights reached the ground."""
        return np.asarray(self.outcome == Outcome.LANDED)

    def time_above_s(self, height_msl_m: float) -> Array:
        """Seconds each flight spends above a height, from its track, linear between steps."""
        time, height = self.track_time_s, self.track_height_msl_m
        step = np.diff(time, axis=1)
        low, high = np.minimum(height[:, :-1], height[:, 1:]), np.maximum(height[:, :-1], height[:, 1:])
        span = np.maximum(high - low, 1e-9)
        share = np.clip((high - height_msl_m) / span, 0.0, 1.0)
        share = np.where(high - low < 1e-6, (high > height_msl_m).astype(float), share)
        return np.asarray(np.nansum(step * share, axis=1))


def without_gaps(track: list[tuple[Array, Array, Array, Array]]) -> list[Array]:
    """Tracks (N, steps) from the columns of each step; a flight that rested while others moved leaves no hole."""
    columns = [np.stack(column, axis=1) for column in zip(*track, strict=True)]
    order = np.argsort(np.isnan(columns[0]), axis=1, kind="stable")
    longest = int((~np.isnan(columns[0])).sum(axis=1).max())
    return [np.take_along_axis(column, order, axis=1)[:, :longest] for column in columns]
