"""Our own packet in JSON: keys with their SI unit in the name, as ``docs/receivers.md`` lists them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pappus.sources.receivers._json_text import iso_time, number, plain_text
from pappus.sources.receivers._refused import Refused, degrees_as_sent
from pappus.tracking import Fix, FixQuality

FIX_WORDS: tuple[FixQuality, ...] = ("none", "two-dimensional", "three-dimensional", "not told")
NUMBER_RANGES: dict[str, tuple[float, float]] = {
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 180.0),
    "height_msl_m": (-1000.0, 100_000.0),
    "height_ellipsoid_m": (-1000.0, 100_000.0),
    "speed_m_s": (0.0, 1000.0),
    "course_deg": (0.0, 360.0),
    "climb_m_s": (-1000.0, 1000.0),
    "satellites": (0.0, 200.0),
    "position_step_m": (0.0, 1e6),
    "battery_v": (-100.0, 1000.0),
}
"""The numbers of the schema, each with its range; outside of it the sender is at fault and the packet refused."""
KEYS = ("tracker", "time_utc", "fix", *NUMBER_RANGES, "temperature_k")
_MOST_EXTRAS = 64
_COLDEST_K, _HOTTEST_K = 0.0, 1500.0


def fix_of(found: Mapping[str, Any]) -> Fix:
    """A fix of an object in our schema. Raises Refused, naming the key.

    A packet without a position must say so: ``"fix": "none"``. Keys that the schema does not know are kept beside.
    """
    fix = found.get("fix", "not told")
    if fix not in FIX_WORDS:
        raise Refused(f"fix is not one of {', '.join(FIX_WORDS)}")
    values = {name: _within(found.get(name), name, *limits) for name, limits in NUMBER_RANGES.items()}
    satellites = values["satellites"]
    if satellites is not None and satellites % 1.0:
        raise Refused("satellites is not a whole number")
    extra = _extra(found)
    latitude_deg, longitude_deg = values["latitude_deg"], values["longitude_deg"]
    if (latitude_deg is None) != (longitude_deg is None):
        raise Refused("of latitude_deg and longitude_deg only one is there")
    place = None
    if latitude_deg is None or longitude_deg is None:
        if fix != "none":
            raise Refused('latitude_deg and longitude_deg are missing; a packet without a position says "fix": "none"')
    elif fix != "none":
        place = degrees_as_sent(latitude_deg, longitude_deg)
        if place is None:
            extra["no_fix"] = "the position is 0, 0"
    if place is not None and fix == "two-dimensional" and values["height_msl_m"] is not None:
        # with three satellites a receiver holds its last height: it is not a measurement
        extra["height_held_msl_m"] = values["height_msl_m"]
    time_utc = iso_time(found.get("time_utc"), "time_utc")

    def measured(name: str) -> float | None:
        return values[name] if place is not None else None

    return Fix(
        tracker=plain_text(found["tracker"], "tracker") if found.get("tracker") is not None else "",
        time_utc=time_utc,
        time_quality="none" if time_utc is None else "full",
        latitude_deg=place[0] if place else None,
        longitude_deg=place[1] if place else None,
        height_msl_m=measured("height_msl_m") if fix != "two-dimensional" else None,
        height_ellipsoid_m=measured("height_ellipsoid_m") if fix != "two-dimensional" else None,
        speed_m_s=measured("speed_m_s"),
        course_deg=measured("course_deg"),
        climb_m_s=measured("climb_m_s"),
        satellites=int(satellites) if satellites is not None else None,
        fix_quality=fix if place else "none",
        position_step_m=measured("position_step_m"),
        battery_v=values["battery_v"],
        temperature_k=_temperatures(found.get("temperature_k")),
        extra=extra,
        checked=False,
    )


def _within(value: object, name: str, low: float, high: float) -> float | None:
    found = number(value, name)
    if found is not None and not low <= found <= high:
        raise Refused(f"{name} is {found:g}, outside {low:g} to {high:g}")
    return found


def _temperatures(value: object) -> dict[str, float]:
    """One number is the outside one; a mapping names each."""
    if value is None:
        return {}
    named = value if isinstance(value, dict) else {"outside": value}
    found = {}
    for name, one in named.items():
        kelvin = _within(one, f"temperature_k.{name}"[:80], _COLDEST_K, _HOTTEST_K)
        if kelvin is not None:
            found[plain_text(name, "a name in temperature_k")] = kelvin
    return found


def _extra(found: Mapping[str, Any]) -> dict[str, str | float]:
    extra: dict[str, str | float] = {}
    for name, value in found.items():
        if name in KEYS or len(extra) >= _MOST_EXTRAS:
            continue
        keep: Callable[[object, str], str | float | None] = plain_text if isinstance(value, str) else number
        try:
            kept = keep(value, name)
        except Refused:  # not one of ours, and not a number or a short text: nobody has asked for it
            continue
        if kept is not None and name.isprintable():
            extra[name] = kept
    return extra
