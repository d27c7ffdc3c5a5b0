"""Numbers as a crew says them: a metric value first, the other system behind it, no more digits than are known."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from pappus.errors import OutOfRange
from pappus.units._constants import foot_m, gram_force_n, knot_m_s, mile_m

_LOW_HEIGHT_M = 5000.0
"""Below this a height is said in metres."""


def _known(name: str, value: float, unit: str, low: float = -math.inf, high: float = math.inf) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRange(name, value, low, high, unit)


def _count(value: float, step: int = 1) -> str:
    return f"{round(value / step) * step:,}"


def say_height(height_msl_m: float) -> str:
    """``"31.8 km (104,300 ft)"``; below 5 km ``"1,240 m (4,070 ft)"``. Raises ``OutOfRange`` when it is not finite."""
    _known("height_msl_m", height_msl_m, "m")
    if abs(height_msl_m) < _LOW_HEIGHT_M:
        return f"{_count(height_msl_m)} m ({_count(height_msl_m / foot_m, 10)} ft)"
    return f"{height_msl_m / 1000.0:.1f} km ({_count(height_msl_m / foot_m, 100)} ft)"


def say_height_range(low_msl_m: float, high_msl_m: float) -> str:
    """``"30.9 to 32.6 km (101,400 to 107,000 ft)"``; in metres when both are below 5 km.

    Raises ``OutOfRange`` when one is not finite or when low is above high.
    """
    _known("high_msl_m", high_msl_m, "m")
    _known("low_msl_m", low_msl_m, "m", high=high_msl_m)
    if max(abs(low_msl_m), abs(high_msl_m)) < _LOW_HEIGHT_M:
        metric, step = f"{_count(low_msl_m)} to {_count(high_msl_m)} m", 10
    else:
        metric, step = f"{low_msl_m / 1000.0:z.1f} to {high_msl_m / 1000.0:.1f} km", 100
    return f"{metric} ({_count(low_msl_m / foot_m, step)} to {_count(high_msl_m / foot_m, step)} ft)"


def say_time(time_utc: datetime, zone: str, *, date: bool = False) -> str:
    """``"10:42Z (07:42 local)"`` to the nearest minute; ``date`` puts the UTC date in front.

    A local time on another day says so. ``zone`` is an IANA name. Raises ``ValueError`` for a time without an offset
    and ``zoneinfo.ZoneInfoNotFoundError`` for a zone that this machine does not know.
    """
    if time_utc.utcoffset() is None:
        raise ValueError(f"{time_utc.isoformat()} has no offset from UTC")
    utc = time_utc.astimezone(UTC) + timedelta(seconds=30)
    local = utc.astimezone(ZoneInfo(zone))
    days = (local.date() - utc.date()).days
    other_day = {-1: ", the day before", 1: ", the day after"}.get(days, "")
    day = f"{utc:%Y-%m-%d} " if date else ""
    return f"{day}{utc:%H:%M}Z ({local:%H:%M} local{other_day})"


def say_lift(lift_n: float) -> str:
    """``"2150 gf (21.1 N)"``; from 1000 gf up to the nearest 10 gf, as a crew's scale reads."""
    _known("lift_n", lift_n, "N")
    lift_gf = lift_n / gram_force_n
    step = 10 if abs(lift_gf) >= 1000.0 else 1
    return f"{round(lift_gf / step) * step} gf ({lift_n:z.{1 if abs(lift_n) >= 10.0 else 2}f} N)"


def say_distance(distance_m: float) -> str:
    """``"48.3 km (30.0 mi)"`` in statute miles, as roads are signed; below 1 km ``"850 m (2,790 ft)"``.

    Raises ``OutOfRange`` when it is negative or not finite.
    """
    _known("distance_m", distance_m, "m", low=0.0)
    if distance_m < 1000.0:
        return f"{_count(distance_m)} m ({_count(distance_m / foot_m, 10)} ft)"
    digits = 1 if distance_m < 100e3 else 0
    return f"{distance_m / 1000.0:,.{digits}f} km ({distance_m / mile_m:,.{digits}f} mi)"


def say_speed(speed_m_s: float) -> str:
    """``"5.0 m/s (9.7 kt)"``. Raises ``OutOfRange`` when it is not finite."""
    _known("speed_m_s", speed_m_s, "m/s")
    return f"{speed_m_s:z.1f} m/s ({speed_m_s / knot_m_s:z.1f} kt)"


def say_area_km2(area_km2: float) -> str:
    """``"412 km² (159 sq mi)"``, below 10 km² with one decimal. Raises ``OutOfRange`` when negative or not finite."""
    _known("area_km2", area_km2, "km²", low=0.0)
    digits = 1 if area_km2 < 10.0 else 0
    return f"{area_km2:,.{digits}f} km² ({area_km2 / (mile_m / 1000.0) ** 2:,.{digits}f} sq mi)"


def say_duration(duration_s: float) -> str:
    """``"2 h 14 min"``, ``"14 min"``; below ten minutes ``"4 min 30 s"``. Raises ``OutOfRange`` when negative."""
    _known("duration_s", duration_s, "s", low=0.0)
    seconds = round(duration_s)
    if seconds < 60:
        return f"{seconds} s"
    if seconds < 600:
        return f"{seconds // 60} min {seconds % 60:02d} s"
    hours, minutes = divmod(round(duration_s / 60.0), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def say_position(latitude_deg: float, longitude_deg: float) -> str:
    """``"37.3800° S 64.6000° W"``: four decimals are about 11 m. Raises ``OutOfRange`` outside the globe."""
    _known("latitude_deg", latitude_deg, "deg", -90.0, 90.0)
    _known("longitude_deg", longitude_deg, "deg", -360.0, 360.0)
    east = round((longitude_deg + 180.0) % 360.0 - 180.0, 4)
    north = round(latitude_deg, 4)
    return f"{abs(north):.4f}° {'S' if north < 0 else 'N'} {abs(east):.4f}° {'W' if east < 0 else 'E'}"
