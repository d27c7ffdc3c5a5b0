"""Two laptops find out over any link what each lacks; exports hold all and can be taken back."""

from __future__ import annotations

import csv
import json
import random
import sqlite3
import tempfile
from collections.abc import Iterable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.errors import BadFile
from pappus.store import Basis, FlightStore, Held, from_lines, to_lines
from pappus.tracking import Heard, received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)


def heard(receiver: str, counter: int, content: bytes = b"x") -> Heard:
    return received(receiver, counter, START + timedelta(seconds=counter), "nmea", content, signal_db=-counter / 7)


PACKETS = st.lists(
    st.builds(heard, st.sampled_from(["hill", "mast"]), st.integers(0, 20), st.sampled_from([b"x", b"y"])), max_size=25
)


def sent(octets: Iterable[bytes]) -> list[bytes]:
    """Over a link that carries octets and knows nothing of lines."""
    return b"".join(octets).splitlines()


def brought(receiving: FlightStore, sending: FlightStore, block: int) -> int:
    """One round: a summary one way, what is missing the other way. Gives how many packets were sent."""
    summary = Held.from_bytes(receiving.held(block).to_bytes())
    items = list(from_lines(sent(to_lines(sending.missing(summary)))))
    receiving.take_many(items)
    return len(items)


@settings(max_examples=20)
@given(PACKETS, PACKETS, st.sampled_from([1, 4, 64]))
def test_one_round_each_way_makes_two_stores_equal(a: list[Heard], b: list[Heard], block: int) -> None:
    with (
        tempfile.TemporaryDirectory() as name,
        FlightStore.open(Path(name) / "a") as one,
        FlightStore.open(Path(name) / "b") as two,
    ):
        one.take_many(a)
        two.take_many(b)
        brought(one, two, block)
        brought(two, one, block)
        assert list(one.packets()) == list(two.packets())
        assert {packet.identity for packet in one.packets()} == {packet.identity for packet in [*a, *b]}
        assert brought(one, two, block) == brought(two, one, block) == 0


def test_two_laptops_that_lost_40_percent_each_over_a_narrow_link(tmp_path: Path) -> None:
    """A short summary first, a fine one only of what differs: nothing that is known is sent."""
    chance = random.Random(5)
    whole = [heard(receiver, counter, b"%d" % counter) for receiver in ("hill", "mast") for counter in range(600)]
    # the first 256 counters of "hill" are whole on both
    common = {packet.identity for packet in whole[:256]}
    with FlightStore.open(tmp_path / "a") as one, FlightStore.open(tmp_path / "b") as two:
        for store in (one, two):
            store.take_many(packet for packet in whole if packet.identity in common or chance.random() >= 0.4)
        lacks = {packet.identity for packet in two.packets()} - {packet.identity for packet in one.packets()}
        coarse = Held.from_bytes(one.held(64).to_bytes())
        blocks = two.differing(coarse)
        assert ("hill", 3) not in blocks
        assert ("mast", 0) in blocks
        fine = Held.from_bytes(one.held(1, within=blocks, coarse=64).to_bytes())
        items = [item for item in from_lines(sent(to_lines(two.missing(fine)))) if isinstance(item, Heard)]
        assert {packet.identity for packet in items} == lacks
        assert len(items) == len(lacks)
        one.take_many(items)
        two.merge(tmp_path / "a")
        assert list(one.packets()) == list(two.packets())


