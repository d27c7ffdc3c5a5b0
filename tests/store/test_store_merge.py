"""Merging is a union: any order, any number of times, one result."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.store import FlightStore, Merged
from pappus.tracking import Heard, received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)

# few names, counts, times and contents, so that packets of one identity that differ otherwise come up often
PACKETS = st.builds(
    lambda receiver, counter, at_us, kind, raw, signal_db, role: received(
        receiver, counter, START + timedelta(microseconds=at_us), kind, raw, signal_db=signal_db, role=role
    ),
    st.sampled_from(["hill", "Hill", "mast", "\u00e9", "\uff5e", "\U0001f388"]),
    st.integers(0, 3),
    st.integers(0, 2),
    st.sampled_from(["nmea", "ax25"]),
    st.sampled_from([b"", b"a", b"b"]),
    st.sampled_from([None, -3.5, 0.0, -0.0, float("inf")]),
    st.sampled_from(["ground station", "vehicle"]),
)
FLIGHTS = st.lists(PACKETS, max_size=12)


def filled(path: Path, packets: Iterable[Heard]) -> Path:
    with FlightStore.open(path) as store:
        store.take_many(packets)
    return path


def content(path: Path) -> list[Heard]:
    with FlightStore.open(path, read_only=True) as store:
        return list(store.packets())


def merged(path: Path, *others: Path) -> list[Heard]:
    with FlightStore.open(path) as store:
        for other in others:
            store.merge(other)
    return content(path)


def canonical(packet: Heard) -> Any:
    return packet.heard_utc, packet.receiver, packet.counter, packet.digest


@settings(max_examples=20)
@given(FLIGHTS, FLIGHTS, FLIGHTS)
def test_merging_is_commutative_associative_and_idempotent(a: list[Heard], b: list[Heard], c: list[Heard]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = {key: filled(folder / key, packets) for key, packets in (("a", a), ("b", b), ("c", c))}
        ab = merged(filled(folder / "ab", a), files["b"])
        ba = merged(filled(folder / "ba", b), files["a"])
        assert ab == ba
        merged(filled(folder / "bc", b), files["c"])
        left = merged(folder / "ab", files["c"])
        right = merged(filled(folder / "a+", a), folder / "bc")
        assert left == right
        assert merged(folder / "ab", folder / "ab", files["a"], folder / "bc", files["c"]) == left
        assert {packet.identity for packet in left} == {packet.identity for packet in [*a, *b, *c]}


@settings(max_examples=25)
@given(FLIGHTS, st.randoms(use_true_random=False))
def test_the_order_of_arrival_changes_nothing(packets: list[Heard], chance: random.Random) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        one = content(filled(folder / "one", packets))
        again = [*packets, *packets]
        chance.shuffle(again)
        with FlightStore.open(folder / "two") as store:
            for packet in again:
                store.take(packet)
        assert content(folder / "two") == one
        assert one == sorted(one, key=canonical)


def test_two_stores_that_each_lost_packets_become_whole(tmp_path: Path) -> None:
    """Of 1,000 packets of two receivers each laptop missed 40 %, by chance; what one of both has, both have then."""
    chance = random.Random(4)
    whole = [
        received(f"receiver {number % 2}", number // 2, START + timedelta(seconds=number / 50), "nmea", b"%d" % number)
        for number in range(1000)
    ]
    halves = [[packet for packet in whole if chance.random() >= 0.4] for _ in range(2)]
    expected = sorted({*halves[0], *halves[1]}, key=canonical)
    assert len(expected) > 800
    paths = [tmp_path / "launch.flight", tmp_path / "car.flight"]
    stores = [FlightStore.open(path) for path in paths]
    for store, half in zip(stores, halves, strict=True):
        store.take_many(half)
    new = len(expected) - len(halves[0])
    brought = stores[0].merge(paths[1])
    assert brought == Merged(new, len(halves[1]) - new, 0, 0)
    stores[1].merge(paths[0])
    assert list(stores[0].packets()) == list(stores[1].packets()) == expected
    assert stores[0].merge(paths[1]) == Merged(0, len(expected), 0, 0)
    for store in stores:
        store.close()


def test_of_two_clocks_the_earlier_is_kept(tmp_path: Path) -> None:
    """What the digest does not cover is settled the same way whatever comes first."""
    early = received("hill", 1, START, "nmea", b"same")
    late = replace(early, heard_utc=START + timedelta(seconds=2), signal_db=-4.0)
    assert content(filled(tmp_path / "a", [early, late])) == [early]
    assert content(filled(tmp_path / "b", [late, early])) == [early]


def test_a_store_in_use_is_merged_as_it_stands(tmp_path: Path) -> None:
    """The other laptop's log counts too, before it has been folded into the file."""
    with FlightStore.open(tmp_path / "a") as one, FlightStore.open(tmp_path / "b") as two:
        two.take(received("hill", 1, START, "nmea", b"fresh"))
        assert one.merge(tmp_path / "b").packets_new == 1
        two.take(received("hill", 2, START, "nmea", b"fresher"))
        assert one.merge(tmp_path / "b") == Merged(1, 1, 0, 0)
