"""Cuts GRIB files into fields and reads their headers, without decoding any value.

Own code, since asking a library for a handle a message costs more than all else. Sections as in WMO-No. 306, Manual
on Codes, volume I.2, FM 92 GRIB editions 1 and 2 (from memory); rare packings are left to ecCodes.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pappus.sources._files import bad_file
from pappus.sources.grib._products import Product, product_of_edition_1, product_of_edition_2

Bytes = NDArray[np.uint8]
Array = NDArray[np.float64]

MOST_POINTS = 20_000_000
"""Points of one field; the largest global forecasts have about 7 million."""
_GET_AGAIN = "Get the file again."
_LENGTH_AND_NUMBER = struct.Struct(">IB")
_PACKING_2 = struct.Struct(">IHfHHB")


class Packing(NamedTuple):
    """Simple or complex packing: value = (reference + integer 2^binary) 10^-decimal."""

    reference: float
    binary: int
    decimal: int
    bits: int
    start: int
    """Offset of the packed integers in the file."""
    coded: int
    """Number of packed integers."""
    bitmap: int
    """Offset of the bitmap in the file; 0 when every point has a value."""
    groups: bytes
    """Section 5 of complex packing; empty for simple packing."""
    octets: int
    """Length of the packed data."""

    @property
    def is_sane(self) -> bool:
        """Whether values stay far from the end of float64, as those of weather do."""
        return math.isfinite(self.reference) and abs(self.binary) <= 200 and abs(self.decimal) <= 50


class Field(NamedTuple):
    """One field of a file: what it is and where its octets lie."""

    file: int
    """Index of the file among those that are read."""
    issued: datetime
    centre: int
    grid: bytes
    """The section that defines the grid; equal octets, equal grid."""
    points: int
    product: Product
    coefficients: bytes
    """Vertical coordinate of a model level: packed numbers, four octets each."""
    packing: Packing | None
    """None when ecCodes has to decode the values."""
    parts: tuple[tuple[int, int], ...]
    """The octets that make up a message of this field alone, without its indicator section for edition 2."""
    discipline: int
    """-1 for edition 1."""


class Unreadable(NamedTuple):
    """A field that a reader would use if its octets made sense."""

    product: Product
    reason: str


def is_grib(head: bytes) -> bool:
    """True when a GRIB message of edition 1 or 2 starts within the first octets; a heading may stand before it."""
    at = head.find(b"GRIB")
    return at >= 0 and len(head) > at + 8 and head[at + 7] in (1, 2)


def read_fields(name: str, file: int, content: Bytes) -> Iterator[Field | Unreadable]:
    """Every field of a file that we may use; raises BadFile where the file is cut short or no GRIB."""
    octets = content.data
    at = _next_message(octets, 0)
    while at >= 0:
        edition = octets[at + 7] if at + 8 <= len(octets) else 0
        if edition == 2 and at + 16 <= len(octets):
            end = at + int.from_bytes(octets[at + 8 : at + 16], "big")
        elif edition == 1:
            end = at + int.from_bytes(octets[at + 4 : at + 7], "big")
            if octets[at + 4] & 0x80:
                raise bad_file(name, "a GRIB edition 1 message is larger than 8 MB", "Convert it to edition 2.")
        else:
            raise bad_file(name, f"the GRIB message at octet {at} is damaged", _GET_AGAIN)
        if end > len(octets):
            raise bad_file(name, f"the GRIB message at octet {at} is cut short", _GET_AGAIN)
        if end < at + 20 or bytes(octets[end - 4 : end]) != b"7777":
            raise bad_file(name, f"the GRIB message at octet {at} is damaged: its end is missing", _GET_AGAIN)
        try:
            read = _fields_of_edition_2 if edition == 2 else _fields_of_edition_1
            yield from read(file, octets, at, end)
        except (IndexError, KeyError, ValueError, struct.error):
            raise bad_file(name, f"the headers of the GRIB message at octet {at} are damaged", _GET_AGAIN) from None
        at = _next_message(octets, end)


def _next_message(octets: memoryview, start: int) -> int:
    """Offset of the next indicator, -1 at the end; bulletins put headings and blanks between messages."""
    if bytes(octets[start : start + 4]) == b"GRIB":
        return start
    step = 1 << 16
    for window in range(start, len(octets), step):
        found = bytes(octets[window : window + step + 3]).find(b"GRIB")
        if found >= 0:
            return window + found
    return -1


def _fields_of_edition_2(file: int, octets: memoryview, start: int, end: int) -> Iterator[Field | Unreadable]:
    discipline = octets[start + 6]
    at = start + 16
    sections: dict[int, tuple[int, int]] = {}
    bitmap = (0, 0)
    while at < end - 4:
        length, number = _LENGTH_AND_NUMBER.unpack_from(octets, at)
        if length < 5 or at + length > end - 4 or not 1 <= number <= 7:
            raise ValueError("sections do not fill the message")
        sections[number] = (at, at + length)
        at += length
        if number == 6 and octets[at - length + 5] != 254:  # 254: the bitmap given before in this message
            bitmap = sections[6]
        if number != 7:
            continue
        product_at, product_end = sections[4]
        product = product_of_edition_2(discipline, bytes(octets[product_at : min(product_end, product_at + 80)]))
        if product is None:
            continue
        sections[6] = bitmap
        yield field_2(file, octets, sections, discipline, product)


def field_2(
    file: int, octets: memoryview, sections: dict[int, tuple[int, int]], discipline: int, product: Product
) -> Field | Unreadable:
    identification, grid = sections[1][0], sections[3]
    points = int.from_bytes(octets[grid[0] + 6 : grid[0] + 10], "big")
    if not 0 < points <= MOST_POINTS:
        return Unreadable(product, f"its grid claims {points} points")
    product_at, product_end = sections[4]
    numbers = 4 * int.from_bytes(octets[product_at + 5 : product_at + 7], "big")
    representation, (data_at, data_end), bitmap_at = sections[5][0], sections[7], sections[6][0]
    coded, template, reference, binary, decimal, bits = _PACKING_2.unpack_from(octets, representation + 5)
    size = data_end - data_at - 5
    has_bitmap = octets[bitmap_at + 5] == 0
    if coded > points or (coded != points and not has_bitmap):
        return Unreadable(product, "the size of its data does not fit its grid")
    if has_bitmap and 8 * (sections[6][1] - bitmap_at - 6) < points:
        return Unreadable(product, "its bitmap does not fit its grid")
    packing = None
    if template in (0, 2, 3):
        if template == 0 and (bits > 32 or 8 * size < coded * bits):
            return Unreadable(product, "the size of its data does not fit its grid")
        groups = bytes(octets[representation : sections[5][1]]) if template else b""
        bitmap = bitmap_at + 6 if has_bitmap else 0
        scales = _signed(binary), _signed(decimal)
        packing = Packing(reference, *scales, bits, data_at + 5, coded, bitmap, groups, size)
        if not packing.is_sane:
            return Unreadable(product, "its scale is absurd")
    return Field(
        file,
        _issued_2(bytes(octets[identification + 12 : identification + 19])),
        int.from_bytes(octets[identification + 5 : identification + 7], "big"),
        bytes(octets[grid[0] : grid[1]]),
        points,
        product,
        bytes(octets[product_end - numbers : product_end]) if numbers else b"",
        packing,
        tuple(sections[number] for number in (1, 2, 3, 4, 5, 6, 7) if number in sections),
        discipline,
    )


def _fields_of_edition_1(file: int, octets: memoryview, start: int, end: int) -> Iterator[Field | Unreadable]:
    at = start + 8
    header = bytes(octets[at : at + int.from_bytes(octets[at : at + 3], "big")])
    product = product_of_edition_1(header, _member_of(header) if len(header) > 40 else 0)
    if product is None:
        return
    at += len(header)
    if not header[7] & 0x80:
        yield Unreadable(product, "it does not define its grid")
        return
    grid = bytes(octets[at : at + int.from_bytes(octets[at : at + 3], "big")])
    points = int.from_bytes(grid[6:8], "big") * int.from_bytes(grid[8:10], "big")
    if not 0 < points <= MOST_POINTS:
        yield Unreadable(product, f"its grid claims {points} points")
        return
    at += len(grid)
    bitmap = 0
    if header[7] & 0x40:
        if int.from_bytes(octets[at + 4 : at + 6], "big") != 0:
            yield Unreadable(product, "it uses a bitmap that is not in the file")
            return
        bitmap = at + 6
        if 8 * (int.from_bytes(octets[at : at + 3], "big") - 6) < points:
            yield Unreadable(product, "its bitmap does not fit its grid")
            return
        at += int.from_bytes(octets[at : at + 3], "big")
    length, flags, bits = int.from_bytes(octets[at : at + 3], "big"), octets[at + 3], octets[at + 10]
    if length < 11 or at + length > end - 4:
        raise ValueError("sections do not fill the message")
    packing = None
    if not flags & 0xD0:  # neither spherical harmonics nor complex packing nor additional flags
        available = 8 * (length - 11) - (flags & 0x0F)
        coded = available // bits if bits else points
        # some encoders pad to an even number of octets without saying so
        if bits > 32 or (not bitmap and bits and not 0 <= available - points * bits < 16):
            yield Unreadable(product, "the size of its data does not fit its grid")
            return
        packing = Packing(
            float(ibm_floats(np.frombuffer(octets[at + 6 : at + 10], np.uint8))[0]),
            _signed(int.from_bytes(octets[at + 4 : at + 6], "big")),
            _signed(int.from_bytes(header[26:28], "big")),
            bits,
            at + 11,
            coded if bitmap else points,
            bitmap,
            b"",
            length - 11,
        )
        if not packing.is_sane:
            yield Unreadable(product, "its scale is absurd")
            return
    has_numbers = bool(grid[3]) and grid[4] != 255
    numbers_at = grid[4] - 1 if has_numbers else len(grid)
    yield Field(
        file,
        _issued_1(header[12:17] + header[24:25]),
        header[4],
        grid[5:numbers_at],  # the vertical coordinate lies in this section too, but only for some of the fields
        points,
        product,
        grid[numbers_at : numbers_at + 4 * grid[3]],
        packing,
        ((start, end),),
        -1,
    )


def _member_of(header: bytes) -> int:
    """Number of the ensemble member, 0 when there is none; each centre keeps it in its own octets after the 40th."""
    centre, definition = header[4], header[40]
    if centre == 98 and definition in (1, 30, 36) and len(header) > 49:
        return header[49]
    if centre == 7 and definition == 1 and len(header) > 42:  # 2: negatively perturbed
        return -header[42] if header[41] == 2 else header[42]
    return 0


@cache
def _issued_2(octets: bytes) -> datetime:
    month, day, hour, minute, second = octets[2:7]
    return datetime(int.from_bytes(octets[:2], "big"), month, day, hour, minute, second, tzinfo=UTC)


@cache
def _issued_1(octets: bytes) -> datetime:
    year_of_century, month, day, hour, minute, century = octets
    return datetime((century - 1) * 100 + year_of_century, month, day, hour, minute, tzinfo=UTC)


def _signed(number: int) -> int:
    """Sixteen bits of sign and magnitude."""
    return -(number & 0x7FFF) if number & 0x8000 else number


def ibm_floats(octets: Bytes) -> Array:
    """Numbers of the IBM System/360 single format: sign, exponent of 16 with excess 64, 24 bits of fraction."""
    words = octets[: len(octets) // 4 * 4].view(">u4").astype(np.int64)
    sign = np.where(words >> 31, -1.0, 1.0)
    exponent = ((words >> 24) & 0x7F) - 64
    return np.asarray(sign * (words & 0xFFFFFF) * 16.0 ** (exponent - 6.0))
