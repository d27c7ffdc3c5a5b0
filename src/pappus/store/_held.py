"""What a store holds, short enough for a narrow link, so that another store can tell what is missing."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from pappus.errors import BadFile, Finding
from pappus.store._records import DERIVED, RECORD_COLUMNS, RecordRow
from pappus.store._rows import PACKET_COLUMNS, PacketRow

Block = tuple[str, int]
"""A receiver and the number of a block of its counters: block 3 of 64 holds the counters 192 to 255."""
_SHORT = 8
"""Octets of a digest that are sent. Two blocks that differ pass for the same once in 2^64."""


@dataclass(frozen=True)
class Held:
    """Digests of what a store holds: of its packets by blocks of counters, and of each record that is no estimate.

    Estimates and predictions are left out: a laptop computes its own from the packets.
    """

    block: int
    """Counters in a block. 1 names every packet alone: the longest summary and not one packet sent twice."""
    within: tuple[Block, ...] | None
    """Blocks of ``coarse`` counters that it tells of; None for all."""
    coarse: int
    packets: dict[Block, str]
    records: frozenset[str]

    def to_bytes(self) -> bytes:
        """For any link."""
        content = {
            "block": self.block,
            "within": self.within,
            "coarse": self.coarse,
            "packets": [[receiver, number, digest] for (receiver, number), digest in self.packets.items()],
            "records": sorted(self.records),
        }
        return json.dumps(content, separators=(",", ":")).encode()

    @classmethod
    def from_bytes(cls, content: bytes) -> Held:
        """From any link; BadFile for anything else."""
        try:
            read = json.loads(content)
            within = (
                None if read["within"] is None else tuple((str(name), int(number)) for name, number in read["within"])
            )
            packets = {(str(name), int(number)): str(digest) for name, number, digest in read["packets"]}
            block, coarse = int(read["block"]), int(read["coarse"])
            records = frozenset(str(digest) for digest in read["records"])
        except (ValueError, KeyError, TypeError) as error:
            finding = Finding(
                "summary", content[:40].decode("latin-1"), f"it cannot be read ({error})", "Send it again."
            )
            raise BadFile(finding) from None
        if block < 1 or coarse < 1:
            raise BadFile(Finding("block", str(block), "a block holds one counter at least", "Send it again."))
        return cls(block, within, coarse, packets, records)


def held(connection: sqlite3.Connection, block: int, within: Sequence[Block] | None, coarse: int) -> Held:
    """The summary of an open store."""
    packets = {place: hashed for place, hashed, _ in _blocks(connection, block, within, coarse)}
    found = connection.execute(f"SELECT digest FROM records WHERE kind NOT IN {DERIVED}")
    records = frozenset(digest[:_SHORT].hex() for (digest,) in found)
    return Held(block, None if within is None else tuple(within), coarse, packets, records)


def differing(connection: sqlite3.Connection, other: Held) -> list[Block]:
    """Blocks in which this store holds something that the other may lack."""
    return [
        place
        for place, hashed, _ in _blocks(connection, other.block, other.within, other.coarse)
        if other.packets.get(place) != hashed
    ]


def packets_missing(connection: sqlite3.Connection, other: Held) -> Iterator[PacketRow]:
    """Packets of this store that the other may lack: all of each block that differs."""
    for place, hashed, rows in _blocks(connection, other.block, other.within, other.coarse):
        if other.packets.get(place) != hashed:
            yield from rows


def records_missing(connection: sqlite3.Connection, other: Held) -> Iterator[RecordRow]:
    """Records of this store that the other lacks."""
    for row in connection.execute(f"SELECT {RECORD_COLUMNS} FROM records WHERE kind NOT IN {DERIVED}"):
        if row[3][:_SHORT].hex() not in other.records:
            yield row


def _blocks(
    connection: sqlite3.Connection, block: int, within: Sequence[Block] | None, coarse: int
) -> Iterator[tuple[Block, str, list[PacketRow]]]:
    """Place, digest and packets of each block, in order of receiver and counter."""
    select = f"SELECT {PACKET_COLUMNS} FROM packets"
    order = "ORDER BY receiver, counter, digest"
    if within is None:
        yield from _grouped(connection.execute(f"{select} {order}"), block)
        return
    for receiver, number in sorted(set(within)):
        first = number * coarse
        span = (receiver, first, first + coarse - 1)
        found = connection.execute(f"{select} WHERE receiver = ? AND counter BETWEEN ? AND ? {order}", span)
        yield from _grouped(found, block)


def _grouped(rows: Iterator[Any], block: int) -> Iterator[tuple[Block, str, list[PacketRow]]]:
    place: Block | None = None
    group: list[PacketRow] = []
    for row in rows:
        here = row[0], row[1] // block
        if here != place:
            if place is not None:
                yield place, _hashed(group), group
            place, group = here, []
        group.append(row)
    if place is not None:
        yield place, _hashed(group), group


def _hashed(rows: list[PacketRow]) -> str:
    return hashlib.sha256(b"".join(row[8] for row in rows)).digest()[:_SHORT].hex()
