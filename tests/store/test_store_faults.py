"""Disk full, disk read-only, file gone, process killed: no packet is acknowledged that is not on the disk."""

from __future__ import annotations

import os
import resource
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pappus.errors import BadFile
from pappus.store import Basis, FlightStore, NotSafe
from pappus.tracking import Heard, received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)


def heard(counter: int) -> Heard:
    return received("hill", counter, START + timedelta(seconds=counter), "nmea", b"%d " % counter * 60)


def acknowledged(store: FlightStore, counters: range) -> list[Heard]:
    """Those that ``take`` returned for."""
    safe = []
    for counter in counters:
        try:
            store.take(heard(counter))
        except NotSafe:
            continue
        safe.append(heard(counter))
    return safe


def on_disk(path: Path) -> list[Heard]:
    with FlightStore.open(path, read_only=True) as store:
        return list(store.packets())


def waits_until(condition: Callable[[], bool]) -> bool:
    end = time.monotonic() + 20.0
    while not condition() and time.monotonic() < end:
        time.sleep(0.02)
    return condition()


@contextmanager
def small_files(octets: int) -> Iterator[None]:
    """No file of this process may grow beyond: the system then refuses to write as it does on a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (octets, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_full_disk_is_told_and_what_waited_is_kept_once_there_is_room(tmp_path: Path) -> None:
    path = tmp_path / "a"
    with FlightStore.open(path) as store:
        store.take(heard(1000))
        with small_files(60_000):
            safe = acknowledged(store, range(300))
            told = store.safety()
            assert not told.safe
            # what waited was tried again with every packet that came, and may have found room
            assert 0 < told.waiting <= 300 - len(safe)
            assert told.why
            assert told.since_utc == min(packet.heard_utc for packet in store.waiting())
            with pytest.raises(NotSafe, match="NOT on the disk"):
                store.take(heard(300))
            with pytest.raises(NotSafe, match="nothing of it was kept"):
                store.put_message("hello", START)
            found = on_disk(path)
            assert {packet.counter for packet in found} >= {packet.counter for packet in safe}
            assert {packet.counter for packet in [*found, *store.waiting()]} == {*range(301), 1000}
        assert waits_until(lambda: store.safety().safe)
        assert not store.waiting()
        assert store.safety().why == ""
        assert store.count() == 302
    assert on_disk(path) == [*map(heard, range(301)), heard(1000)]


def test_memory_is_bounded_and_what_it_gave_up_is_counted(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a", waiting_most=5) as store:
        store.put_message("so that the log is there", START)
        with small_files(1000):
            for _ in range(3):
                # a receiver that tries again takes no more room
                assert not acknowledged(store, range(3, 8))
            assert store.safety().given_up == 0
            assert not acknowledged(store, range(8, 11))
            assert [packet.counter for packet in store.waiting()] == [6, 7, 8, 9, 10]
        assert waits_until(lambda: not store.waiting())
        assert store.safety().given_up == 3
        assert not store.safety().safe
        assert [packet.counter for packet in store.packets()] == [6, 7, 8, 9, 10]


def test_a_packet_is_kept_where_something_larger_is_not(tmp_path: Path) -> None:
    """Both wait for the same commit: the packet does not fail for a prediction that the disk has no room for."""
    path = tmp_path / "a"
    with FlightStore.open(path) as store, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        store.put_prediction("settles in the writer, which waits for the other process", START, Basis.none())
        store.put_prediction("x" * 200_000, START, Basis.none())
        thread = threading.Thread(target=store.take, args=(heard(1),))
        thread.start()
        time.sleep(0.2)
        with small_files(150_000):
            other.execute("ROLLBACK")
            thread.join()
            assert store.count() == 1
        assert store.safety().records_lost > 0
        assert store.safety().waiting == 0


def test_closing_does_not_hide_what_is_left_in_memory(tmp_path: Path) -> None:
    store = FlightStore.open(tmp_path / "a")
    store.put_message("so that the log is there", START)
    with small_files(1000):
        assert not acknowledged(store, range(3))
        with pytest.raises(NotSafe, match="3 packets are NOT on the disk"):
            store.close()


def test_a_file_that_was_deleted_while_in_use(tmp_path: Path) -> None:
    """The system would let the program write into a file without a name, and lose it at the end."""
    path = tmp_path / "a"
    store = FlightStore.open(path)
    store.take(heard(0))
    path.unlink()
    for counter in (1, 2):
        with pytest.raises(NotSafe, match="moved, deleted or replaced"):
            store.take(heard(counter))
    assert len(store.waiting()) == 2
    with pytest.raises(NotSafe, match="2 packets"):
        store.close()


def test_a_log_that_was_deleted_while_in_use(tmp_path: Path) -> None:
    """What lay in it is brought into the file; the packet that noticed it is not acknowledged, but kept."""
    path = tmp_path / "a"
    with FlightStore.open(path) as store:
        for counter in range(5):
            store.take(heard(counter))
        (tmp_path / "a-wal").unlink()
        with pytest.raises(NotSafe, match="log was moved, deleted"):
            store.take(heard(5))
        assert waits_until(lambda: store.safety().safe)
        store.take(heard(6))
    assert on_disk(path) == [heard(counter) for counter in range(7)]


def test_another_process_that_holds_the_file_too_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pappus.store._files.BUSY_S", 0.1)
    path = tmp_path / "a"
    with FlightStore.open(path) as store, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(NotSafe, match="locked"):
            store.take(heard(0))
        other.execute("ROLLBACK")
        assert waits_until(lambda: store.safety().safe)
        assert store.count() == 1


def test_two_processes_may_write_one_file(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a") as one, FlightStore.open(tmp_path / "a") as two:
        for counter in range(0, 20, 2):
            one.take(heard(counter))
            two.take(heard(counter + 1))
        assert one.count() == two.count() == 20


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 400 kB of its own."""
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(folder)]
    try:
        mounted = subprocess.run(command, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("no mount on this computer")
    if mounted.returncode:
        pytest.skip(f"mounting a small disk is not allowed here ({mounted.stderr.strip()})")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_is_really_full(small_disk: Path) -> None:
    path = small_disk / "a"
    with FlightStore.open(path) as store:
        (small_disk / "photos").write_bytes(bytes(180_000))
        safe = acknowledged(store, range(200))
        assert 0 < len(safe) < 200
        assert "full" in store.safety().why
        assert {packet.counter for packet in on_disk(path)} >= {packet.counter for packet in safe}
        (small_disk / "photos").unlink()
        assert waits_until(lambda: store.safety().safe)
    assert on_disk(path) == [heard(counter) for counter in range(200)]


def test_a_full_disk_takes_no_new_store(small_disk: Path) -> None:
    (small_disk / "photos").write_bytes(bytes(400_000))
    with pytest.raises(BadFile, match="cannot be opened"):
        FlightStore.open(small_disk / "a")


@pytest.mark.parametrize("crashed", [False, True])
def test_a_disk_that_cannot_be_written(small_disk: Path, tmp_path: Path, crashed: bool) -> None:
    """It is read all the same, with what still lies in the log of a crash."""
    path = small_disk / "a"
    with FlightStore.open(path) as store:
        acknowledged(store, range(5))
        files = {ending: Path(f"{path}{ending}").read_bytes() for ending in ("", "-wal")}
    if crashed:
        for ending, content in files.items():
            Path(f"{path}{ending}").write_bytes(content)
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    assert on_disk(path) == [heard(counter) for counter in range(5)]
    with FlightStore.open(tmp_path / "b") as other:
        assert other.merge(path).packets_new == 5
    with pytest.raises(BadFile, match=r"cannot be (opened|written)"):
        FlightStore.open(path)


def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("the superuser may write everywhere")
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(BadFile, match="cannot be opened"):
            FlightStore.open(tmp_path / "a")
    finally:
        tmp_path.chmod(0o700)


TAKES_UNTIL_KILLED = """
import os, signal, sqlite3, sys
from datetime import UTC, datetime, timedelta
from pappus.store import FlightStore
from pappus.tracking import received
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
store = FlightStore.open(sys.argv[1])
for counter in range(4):
    at = datetime(2026, 6, 1, 4, 30, tzinfo=UTC) + timedelta(seconds=counter)
    store.take(received("hill", counter, at, "nmea", b"%d " % counter * 60))
    os.write(1, b"%d\\n" % counter)
store.close()
"""


def test_a_crash_between_any_two_statements_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    """Killed before the first statement, the second, and so on, from making the file to closing it."""
    seen = set()
    for number in range(0, 300, 2):
        path = tmp_path / f"{number}"
        command = [sys.executable, "-c", TAKES_UNTIL_KILLED, str(path), str(number)]
        child = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
        told = [int(line) for line in child.stdout.split()]
        seen.add(len(told))
        if path.exists():
            with FlightStore.open(path) as store:
                kept = [packet.counter for packet in store.packets()]
                assert kept[: len(told)] == told
                assert len(kept) <= len(told) + 1
                store.take(heard(99))
        else:
            assert not told
        if child.returncode == 0:
            break
        assert child.returncode == -signal.SIGKILL, child.stderr
    assert seen == {0, 1, 2, 3, 4}
    assert child.returncode == 0
