"""The store under fire: kills, a full disk, many receivers; and how long it takes to be back.

    python benchmarks/store_kills.py [KILLS] [SEED]

KILLS (1000) times the process that receives an invented flight of 50 packets a second is killed at a random moment, a
fifth of them before it is live again, and KILLS / 5 more at 1,000 packets a second, where a kill hits a commit more
often. Every flight is ten kills long. The exit code is 1 when one acknowledged packet was lost or a replay gave another
answer.
"""

from __future__ import annotations

import os
import random
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from pappus.store import FlightStore, NotSafe
from pappus.tracking import Heard, received
from store.kill_flights import RATE_HZ, Outcome, fly, sentence

KILLS_A_FLIGHT = 10
FAST_HZ = 1000.0
AT_ONCE = 2
START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)


def flights(folder: Path, kills: int, seed: int, rate_hz: float) -> list[Outcome]:
    """Flights of ten kills each, a few at once."""

    def one(number: int) -> Outcome:
        chance = random.Random(f"{seed} {rate_hz} {number}")
        return fly(folder / f"{rate_hz:g}-{number}.flight", KILLS_A_FLIGHT, chance, rate_hz)

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(one, range(max(1, kills // KILLS_A_FLIGHT))))


def kill_lines(outcomes: Sequence[Outcome], rate_hz: float) -> list[str]:
    """What came of them."""

    def total(count: Callable[[Outcome], int]) -> int:
        return sum(map(count, outcomes))

    early = total(lambda one: one.kills_before_live)
    same = total(lambda one: int(one.same_answer))
    differ = total(lambda one: one.estimates_differ)
    back = [value for outcome in outcomes for value in outcome.back_s]
    computed = [value for outcome in outcomes for value in outcome.processor_s]
    return [
        f"{total(lambda one: one.kills)} kills at {rate_hz:g} packets/s ({early} before the process was live again), "
        f"{len(outcomes)} flights, {AT_ONCE} at once:",
        f"  {total(lambda one: one.sent)} packets sent, {total(lambda one: one.acknowledged)} acknowledged, "
        f"{total(lambda one: one.kept)} on the disk",
        f"  acknowledged and lost: {total(lambda one: len(one.lost))}; never sent or twice on the disk: "
        f"{total(lambda one: len(one.strange))}",
        f"  replays in two processes with the same estimates, bit for bit: {same} of {len(outcomes)} flights "
        f"({total(lambda one: one.positions)} estimates with a position)",
        f"  estimates kept live: {total(lambda one: one.estimates)}, of them "
        f"{total(lambda one: one.estimates_sound)} not stale, of which the replay gives another: {differ}",
        f"  back to live, from the start of the process, all packets replayed: {_spread(back, 's')}",
        f"  processor time of it: {_spread(computed, 's')}",
    ]


def is_right(outcomes: Iterable[Outcome]) -> bool:
    """Nothing lost, nothing invented, one answer."""
    return all(one.same_answer and not one.lost and not one.strange and not one.estimates_differ for one in outcomes)


def receivers_lines(folder: Path, packets: int = 4000) -> list[str]:
    """Packets a second and the time until a packet is safe, by the number of receivers that hand over without pause."""
    lines = [f"without pause, {packets} packets; {_sync_ms(folder)}"]
    for count in (1, 2, 4, 16):
        took: list[float] = []
        with FlightStore.open(folder / f"{count}.flight") as store:

            def hand_over(name: str, share: int, store: FlightStore = store, took: list[float] = took) -> None:
                for heard in invented(name, share):
                    start = time.perf_counter()
                    store.take(heard)
                    took.append(time.perf_counter() - start)

            threads = [
                threading.Thread(target=hand_over, args=(f"receiver {number}", packets // count))
                for number in range(count)
            ]
            start = time.perf_counter()
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            rate = packets / (time.perf_counter() - start)
        lines.append(
            f"  {count:2} receivers: {rate:6.0f} packets/s; safe after {_spread(np.multiply(took, 1e3), 'ms')}"
        )
    return lines


def opening_lines(folder: Path) -> list[str]:
    """How long a process needs to be ready to take packets again, by what is on the disk already."""
    lines = ["from the start of a process until it takes packets, every page and packet checked (no replay):"]
    program = "import sys; from pappus.store import FlightStore; FlightStore.open(sys.argv[1]); print(1, flush=True)"
    environment = os.environ | {"PYTHONPATH": str(ROOT / "src")}
    for count in (10_000, 100_000, 540_000):
        path = folder / f"{count}.flight"
        with FlightStore.open(path) as store:
            store.take_many(invented("hill", count))
        took = []
        for _ in range(5):
            start = time.perf_counter()
            child = subprocess.Popen(
                [sys.executable, "-c", program, str(path)], stdout=subprocess.PIPE, env=environment
            )
            assert child.stdout is not None
            child.stdout.readline()
            took.append(time.perf_counter() - start)
            child.communicate()
        size = path.stat().st_size / 1e6
        lines.append(
            f"  {count} packets ({count / RATE_HZ / 60.0:.0f} min at 50/s, {size:.0f} MB): {_spread(took, 's')}"
        )
    return lines


def full_disk_lines(folder: Path, runs: int, seed: int) -> tuple[list[str], bool]:
    """The disk is full at a random moment of a flight, and empty again at another."""
    acknowledged = refused = lost = absent = 0
    for number in range(runs):
        chance = random.Random(f"{seed} full {number}")
        packets = list(invented("hill", 300))
        safe: set[str] = set()
        path = folder / f"full-{number}.flight"
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        with FlightStore.open(path) as store:
            full_from = chance.randrange(100)
            room_from = full_from + chance.randrange(100, 200)
            for at, heard in enumerate(packets):
                if at == full_from:
                    resource.setrlimit(resource.RLIMIT_FSIZE, (chance.randrange(1000, 60_000), hard))
                if at == room_from:
                    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
                    with FlightStore.open(path, read_only=True) as other:
                        lost += len(safe - {packet.digest for packet in other.packets()})
                try:
                    store.take(heard)
                    safe.add(heard.digest)
                except NotSafe:
                    refused += 1
            acknowledged += len(safe)
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        with FlightStore.open(path, read_only=True) as store:
            absent += len(packets) - store.count()
        path.unlink()
    lines = [
        f"{runs} flights of 300 packets with a disk that takes nothing more for a while (limit on the size of files):",
        f"  {acknowledged} acknowledged, {refused} refused loudly; acknowledged and not on the full disk: {lost}; "
        f"absent once there was room: {absent}",
    ]
    return lines, not lost and not absent


def invented(receiver: str, count: int) -> Iterable[Heard]:
    """Packets of a balloon that was never flown, 50 a second."""
    for number in range(count):
        at = START + timedelta(seconds=number / RATE_HZ)
        yield received(receiver, number, at, "nmea", sentence(0, number, START, at))


def _spread(values: Sequence[float] | np.ndarray, unit: str) -> str:
    middle, most = np.quantile(values, [0.5, 0.95])
    return f"median {middle:.2f} {unit}, 95 % {most:.2f} {unit}, slowest {np.max(values):.2f} {unit}"


def _sync_ms(folder: Path) -> str:
    """What the disk itself needs, to compare with."""
    took = []
    descriptor = os.open(folder / "sync", os.O_CREAT | os.O_RDWR)
    for _ in range(200):
        os.write(descriptor, bytes(8192))
        start = time.perf_counter()
        os.fsync(descriptor)
        took.append((time.perf_counter() - start) * 1e3)
    os.close(descriptor)
    return f"this disk syncs 8 kB in {_spread(took, 'ms')}"


def main() -> int:
    """Print what was measured."""
    given = [int(text) for text in sys.argv[1:3]]
    kills, seed = given[0] if given else 1000, given[1] if len(given) > 1 else 1
    start = time.perf_counter()
    right = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for count, rate_hz in ((kills, RATE_HZ), (kills // 5, FAST_HZ)):
            outcomes = flights(folder, count, seed, rate_hz)
            right &= is_right(outcomes)
            print("\n".join(kill_lines(outcomes, rate_hz)), flush=True)
        lines, none_lost = full_disk_lines(folder, max(1, kills // 20), seed)
        right &= none_lost
        print("\n".join([*lines, *receivers_lines(folder), *opening_lines(folder)]), flush=True)
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    took_s = time.perf_counter() - start
    print(f"seed {seed}, {took_s:.0f} s; load of the machine at the end {load} on {os.cpu_count()} cores")
    return 0 if right else 1


if __name__ == "__main__":
    sys.exit(main())
