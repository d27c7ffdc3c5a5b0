"""Mic-E: an APRS position packed into the destination address and nine bytes.

Source: APRS Protocol Reference 1.0.1, chapter 10 (its worked example is in the tests).
"""

from __future__ import annotations

import re
from dataclasses import replace

from pappus.sources.receivers._aprs_place import Place, base_91, minutes_with_gaps, step_of_gaps, with_comment
from pappus.sources.receivers._refused import Refused
from pappus.units import knot_m_s

_DESTINATION = re.compile(r"[0-9A-LP-Z]{3}[0-9LP-Z]{3}", re.ASCII)
# the altitude stands first in the text, or after one byte that tells the maker of the radio
_ALTITUDE = re.compile(r".?([!-{]{3})\}", re.DOTALL)
_DATUM_M = 10_000
_MESSAGES = {
    "111": "M0 Off duty", "110": "M1 En route", "101": "M2 In service", "100": "M3 Returning", "011": "M4 Committed",
    "010": "M5 Special", "001": "M6 Priority", "000": "Emergency",
}  # fmt: skip
_OLD_DATA = ("'", "\x1d")


def read_mic_e(destination: str, text: str) -> Place:
    """``text`` begins with the data type. Raises Refused where destination or bytes are not of this form."""
    if not _DESTINATION.fullmatch(destination):
        raise Refused("the destination of a Mic-E report holds no latitude")
    if len(text) < 9:
        raise Refused("a Mic-E report of fewer than nine bytes")
    values = [ord(letter) - 28 for letter in text[1:7]]
    if min(values) < 0 or max(values) > 99:
        raise Refused("a byte of the Mic-E report is out of range")
    digits = "".join(_digit(letter) for letter in destination)
    if " " in digits[:2]:
        raise Refused("a digit of the degrees is missing")
    latitude, gaps = minutes_with_gaps(digits[2:])
    latitude_deg = int(digits[:2]) + latitude / 60.0
    longitude_deg = _longitude_deg(values, destination[4] >= "P", gaps)
    speed_kt, course = values[3] * 10 + values[4] // 10, values[4] % 10 * 100 + values[5]
    speed_kt -= 800 if speed_kt >= 800 else 0
    course -= 400 if course >= 400 else 0
    if course > 360:
        raise Refused("a course of more than 360 degrees")
    if not ("!" <= text[7] <= "~" and (text[8] in "/\\" or (text[8].isascii() and text[8].isalnum()))):
        raise Refused("not a symbol")
    place = Place(
        latitude_deg=latitude_deg if destination[3] >= "P" else -latitude_deg,
        longitude_deg=-longitude_deg if destination[5] >= "P" else longitude_deg,
        step_m=step_of_gaps(gaps),
        symbol=text[8] + text[7],
        speed_m_s=speed_kt * knot_m_s,
        course_deg=course % 360.0 if course else None,
        extra={"message": _message(destination[:3])},
    )
    if text[0] in _OLD_DATA:
        # some radios of one maker mark current data this way as well, so it is told and not judged
        place.extra["position"] = "marked as the last known one"
    found = _ALTITUDE.match(text, 9)
    if found:
        place = replace(place, height_msl_m=float(base_91(found[1]) - _DATUM_M))
    return with_comment(place, text[found.end() if found else 9 :])


def _digit(letter: str) -> str:
    if letter.isdigit():
        return letter
    if letter in "KLZ":
        return " "
    return chr(ord(letter) - (17 if letter < "K" else 32))


def _longitude_deg(values: list[int], offset: bool, gaps: int) -> float:
    degrees = values[0] + (100 if offset else 0)
    if 180 <= degrees <= 189:
        degrees -= 80
    elif 190 <= degrees <= 199:
        degrees -= 190
    minutes = values[1] - 60 if values[1] >= 60 else values[1]
    if degrees > 179 or minutes >= 60:
        raise Refused("a longitude that is none")
    shown = f"{minutes:02d}{values[2]:02d}"
    if gaps:
        shown = shown[: 4 - gaps].ljust(4)
    return degrees + minutes_with_gaps(shown)[0] / 60.0


def _message(letters: str) -> str:
    bits = "".join("0" if letter.isdigit() or letter == "L" else "1" for letter in letters)
    custom = {letter in "ABCDEFGHIJK" for letter in letters if not (letter.isdigit() or letter == "L")}
    if custom == {True}:
        return f"custom {7 - int(bits, 2)}"
    return _MESSAGES[bits] if custom in ({False}, set()) else "unknown"
