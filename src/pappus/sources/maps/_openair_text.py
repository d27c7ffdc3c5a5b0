"""Pieces of an OpenAir line: coordinates, distances and vertical limits.

Source: OpenAir extended specification, version 2.1.0 (2025-10-07); what a missing reference means is from memory.
"""

from __future__ import annotations

import re

from pappus.airspace import VerticalLimit
from pappus.units import foot_m

NAUTICAL_MILE_M = 1852.0

_PART = r"([0-9]{1,3}(?:\.[0-9]{0,12})?)"
_ANGLE = rf"{_PART}(?::{_PART})?(?::{_PART})?\s*"
_POINT = rf"{_ANGLE}([NS])\s*,?\s*{_ANGLE}([EW])"
_ONE_POINT = re.compile(_POINT, re.IGNORECASE)
_TWO_POINTS = re.compile(rf"{_POINT}\s*,?\s*{_POINT}", re.IGNORECASE)
_NUMBER = r"([0-9]{1,6}(?:\.[0-9]{0,12})?)"
_NUMBERS = re.compile(rf"{_NUMBER}(?:\s*,\s*{_NUMBER})?(?:\s*,\s*{_NUMBER})?")
_HEIGHT = re.compile(r"([0-9]{1,6}(?:\.[0-9]{0,6})?)(FT|F|M)?(AMSL|MSL|AGL|GND|SFC|STD)?")
_FLIGHT_LEVEL = re.compile(r"FL([0-9]{1,3})")
_SURFACE = frozenset({"SFC", "GND", "SURFACE", "GROUND"})
_UNLIMITED = frozenset({"UNL", "UNLIM", "UNLTD", "UNLIMITED"})

Point = tuple[float, float]


def read_point(text: str) -> Point:
    """Latitude and longitude in degrees; raises ValueError that says what is wrong."""
    return _points(_ONE_POINT, text)[0]


def read_two_points(text: str) -> tuple[Point, Point]:
    """Two points with or without a comma between; raises ValueError that says what is wrong."""
    first, second = _points(_TWO_POINTS, text)
    return first, second


def read_numbers(text: str, count: int) -> list[float]:
    """So many numbers with commas between; raises ValueError that says what is wrong."""
    found = _NUMBERS.fullmatch(text)
    numbers = [] if found is None else [float(part) for part in found.groups() if part is not None]
    if len(numbers) != count:
        raise ValueError("not a number" if count == 1 else f"not {count} numbers with commas between")
    return numbers


def read_limit(text: str) -> VerticalLimit:
    """A floor or ceiling: ``SFC``, ``UNL``, ``FL195``, ``1500ft AMSL``, ``300 m AGL``, ``4500 ft``.

    Without a unit it counts in feet, without a reference above mean sea level. Any other text is an unknown limit.
    """
    plain = re.sub(r"\s+", "", text.upper())
    if plain in _SURFACE:
        return VerticalLimit.surface(text)
    if plain in _UNLIMITED:
        return VerticalLimit.unlimited(text)
    level = _FLIGHT_LEVEL.fullmatch(plain)
    if level is not None:
        return VerticalLimit.flight_level(float(level[1]), text)
    height = _HEIGHT.fullmatch(plain)
    if height is None:
        return VerticalLimit.unknown(text)
    metres = float(height[1]) * (1.0 if height[2] == "M" else foot_m)
    if height[3] == "STD":
        return VerticalLimit("pressure", metres, text)
    return VerticalLimit("msl" if height[3] in (None, "AMSL", "MSL") else "ground", metres, text)


def _points(pattern: re.Pattern[str], text: str) -> list[Point]:
    found = pattern.fullmatch(text)
    if found is None:
        raise ValueError("not a latitude and a longitude like 45:30:00 N 007:15:30 E")
    parts = found.groups()
    angles = [_degrees(parts[first : first + 4]) for first in range(0, len(parts), 4)]
    return list(zip(angles[::2], angles[1::2], strict=True))


def _degrees(parts: tuple[str | None, ...]) -> float:
    """Degrees from degrees, minutes, seconds and a letter; only the last number given may have a fraction."""
    *given, letter = (part for part in parts if part is not None)
    if any("." in part for part in given[:-1]):
        raise ValueError("a fraction before the last part of an angle")
    if any(float(part) >= 60.0 for part in given[1:]):
        raise ValueError("minutes and seconds go from 0 to below 60")
    size = sum(float(part) / 60.0**power for power, part in enumerate(given))
    letter = letter.upper()
    largest = 90.0 if letter in "NS" else 180.0
    if size > largest:
        raise ValueError(f"beyond {largest:g} degrees")
    return -size if letter in "SW" else size
