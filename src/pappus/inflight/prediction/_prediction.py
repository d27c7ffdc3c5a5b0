"""The answer of a re-prediction."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.inflight.prediction._winds import WindsTold
from pappus.landing import LandingArea, Quantiles, Share
from pappus.tracking import Phase
from pappus.trajectory import Flights

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Fitted:
    """One thing that the track has told something of: median and standard deviation over the flights."""

    name: str
    unit: str
    value: float
    sd: float
    before: float
    before_sd: float
    """The same before the flight."""


@dataclass(frozen=True, eq=False)
class Prediction:
    """Where the flight comes down, as things are now."""

    made_utc: datetime
    from_utc: datetime
    """Of the position that the flights begin at; the planned release before it."""
    phase: Phase
    epoch: datetime
    """Times of the flights count from here."""
    flights: Flights
    """Those that come down are moved by the noise of the position that they begin at."""
    off_nominal: NDArray[np.bool_]
    """An early burst, a leak or a fouled canopy."""
    area: LandingArea
    """Of all flights; ``area.nominal`` of the nominal ones."""
    arrival: Quantiles | None
    """Seconds after ``epoch``: 5, 50 and 95 % of the flights that land; None where none does."""
    burst_ahead: Share
    """Flights that still climb and burst."""
    cut_ahead: Share
    """Flights that still climb and are cut down."""
    floats: Share
    """Flights still aloft at the longest flight of the plan."""
    unknown: Share
    """Flights that do not land in the data: afloat, or beyond the winds."""
    fouled: Share
    """Flights with a fouled canopy."""
    touchdown_m_s: Quantiles | None
    fitted: tuple[Fitted, ...]
    winds: WindsTold
    notes: tuple[str, ...]
    """What a person should know, one sentence each."""

    @property
    def arrival_utc(self) -> tuple[datetime, datetime, datetime] | None:
        """5, 50 and 95 % points of the touchdown."""
        if self.arrival is None:
            return None
        early, middle, late = (self.epoch + timedelta(seconds=value) for value in self.arrival.values)
        return early, middle, late


@dataclass(frozen=True, eq=False)
class Whereabouts:
    """Where the balloon is now, when it has not been heard for a while."""

    prediction: Prediction
    silent_s: float
    """Since the newest position."""
    area: LandingArea
    """Where it is now, in the air or on the ground; flights beyond the winds are unknown in it."""
    height_msl_m: Quantiles | None
    down: Share
    """Flights that have landed by now."""


@dataclass(frozen=True, eq=False)
class SearchArea:
    """Squares of ground ranked by the chance that the payload lies there; arrays of shape (C,)."""

    latitude_deg: Array
    longitude_deg: Array
    """Of the middles."""
    chance: Array
    """Of all flights, falling."""
    up_to_here: Array
    """Sum of the chances so far."""
    edge_m: float
    heard_utc: datetime
    heard_msl_m: float | None
    """Height last heard."""
    heard_deg: tuple[float, float]
    unknown: Share
    notes: tuple[str, ...]
