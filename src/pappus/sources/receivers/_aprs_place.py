"""Positions of APRS reports, plain and compressed, and what follows them.

Source: APRS Protocol Reference 1.0.1, chapters 6 to 9 (worked examples in the tests); the added digits ``!DAO!`` from
the datum addition to APRS 1.2 (from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from pappus.sources.receivers._refused import Refused
from pappus.units import foot_m, knot_m_s, mile_m

MINUTE_OF_ARC_M = 1852.0
_PLAIN = re.compile(
    r"(\d\d)([0-5 ][\d ]\.[\d ]{2})([NS])([0-9A-Z/\\])([\d ]{3})([0-5 ][\d ]\.[\d ]{2})([EW])([!-~])", re.ASCII
)
_COMPRESSED = re.compile(r"([/\\A-Za-j])([!-{]{4})([!-{]{4})([!-~])([ -{])([!-{ ])([!-~ ])")
_COURSE_SPEED = re.compile(r"(\d{3}|\.{3}| {3})/(\d{3}|\.{3}| {3})", re.ASCII)
_ALTITUDE = re.compile(r"/A=(-\d{5}|\d{6})", re.ASCII)
_ADDED_DIGITS = re.compile(r"!(?:W(\d)(\d)|w([!-{])([!-{]))!", re.ASCII)
_WEATHER_SYMBOL = "_"
_SOURCE_IS_GGA, _SOURCE_BITS, _CURRENT_BIT = 0x10, 0x18, 0x20


@dataclass(frozen=True)
class Place:
    """What the position part of a report says."""

    latitude_deg: float
    longitude_deg: float
    step_m: float | None
    symbol: str
    """Table or overlay, then symbol: ``"/O"`` is a balloon."""
    speed_m_s: float | None = None
    course_deg: float | None = None
    height_msl_m: float | None = None
    extra: dict[str, str | float] = field(default_factory=dict)


def read_place(text: str) -> Place:
    """The position at the start of ``text`` with its extension and comment. Raises Refused where there is none."""
    if text[:1].isdigit() or text[:1] == " ":
        match = _PLAIN.match(text)
        if match is None:
            raise Refused("not a position in degrees and minutes")
        return with_comment(_plain(match, text[match.end() :]), text[match.end() :])
    match = _COMPRESSED.match(text)
    if match is None:
        raise Refused("not a compressed position")
    return with_comment(_compressed(match), text[match.end() :])


def minutes_with_gaps(digits: str) -> tuple[float, int]:
    """Minutes from four digits whose last ones may be spaces, and how many are spaces.

    A space stands for an unknown digit (position ambiguity): the middle of what it can be is taken.
    """
    known = digits.rstrip(" ")
    if " " in known or not (known.isdigit() or not known):
        raise Refused("a digit of the minutes is missing before others")
    gaps = 4 - len(known)
    span = _SPAN_OF_GAPS[gaps]
    # four gaps leave whole degrees, three leave tens of minutes
    minutes = int(known.ljust(4, "0")) / 100.0 + (span / 2.0 if gaps else 0.0)
    if minutes >= 60.0:
        raise Refused("60 minutes or more")
    return minutes, gaps


_SPAN_OF_GAPS = (0.01, 0.1, 1.0, 10.0, 60.0)


def step_of_gaps(gaps: int) -> float:
    """Metres of latitude that a position with so many gaps can be anywhere in."""
    return _SPAN_OF_GAPS[gaps] * MINUTE_OF_ARC_M


def base_91(text: str) -> int:
    """Characters ``!`` to ``{`` as digits of base 91, the first one the largest."""
    value = 0
    for letter in text:
        value = value * 91 + ord(letter) - 33
    return value


def with_comment(place: Place, comment: str) -> Place:
    """The place with what its comment adds: height in feet, more digits of the position, the text itself."""
    found = _ALTITUDE.search(comment)
    height_msl_m = int(found[1]) * foot_m if found else place.height_msl_m
    place = replace(place, height_msl_m=height_msl_m)
    digits = _ADDED_DIGITS.search(comment)
    if digits and place.step_m is not None and place.step_m < 20.0:
        place = _with_added_digits(place, digits)
    if comment.strip():
        place.extra["comment"] = _shown(comment.strip())
    return place


def _shown(comment: str) -> str:
    """The text as UTF-8 without control characters: anybody can send it, and a screen will show it."""
    text = comment.encode("latin-1").decode("utf-8", "replace")
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def _plain(match: re.Match[str], after: str) -> Place:
    latitude, gaps = minutes_with_gaps(match[2].replace(".", ""))
    longitude_digits = match[6].replace(".", "")
    # the gaps of the latitude hold for the longitude too, whatever digits it shows
    if gaps:
        longitude_digits = longitude_digits[: 4 - gaps].ljust(4)
    longitude, _ = minutes_with_gaps(longitude_digits)
    if not match[5].strip().isdigit() or " " in match[5]:
        raise Refused("a digit of the degrees is missing")
    latitude_deg = int(match[1]) + latitude / 60.0
    longitude_deg = int(match[5]) + longitude / 60.0
    place = Place(
        latitude_deg=-latitude_deg if match[3] == "S" else latitude_deg,
        longitude_deg=-longitude_deg if match[7] == "W" else longitude_deg,
        step_m=step_of_gaps(gaps),
        symbol=match[4] + match[8],
    )
    found = _COURSE_SPEED.match(after)
    # under the weather symbol the same form is the wind, not the motion of the station
    if found is None or match[8] == _WEATHER_SYMBOL:
        return place
    course = int(found[1]) if found[1].isdigit() else 0
    if course > 360:
        raise Refused("a course of more than 360 degrees")
    return replace(
        place,
        course_deg=course % 360.0 if course else None,  # 000 means unknown, 360 is north
        speed_m_s=int(found[2]) * knot_m_s if found[2].isdigit() else None,
    )


def _compressed(match: re.Match[str]) -> Place:
    place = Place(
        latitude_deg=90.0 - base_91(match[2]) / 380926.0,
        longitude_deg=-180.0 + base_91(match[3]) / 190463.0,
        step_m=None,
        symbol=match[1] + match[4],
    )
    first, second, kind = match[5], match[6], ord(match[7]) - 33
    if first == " ":
        return place
    if second == " " or match[7] == " ":
        raise Refused("a compressed position with a gap in its last bytes")
    if not kind & _CURRENT_BIT:
        place.extra["position"] = "the last known one"
    if kind & _SOURCE_BITS == _SOURCE_IS_GGA:
        return replace(place, height_msl_m=1.002 ** base_91(first + second) * foot_m)
    if first == "{":
        place.extra["range_m"] = 2.0 * 1.08 ** (ord(second) - 33) * mile_m
        return place
    return replace(
        place,
        course_deg=(ord(first) - 33) * 4.0 % 360.0,
        speed_m_s=(1.08 ** (ord(second) - 33) - 1.0) * knot_m_s,
    )


def _with_added_digits(place: Place, digits: re.Match[str]) -> Place:
    if digits[1]:
        north, east, step = int(digits[1]) / 1000.0, int(digits[2]) / 1000.0, 0.001
    else:
        north, east = ((ord(letter) - 33) / 91.0 * 0.01 for letter in (digits[3], digits[4]))
        step = 0.01 / 91.0
    step_m = step * MINUTE_OF_ARC_M
    return replace(
        place,
        latitude_deg=_away_from_zero(place.latitude_deg, north / 60.0),
        longitude_deg=_away_from_zero(place.longitude_deg, east / 60.0),
        step_m=step_m if step_m >= 1.0 else None,
    )


def _away_from_zero(angle_deg: float, more_deg: float) -> float:
    return angle_deg + more_deg if angle_deg >= 0.0 else angle_deg - more_deg
