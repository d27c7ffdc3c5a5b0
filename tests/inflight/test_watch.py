"""A watch that starts late, restarts and loses its disk. Packets are invented; sockets of this computer only."""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from pappus.errors import BadInput
from pappus.inflight import Watch, Watched, _watch, estimator_for, receivers_of, watch
from pappus.inflight._fed import Fed
from pappus.plan import load_plan
from pappus.sources.receivers import ReceiverSetting
from pappus.store import FlightStore, NotSafe
from pappus.tracking import Estimator, Heard, Phase, received
from receiving import free_port, wait_for

START = datetime(2026, 5, 1, 9, tzinfo=UTC)


def raw(second: int, tracker: str = "BALLOON-1") -> bytes:
    return json.dumps(
        {
            "tracker": tracker,
            "time_utc": (START + timedelta(seconds=second)).isoformat(),
            "latitude_deg": 48.0,
            "longitude_deg": 11.0 + 1e-4 * second,
            "height_msl_m": 500.0 + 5.0 * second,
        }
    ).encode()


def heard(second: int, receiver: str = "hill", late_s: float = 0.3) -> Heard:
    return received(receiver, second + 1, START + timedelta(seconds=second + late_s), "json", raw(second))


class Clock:
    def __init__(self) -> None:
        self.now_utc = START

    def __call__(self) -> datetime:
        return self.now_utc


def udp(name: str = "hill") -> tuple[ReceiverSetting, Callable[[bytes], object]]:
    """A receiver of datagrams and what sends one to it."""
    port = free_port(socket.SOCK_DGRAM)
    setting = ReceiverSetting(name, "ground station", "json", f"udp://127.0.0.1:{port}")

    def send(data: bytes) -> None:
        with socket.socket(type=socket.SOCK_DGRAM) as sender:
            sender.sendto(data, ("127.0.0.1", port))

    return setting, send


def connected(looks: list[Watched]) -> None:
    wait_for(lambda: looks and all(one.phase == "connected" for one in looks[-1].receivers), "connection")


def test_counting_on_and_catching_up_after_a_restart(tmp_path: Path) -> None:
    clock, (setting, send) = Clock(), udp()
    path = tmp_path / "flight.db"
    looks: list[Watched] = []
    with FlightStore.open(path) as store:
        store.take_many(heard(second) for second in range(600))
        with watch(store, [setting], Estimator, looks.append, clock=clock, hold_s=0.05):
            connected(looks)
            clock.now_utc = START + timedelta(seconds=600.3)
            send(raw(600))
            wait_for(lambda: looks[-1].estimate and looks[-1].estimate.packets == 601, "packet")
        assert store.last_counter("hill") == 601
        estimate = looks[-1].estimate
        assert estimate is not None
        assert estimate.phase is Phase.ASCENT
        assert not looks[-1].out_of_order
        last = Fed(Estimator, ())
        for one in store.packets():
            last.feed(one)
        assert last.estimate() == estimate
        assert last.basis == store.basis()