def test_a_link_that_breaks_off_leaves_what_came(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a") as one, FlightStore.open(tmp_path / "b") as two:
        two.take_many(heard("hill", counter) for counter in range(20))
        octets = b"".join(to_lines(two.missing(one.held())))
        arrived = octets[: octets.index(b'"counter":7') + 30].splitlines()
        one.take_many(from_lines(arrived[:-1]))
        with pytest.raises(BadFile, match="line 8"):
            one.take_many(from_lines(arrived))
        assert one.count() == 7
        brought(one, two, 64)
        assert list(one.packets()) == list(two.packets())


def test_records_cross_a_link_but_estimates_stay(tmp_path: Path) -> None:
    """Each laptop computes its own from the packets."""
    with FlightStore.open(tmp_path / "a", laptop="car") as one, FlightStore.open(tmp_path / "b") as two:
        one.put_plan("a plan", START)
        one.put_message("a message", START)
        one.put_estimate("an estimate", START, Basis.none())
        assert brought(two, one, 64) == 2
        assert [record.laptop for record in two.records()] == ["car", "car"]
        assert brought(two, one, 64) == 0


@pytest.mark.parametrize(
    "octets", [b"", b"[]", b"{}", b'{"block":0,"within":null,"coarse":1,"packets":[],"records":[]}']
)
def test_a_summary_that_cannot_be_read_is_refused(octets: bytes) -> None:
    with pytest.raises(BadFile):
        Held.from_bytes(octets)


def lines_of(*items: Heard) -> bytes:
    return b"".join(to_lines(items))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'"counter":3', b'"counter":"3"'),
        (b'"raw_hex":"78"', b'"raw_hex":"79"'),
        (b'"raw_hex":"78"', b'"raw_hex":"7"'),
        (b"+00:00", b""),
        (b'"packet"', b'"parcel"'),
        (b"}}", b"}"),
        (b'"receiver":"hill"', b'"receiver":5'),
    ],
)
def test_a_line_that_is_not_whole_is_refused(old: bytes, new: bytes) -> None:
    line = lines_of(heard("hill", 3))
    assert old in line
    with pytest.raises(BadFile, match="line 2"):
        list(from_lines([b"", line.replace(old, new)]))


def test_an_export_holds_all_and_can_be_taken_back(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a") as store, FlightStore.open(tmp_path / "b") as other:
        store.take_many(heard("hill", counter, bytes(range(counter))) for counter in range(30))
        store.put_plan("[site]\nname = 'h\u00fcgel'\n", START)
        store.put_estimate({"height_msl_m": 0.1}, START, Basis.none().plus(heard("hill", 1)))
        store.put_message("settles the one above", START)
        store.export(tmp_path / "all.jsonl")
        with (tmp_path / "all.jsonl").open("rb") as file:
            other.take_many(from_lines(file))
        assert list(other.packets()) == list(store.packets())
        assert list(other.records()) == list(store.records())
        for line in (tmp_path / "all.jsonl").read_text(encoding="utf-8").splitlines():
            assert set(json.loads(line)) <= {"packet", "record"}


def test_the_table_of_packets(tmp_path: Path) -> None:
    raw = b'=2+3,"quoted"\r\n\xff'
    with FlightStore.open(tmp_path / "a") as store:
        store.take(heard("@hill, north", 3, raw))
        store.export(tmp_path / "packets.csv")
    with (tmp_path / "packets.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert row["heard_utc"] == "2026-06-01T04:30:03+00:00"
    assert (row["receiver"], row["counter"], row["kind"], row["role"]) == (
        "'@hill, north",
        "3",
        "nmea",
        "ground station",
    )
    assert float(row["signal_db"]) == -3 / 7
    assert bytes.fromhex(row["raw_hex"]) == raw
    assert row["raw_text"] == '\'=2+3,"quoted"\\r\\n\\xff'


def test_an_export_of_no_known_form_or_place_is_refused(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a") as store:
        with pytest.raises(BadFile, match=r"\.jsonl"):
            store.export(tmp_path / "all.xyz")
        with pytest.raises(BadFile, match="cannot be written"):
            store.export(tmp_path / "nowhere" / "all.jsonl")


def test_a_copy_for_a_stick_is_one_whole_file(tmp_path: Path) -> None:
    """Also while the store is in use and most of it still lies in the log."""
    target = tmp_path / "stick" / "a"
    target.parent.mkdir()
    with FlightStore.open(tmp_path / "a") as store:
        store.take_many(heard("hill", counter) for counter in range(20))
        store.copy(target)
        assert [file.name for file in target.parent.iterdir()] == ["a"]
        with FlightStore.open(target, read_only=True) as copy:
            assert list(copy.packets()) == list(store.packets())
        with pytest.raises(BadFile, match="file of that name"):
            store.copy(target)
    with closing(sqlite3.connect(target)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
