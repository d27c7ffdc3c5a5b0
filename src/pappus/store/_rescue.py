"""A damaged store: kept under another name, with all that can be read copied into a new one."""

from __future__ import annotations

import os
import shutil
import sqlite3
import struct
from collections.abc import Iterator, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pappus.store._errors import DamagedStore, bad_store
from pappus.store._files import beside, connect_to_write, reading, settle
from pappus.store._pages import rows_of_pages
from pappus.store._records import KEEP_RECORD, record_is_whole
from pappus.store._rows import KEEP_PACKET, is_whole, raw_is_whole, seal
from pappus.store._schema import migrate, version_of

READY = "-rescued"
"""Ending of a finished rescue that has not taken its place yet; the next opening goes on from it."""


@dataclass(frozen=True)
class Rescued:
    """What came out of a damaged store."""

    kept_as: Path
    """Where the damaged file is now, with its log beside it."""
    packets: int
    records: int
    absent: Mapping[str, int]
    """Counters between the first and the last of each receiver for which there is no packet: lost with the file, or
    never received. Nothing can be said of what came after the last."""

    def __str__(self) -> str:
        gaps = ", ".join(f"{count} of {receiver}" for receiver, count in self.absent.items() if count)
        lost = f"Counters without a packet: {gaps}." if gaps else "No counter is without a packet."
        return (
            f"{self.packets} packets and {self.records} records were rescued. {lost} The last packets may be missing. "
            f"The damaged file is kept as {self.kept_as.name}; keep it until the flight is over."
        )


def rescue(path: Path | str, now: datetime) -> Rescued:
    """Copy what can be read of a damaged store into a new one of the same name; the damaged one is kept beside it.

    ``now`` gives the name under which it is kept. A crash in between loses nothing: the store is the old one or the
    new one. Raises BadFile when there is no file or no room. Nobody else may have the store open.
    """
    path = Path(path)
    if not path.exists() and not beside(path, "-wal").exists():
        raise bad_store(path, "there is no such file", "Give the store that is damaged.")
    kept_as = path.with_name(f"{path.name}.damaged-{now:%Y%m%dT%H%M%SZ}")
    _refuse_sound(path)
    if kept_as.exists():
        raise bad_store(kept_as, "a damaged store of that second is kept already", "Try again.")
    try:
        for ending in ("", "-wal"):
            if beside(path, ending).exists():
                shutil.copyfile(beside(path, ending), beside(kept_as, ending))
                _sync(beside(kept_as, ending))
        if not kept_as.exists():
            kept_as.touch()
        packets, records, absent = _fill(path.with_name(path.name + "-unfinished"), kept_as)
        os.replace(path.with_name(path.name + "-unfinished"), path.with_name(path.name + READY))
        settle(path.parent)
        finish_rescue(path)
    except (OSError, sqlite3.Error) as error:
        fix = "Make room, or copy the file to another disk and rescue it there."
        raise bad_store(path, f"it cannot be rescued here ({error})", fix) from None
    return Rescued(kept_as, packets, records, absent)


def _refuse_sound(path: Path) -> None:
    """BadFile for a file that is no damaged store of ours but a newer one, or another program's."""
    with suppress(sqlite3.Error, OSError, DamagedStore), reading(path) as connection:
        version_of(connection, path)


def finish_rescue(path: Path) -> None:
    """Put a finished rescue in its place. The old log goes first: it must never be applied to the new file."""
    ready = path.with_name(path.name + READY)
    if ready.exists():
        for ending in ("-wal", "-shm"):
            beside(path, ending).unlink(missing_ok=True)
        os.replace(ready, path)
        settle(path.parent)


def _fill(new: Path, old: Path) -> tuple[int, int, dict[str, int]]:
    for ending in ("", "-wal", "-shm"):
        beside(new, ending).unlink(missing_ok=True)
    with closing(connect_to_write(new)) as connection:
        migrate(connection, new, _laptop(old))
        connection.execute("BEGIN IMMEDIATE")
        for row in rows_of_pages(old):
            if len(row) == 8:
                row = _sealed(row)  # a row of version 1
            if len(row) == 9 and is_whole(row):
                connection.execute(KEEP_PACKET, row)
            elif len(row) == 7 and record_is_whole(row):
                connection.execute(KEEP_RECORD, row)
        connection.execute("COMMIT")
        packets = connection.execute("SELECT count(*) FROM packets").fetchone()[0]
        records = connection.execute("SELECT count(*) FROM records").fetchone()[0]
        gaps = (
            "SELECT receiver, max(counter) - min(counter) + 1 - count(DISTINCT counter) FROM packets GROUP BY receiver"
        )
        absent = {receiver: int(count) for receiver, count in connection.execute(gaps)}
        # one file without a log, so that it can be renamed
        connection.execute("PRAGMA journal_mode = DELETE")
    return int(packets), int(records), absent


def _sealed(row: tuple[Any, ...]) -> tuple[Any, ...]:
    try:
        return (*row, seal(*row)) if raw_is_whole(row) else row
    except (TypeError, struct.error, UnicodeEncodeError):
        return row


def _laptop(old: Path) -> str | None:
    """The name of the computer, where it can still be read."""
    for row in _quietly(old):
        if len(row) == 2 and row[0] == "laptop" and isinstance(row[1], str):
            return row[1]
    return None


def _quietly(old: Path) -> Iterator[tuple[Any, ...]]:
    with suppress(OSError):
        yield from rows_of_pages(old)


def _sync(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
