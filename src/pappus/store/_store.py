"""The store of one flight on one laptop."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from pappus.store._basis import Basis, chained
from pappus.store._errors import NotSafe, bad_store, damaged
from pappus.store._export import export_to
from pappus.store._files import cannot_open, reading, settle
from pappus.store._held import Block, Held, differing, held, packets_missing, records_missing
from pappus.store._opening import Opened, open_to_read, open_to_write
from pappus.store._records import (
    KEEP_RECORD,
    RECORD_COLUMNS,
    Record,
    RecordKind,
    as_body,
    record,
    record_is_whole,
    record_row,
)
from pappus.store._rows import CANONICAL, KEEP_PACKET, PACKET_COLUMNS, is_whole, packet, packet_row
from pappus.store._writer import WAITING_MOST, Safety, Write, Writer
from pappus.tracking import Heard

_CHUNK = 500


@dataclass(frozen=True)
class Merged:
    """What a merge brought. Estimates and predictions of before may be stale then: see ``FlightStore.stale``."""

    packets_new: int
    packets_known: int
    records_new: int
    records_known: int


class FlightStore:
    """One file that holds all that was heard and decided of a flight.

    Threads may share it. Use it in a ``with``, or close it.
    """

    def __init__(self, path: Path, opened: Opened, waiting_most: int) -> None:
        self.path = path
        self.laptop = opened.laptop
        """Name of the computer that writes this file; made by chance where none was given."""
        self.version_before = opened.version_before
        """Version that the file had, None when it had the newest."""
        self._opened = opened
        self._writer = None if opened.connection is None else Writer(path, opened.connection, waiting_most)

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        laptop: str | None = None,
        read_only: bool = False,
        waiting_most: int = WAITING_MOST,
    ) -> Self:
        """Open the store of a flight, or make it; every page and every packet is checked first.

        ``laptop`` names the computer in a new file; an old file keeps its name. ``waiting_most`` bounds the packets
        kept in memory while the disk takes none. Raises DamagedStore for a damaged file and BadFile for one that
        cannot be opened, is no store, or was made by a newer version.
        """
        path = Path(path)
        try:
            return cls(path, open_to_read(path) if read_only else open_to_write(path, laptop), waiting_most)
        except sqlite3.Error as error:
            raise cannot_open(path, error) from None
        except OSError as error:
            raise bad_store(path, f"it cannot be opened ({error.strerror})", "Mend the disk or give another.") from None

    def take(self, heard: Heard) -> None:
        """Keep a packet; returns once the disk has it. Any number of threads may call at once.

        Raises NotSafe when the disk does not take it: then it must not be acknowledged, and is kept in memory and tried
        again (see ``safety``). Raises BadInput for one that is not whole. Taken twice it is one packet.
        """
        row = packet_row(heard)
        self._writing().write([(KEEP_PACKET, row)], keep=row)

    def take_many(self, items: Iterable[Heard | Record]) -> Merged:
        """Keep packets and records that another store has.

        Raises NotSafe when the disk does not take them; what came before that stays, and giving all of it again brings
        the rest.
        """
        writer, counts = self._writing(), [0, 0, 0, 0]
        for chunk in _chunks(items):
            fresh: list[Write] = []
            with reading(self.path) as connection:
                for item in chunk:
                    write, known = _write_of(connection, item)
                    counts[(0 if isinstance(item, Heard) else 2) + known] += 1
                    if not known:
                        fresh.append(write)
            if fresh:
                writer.write(fresh)
        return Merged(*counts)

    def packets(self) -> Iterator[Heard]:
        """Every packet on the disk in canonical order: when heard, then receiver, counter, digest.

        Raises DamagedStore at the first one that is not as it was written.
        """
        with self._reading() as connection:
            for row in connection.execute(f"SELECT {PACKET_COLUMNS} FROM packets ORDER BY {CANONICAL}"):
                if not is_whole(row):
                    raise damaged(self.path, f"packet {row[1]} of receiver {row[0]} does not match its digest")
                yield packet(row)

    def count(self) -> int:
        """Number of packets on the disk."""
        with self._reading() as connection:
            return int(connection.execute("SELECT count(*) FROM packets").fetchone()[0])

    def last_counter(self, receiver: str) -> int | None:
        """The highest counter that is on the disk for a receiver, from which it counts on after a restart."""
        with self._reading() as connection:
            row = connection.execute("SELECT max(counter) FROM packets WHERE receiver = ?", (receiver,)).fetchone()
        return None if row[0] is None else int(row[0])

    def put_plan(self, text: str, made_utc: datetime) -> str:
        """Keep the text of the flight plan; gives the digest of the record. This and the next three return once the
        disk has it, and raise NotSafe when it does not take it: then nothing was kept.
        """
        return self._put("plan", text, made_utc, None)

    def put_forecast(self, used: object, made_utc: datetime) -> str:
        """Keep which forecast was used: its name, times and digest, not its winds."""
        return self._put("forecast", used, made_utc, None)

    def put_decision(self, decision: object, made_utc: datetime) -> str:
        """Keep a decision with its reasons."""
        return self._put("decision", decision, made_utc, None)

    def put_message(self, message: object, made_utc: datetime) -> str:
        """Keep a message of the crew."""
        return self._put("message", message, made_utc, None)

    def put_estimate(self, estimate: object, made_utc: datetime, basis: Basis) -> str:
        """Keep an estimate and the packets it rests on.

        This and ``put_prediction`` return at once, and the disk has it within a second or so; what it does not take is
        counted in ``safety``, for the packets give it again. One a second is enough: each is as long as ten packets.
        """
        return self._put("estimate", estimate, made_utc, basis)

    def put_prediction(self, prediction: object, made_utc: datetime, basis: Basis) -> str:
        """Keep a prediction and the packets it rests on."""
        return self._put("prediction", prediction, made_utc, basis)

    def records(self, *kinds: RecordKind) -> Iterator[Record]:
        """Every record of the kinds, or of all, by kind, time and laptop; DamagedStore where one is not whole."""
        where = f"WHERE kind IN ({', '.join('?' * len(kinds))})" if kinds else ""
        with self._reading() as connection:
            order = "ORDER BY kind, made_us, laptop, digest"
            for row in connection.execute(f"SELECT {RECORD_COLUMNS} FROM records {where} {order}", kinds):
                if not record_is_whole(row):
                    raise damaged(self.path, f"a {row[0]} of {row[2]} does not match its digest")
                yield record(row)

    def basis(self) -> Basis:
        """What an estimate rests on that was fed every packet on the disk in canonical order."""
        *_, last = self._bases()
        return last

    def stale(self) -> frozenset[str]:
        """Digests of the estimates and predictions that a replay of the packets would not give like this any more:
        packets came late or by a merge, from before what they rest on.
        """
        with self._reading() as connection:
            select = "SELECT digest, basis_packets, basis_digest FROM records WHERE basis_digest IS NOT NULL"
            rests_on = {
                digest.hex(): Basis(packets, basis.hex()) for digest, packets, basis in connection.execute(select)
            }
        asked = set(rests_on.values())
        sound = {basis for basis in self._bases() if basis in asked}
        return frozenset(digest for digest, basis in rests_on.items() if basis not in sound)

    def merge(self, path: Path | str) -> Merged:
        """Take over all that another store holds; the other file is not changed.

        Stores merge in any order, any number of times, with the same result. Raises as ``open`` does, and NotSafe when
        the disk does not take it: what came over until then stays, and merging again brings the rest.
        """
        with FlightStore.open(path, read_only=True) as other:
            packets = self.take_many(other.packets())
            records = self.take_many(other.records())
        return Merged(packets.packets_new, packets.packets_known, records.records_new, records.records_known)

    def held(self, block: int = 64, within: Sequence[Block] | None = None, coarse: int = 64) -> Held:
        """A summary of what is here, for another laptop: ``block`` counters to a digest, all of them or only those in
        the blocks of ``coarse`` counters that are named.
        """
        with self._reading() as connection:
            return held(connection, block, within, coarse)

    def differing(self, other: Held) -> list[Block]:
        """Blocks in which this store has something that the other may lack: ask it for a finer summary of these."""
        with self._reading() as connection:
            return differing(connection, other)

    def missing(self, other: Held) -> Iterator[Heard | Record]:
        """What the other lacks of this store, for its ``take_many``. Whole blocks are given, so some may be known."""
        with self._reading() as connection:
            yield from map(packet, packets_missing(connection, other))
            yield from map(record, records_missing(connection, other))

    def export(self, path: Path | str) -> None:
        """Write a file that any program reads: ``.jsonl`` holds everything, ``.csv`` the packets as a table."""
        export_to(Path(path), self.packets(), self.records())

    def copy(self, path: Path | str) -> None:
        """Write all that is on the disk into one new file, for a stick; the store may be in use meanwhile.

        Copying the file by other means leaves out what still lies in the log beside it.
        """
        path = Path(path)
        if path.exists():
            raise bad_store(path, "there is a file of that name", "Give a new name, or merge into it.")
        unfinished = path.with_name(path.name + ".unfinished")
        unfinished.unlink(missing_ok=True)
        try:
            with self._reading() as connection, closing(sqlite3.connect(unfinished)) as target:
                connection.backup(target)
                target.execute("PRAGMA journal_mode = DELETE")
            os.replace(unfinished, path)
            settle(path.parent)
        except (sqlite3.Error, OSError) as error:
            unfinished.unlink(missing_ok=True)
            raise bad_store(path, f"the copy cannot be written ({error})", "Make room or give another place.") from None

    def safety(self) -> Safety:
        """What was handed over and is not on the disk."""
        return Safety(0, 0, 0, None, "") if self._writer is None else self._writer.safety()

    def waiting(self) -> tuple[Heard, ...]:
        """The packets that are in memory only, because the disk did not take them."""
        return () if self._writer is None else tuple(packet(row) for row in self._writer.waiting())

    def close(self) -> None:
        """Write what waits and let the file go; NotSafe when packets stay behind in memory."""
        try:
            if self._writer is not None:
                self._writer.close()
        finally:
            if self._opened.copy is not None:
                self._opened.copy.cleanup()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _put(self, kind: RecordKind, content: object, made_utc: datetime, basis: Basis | None) -> str:
        row = record_row(Record(kind, made_utc, self.laptop, basis, as_body(content)))
        if basis is None:
            self._writing().write([(KEEP_RECORD, row)])
        else:
            self._writing().write_soon((KEEP_RECORD, row))
        return row[3].hex()

    def _bases(self) -> Iterator[Basis]:
        digest = bytes(32)
        yield Basis.none()
        with self._reading() as connection:
            seals = connection.execute(f"SELECT seal FROM packets ORDER BY {CANONICAL}")
            for number, (seal,) in enumerate(seals, 1):
                digest = chained(digest, seal)
                yield Basis(number, digest.hex())

    def _reading(self) -> AbstractContextManager[sqlite3.Connection]:
        return reading(self._opened.path)

    def _writing(self) -> Writer:
        if self._writer is None:
            raise NotSafe(f"{self.path}: the store is open for reading only; nothing was kept")
        return self._writer


def _write_of(connection: sqlite3.Connection, item: Heard | Record) -> tuple[Write, bool]:
    """What keeps it, and whether it is on the disk already."""
    if isinstance(item, Heard):
        row = packet_row(item)
        where = "SELECT seal FROM packets WHERE receiver = ? AND counter = ? AND digest = ?"
        found = connection.execute(where, row[:3]).fetchone()
        return (KEEP_PACKET, row), found == (row[8],)
    kept = record_row(item)
    where = "SELECT 1 FROM records WHERE kind = ? AND made_us = ? AND laptop = ? AND digest = ?"
    return (KEEP_RECORD, kept), connection.execute(where, kept[:4]).fetchone() is not None


def _chunks(items: Iterable[Heard | Record]) -> Iterator[list[Heard | Record]]:
    chunk: list[Heard | Record] = []
    for item in items:
        chunk.append(item)
        if len(chunk) == _CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk
