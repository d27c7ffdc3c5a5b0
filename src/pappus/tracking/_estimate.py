"""The answer: what is known of the flight after the last packet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from pappus.tracking._burst import FallStart
from pappus.tracking._fix import Fix
from pappus.tracking._heard import Role
from pappus.tracking._phase import Phase
from pappus.tracking._reasons import Reason
from pappus.tracking._winds import WindLayer


@dataclass(frozen=True)
class LastPosition:
    """The newest position that was believed."""

    tracker: str
    time_utc: datetime
    """When it was measured, by the tracker's clock; when heard, where the packet told no time."""
    heard_utc: datetime
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float | None
    """As measured; None where the fix tells none."""
    position_sd_m: float
    """One standard deviation along one axis."""
    checked: bool
    """A checksum of the packet's own was right. Where False, show the position as unchecked."""
    confirmed: bool
    """At least three fixes in a row agree with each other. Where False, it may still be given up."""


@dataclass(frozen=True)
class Motion:
    """Rates at the newest fix with a height."""

    time_utc: datetime
    """Of that fix."""
    height_msl_m: float
    """Smoothed."""
    height_sd_m: float
    climb_m_s: float
    """Upwards positive."""
    climb_sd_m_s: float
    drift_u_m_s: float | None
    """Eastward over the ground, at flight height, mean of the last 20 s or so; None before a second fix."""
    drift_v_m_s: float | None
    drift_sd_m_s: float | None

    @property
    def speed_m_s(self) -> float | None:
        """Over the ground."""
        if self.drift_u_m_s is None or self.drift_v_m_s is None:
            return None
        return math.hypot(self.drift_u_m_s, self.drift_v_m_s)

    @property
    def course_deg(self) -> float | None:
        """Clockwise from true north, 0 to 360."""
        if self.drift_u_m_s is None or self.drift_v_m_s is None:
            return None
        return math.degrees(math.atan2(self.drift_u_m_s, self.drift_v_m_s)) % 360.0


@dataclass(frozen=True)
class TrackerState:
    """One tracker of the flight."""

    tracker: str
    phase: Phase
    fix_utc: datetime | None
    """Time of its newest believed fix; None while none was."""
    heard_utc: datetime
    """When it was last heard, believed or not."""
    height_msl_m: float | None
    accepted: int
    duplicates: int
    """Copies of a report already there: other receivers, other forms."""
    rejected: tuple[tuple[Reason, int], ...]
    last_rejected: tuple[Reason, datetime] | None
    """Why and when (as heard) a fix was last refused."""
    battery_v: float | None
    temperature_k: Mapping[str, float]
    told_utc: datetime | None
    """When battery or temperatures were last heard."""
    begun_again: int
    """How often the track began at another place, before the flight."""


@dataclass(frozen=True)
class Apart:
    """A tracker set beside the chosen one, at the same moment."""

    tracker: str
    time_utc: datetime
    distance_m: float
    agrees: bool
    height_offset_m: float | None
    """Its height less that of the chosen one, mean of up to a hundred comparisons."""
    comparisons: int


@dataclass(frozen=True)
class Listener:
    """One receiver."""

    receiver: str
    role: Role
    heard_utc: datetime
    packets: int
    not_understood: int
    signal_db: float | None
    hears: tuple[str, ...]
    """Trackers it has heard in the last two minutes before its newest packet."""


@dataclass(frozen=True)
class VehicleSeen:
    """A car of the crew; told apart from the balloon by the role of its receiver or by its name."""

    name: str
    time_utc: datetime
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True)
class Estimate:
    """The state of the flight after one packet. Ages are for the reader to take: every part carries its time."""

    heard_utc: datetime
    """Of the newest packet."""
    packets: int
    phase: Phase
    phase_since_utc: datetime | None
    position: LastPosition | None
    """None while nothing was believed."""
    motion: Motion | None
    """None while no height was believed."""
    highest_msl_m: float | None
    ground_msl_m: float | None
    """Mean of the heights before release, by the tracker."""
    release_utc: datetime | None
    """Line of the first climb drawn back to the ground; None where the ground was never heard. This and the next two
    are told by a tracker that agrees with the chosen one, where the chosen one missed them."""
    fall_start: FallStart | None
    landed_utc: datetime | None
    wind: tuple[WindLayer, ...]
    """Measured by the chosen tracker: up from below, at float, down from above; layers that it missed are taken from
    others that agree with it."""
    trackers: tuple[TrackerState, ...]
    apart: tuple[Apart, ...]
    listeners: tuple[Listener, ...]
    vehicles: tuple[VehicleSeen, ...]
    refused: tuple[tuple[Fix, Reason], ...]
    """Fixes of this very packet that were not believed, each with its reason."""
    notes: tuple[str, ...]
    """What a person should know, one sentence each."""

    @property
    def chosen(self) -> TrackerState | None:
        """The tracker that the position is taken from."""
        if self.position is None:
            return None
        return next(state for state in self.trackers if state.tracker == self.position.tracker)

    @property
    def rejected(self) -> tuple[tuple[str, Reason, int], ...]:
        """(tracker, reason, count) of all fixes that were not believed so far."""
        return tuple((state.tracker, why, count) for state in self.trackers for why, count in state.rejected)
