"""Packets and records out of the pages of a damaged file, one page at a time, without SQLite.

Both tables lie in index b-trees whose cells hold whole rows. Every row carries its own digest, so whatever decodes and
matches is true, wherever it was found: rows are only ever added, so an old page holds nothing wrong. Format:
sqlite.org/fileformat2.html, sections 1.5 to 2.1 (pages, cells, records) and 4.1 (the log).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pappus.store._files import beside
from pappus.store._log import FRAME_HEADER, HEADER

_LEAF, _INTERIOR = 0x0A, 0x02
_SIZES = {value: value for value in (512, 1024, 2048, 4096, 8192, 16384, 32768)} | {1: 65536}
_DEFAULT = 4096
_WHOLE_NUMBERS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}

Pages = dict[int, list[bytes]]
"""Every image of a page, the newest first."""


def rows_of_pages(path: Path) -> Iterator[tuple[Any, ...]]:
    """Every row that decodes, damaged ones among them: the caller checks digests."""
    pages = _pages(path)
    for number, images in pages.items():
        for image in images:
            yield from _rows(image, 100 if number == 1 else 0, pages)


def _pages(path: Path) -> Pages:
    content = path.read_bytes()
    log = beside(path, "-wal")
    frames = log.read_bytes() if log.exists() else b""
    size = _SIZES.get(int.from_bytes(content[16:18], "big"), 0)
    if not content.startswith(b"SQLite format 3\0") or not size:
        told = int.from_bytes(frames[8:12], "big")
        size = told if told in _SIZES.values() else _DEFAULT
    pages: Pages = {}
    for start in range(HEADER, len(frames) - FRAME_HEADER - size + 1, FRAME_HEADER + size):
        number = int.from_bytes(frames[start : start + 4], "big")
        pages.setdefault(number, []).insert(0, frames[start + FRAME_HEADER : start + FRAME_HEADER + size])
    for start in range(0, len(content), size):
        pages.setdefault(start // size + 1, []).append(content[start : start + size].ljust(size, b"\0"))
    return pages


def _rows(page: bytes, offset: int, pages: Pages) -> Iterator[tuple[Any, ...]]:
    kind = page[offset]
    if kind not in (_LEAF, _INTERIOR):
        return
    cells = min(int.from_bytes(page[offset + 3 : offset + 5], "big"), len(page) // 4)
    first = offset + (8 if kind == _LEAF else 12)
    for place in range(first, first + 2 * cells, 2):
        start = int.from_bytes(page[place : place + 2], "big") + (0 if kind == _LEAF else 4)
        try:
            yield _decoded(_payload(page, start, pages))
        except (IndexError, ValueError, struct.error):
            continue  # this cell is damaged; what is lost is counted by those who know the counters


def _payload(page: bytes, start: int, pages: Pages) -> bytes:
    length, start = _varint(page, start)
    usable = len(page)
    most = (usable - 12) * 64 // 255 - 23
    if length <= most:
        return page[start : start + length]
    if length > 1 << 28:
        raise ValueError("no row is that long")
    least = (usable - 12) * 32 // 255 - 23
    local = least + (length - least) % (usable - 4)
    local = least if local > most else local
    parts, left = [page[start : start + local]], length - local
    following = int.from_bytes(page[start + local : start + local + 4], "big")
    while left > 0:
        image = pages.get(following, [b""])[0]
        if not image:
            raise ValueError("the rest of the row is missing")
        parts.append(image[4 : 4 + min(left, usable - 4)])
        left -= usable - 4
        following = int.from_bytes(image[:4], "big")
    return b"".join(parts)


def _decoded(payload: bytes) -> tuple[Any, ...]:
    """The values of a row, by the serial types in its head."""
    end, place = _varint(payload, 0)
    types = []
    while place < end:
        serial, place = _varint(payload, place)
        types.append(serial)
    values: list[Any] = []
    for serial in types:
        if serial in (0, 8, 9):
            values.append({0: None, 8: 0, 9: 1}[serial])
            continue
        length = _WHOLE_NUMBERS.get(serial, 8 if serial == 7 else (serial - 12) // 2)
        content = payload[end : end + length]
        if length < 0 or len(content) < length:
            raise ValueError("a value is cut short")
        end += length
        if serial in _WHOLE_NUMBERS:
            values.append(int.from_bytes(content, "big", signed=True))
        elif serial == 7:
            values.append(struct.unpack(">d", content)[0])
        else:
            values.append(content if serial % 2 == 0 else content.decode())
    return tuple(values)


def _varint(content: bytes, place: int) -> tuple[int, int]:
    value = 0
    for count in range(9):
        octet = content[place]
        place += 1
        if count == 8:
            return value << 8 | octet, place
        value = value << 7 | octet & 0x7F
        if not octet & 0x80:
            break
    return value, place
