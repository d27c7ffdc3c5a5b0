"""What one packet says of one tracker, in SI units, before anybody has judged whether it can be true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

TimeQuality = Literal["full", "time of day", "minutes", "none"]
"""``"full"``: date and time to the second came with the packet. ``"time of day"``: the date was taken from the hearing.
``"minutes"``: the packet tells its time to the minute only. ``"none"``: the packet carries no time."""
FixQuality = Literal["none", "two-dimensional", "three-dimensional", "not told"]
"""``"none"``: the packet says itself that it has no position."""


@dataclass(frozen=True)
class Fix:
    """One position report. None means that the packet does not say: a missing number is never written as 0."""

    tracker: str
    """Callsign or identifier of the tracker as the packet gives it; empty when it gives none (bare NMEA lines)."""
    time_utc: datetime | None
    """When the position was measured, by the tracker's clock, UTC-aware; None when the packet carries no time."""
    time_quality: TimeQuality
    latitude_deg: float | None
    """WGS84, north positive, as sent, even if out of range; None when the packet holds no position."""
    longitude_deg: float | None
    """East positive, as sent."""
    height_msl_m: float | None
    """Above mean sea level, where the packet says so."""
    height_ellipsoid_m: float | None
    """Above the WGS84 ellipsoid, where the packet says so; never a copy of ``height_msl_m``."""
    speed_m_s: float | None = None
    """Over the ground."""
    course_deg: float | None = None
    """Clockwise from true north, 0 to 360."""
    climb_m_s: float | None = None
    """Upwards positive, where the tracker sends it."""
    satellites: int | None = None
    fix_quality: FixQuality = "not told"
    position_step_m: float | None = None
    """Step to which the packet rounds its position (18.5 m for hundredths of a minute); None when it is below 1 m."""
    battery_v: float | None = None
    temperature_k: Mapping[str, float] = field(default_factory=dict)
    """By the name that the tracker gives: inside, outside, battery ..."""
    extra: Mapping[str, str | float] = field(default_factory=dict)
    """Whatever else the packet carried and we name but do not judge."""
    checked: bool = False
    """A checksum of the packet's own was there and right."""
