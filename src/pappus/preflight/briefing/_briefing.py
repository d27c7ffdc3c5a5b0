"""What a briefing says, as numbers in SI units; words and pictures are made from it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.decision import Decision
from pappus.flight_train import Fill
from pappus.ground import NamedPlace, Terrain
from pappus.landing import LandingArea, Quantiles, Share
from pappus.plan import Plan, Site
from pappus.preflight.briefing._surface import SurfaceAtRelease
from pappus.sources import Prior
from pappus.trajectory import Flights
from pappus.wind import WindField


@dataclass(frozen=True)
class ClimbLayer:
    """The nominal climb between two heights above mean sea level."""

    bottom_msl_m: float
    top_msl_m: float
    rate_m_s: float
    seconds: float
    coldest_k: float
    wind_speed_m_s: float
    wind_from_deg: float
    extrapolated: bool
    """True where the wind of this layer lies beyond what was measured."""


@dataclass(frozen=True)
class NearestPlace:
    """A point said as a distance from a place that people know."""

    place: NamedPlace
    distance_m: float
    bearing_deg: float
    """From the place to the point, clockwise from true north."""


@dataclass(frozen=True)
class Unknown:
    """One source of spread, flown alone."""

    name: str
    landing_spread_m: float
    """Root mean square distance of the landings from their mean when only this varies."""


@dataclass(frozen=True)
class RunLanding:
    """Where the nominal flight of one model run comes down."""

    name: str
    issued: datetime
    members: int
    landing_deg: tuple[float, float] | None
    """Latitude and longitude; None when it does not land in the data."""
    from_newest_m: float | None
    """Distance from the landing of the newest run."""


@dataclass(frozen=True)
class Briefing:
    """The whole answer before a flight."""

    plan: Plan
    prior: Prior
    site: Site
    release: datetime
    known: tuple[WindField, ...]
    """The winds as their sources hold them, newest first."""
    field: WindField
    """The newest of them as flown: extended and subdivided."""
    ground: Terrain
    """What the flights come down on."""
    winds_not_used: tuple[str, ...]
    fill: Fill
    climb_m_s: float
    """Mean of the first 5 km."""
    nominal: Flights
    """On the newest run, the mean of its members."""
    flights: Flights
    """All flights of all runs; times count from release."""
    off_nominal: NDArray[np.bool_]
    area: LandingArea
    area_without_extrapolation_km2: float | None
    """The 90 % area if the winds above those known were known as well; None when few flights go there."""
    near: NearestPlace | None
    """Of the most likely landing; None when no area exists."""
    runs: tuple[RunLanding, ...]
    reaches_wanted: Share
    unknown: Share
    """Flights that do not land in the data."""
    top_msl_m: Quantiles
    burst_time_s: Quantiles
    arrival_s: Quantiles | None
    """Seconds after release, given that the flight lands; this and what follows None when none does."""
    above_s: dict[float, Quantiles]
    """Seconds above each height of interest."""
    touchdown_m_s: Quantiles | None
    drift_m: Quantiles | None
    layers: tuple[ClimbLayer, ...]
    surface: SurfaceAtRelease | None
    unknowns: tuple[Unknown, ...]
    """Largest first."""
    holds_until: datetime
    holds_because: str
    cannot_tell: tuple[str, ...]
    """What this answer does not know or does not check, one sentence each."""
    decision: Decision | None = None
    """Go, wait or no-go; None where nothing beside the winds was looked at."""

    @property
    def nominal_top_msl_m(self) -> float:
        """Top of the nominal flight."""
        return float(self.nominal.top_height_msl_m[0])
