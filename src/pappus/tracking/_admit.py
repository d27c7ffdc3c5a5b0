"""What can be said of a fix on its own, before it is set beside others."""

from __future__ import annotations

from typing import Protocol

from pappus.tracking._fix import Fix
from pappus.tracking._gate import Candidate
from pappus.tracking._heard import Heard
from pappus.tracking._limits import HEIGHT_LEAST_MSL_M, HEIGHT_MOST_MSL_M, HEIGHT_SLACK_M
from pappus.tracking._reasons import Reason

FUTURE_S = 30.0
"""A stamp later than its hearing by more than this is wrong, or the computer's clock is. Field computers without a
network drift by seconds a day (common practice, no source)."""
OLD_S = 900.0
"""A stamp older than this when it is heard comes from a relay that held it, or from a wrong clock."""
NULL_DEG = 1e-6
MINUTE_S = 60.0
REPEAT_S = 10.0
"""Fixes without a time that say the same within this are copies of one."""


class Undulation(Protocol):
    """Height of the geoid above the ellipsoid at a place [m]."""

    def __call__(self, latitude_deg: float, longitude_deg: float, /) -> float: ...


def admit(heard: Heard, fix: Fix, undulation_m: Undulation | None) -> Candidate | Reason:
    """A candidate for the track, or why the fix can never be one.

    The height is the one above mean sea level where it was sent; else that above the ellipsoid less the undulation;
    else, or where the receiver itself says two-dimensional, none. The two kinds are never taken for each other.
    """
    lat, lon = fix.latitude_deg, fix.longitude_deg
    if lat is None or lon is None or fix.fix_quality == "none":
        return Reason.NO_POSITION
    # written so that a NaN fails
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        return Reason.OUT_OF_RANGE
    if abs(lat) < NULL_DEG and abs(lon) < NULL_DEG:
        return Reason.NULL
    height = None if fix.fix_quality == "two-dimensional" else msl_m(fix, undulation_m)
    if height is not None and not HEIGHT_LEAST_MSL_M - HEIGHT_SLACK_M <= height <= HEIGHT_MOST_MSL_M:
        return Reason.HEIGHT_OUT_OF_RANGE
    heard_s = heard.heard_utc.timestamp()
    time_s = _time_s(fix, heard_s)
    if time_s > heard_s + FUTURE_S:
        return Reason.FUTURE
    if time_s < heard_s - OLD_S:
        return Reason.OLD
    return Candidate(time_s, heard_s, lat, lon, height, fix.position_step_m or 0.0)


def msl_m(fix: Fix, undulation_m: Undulation | None) -> float | None:
    """Height above mean sea level of a fix with a position, as far as it can be told."""
    if fix.height_msl_m is not None:
        return fix.height_msl_m
    if fix.height_ellipsoid_m is None or undulation_m is None or fix.latitude_deg is None or fix.longitude_deg is None:
        return None
    return fix.height_ellipsoid_m - undulation_m(fix.latitude_deg, fix.longitude_deg)


def _time_s(fix: Fix, heard_s: float) -> float:
    if fix.time_utc is None:
        return heard_s
    stamp_s = fix.time_utc.timestamp()
    if fix.time_quality == "minutes":
        # anywhere in its minute: the hearing says where
        return min(max(heard_s, stamp_s), stamp_s + MINUTE_S)
    return stamp_s


def content(fix: Fix, heard: Heard) -> tuple[object, ...]:
    """Equal for two copies of one report, by whatever way they came."""
    when: object = fix.time_utc
    if when is None:
        when = int(heard.heard_utc.timestamp() // REPEAT_S)
    return when, fix.latitude_deg, fix.longitude_deg, fix.height_msl_m, fix.height_ellipsoid_m
