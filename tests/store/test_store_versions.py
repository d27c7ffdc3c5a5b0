"""Files of older versions are brought up to date; newer and foreign ones are refused untouched."""

from __future__ import annotations

import hashlib
import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pappus.errors import BadFile
from pappus.store import DamagedStore, FlightStore, rescue
from pappus.tracking import received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)
PACKETS = [
    received("hill", number, START + timedelta(seconds=number), "nmea", b"%d" % number, signal_db=-1.5)
    for number in range(50)
]
# as version 1 wrote it; never to be edited
VERSION_1 = """
PRAGMA application_id = 1886418291;
CREATE TABLE schema_history (version INTEGER PRIMARY KEY, applied_us INTEGER NOT NULL);
CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE packets (
    receiver TEXT NOT NULL, counter INTEGER NOT NULL, digest BLOB NOT NULL, heard_us INTEGER NOT NULL,
    kind TEXT NOT NULL, role TEXT NOT NULL, signal_db REAL, raw BLOB NOT NULL,
    PRIMARY KEY (receiver, counter, digest)
) WITHOUT ROWID;
CREATE INDEX packets_canonical ON packets (heard_us, receiver, counter, digest);
INSERT INTO about VALUES ('laptop', 'old car'), ('made_us', '1780288200000000');
INSERT INTO schema_history VALUES (1, 1780288200000000);
"""


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A file of version 1 with 50 packets."""
    path = tmp_path / "old.flight"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.executescript(VERSION_1)
        for packet in PACKETS:
            digest = hashlib.sha256(packet.raw).digest()
            heard_us = 1_780_288_200_000_000 + packet.counter * 1_000_000
            row = (packet.receiver, packet.counter, digest, heard_us, "nmea", "ground station", -1.5, packet.raw)
            connection.execute("INSERT INTO packets VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row)
        connection.commit()
    return path


def version(path: Path) -> list[int]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        return [number for (number,) in connection.execute("SELECT version FROM schema_history ORDER BY version")]


def test_version_1_is_brought_up_to_date(old: Path) -> None:
    with FlightStore.open(old) as store:
        assert store.version_before == 1
        assert store.laptop == "old car"
        assert list(store.packets()) == PACKETS
        store.put_message("works", START)
    assert version(old) == [1, 2]
    with FlightStore.open(old) as store:
        assert store.version_before is None
        assert list(store.packets()) == PACKETS


def test_reading_an_old_file_leaves_it_as_it_is(old: Path, tmp_path: Path) -> None:
    before = old.read_bytes()
    with FlightStore.open(old, read_only=True) as store:
        assert store.version_before == 1
        assert list(store.packets()) == PACKETS
        assert list(store.records()) == []
    with FlightStore.open(tmp_path / "new") as store:
        assert store.merge(old).packets_new == 50
    assert old.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["new", "old.flight"]


def test_a_packet_that_rotted_in_an_old_file_does_not_pass(old: Path) -> None:
    """Version 1 had no seal, but the digest of the raw packet tells."""
    with closing(sqlite3.connect(old)) as connection:
        connection.execute("UPDATE packets SET raw = x'00' WHERE counter = 7")
        connection.commit()
    with pytest.raises(DamagedStore, match="packet 7 of receiver hill"):
        FlightStore.open(old)
    assert version(old) == [1]


def test_a_newer_file_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "new.flight"
    FlightStore.open(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO schema_history VALUES (999, 0)")
        connection.execute("DROP TABLE records")
        connection.commit()
    before = path.read_bytes()
    for read_only in (False, True):
        with pytest.raises(BadFile, match="version 999, made by a newer pappus"):
            FlightStore.open(path, read_only=read_only)
    with pytest.raises(BadFile, match="version 999"):
        rescue(path, START)
    assert path.read_bytes() == before


def test_a_database_of_another_program_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "photos.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE photos (name TEXT)")
        connection.commit()
    before = path.read_bytes()
    with pytest.raises(BadFile, match="another program"):
        FlightStore.open(path)
    with pytest.raises(BadFile, match="another program"):
        rescue(path, START)
    assert path.read_bytes() == before


def test_an_empty_file_becomes_a_store(tmp_path: Path) -> None:
    """A crash right after the file was made leaves it like this."""
    path = tmp_path / "a"
    path.touch()
    with pytest.raises(BadFile, match="empty"):
        FlightStore.open(path, read_only=True)
    with FlightStore.open(path) as store:
        assert store.count() == 0


KILLED = """
import os, signal, sqlite3, sys
from pappus.store import FlightStore
left = int(sys.argv[2])
real = sqlite3.connect
def count(text):
    global left
    left -= 1
    if left < 0:
        os.kill(os.getpid(), signal.SIGKILL)
def connect(*given, **named):
    connection = real(*given, **named)
    connection.set_trace_callback(count)
    return connection
sqlite3.connect = connect
FlightStore.open(sys.argv[1]).close()
print("done")
"""


def test_a_crash_between_any_two_statements_of_a_migration_loses_nothing(old: Path) -> None:
    """The process is killed before its first statement, its second, and so on, until it gets through."""
    content = old.read_bytes()
    for number in range(0, 200, 3):
        for path in old.parent.iterdir():
            path.unlink()
        old.write_bytes(content)
        command = [sys.executable, "-c", KILLED, str(old), str(number)]
        child = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False, env=dict(os.environ))
        if child.returncode == 0:
            break
        assert child.returncode == -signal.SIGKILL, child.stderr
        assert version(old) in ([1], [1, 2])
        with FlightStore.open(old) as store:
            assert list(store.packets()) == PACKETS
    assert child.stdout == "done\n"
    assert number > 10
