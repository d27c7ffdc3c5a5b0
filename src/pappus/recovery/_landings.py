"""The landings that the chase reckons with: where and when each flight of an ensemble comes down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.trajectory import Flights

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Landings:
    """Flights that landed in the data, and how many did not; arrays of shape (landed,).

    Raises ValueError for arrays of different shapes, values that are not finite, and when there is no flight at all.
    """

    latitude_deg: Array
    longitude_deg: Array
    touchdown_s: Array
    """Seconds after ``now``; negative when it is down already."""
    unknown: int
    """Flights without a landing in the data: never in reach, in no cell."""

    def __post_init__(self) -> None:
        parts = (self.latitude_deg, self.longitude_deg, self.touchdown_s)
        if any(part.ndim != 1 or part.shape != self.latitude_deg.shape for part in parts):
            raise ValueError(f"landings have one common axis, not {[part.shape for part in parts]}")
        if not all(bool(np.isfinite(part).all()) for part in parts):
            raise ValueError("landings are finite; count flights without one as unknown")
        if self.unknown < 0 or self.flights < 1:
            raise ValueError("there are no flights")

    @property
    def landed(self) -> int:
        """Flights with a landing."""
        return len(self.latitude_deg)

    @property
    def flights(self) -> int:
        """All flights."""
        return self.landed + self.unknown


def landings_of(flights: Flights, epoch: datetime, now: datetime) -> Landings:
    """The landings of an ensemble. ``epoch`` is that of its wind field; both times with an offset from UTC."""
    landed = flights.landed
    return Landings(
        latitude_deg=flights.end_latitude_deg[landed],
        longitude_deg=flights.end_longitude_deg[landed],
        touchdown_s=flights.end_time_s[landed] - (now - epoch).total_seconds(),
        unknown=int((~landed).sum()),
    )
