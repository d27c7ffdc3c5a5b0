"""The one thread that writes: everything that waits goes to the disk in one commit, then all who waited go on.

A packet is on the disk, or its receiver is told that it is not. While the disk takes nothing, packets are kept in a
bounded memory and tried again; they stay "not safe" until the disk has them.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from pathlib import Path

from pappus.store._errors import NotSafe
from pappus.store._files import beside, connect_to_write
from pappus.store._rows import KEEP_PACKET, PacketRow, as_utc

RETRY_S = 1.0
"""How soon what waits in memory is tried again, and what nobody waits for is written (own choice)."""
WAITING_MOST = 20_000
"""Packets kept in memory at the most while the disk takes none: 400 s at 50 packets a second (own choice)."""
_CHUNK = 500
Write = tuple[str, tuple[object, ...]]
"""A statement and the row that it keeps."""
MOVED = "the file or its log was moved, deleted or replaced while it was in use"


@dataclass(frozen=True)
class Safety:
    """Whether the disk has everything."""

    waiting: int
    """Packets in memory only: lost when the program or the computer stops."""
    given_up: int
    """Packets that memory had no room for: gone, unless their sender tries again."""
    records_lost: int
    """Estimates and predictions that the disk did not take; the packets give them again."""
    since_utc: datetime | None
    """When the first waiting packet was heard; None when none waits."""
    why: str
    """Why the disk took nothing, in its own words; empty when it did."""

    @property
    def safe(self) -> bool:
        """Every packet that was handed over is on the disk."""
        return not self.waiting and not self.given_up


@dataclass
class _Batch:
    """What goes to the disk in one commit, and those who wait for it."""

    rows: list[Write] = field(default_factory=list)
    soon: int = 0
    keep: list[PacketRow] = field(default_factory=list)
    done: threading.Event = field(default_factory=threading.Event)
    error: str = ""


class Writer:
    """Owns the connection that writes."""

    def __init__(self, path: Path, connection: sqlite3.Connection, waiting_most: int = WAITING_MOST) -> None:
        self._path = path
        self._connection: sqlite3.Connection | None = connection
        self._file = _inode(path)
        self._log = _inode(beside(path, "-wal"))
        self._ready = threading.Condition()
        self._packets, self._rest = _Batch(), _Batch()
        self._closing = False
        # by identity: a receiver that tries a packet again has it here once
        self._waiting: dict[tuple[object, ...], PacketRow] = {}
        self._waiting_most = waiting_most
        self._given_up = 0
        self._records_lost = 0
        self._why = ""
        self._thread = threading.Thread(target=self._run, name=f"store {path.name}", daemon=True)
        self._thread.start()

    def write(self, rows: list[Write], keep: PacketRow | None = None) -> None:
        """Return when the disk has the rows; NotSafe when it does not, and then ``keep`` is tried again later."""
        batch = self._add(rows, keep)
        batch.done.wait()
        if batch.error:
            kept = "kept in memory and tried again" if keep is not None else "nothing of it was kept"
            raise NotSafe(f"{self._path}: NOT on the disk ({batch.error}); {kept}")

    def write_soon(self, row: Write) -> None:
        """Return at once: for what can be computed again. What the disk does not take is counted."""
        self._add([row], None, soon=1)

    def _add(self, rows: list[Write], keep: PacketRow | None, soon: int = 0) -> _Batch:
        with self._ready:
            if self._closing:
                raise NotSafe(f"{self._path}: the store is closed; nothing was kept")
            batch = self._rest if keep is None else self._packets
            batch.rows += rows
            batch.soon += soon
            if keep is not None:
                batch.keep.append(keep)
            self._ready.notify()
        return batch

    def safety(self) -> Safety:
        """What the disk does not have."""
        with self._ready:
            first = min((row[3] for row in self._waiting.values()), default=None)
            since = None if first is None else as_utc(first)
            return Safety(len(self._waiting), self._given_up, self._records_lost, since, self._why)

    def waiting(self) -> list[PacketRow]:
        """The packets that are in memory only."""
        with self._ready:
            return list(self._waiting.values())

    def close(self) -> None:
        """Write what waits and end; NotSafe when packets stay behind."""
        with self._ready:
            self._closing = True
            self._ready.notify()
        self._thread.join()
        if self._waiting:
            raise NotSafe(f"{self._path}: {len(self._waiting)} packets are NOT on the disk ({self._why})")

    def _run(self) -> None:
        while True:
            with self._ready:
                self._wait()
                packets, self._packets = self._packets, _Batch()
                rest, self._rest = self._rest, _Batch()
                closing = self._closing
            packets.error = rest.error = self._commit(packets.rows + rest.rows)
            if packets.error and packets.rows and rest.rows:
                # packets first: what else there was may have been too much for a disk that is nearly full
                packets.error = self._commit(packets.rows)
                rest.error = self._commit(rest.rows)
            for batch in (packets, rest):
                self._settle(batch)
            if self._waiting and not packets.error:
                self._retry()
            if closing and not self._has_more():
                break
        if self._connection is not None:
            self._connection.close()

    def _wait(self) -> None:
        """Until somebody waits for the disk, or a moment has passed since there was something to do."""
        due = None
        while not self._closing and not self._packets.rows and len(self._rest.rows) == self._rest.soon:
            if due is None and (self._waiting or self._rest.rows):
                due = time.monotonic() + RETRY_S
            left = None if due is None else due - time.monotonic()
            if left is not None and left <= 0.0:
                return
            self._ready.wait(left)

    def _retry(self) -> None:
        while self._waiting:
            rows = list(islice(self._waiting.values(), _CHUNK))
            error = self._commit([(KEEP_PACKET, row) for row in rows])
            with self._ready:
                self._why = error
                if error:
                    return
                for row in rows:
                    del self._waiting[row[:3]]
                if self._has_more():
                    return

    def _has_more(self) -> bool:
        return bool(self._packets.rows or self._rest.rows)

    def _settle(self, batch: _Batch) -> None:
        """Keep what the disk did not take, and let those go on who wait."""
        with self._ready:
            if batch.error and batch.rows:
                self._why = batch.error
                self._records_lost += batch.soon
                for row in batch.keep:
                    self._waiting[row[:3]] = row
                    if len(self._waiting) > self._waiting_most:
                        # the newest are worth most to a crew on the road
                        del self._waiting[next(iter(self._waiting))]
                        self._given_up += 1
            elif batch.rows and not self._waiting:
                self._why = ""
        batch.done.set()

    def _commit(self, rows: list[Write]) -> str:
        """Empty when the disk has the rows, else why it has not."""
        if not rows:
            return ""
        try:
            if self._connection is None:
                if _inode(self._path) != self._file:
                    return MOVED
                self._connection = connect_to_write(self._path)
                self._log = None
            connection = self._connection
            connection.execute("BEGIN IMMEDIATE")
            log = beside(self._path, "-wal")
            self._log = self._log or _inode(log)
            for sql, row in rows:
                connection.execute(sql, row)
            connection.execute("COMMIT")
            # SQLite would go on writing into a file that has no name any more
            if _inode(self._path) != self._file or _inode(log) != self._log:
                self._let_go()
                return MOVED
        except Exception as error:  # whatever it is: those who wait must hear of it, and this thread must live on
            self._let_go()
            return str(error) or type(error).__name__
        return ""

    def _let_go(self) -> None:
        """Close after a failure: what the connection believed of the disk may no longer be so."""
        connection, self._connection = self._connection, None
        if connection is None:
            return
        try:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            # also saves what lies in a log that somebody deleted while it was open
            connection.execute("PRAGMA wal_checkpoint(PASSIVE)")
        except sqlite3.Error:
            pass  # the reason that matters is the one before
        finally:
            connection.close()


def _inode(path: Path) -> tuple[int, int] | None:
    """Which file stands under a name."""
    try:
        status = path.stat()
    except FileNotFoundError:
        return None
    return status.st_dev, status.st_ino
