"""The store of one flight on one laptop."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from pappus.store._errors import NotSafe, bad_store, damaged
from pappus.store._files import beside, cannot_open, check, connect_to_write, reading
from pappus.store._rows import CANONICAL, KEEP_PACKET, PACKET_COLUMNS, PacketRow, is_whole, packet, packet_row
from pappus.store._schema import NEWEST, migrate, version_of
from pappus.store._writer import WAITING_MOST, Safety, Writer
from pappus.tracking import Heard

_CHUNK = 500


@dataclass(frozen=True)
class Merged:
    """What a merge brought."""

    packets_new: int
    packets_known: int


class FlightStore:
    """One file that holds all that was heard of a flight. Threads may share it. Use it in a ``with``, or close it."""

    def __init__(self, path: Path, laptop: str, writer: Writer | None, migrated_from: int | None) -> None:
        self.path = path
        self.laptop = laptop
        """Name of the computer that writes this file; made by chance where none was given."""
        self.migrated_from = migrated_from
        """Version of the file before it was opened, None when it had the newest."""
        self._writer = writer

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
            return cls._open_to_read(path) if read_only else cls._open_to_write(path, laptop, waiting_most)
        except sqlite3.Error as error:
            raise cannot_open(path, error) from None

    @classmethod
    def _open_to_read(cls, path: Path) -> Self:
        if not path.exists():
            raise bad_store(path, "there is no such file", "Give the store of a flight.")
        with reading(path) as connection:
            check(connection, path)
            _require_newest(connection, path)
            return cls(path, _about(connection, "laptop"), None, None)

    @classmethod
    def _open_to_write(cls, path: Path, laptop: str | None, waiting_most: int) -> Self:
        if not path.parent.is_dir():
            raise bad_store(path, "its folder does not exist", "Make the folder first.")
        if not path.exists() and beside(path, "-wal").exists() and beside(path, "-wal").stat().st_size:
            raise damaged(path, "its log is there without the file")
        connection = connect_to_write(path)
        try:
            version_of(connection, path)  # tells a foreign or newer file before its pages are judged
            check(connection, path)
            found = migrate(connection, path, laptop)
            _settle(path.parent)
            name = _about(connection, "laptop")
            writer = Writer(path, connection, waiting_most)
        except BaseException:
            connection.close()
            raise
        return cls(path, name, writer, found if 0 < found < NEWEST else None)

    def take(self, heard: Heard) -> None:
        """Keep a packet; returns once the disk has it. Any number of threads may call at once.

        Raises NotSafe when the disk does not take it: then it must not be acknowledged, and is kept in memory and tried
        again (see ``safety``). Raises BadInput for one that is not whole. Taken twice it is one packet.
        """
        row = packet_row(heard)
        self._writing().write(KEEP_PACKET, [row], keep=row)

    def take_many(self, packets: Iterable[Heard]) -> Merged:
        """Keep packets that another store has; NotSafe when the disk does not take them, and then those before stay."""
        writer, new, known = self._writing(), 0, 0
        for chunk in _chunks(map(packet_row, packets)):
            with reading(self.path) as connection:
                fresh = [row for row in chunk if not _is_known(connection, row)]
            if fresh:
                writer.write(KEEP_PACKET, list(fresh))
            new, known = new + len(fresh), known + len(chunk) - len(fresh)
        return Merged(new, known)

    def packets(self) -> Iterator[Heard]:
        """Every packet on the disk in canonical order: when heard, then receiver, counter, digest."""
        with reading(self.path) as connection:
            for row in connection.execute(f"SELECT {PACKET_COLUMNS} FROM packets ORDER BY {CANONICAL}"):
                if not is_whole(row):
                    raise damaged(self.path, f"packet {row[1]} of receiver {row[0]} does not match its digest")
                yield packet(row)

    def count(self) -> int:
        """Number of packets on the disk."""
        with reading(self.path) as connection:
            return int(connection.execute("SELECT count(*) FROM packets").fetchone()[0])

    def last_counter(self, receiver: str) -> int | None:
        """The highest counter that is on the disk for a receiver, from which it counts on after a restart."""
        with reading(self.path) as connection:
            row = connection.execute("SELECT max(counter) FROM packets WHERE receiver = ?", (receiver,)).fetchone()
        return None if row[0] is None else int(row[0])

    def merge(self, path: Path | str) -> Merged:
        """Take over all that another store holds; the other file is not changed.

        Stores merge in any order, any number of times, with the same result. Raises as ``open`` does, and NotSafe when
        the disk does not take it: what came over until then stays, and merging again brings the rest.
        """
        with FlightStore.open(path, read_only=True) as other:
            return self.take_many(other.packets())

    def safety(self) -> Safety:
        """What was handed over and is not on the disk."""
        return Safety(0, 0, None, "") if self._writer is None else self._writer.safety()

    def waiting(self) -> tuple[Heard, ...]:
        """The packets that are in memory only, because the disk did not take them."""
        return () if self._writer is None else tuple(packet(row) for row in self._writer.waiting())

    def close(self) -> None:
        """Write what waits and let the file go; NotSafe when packets stay behind in memory."""
        if self._writer is not None:
            self._writer.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _writing(self) -> Writer:
        if self._writer is None:
            raise NotSafe(f"{self.path}: the store is open for reading only; nothing was kept")
        return self._writer


def _is_known(connection: sqlite3.Connection, row: PacketRow) -> bool:
    found = connection.execute(
        "SELECT heard_us, kind, role, signal_db FROM packets WHERE receiver = ? AND counter = ? AND digest = ?", row[:3]
    ).fetchone()
    return bool(found == row[3:7])


def _chunks(rows: Iterable[PacketRow]) -> Iterator[list[PacketRow]]:
    chunk: list[PacketRow] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == _CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


def _about(connection: sqlite3.Connection, name: str) -> str:
    value: Any = connection.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
    return str(value[0]) if value else ""


def _require_newest(connection: sqlite3.Connection, path: Path) -> None:
    version = version_of(connection, path)
    if version < NEWEST:
        reason = f"it has version {version}; this pappus reads version {NEWEST}"
        raise bad_store(path, reason, "Open it once for writing, which brings it up to date.")


def _settle(folder: Path) -> None:
    """Make the name of a new file durable too."""
    with suppress(OSError):  # a system that cannot sync a folder
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
