"""Opening the file of a flight: for writing, for reading, and the check before it is trusted."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pappus.store._errors import bad_store, damaged
from pappus.store._records import DERIVED, RECORD_COLUMNS, record_is_whole
from pappus.store._rows import PACKET_COLUMNS, RAW_COLUMNS, is_whole, raw_is_whole

BUSY_S = 5.0
"""How long another process may hold the file before a write counts as failed (own choice)."""


def record_file(plan_path: Path) -> Path:
    """Where the record of a flight lies unless the crew says otherwise: beside its plan."""
    return plan_path.with_suffix(".record")


def beside(path: Path, ending: str) -> Path:
    """The file that SQLite keeps beside a store: ``-wal`` or ``-shm``."""
    return path.with_name(path.name + ending)


def connect_to_write(path: Path) -> sqlite3.Connection:
    """A connection whose commit returns only when the disk has it."""
    connection = _connect(path, "rwc" if not path.exists() else "rw")
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        # on macOS a plain fsync leaves data in the drive; elsewhere these two change nothing
        connection.execute("PRAGMA fullfsync = 1")
        connection.execute("PRAGMA checkpoint_fullfsync = 1")
        connection.execute("PRAGMA cell_size_check = 1")
    except BaseException:
        connection.close()
        raise
    return connection


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection that changes nothing, closed at the end; also on a disk that cannot be written."""
    if beside(path, "-wal").exists() and not os.access(path.parent, os.W_OK):
        # SQLite cannot join a log to its file without writing beside them
        with tempfile.TemporaryDirectory(prefix="pappus-") as folder:
            copy = Path(folder) / path.name
            for ending in ("", "-wal"):
                shutil.copyfile(beside(path, ending), beside(copy, ending))
            with _closing(_connect(copy, "rw")) as connection:
                yield connection
        return
    # without a log beside it nobody has the file open: read it as it lies and leave no files beside it
    quiet = "" if beside(path, "-wal").exists() else "&immutable=1"
    with _closing(_connect(path, f"ro{quiet}")) as connection:
        yield connection


def check(connection: sqlite3.Connection, path: Path) -> None:
    """DamagedStore where the file is not what was written: pages by SQLite, the rest by its digests."""
    try:
        found = [text for (text,) in connection.execute("PRAGMA integrity_check(3)")]
        if found != ["ok"]:
            raise damaged(path, "; ".join(found).replace("\n", " ")[:200])
        columns = {(table, name) for table in ("packets", "records") for name in _columns(connection, table)}
        if ("packets", "digest") in columns:
            has_seal = ("packets", "seal") in columns
            for row in connection.execute(f"SELECT {PACKET_COLUMNS if has_seal else RAW_COLUMNS} FROM packets"):
                if not (is_whole(row) if has_seal else raw_is_whole(row)):
                    raise damaged(path, f"packet {row[1]} of receiver {row[0]} does not match its digest")
        if ("records", "digest") in columns:
            # what can be computed again is checked when it is read, so that a long flight is back soon
            for row in connection.execute(f"SELECT {RECORD_COLUMNS} FROM records WHERE kind NOT IN {DERIVED}"):
                if not record_is_whole(row):
                    raise damaged(path, f"a {row[0]} of {row[2]} does not match its digest")
    except sqlite3.DatabaseError as error:
        if _is_foreign_or_broken(error):
            raise damaged(path, str(error)) from None
        raise cannot_open(path, error) from None


def settle(folder: Path) -> None:
    """Make names in a folder durable too."""
    with suppress(OSError):  # a system that cannot sync a folder
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def cannot_open(path: Path, error: sqlite3.Error) -> Exception:
    """What to tell a person when SQLite refuses a file."""
    if _is_foreign_or_broken(error):
        return damaged(path, str(error))
    fix = "Make room on the disk, make the folder writable, or give another place."
    return bad_store(path, f"the store cannot be opened ({error})", fix)


def _is_foreign_or_broken(error: sqlite3.Error) -> bool:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    return [str(row[1]) for row in connection.execute(f"PRAGMA table_info({table})")]


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False)


@contextmanager
def _closing(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    try:
        yield connection
    finally:
        connection.close()
