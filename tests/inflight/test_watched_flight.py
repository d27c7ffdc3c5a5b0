"""The recorded flight of Barbados, sent as packets of every kind through receivers on this computer.

Record: EUREC4A Barbados 2019-02-10, one sonde up and down (read from ``../shared`` where it exists). Only sockets of
this computer are used.
"""

from __future__ import annotations

import socket
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sent import aprs_text, ax25, nav_pvt, nmea, own_json

from pappus.inflight import Watched, watch
from pappus.sources import load_geoid, read_sounding
from pappus.sources.receivers import ReceiverSetting
from pappus.store import FlightStore
from pappus.tracking import Estimator, Phase
from receiving import LineServer, free_port, wait_for

FILES = ("sondes/bco_20190210T1909_ascent_309057.bufr", "sondes/bco_20190210T2043_descent_309056.bufr")


class FlightClock:
    """The time of the flight, which the sender moves on."""

    def __init__(self) -> None:
        self.now_utc = datetime(2019, 2, 10, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now_utc += timedelta(microseconds=1)  # no two packets at one instant
        return self.now_utc


@pytest.fixture
def lines() -> Iterator[tuple[LineServer, LineServer]]:
    servers = LineServer(), LineServer()
    for server in servers:
        server.open()
    yield servers
    for server in servers:
        server.close()


def flight(shared_data: Callable[[str], Path]) -> np.ndarray:
    """Time, latitude, longitude, height, wind u, wind v, going down: rows of one second."""
    rows = []
    for name in FILES:
        (one,) = read_sounding(shared_data(name))
        assert one.time_s is not None
        columns = (
            one.release.timestamp() + one.time_s, one.level_latitude_deg, one.level_longitude_deg, one.height_msl_m,
            one.wind_u_m_s, one.wind_v_m_s, np.full(one.levels, float(one.is_descent)),
        )  # fmt: skip
        rows.append(np.array(columns, dtype=float).T)
    table = np.concatenate(rows)
    _, first = np.unique(table[:, 0], return_index=True)
    return table[first]


def test_every_kind_of_packet_into_store_and_estimate(
    shared_data: Callable[[str], Path], tmp_path: Path, lines: tuple[LineServer, LineServer]
) -> None:
    table = flight(shared_data)
    top_s = table[table[:, 3].argmax(), 0]
    near = np.abs(table[:, 0] - top_s) < 60.0
    chosen = table[(np.arange(len(table)) % 15 == 0) | (near & (np.arange(len(table)) % 4 == 0))]
    clock, ports = FlightClock(), [free_port(socket.SOCK_DGRAM), free_port(socket.SOCK_DGRAM)]
    web = free_port()
    settings = (
        ReceiverSetting("box nmea", "balloon tracker", "nmea", f"udp://127.0.0.1:{ports[0]}"),
        ReceiverSetting("box ubx", "balloon tracker", "ubx", f"udp://127.0.0.1:{ports[1]}"),
        ReceiverSetting("hill lines", "ground station", "aprs-text", f"tcp://127.0.0.1:{lines[0].port}"),
        ReceiverSetting("car modem", "ground station", "ax25", f"tcp://127.0.0.1:{lines[1].port}"),
        ReceiverSetting("desk posts", "ground station", "json", f"http://127.0.0.1:{web}/heard"),
    )
    geoid = load_geoid()
    looks: list[Watched] = []

    def make() -> Estimator:
        return Estimator(undulation_m=lambda lat, lon: float(geoid.undulation_m(lat, lon)))

    def post(data: bytes) -> None:
        request = urllib.request.Request(f"http://127.0.0.1:{web}/heard", data, {"Content-Type": "application/json"})
        with urllib.request.urlopen(request, timeout=10) as answer:
            assert answer.status < 300

    latencies = []
    with FlightStore.open(tmp_path / "flight.db", laptop="test") as store, socket.socket(type=socket.SOCK_DGRAM) as out:
        with watch(store, settings, make, looks.append, clock=clock):
            wait_for(lambda: looks and all(r.phase == "connected" for r in looks[-1].receivers), "connection")
            wait_for(lambda: lines[0].clients and lines[1].clients, "client")
            total = 0
            for count, (at_s, lat, lon, height, *_) in enumerate(chosen.tolist()):
                when = datetime.fromtimestamp(at_s, tz=UTC)
                clock.now_utc = when + timedelta(seconds=0.3)
                undulation = float(geoid.undulation_m(lat, lon))
                sent_s = time.monotonic()
                if count % 10 == 0:
                    # a receiver of NMEA waits for a pause of a quarter of a second, to know that an epoch is whole
                    out.sendto(nmea(when, lat, lon, height, undulation), ("127.0.0.1", ports[0]))
                    total += 1
                out.sendto(nav_pvt(when, lat, lon, height, undulation), ("127.0.0.1", ports[1]))
                lines[0].send(aprs_text("N0CALL-1", when, lat, lon, height))
                lines[1].send(ax25("N0CALL", 2, when, lat, lon, height))
                post(own_json("desk-box", when, lat, lon, height))
                total += 4
                wait_for(lambda expected=total: store.count() >= expected, f"packets of step {count}")
                latencies.append(time.monotonic() - sent_s)
            wait_for(lambda: looks[-1].estimate is not None and looks[-1].estimate.packets == total, "estimate")
        last = looks[-1]
        print(f"{total} packets of 5 kinds; stored in {1000 * np.median(latencies):.0f} ms (median of steps)")
        assert store.count() == total
        assert not last.faults
        assert last.safety.safe
        estimate = last.estimate
        assert estimate is not None
        assert estimate.phase is Phase.DESCENT
        assert estimate.fall_start is not None
        off = estimate.fall_start.time_utc.timestamp() - top_s
        print(f"burst off by {off:.1f} s, told to {estimate.fall_start.time_sd_s:.1f} s")
        assert abs(off) <= 4.0
        assert {state.tracker for state in estimate.trackers} == {
            "box nmea", "box ubx", "N0CALL-1", "N0CALL-2", "desk-box",
        }  # fmt: skip
        assert not estimate.rejected
        assert all(apart.agrees for apart in estimate.apart)
        assert all(abs(apart.height_offset_m or 0.0) < 5.0 for apart in estimate.apart)
        assert not any("heights" in note for note in estimate.notes)
        assert estimate.position is not None
        assert estimate.position.tracker in ("box nmea", "box ubx")  # the two with a checksum of their own
        assert estimate.position.checked
        assert estimate.position.latitude_deg == pytest.approx(chosen[-1][1], abs=2e-6)
        for leg, down, most in (("up", 0.0, 0.3), ("down", 1.0, 1.0)):
            errors = []
            for layer in estimate.wind:
                inside = (table[:, 3] >= layer.low_msl_m) & (table[:, 3] < layer.high_msl_m) & (table[:, 6] == down)
                if layer.leg == leg and inside.sum() >= 5 and layer.seconds > 0.5 * inside.sum():
                    errors += [layer.wind_u_m_s - table[inside, 4].mean(), layer.wind_v_m_s - table[inside, 5].mean()]
            rms = float(np.sqrt(np.mean(np.square(errors))))
            print(f"{leg}: {len(errors) // 2} layers, {rms:.2f} m/s rms")
            assert len(errors) >= 2 * 80
            assert rms < most
        kept = list(store.records("estimate"))
        assert kept
        assert not last.out_of_order
        assert not store.stale()
        # a new watch on the same store is where the old one was, in less than three seconds
        again: list[Watched] = []
        start_s = time.monotonic()
        with watch(store, (), make, again.append):
            wait_for(lambda: again and again[-1].catching_up is None and again[-1].estimate, "replay")
            took_s = time.monotonic() - start_s
        print(f"{total} packets replayed in {took_s:.2f} s")
        assert took_s < 3.0
        assert again[-1].estimate is not None
        assert replace(again[-1].estimate, refused=()) == replace(estimate, refused=())
