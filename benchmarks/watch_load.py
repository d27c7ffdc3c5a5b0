"""How a watch bears ten stations of five packets a second: ``python benchmarks/watch_load.py``.

``load`` sends them in real time through datagrams on this computer and measures from sending to the estimate on the
disk; ``three_hours`` feeds the packets of a simulated three-hour flight as fast as they are taken and looks at the
memory; ``restart`` replays a store of a real flight's size.
"""

from __future__ import annotations

import json
import resource
import socket
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from pappus.inflight import Watched, watch
from pappus.inflight._fed import Fed
from pappus.sources.receivers import ReceiverSetting
from pappus.store import Basis, FlightStore
from pappus.tracking import Estimate, Estimator, Heard, received
from receiving import free_port

STATIONS, RATE_HZ = 10, 5
START = datetime(2026, 5, 1, 9, tzinfo=UTC)


@dataclass(frozen=True)
class Load:
    """Seconds from sending a packet."""

    packets: int
    estimates_kept: int
    shown_median_s: float
    shown_p95_s: float
    kept_median_s: float
    kept_p95_s: float
    out_of_order: int


@dataclass(frozen=True)
class Memory:
    """Most memory of the process [MB] at steps of the simulated time [h]."""

    packets: int
    packets_per_s: float
    hours: tuple[float, ...]
    megabytes: tuple[float, ...]


def place(seconds: float) -> tuple[float, float, float]:
    """Latitude, longitude, height of an invented flight of three hours: up at 3.5 m/s, down at 12."""
    top_s = 8300.0
    height = 300.0 + (3.5 * seconds if seconds < top_s else 3.5 * top_s - 12.0 * (seconds - top_s))
    return 48.0 + 3e-6 * seconds, 11.0 + 2e-4 * min(seconds, 10_800.0), max(height, 300.0)


def packet(when: datetime, seconds: float) -> bytes:
    """Our own JSON."""
    lat, lon, height = place(seconds)
    return json.dumps(
        {
            "tracker": "BALLOON-1", "time_utc": when.isoformat(), "latitude_deg": round(lat, 7),
            "longitude_deg": round(lon, 7), "height_msl_m": round(height, 1), "battery_v": 7.1,
            "temperature_k": {"inside": 281.0},
        }
    ).encode()  # fmt: skip


def load(seconds: float = 30.0) -> Load:
    """Ten receivers, a real store, real time."""
    ports = [free_port(socket.SOCK_DGRAM) for _ in range(STATIONS)]
    settings = [
        ReceiverSetting(f"station {number}", "ground station", "json", f"udp://127.0.0.1:{port}")
        for number, port in enumerate(ports)
    ]
    looks: list[tuple[float, Watched]] = []
    sent_s: list[float] = []
    with tempfile.TemporaryDirectory() as folder, FlightStore.open(Path(folder) / "flight.db") as store:
        kept: list[tuple[float, int]] = []
        put = store.put_estimate

        def timed(estimate: Estimate, made_utc: datetime, basis: Basis) -> str:
            digest = put(estimate, made_utc, basis)
            kept.append((time.monotonic(), basis.packets))
            return digest

        store.put_estimate = timed  # type: ignore[method-assign]  # timed, for this run
        with (
            socket.socket(type=socket.SOCK_DGRAM) as out,
            watch(store, settings, Estimator, lambda look: looks.append((time.monotonic(), look))),
        ):
            while not looks or any(one.phase != "connected" for one in looks[-1][1].receivers):
                time.sleep(0.05)
            began = time.monotonic()
            for tick in range(round(seconds * RATE_HZ)):
                time.sleep(max(0.0, began + tick / RATE_HZ - time.monotonic()))
                raw = packet(datetime.now(UTC), tick / RATE_HZ)
                for port in ports:
                    sent_s.append(time.monotonic())
                    out.sendto(raw, ("127.0.0.1", port))
            time.sleep(2.0)
        written = len(list(store.records("estimate")))
    return _load(sent_s, looks, kept, written)


