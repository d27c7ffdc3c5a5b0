"""How much a ``.osm.pbf`` file unpacks to, before anybody unpacks it: a small file may hold any number of bytes.

The file is a row of blocks: four bytes with the length of a header, the header with the length of the block (field 3),
and the block with its size when unpacked (field 2) or the plain bytes (field 1). Source: wiki of OpenStreetMap, PBF
Format, and the encoding of protocol buffers (both from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

_LONGEST_NUMBER = 10


def unpacked_size_bytes(content: bytes) -> int:
    """Sum of what the blocks say they unpack to, up to the first that cannot be followed; osmium holds them to it."""
    total, place = 0, 0
    while place + 4 <= len(content):
        start = place + 4
        end = start + int.from_bytes(content[place:start], "big")
        size = next((value for field, value in _fields(content, start, end) if field == 3), None)
        if size is None or end + size > len(content):
            break
        total += max((value for field, value in _fields(content, end, end + size) if field in (1, 2)), default=0)
        place = end + size
    return total


def _fields(content: bytes, start: int, end: int) -> Iterator[tuple[int, int]]:
    """Number of each field, with its value when it is a number and its length when it is bytes."""
    place = start
    while place < min(end, len(content)):
        key, place = _number(content, place)
        value, place = _number(content, place)
        if key & 7 not in (0, 2):
            return
        yield key >> 3, value
        place += value if key & 7 == 2 else 0


def _number(content: bytes, place: int) -> tuple[int, int]:
    """A number of seven bits a byte, lowest first, and where it ends."""
    number = 0
    for step, byte in enumerate(content[place : place + _LONGEST_NUMBER]):
        number |= (byte & 0x7F) << (7 * step)
        if byte < 0x80:
            return number, place + step + 1
    return number, place + _LONGEST_NUMBER
