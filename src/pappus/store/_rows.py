"""One packet as a row of the file, and back, bit for bit."""

from __future__ import annotations

import hashlib
import math
import struct
from datetime import UTC, datetime, timedelta
from typing import Any

from pappus.errors import BadInput, Finding
from pappus.tracking import Heard

PacketRow = tuple[str, int, bytes, int, str, str, float | None, bytes, bytes]
"""receiver, counter, digest, heard_us, kind, role, signal_db, raw, seal: in the order of the columns."""

PACKET_COLUMNS = "receiver, counter, digest, heard_us, kind, role, signal_db, raw, seal"
RAW_COLUMNS = "receiver, counter, digest, heard_us, kind, role, signal_db, raw"
"""Those of version 1, which had no seal."""
CANONICAL = "heard_us, receiver, counter, digest"
"""The order of replay. SQLite compares text octet by octet in UTF-8, which is the order of Python's strings too."""

# Two rows of one identity can differ in what the digest does not cover (a clock was set while a packet came twice). The
# least of them is kept, whichever came first, so that merging is commutative, associative and idempotent.
KEEP_PACKET = f"""
    INSERT INTO packets ({PACKET_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (receiver, counter, digest) DO UPDATE SET
        heard_us = excluded.heard_us, kind = excluded.kind, role = excluded.role, signal_db = excluded.signal_db,
        seal = excluded.seal
    WHERE (excluded.heard_us, excluded.kind, excluded.role, ifnull(excluded.signal_db, 9e999))
        < (packets.heard_us, packets.kind, packets.role, ifnull(packets.signal_db, 9e999))
"""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_LARGEST = 2**63 - 1
_HEAD = struct.Struct(">qq32sII")
_STRENGTH = struct.Struct(">d")


def as_us(when_utc: datetime) -> int:
    """Whole microseconds since 1970, exact."""
    return (when_utc - _EPOCH) // _MICROSECOND


def as_utc(microseconds: int) -> datetime:
    """The time that ``as_us`` was given."""
    return _EPOCH + microseconds * _MICROSECOND


def packet_row(heard: Heard) -> PacketRow:
    """A packet as a row; BadInput where it could not be found again as it came."""
    try:
        digest = bytes.fromhex(heard.digest)
    except ValueError:
        digest = b""
    if digest != hashlib.sha256(heard.raw).digest():
        raise _refused("digest", heard.digest, "it is not the SHA-256 of the raw packet", "Work it out from raw.")
    if not 0 <= heard.counter <= _LARGEST:
        raise _refused("counter", heard.counter, f"it must lie between 0 and {_LARGEST}", "Count packets from 0.")
    for name, text in (("receiver", heard.receiver), ("kind", heard.kind), ("role", heard.role)):
        if not text or not text.isprintable():
            raise _refused(name, text, "a name needs printable characters", "Give the receiver a plain name.")
    signal_db = heard.signal_db
    if signal_db is not None:
        # "not a number" from a receiver means that it does not know; plus 0.0 makes one of the two zeros
        signal_db = signal_db + 0.0 if math.isfinite(signal_db) else None
    at_us = as_us(heard.heard_utc)
    row = heard.receiver, heard.counter, digest, at_us, heard.kind, heard.role, signal_db, heard.raw
    return *row, seal(*row)


def seal(
    receiver: str, counter: int, digest: bytes, heard_us: int, kind: str, role: str, signal_db: float | None, raw: bytes
) -> bytes:
    """A digest over everything of a packet."""
    names = f"{receiver}\0{kind}\0{role}".encode()
    strength = b"" if signal_db is None else _STRENGTH.pack(signal_db)
    head = _HEAD.pack(counter, heard_us, digest, len(names), len(strength))
    return hashlib.sha256(b"".join((head, names, strength, raw))).digest()[:16]


def is_whole(row: tuple[Any, ...]) -> bool:
    """Everything in a row is what was put there."""
    try:
        return bool(seal(*row[:8]) == row[8])
    except (TypeError, struct.error, UnicodeEncodeError):
        return False


def raw_is_whole(row: tuple[Any, ...]) -> bool:
    """The raw packet is the one that its digest was made from."""
    return isinstance(row[7], bytes) and hashlib.sha256(row[7]).digest() == row[2]


def packet(row: tuple[Any, ...]) -> Heard:
    """The packet of a row."""
    receiver, counter, digest, heard_us, kind, role, signal_db, raw, _ = row
    return Heard(receiver, counter, as_utc(heard_us), kind, raw, digest.hex(), signal_db, role)


def _refused(field: str, value: object, reason: str, fix: str) -> BadInput:
    return BadInput(Finding(field, str(value)[:80], reason, fix))
