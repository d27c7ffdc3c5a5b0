"""From the name of a file to a store that can be trusted."""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from pappus.errors import BadInput, Finding
from pappus.store._errors import bad_store, damaged
from pappus.store._files import beside, check, connect_to_write, reading, settle
from pappus.store._log import check_log
from pappus.store._rescue import finish_rescue
from pappus.store._schema import NEWEST, migrate, version_of


@dataclass(frozen=True)
class Opened:
    """An open file."""

    path: Path
    """The file to read from: an old one that may only be read is brought up to date in a copy."""
    laptop: str
    version_before: int | None
    """Version of the file where it was not the newest."""
    connection: sqlite3.Connection | None
    """For the writer."""
    copy: tempfile.TemporaryDirectory[str] | None = None


def open_to_read(path: Path) -> Opened:
    """Check a file and change nothing."""
    if not path.exists():
        raise bad_store(path, "there is no such file", "Give the store of a flight.")
    check_log(path)
    with reading(path) as connection:
        version = version_of(connection, path)
        if not version:
            raise bad_store(path, "it is empty", "Give the store of a flight.")
        check(connection, path)
        if version == NEWEST:
            return Opened(path, _laptop(connection), None, None)
        folder = tempfile.TemporaryDirectory(prefix="pappus-")
        copy = Path(folder.name) / path.name
        with closing(connect_to_write(copy)) as newer:
            connection.backup(newer)
            migrate(newer, copy, None)
            return Opened(copy, _laptop(newer), version, None, folder)


def open_to_write(path: Path, laptop: str | None) -> Opened:
    """Check a file before anything of it is changed, bring it up to date, make it where there is none."""
    if laptop is not None and not (laptop and laptop.isprintable()):
        reason = "a name needs printable characters"
        raise BadInput(Finding("laptop", ascii(laptop), reason, "Name the computer: launch site, car 1 ..."))
    if not path.parent.is_dir():
        raise bad_store(path, "its folder does not exist", "Make the folder first.")
    finish_rescue(path)
    log = beside(path, "-wal")
    if path.exists() and path.stat().st_size:
        check_log(path)
        with reading(path) as connection:
            if version_of(connection, path):
                check(connection, path)
    elif log.exists() and log.stat().st_size:
        raise damaged(path, "its log is there without the file")
    connection = connect_to_write(path)
    try:
        found = migrate(connection, path, laptop)
        settle(path.parent)
        return Opened(path, _laptop(connection), found if 0 < found < NEWEST else None, connection)
    except BaseException:
        connection.close()
        raise


def _laptop(connection: sqlite3.Connection) -> str:
    return str(connection.execute("SELECT value FROM about WHERE name = 'laptop'").fetchone()[0])
