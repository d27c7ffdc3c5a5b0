"""Packets go to the disk before they are acknowledged, and come back as they were."""

from __future__ import annotations

import sqlite3
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pappus.errors import BadFile, BadInput
from pappus.store import FlightStore, NotSafe
from pappus.tracking import Heard, received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)


def heard(receiver: str, counter: int, raw: bytes = b"", at_s: float | None = None) -> Heard:
    """A packet of an invented flight."""
    at = START + timedelta(seconds=counter if at_s is None else at_s)
    return received(receiver, counter, at, "nmea", raw or f"{receiver} {counter}".encode(), signal_db=-7.25)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "trial.flight"


def test_a_packet_comes_back_as_it_was(path: Path) -> None:
    first = replace(heard("hill", 0, bytes(range(256))), heard_utc=START + timedelta(microseconds=1), role="vehicle")
    second = replace(heard("mast \N{SNOWMAN}", 2**63 - 1, b"x", 0.0), signal_db=None, kind="ax25")
    second = replace(second, heard_utc=datetime(2400, 2, 29, 23, 59, 59, 999999, tzinfo=UTC))
    with FlightStore.open(path) as store:
        store.take(second)
        store.take(first)
        assert list(store.packets()) == [first, second]
    with FlightStore.open(path, read_only=True) as store:
        assert list(store.packets()) == [first, second]


def test_taken_is_on_the_disk(path: Path) -> None:
    """Another connection, as another process has it, sees a packet as soon as ``take`` returns."""
    with FlightStore.open(path) as store:
        for counter in range(20):
            store.take(heard("hill", counter))
            with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as other:
                assert other.execute("SELECT max(counter) FROM packets").fetchone() == (counter,)
            other.close()


def test_a_commit_waits_for_the_disk(path: Path) -> None:
    """Write-ahead log with ``synchronous`` at FULL (2): sqlite.org/pragma.html says that each commit is then synced."""
    with FlightStore.open(path) as store:
        connection = store._writing()._connection
        assert connection is not None
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_taken_twice_is_one_packet(path: Path) -> None:
    with FlightStore.open(path) as store:
        for _ in range(3):
            store.take(heard("hill", 4))
        assert store.count() == 1


def test_the_same_count_with_other_content_is_another_packet(path: Path) -> None:
    """A receiver that lost its count and began again loses nothing."""
    with FlightStore.open(path) as store:
        store.take(heard("hill", 4, b"before"))
        store.take(heard("hill", 4, b"after"))
        assert {packet.raw for packet in store.packets()} == {b"before", b"after"}


def test_receivers_count_on_after_a_restart(path: Path) -> None:
    with FlightStore.open(path) as store:
        assert store.last_counter("hill") is None
        for counter in (0, 7, 3):
            store.take(heard("hill", counter))
        store.take(heard("mast", 99))
        assert store.last_counter("hill") == 7


def test_many_threads_take_at_once(path: Path) -> None:
    """Every thread finds its packet on the disk when ``take`` returns; commits are fewer than packets."""
    missing: list[int] = []
    with FlightStore.open(path) as store:
        commits: list[str] = []
        connection = store._writing()._connection
        assert connection is not None
        connection.set_trace_callback(lambda text: commits.append(text) if text == "COMMIT" else None)

        def receive(name: str) -> None:
            for counter in range(40):
                store.take(heard(name, counter))
                if store.last_counter(name) != counter:
                    missing.append(counter)

        threads = [threading.Thread(target=receive, args=(f"receiver {number}",)) for number in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert store.count() == 320
        assert not missing
        assert len(commits) < 320


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"digest": "00" * 32}, "digest"),
        ({"digest": "not hexadecimal"}, "digest"),
        ({"raw": b"another"}, "digest"),
        ({"counter": -1}, "counter"),
        ({"counter": 2**63}, "counter"),
        ({"receiver": ""}, "receiver"),
        ({"receiver": "two\nlines"}, "receiver"),
        ({"receiver": "half \ud800"}, "receiver"),
    ],
)
def test_a_packet_that_is_not_whole_is_refused_alone(path: Path, change: dict[str, object], field: str) -> None:
    with FlightStore.open(path) as store:
        with pytest.raises(BadInput) as error:
            store.take(replace(heard("hill", 0), **change))  # type: ignore[arg-type]  # wrong on purpose
        assert error.value.findings[0].field == field
        store.take(heard("hill", 1))
        assert store.count() == 1


def test_a_strength_that_is_no_number_is_not_known(path: Path) -> None:
    with FlightStore.open(path) as store:
        for counter, value in enumerate((float("nan"), float("inf"), None)):
            store.take(replace(heard("hill", counter), signal_db=value))
        assert [packet.signal_db for packet in store.packets()] == [None, None, None]


def test_reading_only_refuses_to_keep(path: Path) -> None:
    with FlightStore.open(path) as store:
        store.take(heard("hill", 0))
    with FlightStore.open(path, read_only=True) as store, pytest.raises(NotSafe, match="reading only"):
        store.take(heard("hill", 1))
    assert sorted(file.name for file in path.parent.iterdir()) == [path.name]


def test_a_closed_store_refuses_to_keep(path: Path) -> None:
    store = FlightStore.open(path)
    store.close()
    with pytest.raises(NotSafe, match="closed"):
        store.take(heard("hill", 1))


def test_the_laptop_keeps_its_name(path: Path) -> None:
    FlightStore.open(path, laptop="launch site").close()
    with FlightStore.open(path, laptop="car 1") as store:
        assert store.laptop == "launch site"


def test_laptops_without_a_name_get_different_ones(tmp_path: Path) -> None:
    names = set()
    for number in range(3):
        with FlightStore.open(tmp_path / f"{number}.flight") as store:
            names.add(store.laptop)
    assert len(names) == 3


@pytest.mark.parametrize("name", ["", "car\n1", "car \x00"])
def test_a_laptop_needs_a_plain_name(path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="laptop"):
        FlightStore.open(path, laptop=name)
    assert not path.exists()


@pytest.mark.parametrize("name", ["two words", "what?mode=ro#x", "100%41", "h\u00fcgel", "-rw"])
def test_any_name_of_a_file_will_do(tmp_path: Path, name: str) -> None:
    with FlightStore.open(tmp_path / name) as store:
        store.take(heard("hill", 0))
    assert [file.name for file in tmp_path.iterdir()] == [name]
    with FlightStore.open(tmp_path / name, read_only=True) as store:
        assert store.count() == 1


def test_what_is_not_there_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no such file"):
        FlightStore.open(tmp_path / "missing.flight", read_only=True)
    with pytest.raises(BadFile, match="folder does not exist"):
        FlightStore.open(tmp_path / "nowhere" / "trial.flight")
