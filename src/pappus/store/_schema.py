"""The tables of each version of the file, and the way from one version to the next."""

from __future__ import annotations

import secrets
import sqlite3
import time
from pathlib import Path

from pappus.store._errors import bad_store, damaged
from pappus.store._rows import seal

APPLICATION = 0x70707573
"""In the header of the file (SQLite's application id), so that a foreign database is told from a damaged store."""

# Statements that make version n from version n - 1. A published version is never edited: a change is a new version.
VERSIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
        """CREATE TABLE packets (
            receiver TEXT NOT NULL, counter INTEGER NOT NULL, digest BLOB NOT NULL, heard_us INTEGER NOT NULL,
            kind TEXT NOT NULL, role TEXT NOT NULL, signal_db REAL, raw BLOB NOT NULL,
            PRIMARY KEY (receiver, counter, digest)
        ) WITHOUT ROWID""",
        "CREATE INDEX packets_canonical ON packets (heard_us, receiver, counter, digest)",
    ),
    (
        "ALTER TABLE packets ADD COLUMN seal BLOB NOT NULL DEFAULT x''",
        "UPDATE packets SET seal = seal_of(receiver, counter, digest, heard_us, kind, role, signal_db, raw)",
        """CREATE TABLE records (
            kind TEXT NOT NULL, made_us INTEGER NOT NULL, laptop TEXT NOT NULL, digest BLOB NOT NULL,
            basis_packets INTEGER, basis_digest BLOB, body BLOB NOT NULL,
            PRIMARY KEY (kind, made_us, laptop, digest)
        ) WITHOUT ROWID""",
    ),
)
NEWEST = len(VERSIONS)
_HISTORY = "CREATE TABLE schema_history (version INTEGER PRIMARY KEY, applied_us INTEGER NOT NULL)"


def version_of(connection: sqlite3.Connection, path: Path) -> int:
    """The version of an open file, 0 for an empty one; BadFile for a database that is no store or a newer one."""
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    if not tables and application in (0, APPLICATION):
        return 0
    if application != APPLICATION:
        raise bad_store(path, "this is a database of another program", "Give the store of a flight, or a new name.")
    if "schema_history" not in tables:
        raise damaged(path, "its table of versions is missing")
    version = connection.execute("SELECT max(version) FROM schema_history").fetchone()[0]
    if not isinstance(version, int):
        raise damaged(path, "its table of versions is empty")
    if version > NEWEST:
        reason = f"it has version {version}, made by a newer pappus; this one reads up to version {NEWEST}"
        raise bad_store(path, reason, "Nothing was changed. Update pappus on this computer, or merge on the other one.")
    return version


def migrate(connection: sqlite3.Connection, path: Path, laptop: str | None) -> int:
    """Bring an open file to the newest version, one transaction a version; gives the version that it had.

    A crash leaves the version before or after, never one between.
    """
    found = version_of(connection, path)
    connection.create_function("seal_of", 8, seal, deterministic=True)
    for version in range(found + 1, NEWEST + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            if version_of(connection, path) < version:  # another process may have been faster
                _apply(connection, version, laptop)
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
    return found


def _apply(connection: sqlite3.Connection, version: int, laptop: str | None) -> None:
    now_us = time.time_ns() // 1000
    if version == 1:
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(_HISTORY)
    for statement in VERSIONS[version - 1]:
        connection.execute(statement)
    if version == 1:
        about = (("laptop", laptop or secrets.token_hex(8)), ("made_us", str(now_us)))
        connection.executemany("INSERT INTO about VALUES (?, ?)", about)
    connection.execute("INSERT INTO schema_history VALUES (?, ?)", (version, now_us))
