"""All that is kept beside the packets: plans, forecasts used, estimates, predictions, decisions, messages.

A record is addressed by the digest of everything in it, so merging is a union here too.
"""

from __future__ import annotations

import hashlib
import json
import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import datetime, timedelta
from enum import Enum
from typing import Any, Literal, get_args

import numpy as np

from pappus.errors import BadInput, Finding
from pappus.store._basis import Basis
from pappus.store._rows import as_us, as_utc

RecordKind = Literal["plan", "forecast", "estimate", "prediction", "decision", "message"]
DERIVED: tuple[RecordKind, ...] = ("estimate", "prediction")
"""What a replay of the packets gives again."""
RecordRow = tuple[str, int, str, bytes, int | None, bytes | None, bytes]
"""kind, made_us, laptop, digest, basis_packets, basis_digest, body: in the order of the columns."""

RECORD_COLUMNS = "kind, made_us, laptop, digest, basis_packets, basis_digest, body"
KEEP_RECORD = f"INSERT INTO records ({RECORD_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING"


@dataclass(frozen=True)
class Record:
    """One thing that a laptop kept."""

    kind: RecordKind
    made_utc: datetime
    laptop: str
    """Which computer made it."""
    basis: Basis | None
    """The packets that an estimate or a prediction rests on; None for other kinds."""
    body: bytes
    """JSON, the same octets for the same content: comparing bodies compares content bit for bit."""

    @property
    def digest(self) -> str:
        """SHA-256 of all of it, 64 hexadecimal digits: its identity."""
        return record_row(self)[3].hex()

    @property
    def content(self) -> Any:
        """The body, read."""
        return json.loads(self.body)


def record_row(record: Record) -> RecordRow:
    """A record as a row; BadInput where it could not be found again as it came."""
    if record.kind not in get_args(RecordKind):
        raise BadInput(Finding("kind", record.kind, "there is no such kind of record", "Give one of RecordKind."))
    if record.made_utc.utcoffset() != timedelta(0):
        reason = "a record needs the time in UTC"
        raise BadInput(Finding("made_utc", str(record.made_utc), reason, "Give an aware UTC time."))
    if (record.basis is None) == (record.kind in DERIVED):
        reason = "estimates and predictions rest on packets, and nothing else does"
        raise BadInput(Finding("basis", str(record.basis), reason, "Give the Basis of the packets that were fed."))
    made_us = as_us(record.made_utc)
    packets = None if record.basis is None else record.basis.packets
    basis_digest = None if record.basis is None else bytes.fromhex(record.basis.digest)
    digest = record_digest(record.kind, made_us, record.laptop, packets, basis_digest, record.body)
    return record.kind, made_us, record.laptop, digest, packets, basis_digest, record.body


def record_digest(
    kind: str, made_us: int, laptop: str, packets: int | None, basis_digest: bytes | None, body: bytes
) -> bytes:
    """The identity of a record, from everything in it."""
    basis = b"" if basis_digest is None else basis_digest
    names = f"{kind}\0{laptop}".encode()
    head = struct.pack(">qqII", made_us, -1 if packets is None else packets, len(names), len(basis))
    return hashlib.sha256(head + names + basis + body).digest()


def record_is_whole(row: tuple[Any, ...]) -> bool:
    """A row is the one that its digest was made from."""
    kind, made_us, laptop, digest, packets, basis_digest, body = row
    try:
        return bool(record_digest(kind, made_us, laptop, packets, basis_digest, body) == digest)
    except (TypeError, struct.error, UnicodeEncodeError):
        return False


def record(row: tuple[Any, ...]) -> Record:
    """The record of a row."""
    kind, made_us, laptop, _, packets, basis_digest, body = row
    basis = None if basis_digest is None else Basis(packets, basis_digest.hex())
    return Record(kind, as_utc(made_us), laptop, basis, body)


def as_body(content: object) -> bytes:
    """Any of our frozen dataclasses as JSON: fields in their order, numbers to the last bit, arrays as lists.

    What JSON has no word for becomes text: times (ISO 8601), octets (hexadecimal) and numbers that are none ("nan").
    Raises TypeError for anything else.
    """
    return json.dumps(_plain(content), ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def _plain(content: object) -> Any:
    if isinstance(content, Enum):
        return _plain(content.value)
    if content is None or isinstance(content, bool | str | int):
        return content
    if isinstance(content, float):
        return float(content) if math.isfinite(content) else str(float(content))
    if isinstance(content, datetime):
        return content.isoformat()
    if isinstance(content, timedelta):
        return content.total_seconds()
    if isinstance(content, bytes):
        return content.hex()
    if isinstance(content, np.generic | np.ndarray):
        return _plain(content.tolist())
    if is_dataclass(content) and not isinstance(content, type):
        return {field.name: _plain(getattr(content, field.name)) for field in fields(content)}
    if isinstance(content, Mapping):
        return {str(_plain(key)): _plain(value) for key, value in sorted(content.items())}
    if isinstance(content, set | frozenset):
        return sorted(_plain(item) for item in content)
    if isinstance(content, list | tuple):
        return [_plain(item) for item in content]
    raise TypeError(f"{type(content).__name__} has no place in the store")
