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
    """Where and when the balloon leaves the hand, or where it is now when it left before.

    Times count from the epoch of the wind field.
    """

    latitude_deg: float
    longitude_deg: float
    height_msl_m: float
    time_s: float
    left_s: float | None = None
    """When it left the hand, if that was before: timers and the longest flight count from there."""
    ascent_end: AscentEnd = AscentEnd.NONE
    """What has ended the ascent already; NONE while the balloon still climbs."""


@dataclass(frozen=True)
class Flights:
    """N flights; arrays have shape (N,), tracks (T, steps) padded with NaN behind the end of a flight.

    Tracks are kept for some of the flights only (``tracked``), in the order of the flights.

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
    heights_msl_m: tuple[float, ...] = ()
    """Heights that were asked for when the flights were flown."""
    seconds_above: Array | None = None
    """Time of all N flights above each of them, shape (N, heights)."""
    track_of: NDArray[np.intp] | None = None
    """Which flight each track belongs to; None when they are those of the first flights."""

    @property
    def landed(self) -> NDArray[np.bool_]:
        """Which flights reached the ground."""
        return np.asarray(self.outcome == Outcome.LANDED)

    @property
    def tracked(self) -> NDArray[np.intp]:
        """Index of the flight that each track belongs to, ascending."""
        return np.arange(len(self.track_time_s)) if self.track_of is None else self.track_of

    def time_above_s(self, height_msl_m: float) -> Array:
        """Seconds each flight spends above a height that was asked for when they were flown.

        Any height will do where every flight has its track. Raises ValueError elsewhere.
        """
        if self.seconds_above is not None and height_msl_m in self.heights_msl_m:
            return np.asarray(self.seconds_above[:, self.heights_msl_m.index(height_msl_m)])
        if len(self.track_time_s) < len(self.outcome):
            raise ValueError(f"{height_msl_m:g} m was not asked for when these flights were flown")
        time, height = self.track_time_s, self.track_height_msl_m
        step = np.diff(time, axis=1)
        low, high = np.minimum(height[:, :-1], height[:, 1:]), np.maximum(height[:, :-1], height[:, 1:])
        span = np.maximum(high - low, 1e-9)
        share = np.clip((high - height_msl_m) / span, 0.0, 1.0)
        share = np.where(high - low < 1e-6, (high > height_msl_m).astype(float), share)
        return np.asarray(np.nansum(step * share, axis=1))
