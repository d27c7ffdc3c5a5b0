"""Memory of the desk over three hours heard by ten stations once a second: ``python benchmarks/desk_memory.py``.

The clock of the desk goes fifty times as fast as life; packets come through real sockets, page Watch is open in a
browser. The page is told ten times as often as on the day, for it ages by what it is told and not by the clock.
"""

from __future__ import annotations

import gc
import json
import socket
import sys
import tempfile
import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

import uvicorn

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests"), str(ROOT / "benchmarks")]

from at_desk import browser, show, until

from pappus.preflight import write_example
from pappus.web import Desk, create_app
from pappus.web._run import spare_memory
from pappus.web.day import _flight_day
from pappus.web.day._flight_day import flight_day
from receiving import free_port

STATIONS, HOURS, SPEED, LOOKS = 10, 3.0, 50.0, 13
TOP_S, CLIMB_M_S, SINK_M_S = 6600.0, 5.0, 7.9
SITE = -37.38, -64.60, 225.0
_flight_day.TELL_EVERY_S = 0.05


class Clock:
    """So many times as fast as life."""

    def __init__(self, start: datetime) -> None:
        self._start, self._began_s = start, time.monotonic()

    def __call__(self) -> datetime:
        return self._start + timedelta(seconds=self.flown_s)

    @property
    def flown_s(self) -> float:
        """Since the start, by this clock."""
        return SPEED * (time.monotonic() - self._began_s)


def packet(when: datetime, seconds: float) -> bytes:
    """An invented flight that drifts east and comes down at the end."""
    up_s, down_s = min(seconds, TOP_S), max(seconds - TOP_S, 0.0)
    height = max(SITE[2] + CLIMB_M_S * up_s - SINK_M_S * down_s, SITE[2])
    fields = {
        "tracker": "BALLOON-1", "time_utc": when.isoformat(), "latitude_deg": round(SITE[0] - 2e-5 * seconds, 7),
        "longitude_deg": round(SITE[1] + 8e-5 * seconds, 7), "height_msl_m": round(height, 1), "battery_v": 7.1,
    }  # fmt: skip
    return json.dumps(fields).encode()


def send(clock: Clock, ports: list[int], ended: threading.Event) -> None:
    """Every station hears every packet."""
    with socket.socket(type=socket.SOCK_DGRAM) as sender:
        for second in range(round(3600.0 * HOURS)):
            time.sleep(max(0.0, (second - clock.flown_s) / SPEED))
            raw = packet(clock(), float(second))
            for port in ports:
                sender.sendto(raw, ("127.0.0.1", port))
    ended.set()


def resident_mb() -> float:
    """Of this process, now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


def main() -> None:
    """Print a table."""
    spare_memory()
    ports = [free_port(socket.SOCK_DGRAM) for _ in range(STATIONS)]
    with tempfile.TemporaryDirectory() as folder, browser() as running:
        path = write_example(Path(folder))
        path.write_text(path.read_text("utf-8") + "".join(
            f'\n[[receiver]]\nname = "station {number}"\nrole = "ground station"\nkind = "json"\n'
            f'address = "udp://127.0.0.1:{port}"\n' for number, port in enumerate(ports)
        ), "utf-8")  # fmt: skip
        clock = Clock(Desk(path).plan().window.release)
        desk = Desk(path, now=clock)
        flight_day(desk).start(None, "benchmark")
        server = uvicorn.Server(uvicorn.Config(create_app(desk), port=0, log_level="critical", ws="none"))
        threading.Thread(target=server.run, daemon=True).start()
        while not server.started:
            time.sleep(0.05)
        address = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
        page = running.new_context(viewport={"width": 1440, "height": 900}).new_page()
        page.goto(f"{address}/#enter={desk.people.laptop_key}")
        show(page, "watch")
        until(page, "document.querySelector('.watch-map .map[data-ready=true]') !== null")
        tools = page.context.new_cdp_session(page)
        ended = threading.Event()
        clock._began_s = time.monotonic()
        threading.Thread(target=send, args=(clock, ports, ended), daemon=True).start()
        print("| flown h | desk MB | page's heap MB | packets kept |")
        print("|--|--|--|--|")
        for look in range(1, LOOKS):
            time.sleep(max(0.0, (look / (LOOKS - 1) * 3600.0 * HOURS - clock.flown_s) / SPEED))
            gc.collect()
            tools.send("HeapProfiler.collectGarbage")
            heap = tools.send("Runtime.getHeapUsage")["usedSize"] / 1e6
            state = flight_day(desk).estimate
            kept = 0 if state is None else state.packets
            print(f"| {clock.flown_s / 3600:.2f} | {resident_mb():.0f} | {heap:.1f} | {kept} |", flush=True)
        ended.wait(60.0)
        flight_day(desk).stop("benchmark")
        server.should_exit = server.force_exit = True
        desk.jobs.close()


if __name__ == "__main__":
    main()
