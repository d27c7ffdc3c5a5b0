"""What a plan is once it is read: domain objects in SI units, ready for every room."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, TypeVar

from pappus.decision import GoLimits
from pappus.flight_train import ClimbScatter, Cylinder, Envelope, FallPrior, FillWish, FlightPrior, FlightTrain
from pappus.rules import Equipment, Operator, Permission


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
    step_s: float = 3600.0
    """Between two launches that are compared."""

    @property
    def releases(self) -> tuple[datetime, ...]:
        """Every launch that is compared, from the opening on."""
        count = int((self.closes - self.opens).total_seconds() // self.step_s) + 1
        return tuple(self.opens + timedelta(seconds=index * self.step_s) for index in range(count))


@dataclass(frozen=True)
class Limits:
    """Beyond these the answer is a warning or a refusal."""

    sounding_distance_m: float
    sounding_age_s: float
    forecast_age_s: float
    extrapolation_above_top_m: float
    least_climb_m_s: float
    longest_flight_s: float
    landing_ground_height_msl_m: float | None
    """None: the ground at the landing is as high as the site."""


@dataclass(frozen=True)
class Scatter:
    """What the plan says of the scatter from flight to flight; None where the prior is to say it."""

    fall_exponent: float | None = None
    fall_exponent_sd: float | None = None
    fall_within_ln_sd: float | None = None
    drag_factor: float | None = None
    drag_factor_ln_sd: float | None = None
    climb_ln_sd: float | None = None
    """Below and above alike."""
    gas_excess_sd_k: float | None = None
    leak_chance: float | None = None
    leak_per_h: float | None = None
    release_sd_s: float | None = None

    def over(self, prior: FlightPrior) -> FlightPrior:
        """The prior with what the plan says in its place."""
        fall = _said(prior.fall, exponent=self.fall_exponent, exponent_sd=self.fall_exponent_sd,
                     within_ln_sd=self.fall_within_ln_sd)  # fmt: skip
        climb = _said(prior.climb_scatter, low_ln_sd=self.climb_ln_sd, high_ln_sd=self.climb_ln_sd)
        return _said(
            replace(prior, fall=fall, climb_scatter=climb), drag_factor=self.drag_factor,
            drag_factor_ln_sd=self.drag_factor_ln_sd, gas_excess_sd_k=self.gas_excess_sd_k,
            leak_chance=self.leak_chance, leak_per_h=self.leak_per_h, release_sd_s=self.release_sd_s,
        )  # fmt: skip


T = TypeVar("T", ClimbScatter, FallPrior, FlightPrior)


def _said(prior: T, **values: float | None) -> T:
    said: dict[str, Any] = {name: value for name, value in values.items() if value is not None}
    return replace(prior, **said)


@dataclass(frozen=True)
class EnsembleSize:
    """How many flights are drawn, and from which seed."""

    flights: int
    seed: int
    run_half_life_s: float | None = None
    """A run older by this than the newest weighs half; None where all weigh alike."""


@dataclass(frozen=True)
class LegalState:
    """What the plan says beside the train itself for the rules to be held against; None is not known."""

    profile: str = "icao"
    """Name of a profile, or a file beside the plan."""
    application_sent: datetime | None = None
    notice_given: datetime | None = None
    notified_release: datetime | None = None
    position_interval_s: float | None = None
    drops_object: bool | None = None
    assembly_near: bool | None = None
    control_zone: bool | None = None
    radar_in_use: bool | None = None
    ads_b_in_use: bool | None = None
    meteorological_only: bool | None = None


@dataclass(frozen=True)
class CrewMember:
    """Who does what."""

    role: str
    name: str
    phone: str | None


@dataclass(frozen=True)
class Call:
    """Who is called when."""

    when: str
    """before release, release, descent, no position, end or emergency."""
    whom: str
    phone: str


@dataclass(frozen=True)
class Vehicle:
    """A chase vehicle and where it waits before release; None: at the site."""

    name: str
    latitude_deg: float | None
    longitude_deg: float | None


@dataclass(frozen=True)
class ReceiverPlace:
    """A receiver of the flight day, as the plan has it."""

    name: str
    role: str
    kind: str
    address: str


@dataclass(frozen=True)
class Plan:
    """One flight plan."""

    mission: Mission
    sites: tuple[Site, ...]
    flight_train: FlightTrain
    cylinder: Cylinder | None
    fill: FillWish
    fill_options: tuple[tuple[str, FillWish], ...]
    """Other fills to compare, each with its name."""
    balloon_options: tuple[tuple[str, Envelope], ...]
    """Other balloons to compare, each with its name."""
    window: Window
    limits: Limits
    scatter: Scatter
    ensemble: EnsembleSize
    go: GoLimits
    people_per_km2: float | None
    """In the open country; None: a prior."""
    legal: LegalState
    permissions: tuple[Permission, ...]
    equipment: Equipment
    trackers: tuple[str, ...]
    """Callsigns or ids of the trackers on the train; empty when the plan names none."""
    operator: Operator | None
    crew: tuple[CrewMember, ...]
    calls: tuple[Call, ...]
    vehicles: tuple[Vehicle, ...]
    receivers: tuple[ReceiverPlace, ...]
    assumptions: tuple[str, ...]
    """What the plan does not say and pappus takes from its own priors, one sentence each."""
    source_sha256: str
    """Digest of the plan file."""
