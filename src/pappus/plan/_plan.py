"""What a plan is once it is read: domain objects in SI units, ready for every room."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from pappus.flight_train import Cylinder, FillWish, FlightTrain


@dataclass(frozen=True)
class Mission:
    """What the flight is for."""

    name: str
    client: str | None
    wanted_height_msl_m: float
    time_zone: str
    """IANA name; local times are said in it."""
    heights_of_interest_msl_m: tuple[float, ...]
    about: str | None
    """Shown wherever the plan is shown."""


@dataclass(frozen=True)
class Site:
    """A place the flight may leave from."""

    name: str
    place: str
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float
    pressure_pa: float | None
    """As read at the site; None when the winds are to say it."""
    temperature_k: float | None
    """Of the air in which the balloon is filled; None when the winds are to say it."""


@dataclass(frozen=True)
class Window:
    """When the flight may leave; UTC."""

    opens: datetime
    closes: datetime
    release: datetime


@dataclass(frozen=True)
class Limits:
    """Beyond these the answer is a warning or a refusal."""

    sounding_distance_m: float
    sounding_age_s: float
    extrapolation_above_top_m: float
    least_climb_m_s: float
    longest_flight_s: float
    landing_ground_height_msl_m: float | None
    """None: the ground at the landing is as high as the site."""


@dataclass(frozen=True)
class EnsembleSize:
    """How many flights are drawn, and from which seed."""

    flights: int
    seed: int


@dataclass(frozen=True)
class Plan:
    """One flight plan."""

    mission: Mission
    sites: tuple[Site, ...]
    flight_train: FlightTrain
    cylinder: Cylinder | None
    fill: FillWish
    window: Window
    limits: Limits
    ensemble: EnsembleSize
    assumptions: tuple[str, ...]
    """What the plan does not say and pappus takes from its own priors, one sentence each."""
    source_sha256: str
    """Digest of the plan file."""
