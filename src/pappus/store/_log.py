"""Whether the log beside a store still holds all that was written to it.

SQLite takes the first frame with a wrong checksum for the end of the log. That is right after a crash, when the last
transaction was half on its way; it would drop packets in silence when a frame in the middle was damaged. Format of the
log: sqlite.org/fileformat2.html, section 4 (the write-ahead log).
"""

from __future__ import annotations

import struct
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pappus.store._errors import damaged
from pappus.store._files import beside

HEADER, FRAME_HEADER = 32, 24
_LITTLE, _BIG = 0x377F0682, 0x377F0683
_LOOK_AGAIN_S = 0.05

Words = NDArray[np.uint32]


@dataclass(frozen=True)
class _Scan:
    good: int
    """Frames up to the first wrong one."""
    after: tuple[bool, ...]
    """The frames of the same log that follow it: whether each ends a transaction."""
    header: bool

    @property
    def is_damaged(self) -> bool:
        # after a crash at most one transaction is torn: its own end may be there, but nothing behind that
        return not self.header or any(self.after[:-1])


def check_log(path: Path) -> None:
    """DamagedStore where packets in the log would be passed over."""
    scan = _scan(beside(path, "-wal"))
    if scan is None or not scan.is_damaged:
        return
    time.sleep(_LOOK_AGAIN_S)  # another process may have been writing meanwhile
    again = _scan(beside(path, "-wal"))
    if again is not None and again.is_damaged and (again.good, again.header) == (scan.good, scan.header):
        where = f"frame {scan.good + 1} of its log" if scan.header else "the head of its log"
        raise damaged(path, f"{where} is not what was written, and more follows it")


def _scan(log: Path) -> _Scan | None:
    """None where there is nothing to lose."""
    try:
        content = log.read_bytes()
    except FileNotFoundError:
        return None
    if len(content) < HEADER + FRAME_HEADER:
        return None
    magic, _, page_size, _, salt_1, salt_2, sum_1, sum_2 = struct.unpack(">8I", content[:HEADER])
    order = "<u4" if magic == _LITTLE else ">u4"
    head = np.frombuffer(content[: HEADER - 8], order).astype(np.uint32)
    header = magic in (_LITTLE, _BIG) and tuple(_after(head, _words(0, 0))) == (sum_1, sum_2)
    if not header or not 512 <= page_size <= 65536:
        return _Scan(0, (), False)
    frame = FRAME_HEADER + page_size
    count = (len(content) - HEADER) // frame
    octets = np.frombuffer(content, np.uint8, count * frame, HEADER).reshape(count, frame)
    heads = np.ascontiguousarray(octets[:, :FRAME_HEADER]).view(">u4")
    ours = (heads[:, 2] == salt_1) & (heads[:, 3] == salt_2)
    checked = np.concatenate([octets[:, :8], octets[:, FRAME_HEADER:]], axis=1)
    words = np.ascontiguousarray(checked).view(order).astype(np.uint32)
    state, good = _words(sum_1, sum_2), 0
    for number in range(count):
        state = _after(words[number], state)
        if not ours[number] or tuple(state) != (heads[number, 4], heads[number, 5]):
            break
        good = number + 1
    after = tuple(bool(heads[number, 1]) for number in range(good, count) if ours[number])
    return _Scan(good, after, True)


def _after(words: Words, before: Words) -> Words:
    """The two running sums after some words: s0 += x0 + s1, s1 += x1 + s0, for every two words, modulo 2^32.

    Written as powers of the matrix of one step, since a loop over every word takes seconds on a long log.
    """
    steps = len(words) // 2
    powers = _powers(steps)
    pairs = words.reshape(steps, 2)
    added = np.stack([pairs[:, 0], pairs[:, 0] + pairs[:, 1]], axis=1)
    carried = (powers[steps] * before).sum(axis=1, dtype=np.uint32)
    total = (powers[steps - 1 :: -1] if steps else powers[:0]) * added[:, None, :]
    return np.asarray(carried + total.sum(axis=(0, 2), dtype=np.uint32), np.uint32)


@cache
def _powers(steps: int) -> Words:
    """The matrix of one step to the powers 0 to ``steps``."""
    powers = np.empty((steps + 1, 2, 2), np.uint32)
    a, b, c, d = 1, 0, 0, 1
    for number in range(steps + 1):
        powers[number] = ((a, b), (c, d))
        a, b, c, d = (value & 0xFFFFFFFF for value in (a + c, b + d, a + 2 * c, b + 2 * d))
    return powers


def _words(first: int, second: int) -> Words:
    return np.array([first, second], np.uint32)