def _load(sent_s: list[float], looks: list[tuple[float, Watched]], kept: list[tuple[float, int]], written: int) -> Load:
    """The n-th packet sent is in the first estimate that rests on n packets or more: an upper bound for each."""
    shown = [(at, look.estimate.packets) for at, look in looks if look.estimate is not None]

    def waits(told: list[tuple[float, int]]) -> np.ndarray:
        found = []
        index = 0
        for number, at in enumerate(sent_s, 1):
            while index < len(told) and told[index][1] < number:
                index += 1
            if index < len(told):
                found.append(told[index][0] - at)
        return np.array(found)

    on_show, on_disk = waits(shown), waits(kept)
    return Load(
        len(sent_s), written, float(np.median(on_show)), float(np.quantile(on_show, 0.95)),
        float(np.median(on_disk)), float(np.quantile(on_disk, 0.95)), looks[-1][1].out_of_order,
    )  # fmt: skip


def simulated(hours: float, rate_hz: int = RATE_HZ, stations: int = STATIONS) -> Iterator[Heard]:
    """What the stations hear, in order of hearing; each loses a tenth."""
    rng = np.random.default_rng(1)
    counters = [0] * stations
    for tick in range(round(hours * 3600 * rate_hz)):
        when = START + timedelta(seconds=tick / rate_hz)
        raw = packet(when, tick / rate_hz)
        for number in range(stations):
            if rng.random() < 0.1:
                continue
            counters[number] += 1
            heard_utc = when + timedelta(seconds=0.2 + 0.01 * number)
            yield received(f"station {number}", counters[number], heard_utc, "json", raw)


def three_hours(hours: float = 3.0) -> Memory:
    """Parser and estimator, an estimate for every twentieth packet."""
    fed, count, marks, sizes = Fed(Estimator, ()), 0, [], []
    began = time.perf_counter()
    for heard in simulated(hours):
        fed.feed(heard)
        count += 1
        if count % 20 == 0:
            fed.estimate()
        elapsed_h = (heard.heard_utc - START).total_seconds() / 3600.0
        if elapsed_h >= 0.5 * (len(marks) + 1):
            marks.append(round(elapsed_h, 2))
            sizes.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
    assert not fed.faults, fed.last_fault
    return Memory(count, count / (time.perf_counter() - began), tuple(marks), tuple(sizes))


def restart(hours: float = 3.0, rate_hz: int = 1, stations: int = 3) -> tuple[int, float, float]:
    """Packets of a store; seconds until a new watch on it shows the whole flight, by the clock and of the processor."""
    with tempfile.TemporaryDirectory() as folder, FlightStore.open(Path(folder) / "flight.db") as store:
        store.take_many(simulated(hours, rate_hz, stations))
        looks: list[Watched] = []
        began, spent = time.monotonic(), time.process_time()
        with watch(store, (), Estimator, looks.append):
            while not looks or looks[-1].catching_up is not None or looks[-1].estimate is None:
                time.sleep(0.01)
            seconds, spent = time.monotonic() - began, time.process_time() - spent
        return store.count(), seconds, spent


def lines() -> list[str]:
    """All three in words."""
    now, memory, (packets, seconds, spent) = load(), three_hours(), restart()
    steps = ", ".join(f"{h:g} h {mb:.0f} MB" for h, mb in zip(memory.hours, memory.megabytes, strict=True))
    return [
        f"- {STATIONS} stations of {RATE_HZ} packets a second, {now.packets} packets in real time: shown after "
        f"{now.shown_median_s:.2f} s (95 %: {now.shown_p95_s:.2f} s), estimate on its way to the disk after "
        f"{now.kept_median_s:.2f} s (95 %: {now.kept_p95_s:.2f} s); {now.estimates_kept} estimates kept, "
        f"{now.out_of_order} packets out of order",
        f"- {memory.packets:,} packets of a simulated flight at {memory.packets_per_s:,.0f} a second; most memory "
        f"of the process: {steps}",
        f"- restart: {packets:,} packets fed again in {seconds:.2f} s, {spent:.2f} s of the processor",
    ]


if __name__ == "__main__":
    print("\n".join(lines()))