def test_what_is_heard_while_the_store_is_replayed_is_shown_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A replay slowed to several seconds; in between the newest packet is on show, marked as not the whole flight."""
    clock, (setting, send) = Clock(), udp()
    looks: list[Watched] = []
    monkeypatch.setattr(_watch, "_REPLAY_LOOK_S", 0.0)
    monkeypatch.setattr(_watch, "_REPLAY_BURST", 10)
    with FlightStore.open(tmp_path / "flight.db") as store:
        store.take_many(heard(second) for second in range(600))
        packets = store.packets

        def slowly() -> object:
            for one in packets():
                time.sleep(0.003)
                yield one

        monkeypatch.setattr(store, "packets", slowly)
        clock.now_utc = START + timedelta(seconds=700.3)
        with watch(store, [setting], Estimator, looks.append, clock=clock, hold_s=0.05):
            connected(looks)
            wait_for(lambda: looks[-1].estimate is not None, "first look")
            assert looks[-1].catching_up is not None
            assert looks[-1].estimate is not None
            assert looks[-1].estimate.packets == looks[-1].catching_up.done
            send(raw(700))
            wait_for(lambda: looks[-1].estimate.packets == 1, "newest packet")
            early = looks[-1]
            assert early.catching_up is not None
            assert early.catching_up.done < early.catching_up.packets == 600
            assert early.estimate is not None
            assert early.estimate.packets == 1
            assert early.estimate.position is not None
            assert early.estimate.position.height_msl_m == 4000.0
            wait_for(lambda: looks[-1].catching_up is None and looks[-1].estimate.packets == 601, "whole flight")
        assert store.count() == 601
        assert looks[-1].estimate is not None
        assert looks[-1].estimate.trackers[0].accepted == 601
        # nothing provisional is kept
        assert all(one.basis is not None and one.basis.packets >= 600 for one in store.records("estimate"))


def test_a_packet_after_its_turn_is_counted_and_a_replay_puts_it_right(tmp_path: Path) -> None:
    looks: list[Watched] = []
    with FlightStore.open(tmp_path / "flight.db") as store:
        running = Watch(store, (), Estimator, looks.append, hold_s=0.05)
        running.start()
        wait_for(lambda: looks, "look")
        for second in (*range(50), *range(60, 100)):
            running._take(heard(second))
        wait_for(lambda: looks[-1].estimate and looks[-1].estimate.packets == 90, "first part")
        for second in range(50, 60):
            running._take(heard(second))
        wait_for(lambda: looks[-1].out_of_order == 10, "late part")
        late = looks[-1].estimate
        assert late is not None
        wait_for(store.stale, "estimate out of order")
        running.again()
        wait_for(lambda: looks[-1].out_of_order == 0, "replay")
        in_order = looks[-1].estimate
        assert running.stop()
    assert in_order is not None
    assert replace(late, listeners=(), refused=()) == replace(in_order, listeners=(), refused=())


def test_packets_that_come_together_are_put_in_order_first(tmp_path: Path) -> None:
    looks: list[Watched] = []
    with FlightStore.open(tmp_path / "flight.db") as store:
        running = Watch(store, (), Estimator, looks.append, hold_s=0.3)
        running.start()
        wait_for(lambda: looks, "look")
        for second in (3, 1, 0, 4, 2):
            running._take(heard(second))
        wait_for(lambda: looks[-1].estimate and looks[-1].estimate.packets == 5, "packets")
        assert looks[-1].out_of_order == 0
        running.stop()
        assert not store.stale()


def test_a_disk_that_takes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A packet that is not on the disk is not shown; the receiver says so and tries again until it is."""
    clock, (setting, send) = Clock(), udp()
    looks: list[Watched] = []
    with FlightStore.open(tmp_path / "flight.db") as store:
        take, broken = store.take, [True]

        def refusing(one: Heard) -> None:
            if broken[0]:
                raise NotSafe("disk full")
            take(one)

        monkeypatch.setattr(store, "take", refusing)
        with watch(store, [setting], Estimator, looks.append, clock=clock, hold_s=0.05):
            connected(looks)
            send(raw(0))
            wait_for(lambda: "disk full" in looks[-1].receivers[0].last_error, "error")
            assert looks[-1].estimate is None
            broken[0] = False
            wait_for(lambda: looks[-1].estimate is not None, "packet")
            wait_for(lambda: looks[-1].receivers[0].last_error == "", "error gone")
        assert store.count() == 1


def test_a_fault_inside_costs_one_packet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[Watched] = []
    take = Estimator.take

    def faulty(self: Estimator, one: Heard, reading: Any) -> None:
        if one.counter == 3:
            raise ZeroDivisionError("made for the test")
        take(self, one, reading)

    monkeypatch.setattr(Estimator, "take", faulty)
    with FlightStore.open(tmp_path / "flight.db") as store:
        store.take_many(heard(second) for second in range(20))
        with watch(store, (), Estimator, looks.append):
            wait_for(lambda: looks[-1].estimate is not None if looks else False, "replay")
    assert looks[-1].faults == 1
    assert "packet 3 of hill" in looks[-1].last_fault
    assert looks[-1].estimate is not None
    assert looks[-1].estimate.packets == 19


def test_a_stop_during_a_replay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[Watched] = []
    monkeypatch.setattr(_watch, "_REPLAY_LOOK_S", 0.0)
    monkeypatch.setattr(_watch, "_REPLAY_BURST", 1)
    with FlightStore.open(tmp_path / "flight.db") as store:
        store.take_many(heard(second) for second in range(100))
        packets = store.packets

        def slowly() -> object:
            for one in packets():
                time.sleep(0.1)
                yield one

        monkeypatch.setattr(store, "packets", slowly)
        running = Watch(store, (), Estimator, looks.append)
        running.start()
        wait_for(lambda: looks, "look")
        began = time.monotonic()
        assert running.stop()
        assert time.monotonic() - began < 2.0


def test_the_plan_names_site_and_receivers(tmp_path: Path) -> None:
    example = Path(__file__).parents[2] / "src" / "pappus" / "plan" / "example.toml"
    plan = load_plan(example)
    site = plan.sites[0]
    estimator = estimator_for(plan)()
    first = received("hill", 1, START, "json", b"{}")
    assert estimator.feed(first, "not ours").position is None
    with pytest.raises(BadInput, match="not in the plan"):
        estimator_for(plan, site="nowhere at all")
    assert estimator_for(plan, site=site.name)() is not estimator
    assert [setting.name for setting in receivers_of(plan)] == [place.name for place in plan.receivers]
