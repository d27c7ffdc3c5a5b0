"""What a notice to air traffic services tells about a flight, and pieces of text that drafts share."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC, datetime
from math import isfinite
from typing import NamedTuple

from pappus.errors import BadInput, Finding
from pappus.rules._coordinates import seconds_text
from pappus.rules._facts import Operator
from pappus.units import foot_m, say_height

BLANK = "____"
"""Stands where something is not known: to be filled in by hand, never dropped."""


class TrackPoint(NamedTuple):
    """One place of the forecast trajectory; heights are None where not known."""

    time_utc: datetime
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float | None = None
    pressure_altitude_m: float | None = None


@dataclass(frozen=True, kw_only=True)
class FlightNotice:
    """The numbers of a notice, in SI; None is not known and becomes a blank to fill in.

    Raises ``BadInput`` for a time without an offset from UTC, a number that is not finite, and a place off the earth.
    """

    identification: str | None = None
    ats_unit: str | None = None
    """Whom the drafts are written to."""
    operator: Operator | None = None
    site_name: str | None = None
    site_latitude_deg: float | None = None
    site_longitude_deg: float | None = None
    release_utc: datetime | None = None
    release_end_utc: datetime | None = None
    """Latest release, where a span of time is told."""
    balloons: int = 1
    interval_s: float | None = None
    """Between releases, where there are several balloons."""
    balloon_class: str | None = None
    description: str | None = None
    """Such as the colour and the kind of the envelope."""
    envelope_length_m: float | None = None
    envelope_diameter_m: float | None = None
    """At release."""
    suspension_length_m: float | None = None
    payload_mass_kg: float | None = None
    """Everything below the neck."""
    antenna_length_m: float | None = None
    """Trailing; 0 for none."""
    transponder_code: str | None = None
    aircraft_address: str | None = None
    beacon_frequency_hz: float | None = None
    ascent_rate_m_s: float | None = None
    drift_toward_deg: float | None = None
    """Direction in which the flight goes, clockwise from true north."""
    top_height_msl_m: float | None = None
    top_pressure_altitude_m: float | None = None
    climb_limit: TrackPoint | None = None
    """Where and when 60 000 ft (18 000 m) pressure altitude is passed on the way up."""
    burst: TrackPoint | None = None
    descent_limit: TrackPoint | None = None
    """Where and when the same level is passed on the way down."""
    trajectory: tuple[TrackPoint, ...] = ()
    landing: TrackPoint | None = None
    landing_area_deg: tuple[tuple[float, float], ...] = ()
    """Outline of the landing area, (latitude, longitude)."""
    landing_area_level: float | None = None
    """Share of landings inside it: 0.9 or 0.95."""

    def __post_init__(self) -> None:
        for entry in fields(self):
            _refuse(entry.name, getattr(self, entry.name))
        for name, place in (
            ("site_latitude_deg", self.site_latitude_deg),
            ("site_longitude_deg", self.site_longitude_deg),
        ):
            _refuse_off_earth(name, place, 90.0 if "latitude" in name else 180.0)
        for latitude, longitude in self.landing_area_deg:
            _refuse_off_earth("landing_area_deg", latitude, 90.0)
            _refuse_off_earth("landing_area_deg", longitude, 180.0)


def say_clock(time: datetime | None) -> str:
    """``2026-06-14 09:00 UTC``."""
    return BLANK if time is None else f"{time.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def say_place(latitude_deg: float | None, longitude_deg: float | None) -> str:
    """``453020N0071540E``: degrees, minutes and seconds."""
    return BLANK if latitude_deg is None or longitude_deg is None else seconds_text(latitude_deg, longitude_deg)


def say_point(point: TrackPoint | None) -> str:
    """Time and place."""
    if point is None:
        return f"{BLANK} at {BLANK}"
    return f"{say_clock(point.time_utc)} at {say_place(point.latitude_deg, point.longitude_deg)}"


def say_level(pressure_altitude_m: float | None, height_msl_m: float | None) -> str:
    """The pressure altitude that air traffic services count in, and the height of a satellite receiver beside it."""
    level = BLANK if pressure_altitude_m is None else f"{round(pressure_altitude_m / foot_m, -2):,.0f} ft"
    height = BLANK if height_msl_m is None else say_height(height_msl_m)
    return f"pressure altitude {level}; height above mean sea level {height}"


def say_number(value: float | None, unit: str, digits: int = 1) -> str:
    """A number with its unit."""
    return f"{BLANK} {unit}" if value is None else f"{value:.{digits}f} {unit}"


def _refuse(name: str, value: object) -> None:
    if isinstance(value, TrackPoint):
        for part, entry in value._asdict().items():
            _refuse(f"{name}.{part}", entry)
        _refuse_off_earth(f"{name}.latitude_deg", value.latitude_deg, 90.0)
        _refuse_off_earth(f"{name}.longitude_deg", value.longitude_deg, 180.0)
    elif isinstance(value, tuple):
        for entry in value:
            _refuse(name, entry)
    elif isinstance(value, datetime) and value.utcoffset() is None:
        raise BadInput(Finding(name, value.isoformat(), "the time has no zone", "Give it in UTC."))
    elif isinstance(value, float) and not isfinite(value):
        raise BadInput(Finding(name, str(value), "not a finite number", "Leave out what is not known."))


def _refuse_off_earth(name: str, degrees: float | None, most: float) -> None:
    if degrees is not None and not -most <= degrees <= most:
        raise BadInput(
            Finding(name, str(degrees), f"not from -{most:g} to {most:g} degrees", "Check the order of the two.")
        )
