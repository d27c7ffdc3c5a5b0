"""What is known about a flight, as far as laws ask for it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import datetime
from math import isfinite, isnan, pi

from pappus.errors import BadInput, Finding
from pappus.flight_train import FlightTrain
from pappus.landing import Share
from pappus.rules._limits import us_separation_n
from pappus.rules._verdict import more_than


@dataclass(frozen=True)
class PackageFact:
    """A box below the neck; None is not known."""

    name: str
    mass_kg: float | None
    smallest_face_m2: float | None


@dataclass(frozen=True)
class Equipment:
    """What hangs on the train for the eyes and the instruments of others; None is not known."""

    payload_cut_downs: int | None = None
    """Independent devices that end the flight of the payload."""
    envelope_terminators: int | None = None
    """Independent ways to end the flight of the envelope; the burst of latex is commonly argued to be one."""
    radar_reflector: bool | None = None
    """Echo to surface radar of 200 to 2700 MHz."""
    continuous_tracking: bool | None = None
    """A device that lets the operator track beyond the range of ground radar."""
    transponder: bool | None = None
    """Secondary radar transponder that reports pressure altitude."""
    ads_b: bool | None = None
    light_visible_m: float | None = None
    """How far the lights are seen; 0 without lights."""
    light_flashes_per_min: float | None = None
    suspension_marked: bool | None = None
    """Alternate bands of conspicuous colours, or pennants, seen from a mile."""
    antenna_breaking_force_n: float | None = None
    """Of the trailing antenna; 0 when there is none."""
    antenna_pennant_spacing_m: float | None = None
    """Largest distance between pennants or streamers on the trailing antenna."""
    owner_marked: bool | None = None
    """Name and address of the owner on the load."""

    def __post_init__(self) -> None:
        _clean(self)


@dataclass(frozen=True)
class Operator:
    """Who answers for the flight."""

    name: str
    phone: str = ""


@dataclass(frozen=True)
class Permission:
    """An authorisation that somebody holds: which rule ids it covers (or names of airspace), its reference, by whom.

    One without a reference covers nothing, and one that ends covers no release after its end, nor one whose time is not
    known. Raises ``BadInput`` for an end without an offset from UTC.
    """

    covers: tuple[str, ...]
    reference: str
    issued_by: str = ""
    until_utc: datetime | None = None
    """None: no end is noted."""

    def __post_init__(self) -> None:
        _clean(self)

    def covers_rule(self, rule_id: str, release_utc: datetime | None) -> bool:
        """Whether it covers a release at this time from that paragraph."""
        if not self.reference.strip() or rule_id not in (name.strip() for name in self.covers):
            return False
        return self.until_utc is None or (release_utc is not None and release_utc <= self.until_utc)


@dataclass(frozen=True, kw_only=True)
class RuleFacts:
    """Numbers that the paragraphs need. None, and a number that is not a number, is not known: cannot tell.

    Chances are counted over all flights with their interval (``pappus.landing.Share``); flights whose end is unknown
    belong into the interval, as if they had done the thing asked about. Raises ``BadInput`` for a negative or infinite
    number, and for a time without an offset from UTC.
    """

    packages: tuple[PackageFact, ...] | None = None
    rest_mass_kg: float | None = None
    """All that hangs below the neck outside the packages: canopy, lines, reflector."""
    separation_force_n: float | None = None
    """Impact force that parts the payload from the balloon: the weakest link between them."""
    suspension_length_m: float | None = None
    """Without a conspicuous open parachute."""
    zero_pressure_polyethylene: bool | None = None
    gas_capacity_m3: float | None = None
    """What the envelope holds when it is full: at its burst diameter."""
    envelope_diameter_m: float | None = None
    """At release."""
    launch_mass_kg: float | None = None
    """Envelope and everything below it, without gas."""
    envelope_mass_kg: float | None = None
    equipment: Equipment = field(default_factory=Equipment)
    permissions: tuple[Permission, ...] = ()

    cloud_fraction: float | None = None
    """0 to 1; the largest on the way."""
    visibility_m: float | None = None
    """Horizontal; the smallest on the way."""
    lowest_pressure_altitude_m: float = 0.0
    """Lowest level that the flight passes with these clouds and this visibility; a release is from the ground."""
    night_as_corrected: bool | None = None
    """Below 60 000 ft between sunset and sunrise as corrected to the altitude (``light_on_the_way``)."""
    night: bool | None = None
    """Below 60 000 ft after evening or before morning civil twilight."""
    day: bool | None = None
    """Below 60 000 ft between sunrise and sunset."""

    casualty_expectation: float | None = None
    """Expected number of people hurt by one flight, all branches."""
    drops_object: bool | None = None
    """Whether anything is meant to fall off on the way."""
    restricted_area: Share | None = None
    """Entering a prohibited or restricted area."""
    surface_area_low: Share | None = None
    """Below 2000 ft above the surface inside a surface area of class B, C, D or E of an airport."""
    congested_area_low: Share | None = None
    """Over a congested area in the first 1000 ft (300 m) of the ascent."""
    assembly_low: bool | None = None
    """Over an open-air assembly of other people in the first 1000 ft (300 m)."""
    abroad: Share | None = None
    """Crossing the border of another State, in the air or on the ground."""
    high_seas: Share | None = None
    meteorological_only: bool | None = None
    """Used for nothing but meteorology, in the manner that the authority prescribes."""
    controlled_release: bool | None = None
    """Released inside a control zone."""
    ssr_in_use: bool | None = None
    """Ground secondary radar is in use on the way."""
    ads_b_in_use: bool | None = None

    position_interval_s: float | None = None
    """Longest planned time between recorded positions."""
    release_utc: datetime | None = None
    notice_given_utc: datetime | None = None
    """When the unit of air traffic services was told."""
    notified_release_utc: datetime | None = None
    """The time of release that it was told."""
    application_sent_utc: datetime | None = None
    """When the permit was asked for."""

    def __post_init__(self) -> None:
        _clean(self)
        if self.cloud_fraction is not None and self.cloud_fraction > 1.0:
            raise BadInput(
                Finding("cloud_fraction", str(self.cloud_fraction), "a fraction is 0 to 1", "Eighths are divided by 8.")
            )
        for package in self.packages or ():
            for name in ("mass_kg", "smallest_face_m2"):
                value = getattr(package, name)
                if value is not None and not value > 0.0:
                    raise BadInput(
                        Finding(f"{package.name}.{name}", str(value), "not above 0", "Leave out what is not known.")
                    )


def train_facts(train: FlightTrain) -> RuleFacts:
    """The facts that the flight train itself tells; everything else stays not known.

    Canopy and lines count as the rest below the neck. Lines hang in series, so the weakest known one bounds the force
    that parts payload and balloon; where that bound is above 50 lbf and another line has no known force, the force is
    not known.
    """
    forces = [line.breaking_force_n for line in train.lines]
    known = [force for force in forces if force is not None]
    weakest = min(known, default=None)
    if len(known) < len(forces) and weakest is not None and more_than(weakest, us_separation_n):
        weakest = None
    return RuleFacts(
        packages=tuple(
            PackageFact(package.name, package.mass_kg, _smallest_face_m2(package.edges_m)) for package in train.packages
        ),
        rest_mass_kg=train.canopy.mass_kg + sum(line.mass_kg for line in train.lines),
        separation_force_n=weakest,
        suspension_length_m=train.length_m,
        zero_pressure_polyethylene=False,
        gas_capacity_m3=pi / 6.0 * train.envelope.burst_diameter_m**3,
        launch_mass_kg=train.envelope.mass_kg + train.train_mass_kg,
        envelope_mass_kg=train.envelope.mass_kg,
    )


def _smallest_face_m2(edges_m: tuple[float, float, float]) -> float:
    shortest, second, _ = sorted(edges_m)
    return shortest * second


def _clean(facts: RuleFacts | Equipment | Permission) -> None:
    """Not a number becomes not known; what cannot be a measure is refused."""
    for entry in fields(facts):
        value = getattr(facts, entry.name)
        if isinstance(value, datetime) and value.utcoffset() is None:
            raise BadInput(Finding(entry.name, value.isoformat(), "the time has no zone", "Give it in UTC."))
        if isinstance(value, bool) or not isinstance(value, int | float):
            continue
        if isnan(value):
            object.__setattr__(facts, entry.name, None)
        # the standard atmosphere puts a high-pressure day below zero
        elif not isfinite(value) or (value < 0.0 and entry.name != "lowest_pressure_altitude_m"):
            raise BadInput(Finding(entry.name, str(value), "not a number from 0 up", "Leave out what is not known."))
