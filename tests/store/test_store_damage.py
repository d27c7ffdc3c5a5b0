"""Damage is found before it is believed, told, and what can be read is brought out."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pappus.errors import BadFile
from pappus.store import DamagedStore, FlightStore, rescue
from pappus.tracking import Heard, received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 7, 0, tzinfo=UTC)
# every fifth is longer than a page takes in one piece
PACKETS = [
    received(
        f"receiver {number % 3}",
        number // 3,
        START + timedelta(seconds=number),
        "nmea",
        b"%d " % number * (900 if number % 5 == 0 else 20),
        signal_db=None if number % 2 else -number / 7,
    )
    for number in range(300)
]
WHOLE = {packet.identity: packet for packet in PACKETS}


def filled(path: Path, packets: list[Heard] = PACKETS) -> Path:
    """A store that was closed: one file."""
    with FlightStore.open(path, laptop="car 1") as store:
        store.take_many(packets)
        store.put_message("a message", START)
        store.put_decision({"answer": "go", "why": "x" * 20_000}, START)
    return path


def in_use(path: Path, folder: Path) -> Path:
    """A store as a crash leaves it: much of it is still in the log."""
    folder.mkdir()
    with FlightStore.open(path, laptop="car 1") as store:
        for packet in PACKETS[:60]:
            store.take(packet)
        for ending in ("", "-wal"):
            shutil.copyfile(f"{path}{ending}", folder / f"crashed{ending}")
    return folder / "crashed"


def spoil(path: Path, place: int, octets: bytes) -> None:
    with path.open("rb+") as file:
        file.seek(place)
        file.write(octets)


def brought_out(path: Path) -> dict[tuple[str, int, str], Heard]:
    with FlightStore.open(path) as store:
        return {packet.identity: packet for packet in store.packets()}


@pytest.mark.parametrize("change", ["raw = raw || x'00'", "heard_us = heard_us + 1", "receiver = 'other'"])
def test_a_row_that_was_changed_is_found(tmp_path: Path, change: str) -> None:
    path = filled(tmp_path / "a")
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"UPDATE packets SET {change} WHERE receiver = 'receiver 1' AND counter = 5")
        connection.commit()
    for read_only in (True, False):
        with pytest.raises(DamagedStore, match=r"packet 5 of receiver .* does not match its digest"):
            FlightStore.open(path, read_only=read_only)


@pytest.mark.parametrize("first", [0, 1, 4096, 3 * 4096])
def test_a_spoilt_file_is_told_and_nothing_of_it_is_changed(tmp_path: Path, first: int) -> None:
    path = filled(tmp_path / "a")
    spoil(path, first, bytes(range(256)) * 16)
    before = path.read_bytes()
    for read_only in (True, False):
        with pytest.raises(DamagedStore) as error:
            FlightStore.open(path, read_only=read_only)
        assert str(path) in str(error.value)
        assert "Rescue" in str(error.value)
    assert path.read_bytes() == before


def test_an_index_that_has_lost_a_packet_is_found(tmp_path: Path) -> None:
    """The order of replay comes from it: a packet that it does not name would be passed over without a word."""
    path = filled(tmp_path / "a", PACKETS[:20])
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = 1")
        entry = connection.execute("SELECT * FROM sqlite_master WHERE name = 'packets_canonical'").fetchone()
        connection.execute("DELETE FROM sqlite_master WHERE name = 'packets_canonical'")
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("DELETE FROM packets WHERE receiver = 'receiver 1' AND counter = 2")
        connection.execute("PRAGMA writable_schema = 1")
        connection.execute("INSERT INTO sqlite_master VALUES (?, ?, ?, ?, ?)", entry)
    with pytest.raises(DamagedStore, match="packets_canonical"):
        FlightStore.open(path)
    assert rescue(path, NOW).packets >= 19
    assert len(brought_out(path)) >= 19


def test_a_file_that_is_no_database_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"not a store" * 1000)
    with pytest.raises(DamagedStore):
        FlightStore.open(path)


def test_rescue_brings_out_all_that_is_not_spoilt(tmp_path: Path) -> None:
    """Any page may be hit: never a wrong packet, never more lost than the pages that are gone can hold."""
    whole = filled(tmp_path / "whole")
    pages = whole.stat().st_size // 4096
    chance = random.Random(3)
    lost = []
    for page in range(0, pages, 7):
        path = tmp_path / f"page {page}"
        shutil.copyfile(whole, path)
        spoil(path, page * 4096, chance.randbytes(4096))
        damaged = path.read_bytes()
        told = rescue(path, NOW)
        assert told.kept_as.read_bytes() == damaged
        found = brought_out(path)
        assert all(WHOLE[identity] == packet for identity, packet in found.items())
        assert told.packets == len(found)
        lost.append(len(WHOLE) - len(found))
    assert max(lost) <= 4096 // 60, "a packet takes 60 octets at the least"
    assert lost.count(0) > 1, "indices hold nothing that cannot be made again"
    assert max(lost) > 0


def spoil_by_chance(content: bytes, chance: random.Random) -> bytes:
    """A flipped bit, a run of zeros, noise, or a page out of place; the length stays."""
    spoilt = bytearray(content)
    for _ in range(chance.choice([1, 1, 1, 4])):
        place, length = chance.randrange(len(spoilt)), chance.randrange(1, 3000)
        octets = {
            "flip": bytes([spoilt[place] ^ 1 << chance.randrange(8)]),
            "zeros": bytes(length),
            "noise": chance.randbytes(length),
            "page": spoilt[place - place % 4096 :][:4096],
        }[chance.choice(["flip", "zeros", "noise", "page"])]
        start = chance.randrange(len(spoilt)) // 4096 * 4096 if len(octets) == 4096 else place
        spoilt[start : start + len(octets)] = octets[: len(spoilt) - start]
    return bytes(spoilt)


@pytest.mark.parametrize("ending", ["", "-wal"])
def test_damage_is_told_or_harmless(tmp_path: Path, ending: str) -> None:
    """Whatever is spoilt: a store that opens holds every packet, and a rescued one holds no wrong one."""
    whole = filled(tmp_path / "whole", PACKETS[:60]) if not ending else in_use(tmp_path / "whole", tmp_path / "crash")
    chance = random.Random(6)
    expected = {packet.identity: packet for packet in PACKETS[:60]}
    told = 0
    for number in range(16):
        path = tmp_path / f"{number}"
        for one in ("", "-wal"):
            if Path(f"{whole}{one}").exists():
                content = Path(f"{whole}{one}").read_bytes()
                # damage in the last transaction of a log cannot be told from a torn end
                last = 8 * 4120 if one else 0
                hit, left = content[: len(content) - last], content[len(content) - last :]
                Path(f"{path}{one}").write_bytes((spoil_by_chance(hit, chance) if one == ending else hit) + left)
        try:
            found = brought_out(path)
        except DamagedStore:
            told += 1
            rescue(path, NOW)
            found = brought_out(path)
            assert all(expected[identity] == packet for identity, packet in found.items())
        else:
            assert found == expected
    assert told > 0


def test_rescue_says_what_is_absent(tmp_path: Path) -> None:
    """A short file, as a stick leaves it that was pulled too early."""
    path = filled(tmp_path / "a")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(DamagedStore):
        FlightStore.open(path)
    told = rescue(path, NOW)
    found = brought_out(path)
    assert 0 < len(found) < len(PACKETS)
    for receiver, count in told.absent.items():
        counters = [packet.counter for packet in found.values() if packet.receiver == receiver]
        assert count == max(counters) - min(counters) + 1 - len(counters)
    assert f"{len(found)} packets" in str(told)
    assert told.kept_as.name in str(told)
    with FlightStore.open(path) as store:
        assert store.laptop == "car 1"


def test_records_are_rescued_too(tmp_path: Path) -> None:
    path = filled(tmp_path / "a")
    with FlightStore.open(path) as store:
        before = list(store.records())
    spoil(path, 0, bytes(100))
    assert rescue(path, NOW).records == 2
    with FlightStore.open(path) as store:
        assert list(store.records()) == before
        assert store.count() == len(PACKETS)


def test_a_rescue_that_was_interrupted_is_finished_by_the_next_opening(tmp_path: Path) -> None:
    """The machine went down when the new file was ready and the old one still in its place."""
    path = in_use(tmp_path / "a", tmp_path / "crash")
    other = filled(tmp_path / "b", PACKETS[:10])
    other.rename(path.with_name(path.name + "-rescued"))
    assert len(brought_out(path)) == 10
    assert sorted(file.name for file in path.parent.iterdir()) == ["crashed"]


def test_what_is_not_there_cannot_be_rescued(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no such file"):
        rescue(tmp_path / "missing", NOW)


def test_a_crash_leaves_a_log_that_is_whole(tmp_path: Path) -> None:
    path = in_use(tmp_path / "a", tmp_path / "crash")
    assert len(brought_out(path)) == 60


@pytest.mark.parametrize("place", [5, 40, 5_000, 60_000])
def test_damage_in_the_log_is_no_end_of_the_log(tmp_path: Path, place: int) -> None:
    """SQLite would pass over every packet behind it without a word; all that is not hit comes out."""
    path = in_use(tmp_path / "a", tmp_path / "crash")
    log = path.with_name("crashed-wal")
    spoil(log, place, bytes([log.read_bytes()[place] ^ 0xFF]))
    with closing(sqlite3.connect(shutil.copytree(path.parent, tmp_path / "copy") / "crashed")) as connection:
        try:
            passed_over = 60 - connection.execute("SELECT count(*) FROM packets").fetchone()[0]
        except sqlite3.OperationalError:
            passed_over = 60  # not even the tables are there
    assert passed_over > 0
    for read_only in (True, False):
        with pytest.raises(DamagedStore, match="its log"):
            FlightStore.open(path, read_only=read_only)
    rescue(path, NOW)
    assert len(brought_out(path)) >= 59


@pytest.mark.parametrize("cut", [1, 30, 4_000, 9_000])
def test_a_torn_end_of_the_log_is_no_damage(tmp_path: Path, cut: int) -> None:
    """The last transaction was on its way when the power went: it was not acknowledged, and all others are there."""
    path = in_use(tmp_path / "a", tmp_path / "crash")
    log = path.with_name("crashed-wal")
    log.write_bytes(log.read_bytes()[:-cut])
    assert len(brought_out(path)) >= 58


def test_a_log_without_its_file_is_told(tmp_path: Path) -> None:
    path = in_use(tmp_path / "a", tmp_path / "crash")
    path.unlink()
    with pytest.raises(DamagedStore, match="log is there without the file"):
        FlightStore.open(path)
    assert rescue(path, NOW).packets > 0
