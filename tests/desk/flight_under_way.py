"""A desk in this process whose clock stands in the middle of an invented flight, for a browser to look at."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from pappus.preflight import write_example
from pappus.store import FlightStore
from pappus.web import Desk, create_app
from pappus.web._app import static_folder
from pappus.web.day._flight_day import FlightDay, flight_day
from receiving import free_port
from rehearsed_record import Flown

PATIENCE_S = 150.0


class Clock:
    """Goes as fast as in life from a moment on, and can be put ahead."""

    def __init__(self, start: datetime) -> None:
        self._start, self._began_s = start, time.monotonic()

    def __call__(self) -> datetime:
        return self._start + timedelta(seconds=time.monotonic() - self._began_s)

    def ahead(self, seconds: float) -> None:
        self._start += timedelta(seconds=seconds)


@dataclass
class UnderWay:
    """The desk, its flight, and the port on which a car tells where it is."""

    desk: Desk
    flown: Flown
    clock: Clock
    day: FlightDay
    link: str
    car_port: int

    @property
    def address(self) -> str:
        return self.link.partition("/#")[0]

    def car_at(self, latitude_deg: float, longitude_deg: float, name: str = "van") -> None:
        """One packet of the receiver in the car."""
        fields: dict[str, Any] = {
            "tracker": name, "time_utc": self.clock().isoformat(), "fix": "two-dimensional",
            "latitude_deg": latitude_deg, "longitude_deg": longitude_deg,
        }  # fmt: skip
        with socket.socket(type=socket.SOCK_DGRAM) as sender:
            sender.sendto(json.dumps(fields).encode(), ("127.0.0.1", self.car_port))

    def told(self, name: str) -> Any:
        """The directions of a car once there are some."""
        end = time.monotonic() + PATIENCE_S
        while True:
            chased, why_not = self.day.chased
            for one in () if chased is None else chased.chase.meetings:
                if one.car.name == name and one.car.age_s < 1e5:
                    return one
            assert time.monotonic() < end, why_not
            time.sleep(0.1)


@contextmanager
def flight_under_way(folder: Path, *, share: float = 0.5) -> Iterator[UnderWay]:
    """A flight of which this share of the time in the air is over; what was heard until then is in the record."""
    if not (static_folder() / "index.html").is_file():
        pytest.skip("the pages are not built (pip install builds them)")
    path = write_example(folder)
    port = free_port(socket.SOCK_DGRAM)
    receiver = f'name = "car"\nrole = "vehicle"\nkind = "json"\naddress = "udp://127.0.0.1:{port}"\n'
    text = f'{path.read_text("utf-8")}\n[[vehicle]]\nname = "van"\n\n[[receiver]]\n{receiver}'
    path.write_text(text.replace("flights = 1000", "flights = 300"), "utf-8")
    planned = Flown(Desk(path))
    truth = planned.done.truth
    moment_s = truth.released_s + share * (truth.landed_s - truth.released_s)
    clock = Clock(planned.at(moment_s))
    desk = Desk(path, now=clock)
    with FlightStore.open(desk.store_path, laptop="test") as store:
        for heard in planned.heard(moment_s):
            store.take(heard)
    day = flight_day(desk)
    day.start(None, "test")
    server = uvicorn.Server(uvicorn.Config(create_app(desk), port=0, log_level="warning", ws="none", lifespan="off"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    end = time.monotonic() + PATIENCE_S
    while not server.started:
        assert time.monotonic() < end, "the desk did not start"
        time.sleep(0.05)
    address = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    yield UnderWay(desk, planned, clock, day, f"{address}/#enter={desk.people.laptop_key}", port)
    if day.running:
        day.stop("test")
    server.force_exit = server.should_exit = True
    thread.join(20.0)
    desk.jobs.close()
