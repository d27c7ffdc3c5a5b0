"""One NMEA 0183 sentence: checksum, fields, and the words of the fields that we read.

Layout of the sentences as in NMEA 0183 (from memory, held to the published examples in the tests).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import reduce
from operator import xor

from pappus.sources.receivers._refused import Refused

LONGEST_SENTENCE = 160
"""Bytes. The standard ends at 82; receivers with many decimals write more."""
_SENTENCE = re.compile(rb"\$([A-Z0-9]{2,5})((?:,[\x20-\x23\x25-\x29\x2B\x2D-\x7E]*)*)\*([0-9A-Fa-f]{2})")
_CLOCK = re.compile(r"(\d\d)(\d\d)(\d\d(?:\.\d{1,9})?)")
_ANGLE = re.compile(r"(\d{1,3})(\d\d)(?:\.(\d{0,9}))?")
_NUMBER = re.compile(r"-?\d{1,8}(?:\.\d{0,9})?")
_MINUTE_OF_ARC_M = 1852.0


@dataclass(frozen=True)
class Sentence:
    """A sentence whose checksum is right: ``"GGA"`` and its fields after the name."""

    name: str
    fields: tuple[str, ...]

    def field(self, index: int) -> str:
        """A field, or the empty text where the sentence is shorter."""
        return self.fields[index] if index < len(self.fields) else ""


def read_sentence(line: bytes) -> Sentence:
    """Raises Refused for anything but a whole sentence with its checksum, and for a wrong checksum."""
    line = line.strip()
    if len(line) > LONGEST_SENTENCE:
        raise Refused(f"a sentence of more than {LONGEST_SENTENCE} bytes")
    match = _SENTENCE.fullmatch(line)
    if match is None:
        raise Refused("not an NMEA sentence with a checksum")
    if checksum(line[1:-3]) != int(match[3], 16):
        raise Refused("the checksum of the sentence is wrong")
    address = match[1].decode("ascii")
    if len(address) != 5:  # two letters of talker, three of sentence; proprietary ones differ
        return Sentence(address, ())
    return Sentence(address[2:], tuple(match[2].decode("ascii")[1:].split(",")))


def checksum(between: bytes) -> int:
    """Exclusive or of the bytes between ``$`` and ``*``."""
    return reduce(xor, between, 0)


def clock(text: str) -> tuple[int, int, float] | None:
    """``hhmmss.ss``, None when empty."""
    if not text:
        return None
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise Refused(f"{text!r} is not a time hhmmss")
    return int(match[1]), int(match[2]), float(match[3])


def angle(text: str, side: str, sides: str) -> tuple[float, float | None] | None:
    """``ddmm.mmmm`` with its hemisphere in degrees, and the step in metres that its decimals leave (None below 1 m).

    None when both fields are empty.
    """
    if not text and not side:
        return None
    match = _ANGLE.fullmatch(text)
    width = 2 if sides == "NS" else 3
    if match is None or len(match[1]) != width or len(side) != 1 or side not in sides:
        raise Refused(f"{text!r} {side!r} is not an angle with a hemisphere")
    decimals = match[3] or ""
    minutes = float(f"{match[2]}.{decimals or 0}")
    if minutes >= 60.0:
        raise Refused(f"{text!r} has more than 60 minutes")
    degrees = int(match[1]) + minutes / 60.0
    step_m = _MINUTE_OF_ARC_M * 10.0 ** -len(decimals)
    return (-degrees if side == sides[1] else degrees), (step_m if step_m >= 1.0 else None)


def number(text: str) -> float | None:
    """A plain decimal number, None when empty."""
    if not text:
        return None
    if not _NUMBER.fullmatch(text):
        raise Refused(f"{text!r} is not a number")
    return float(text)


def count(text: str) -> int | None:
    """A whole number of at most two digits, None when empty."""
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 2):
        raise Refused(f"{text!r} is not a count")
    return int(text)
