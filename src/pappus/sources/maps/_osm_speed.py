"""Legal speeds from the tags of a road, and what to assume where no sign is recorded.

A limit is written as km/h, as miles an hour with the unit behind it, or as the zone of a country ("DE:urban"); "none"
and "walk" are words of their own (wiki of OpenStreetMap, Key:maxspeed, from memory). General limits of the countries
are from memory as well, and every speed that rests on them is marked as assumed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

KM_H = 1.0 / 3.6
MPH_KM_H = 1.609344
"""International mile an hour."""

WALK_KM_H = 7.0
"""What "walking speed" is taken for; a convention, no source."""
UNLIMITED_KM_H = 130.0
"""Advisory speed on German motorways, where there is no limit."""

GENERAL_KM_H: dict[str, tuple[float, float, float]] = {
    "AR": (40.0, 110.0, 130.0),
    "AT": (50.0, 100.0, 130.0),
    "AU": (50.0, 100.0, 110.0),
    "BE": (50.0, 70.0, 120.0),
    "CA": (50.0, 80.0, 100.0),
    "CH": (50.0, 80.0, 120.0),
    "CZ": (50.0, 90.0, 130.0),
    "DE": (50.0, 100.0, UNLIMITED_KM_H),
    "DK": (50.0, 80.0, 130.0),
    "ES": (50.0, 90.0, 120.0),
    "FI": (50.0, 80.0, 120.0),
    "FR": (50.0, 80.0, 130.0),
    "GB": (30 * MPH_KM_H, 60 * MPH_KM_H, 70 * MPH_KM_H),
    "IT": (50.0, 90.0, 130.0),
    "NL": (50.0, 80.0, 100.0),
    "NO": (50.0, 80.0, 110.0),
    "NZ": (50.0, 100.0, 100.0),
    "PL": (50.0, 90.0, 140.0),
    "PT": (50.0, 90.0, 120.0),
    "SE": (50.0, 70.0, 110.0),
    "US": (25 * MPH_KM_H, 55 * MPH_KM_H, 65 * MPH_KM_H),
}
"""In towns, outside towns, on motorways [km/h]; from memory, and states and provinces differ."""

ANYWHERE_KM_H = (50.0, 80.0, 110.0)
"""Where the country is not known."""

HIGHEST_ASSUMED_KM_H = {
    "unclassified": 60.0,
    "residential": 50.0,
    "living street": WALK_KM_H,
    "service": 20.0,
    "track": 20.0,
}
"""What a narrow road allows a careful driver, whatever the law; a judgement, no source."""
RAMP_KM_H = 60.0
"""Highest assumed speed on slip roads; a judgement, no source."""

_NUMBER = re.compile(r"(\d{1,3}(?:\.\d+)?)\s*(mph|km/h|kmh|kph)?")
_ZONE = re.compile(r"(?:([A-Za-z]{2})(?:[-_][A-Za-z]+)?:)?(?:zone:?)?([A-Za-z_]+|\d{1,3})")
_LOWEST_KM_H, _HIGHEST_KM_H = 3.0, 160.0


@dataclass(frozen=True)
class LegalSpeed:
    """Speed that a car may drive on a road."""

    forward_m_s: float
    backward_m_s: float
    assumed: bool
    """True where either direction has no sign that the map knows."""
    unread: str
    """A limit that is written in no known way, else empty."""


def legal_speed(tags: Mapping[str, str], road_class: str, *, ramp: bool, country: str) -> LegalSpeed:
    """Limits in both directions from the tags of a road; ``country`` has two letters or is empty.

    Without a sign: the general limit of the country for the kind of road, or less where the road is narrow. Limits
    by hour, weather or lane are not read.
    """
    fallback = assumed_speed_km_h(tags, road_class, ramp=ramp, country=country)
    speeds, assumed, unread = [], False, ""
    for key in ("maxspeed:forward", "maxspeed:backward"):
        text = tags.get(key, tags.get("maxspeed", ""))
        signed = signed_speed_km_h(text, country)
        if signed is None:
            unread = unread or (text if text not in {"", "signals", "variable"} else "")
        speed, is_assumed = (fallback, True) if signed is None else signed
        speeds.append(speed * KM_H)
        assumed = assumed or is_assumed
    return LegalSpeed(speeds[0], speeds[1], assumed, unread)


def signed_speed_km_h(text: str, country: str) -> tuple[float, bool] | None:
    """Speed of a limit as it is written, and whether it rests on an assumption; None when it cannot be read.

    Of several limits ("50;80") the lowest. Limits outside 3 to 160 km/h are no limits of a road.
    """
    found = [_one_speed_km_h(part.strip(), country) for part in re.split(r"[;|]", text)]
    speeds = [speed for speed in found if speed is not None and _LOWEST_KM_H <= speed[0] <= _HIGHEST_KM_H]
    return min(speeds) if len(speeds) == len(found) else None


def _one_speed_km_h(text: str, country: str) -> tuple[float, bool] | None:
    number = _NUMBER.fullmatch(text)
    if number:
        return float(number[1]) * (MPH_KM_H if number[2] == "mph" else 1.0), False
    if text == "none":
        return UNLIMITED_KM_H, True
    if text == "walk":
        return WALK_KM_H, True
    zone = _ZONE.fullmatch(text)
    if zone is None:
        return None
    land = (zone[1] or country).upper()
    if zone[2].isdigit():
        return float(zone[2]) * (MPH_KM_H if land in {"GB", "US"} else 1.0), False
    town, country_road, motorway = GENERAL_KM_H.get(land, ANYWHERE_KM_H)
    zones = {"urban": town, "rural": country_road, "trunk": country_road, "motorway": motorway}
    zones |= {"living_street": WALK_KM_H, "walk": WALK_KM_H}
    return (zones[zone[2]], True) if zone[2] in zones else None


def assumed_speed_km_h(tags: Mapping[str, str], road_class: str, *, ramp: bool, country: str) -> float:
    """What to assume for a road without a sign."""
    for key in ("maxspeed:type", "source:maxspeed", "zone:traffic", "zone:maxspeed"):
        zone = _one_speed_km_h(tags.get(key, ""), country)
        if zone is not None:
            return min(zone[0], HIGHEST_ASSUMED_KM_H.get(road_class, zone[0]))
    town, country_road, motorway = GENERAL_KM_H.get(country.upper(), ANYWHERE_KM_H)
    general = motorway if road_class == "motorway" else town if road_class == "residential" else country_road
    speed = min(general, HIGHEST_ASSUMED_KM_H.get(road_class, general))
    return min(speed, RAMP_KM_H) if ramp else speed
