"""The watch inside the desk: an invented flight is heard, kept, predicted, warned of and written down.

The flight is invented: 5 m/s up from the first site of the example plan, drifting east.
"""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from pappus.inflight import Warned, Warning_, WarningKind
from pappus.plan import example_plan_text
from pappus.store import FlightStore
from pappus.tracking import received
from pappus.web import Desk, Role
from pappus.web.day._flight_day import flight_day
from receiving import free_port, wait_for

Client = Callable[[Role | None], TestClient]
NOW = datetime(2027, 2, 13, 9, 0, tzinfo=UTC)
"""The desk of the fixture has its clock standing there."""
SITE_DEG = (-37.38, -64.60)
START = NOW - timedelta(minutes=20)
Send = Callable[[int], None]


def packet(second: int) -> bytes:
    """On the ground for two minutes, then up; by our own schema of packets."""
    up = max(0, second - 120)
    return json.dumps(
        {
            "tracker": "BALLOON-1",
            "time_utc": (START + timedelta(seconds=second)).isoformat(),
            "latitude_deg": SITE_DEG[0],
            "longitude_deg": SITE_DEG[1] + 1.5e-4 * up,
            "height_msl_m": 225.0 + 5.0 * up,
            "battery_v": 7.2,
        }
    ).encode()


def fill(path: Path, seconds: range) -> None:
    """A record as an earlier watch left it."""
    with FlightStore.open(path, laptop="test") as store:
        for number, second in enumerate(seconds):
            when = START + timedelta(seconds=second, milliseconds=300)
            store.take(received("hill", number + 1, when, "json", packet(second)))


@pytest.fixture
def send(desk: Desk) -> Iterator[Send]:
    """A plan with one receiver of datagrams, and what sends it the packet of a second; the watch ends with the test."""
    port = free_port(socket.SOCK_DGRAM)
    place = f'name = "hill"\nrole = "ground station"\nkind = "json"\naddress = "udp://127.0.0.1:{port}"\n'
    desk.plan_path.write_text(f"{example_plan_text()}\n[[receiver]]\n{place}", encoding="utf-8")

    def one(second: int) -> None:
        with socket.socket(type=socket.SOCK_DGRAM) as sender:
            sender.sendto(packet(second), ("127.0.0.1", port))

    yield one
    if flight_day(desk).running:
        flight_day(desk).stop("the test")


def started(director: Any) -> None:
    answer = director.post("/api/watch/start", json={})
    assert answer.status_code == 200, answer.text
    wait_for(lambda: replayed(director), "the record was fed again")


def replayed(browser: Any) -> bool:
    state = browser.get("/api/watch").json()["state"]
    return state is not None and state["replay"] is None and state["stations"][0]["phase"] == "connected"


def test_without_receivers_it_says_what_to_do(client: Client) -> None:
    director = client(Role.DIRECTOR)
    read = director.get("/api/watch").json()
    assert (read["running"], read["receivers"], read["state"]) == (False, [], None)
    answer = director.post("/api/watch/start", json={})
    assert answer.status_code == 409
    assert "[[receiver]]" in answer.json()["fix"]


def test_goes_on_from_the_record_and_hears(client: Client, desk: Desk, send: Send) -> None:
    fill(desk.store_path, range(0, 1100, 5))
    director = client(Role.DIRECTOR)
    started(director)
    state = director.get("/api/watch").json()["state"]
    assert (state["packets"], state["phase"]) == (220, "ascent")
    assert state["rates"]["climb_m_s"] == pytest.approx(5.0, abs=0.3)
    send(1105)
    wait_for(lambda: director.get("/api/watch").json()["state"]["packets"] == 221, "the packet was heard")
    state = director.get("/api/watch").json()["state"]
    assert state["place"]["height_msl_m"] == pytest.approx(225.0 + 5.0 * 985)
    assert state["stations"][0]["packets"] == 221
    assert datetime.fromisoformat(state["release_utc"]) == pytest.approx(
        START + timedelta(seconds=120), abs=timedelta(seconds=20)
    )
    assert director.post("/api/watch/start", json={}).status_code == 409
    assert director.post("/api/watch/stop").json()["state"] is None
    assert director.post("/api/watch/stop").status_code == 409
    log = director.get("/api/watch").json()["log"]
    assert [one["what"] for one in log] == ["watch started", "watch stopped"]
    with FlightStore.open(desk.store_path, read_only=True) as store:
        assert store.count() == 221


def test_area_from_the_winds_that_the_flight_measured(client: Client, desk: Desk, send: Send) -> None:
    """Without a field pack the flight's own winds are taken: drift 1.5e-4 deg/s eastward, so it lands in the east."""
    fill(desk.store_path, range(0, 1100, 5))
    director = client(Role.DIRECTOR)
    started(director)
    wait_for(lambda: director.get("/api/watch").json()["prediction"] is not None, "a landing area", 60.0)
    read = director.get("/api/watch").json()
    predicted = read["prediction"]
    assert predicted["winds"] == "own ascent"
    assert predicted["middle_deg"] is None or predicted["middle_deg"][1] > read["state"]["place"]["longitude_deg"]
    assert {one["properties"]["kind"] for one in predicted["landing"]["features"]} >= {"landing area"}
    assert all(0.0 <= one["low"] <= one["p"] <= one["high"] <= 1.0 for one in predicted["chances"])
    assert read["planned"]["height_msl_m"][0] < max(read["planned"]["height_msl_m"])
    wait_for(lambda: director.get("/api/chase").json()["why_not"] != "no landing area yet", "the chase", 30.0)
    # the only car of the example plan has no place and was not heard: it is taken to wait at the site, and says so
    (car,) = director.get("/api/chase").json()["cars"]
    assert (car["latitude_deg"], car["longitude_deg"], car["seen_utc"]) == (*SITE_DEG, None)


def test_silent_balloon_is_reckoned_on_and_a_cut_down_brings_it_down_sooner(
    client: Client, desk: Desk, send: Send
) -> None:
    """It climbs at 5 m/s and is silent for 305 s: by then it is 1525 m higher, or it has burst on the way."""
    fill(desk.store_path, range(0, 900, 5))
    director, crew = client(Role.DIRECTOR), client(Role.CREW)
    started(director)
    wait_for(lambda: director.get("/api/watch").json()["prediction"] is not None, "a landing area", 60.0)
    read = director.get("/api/watch").json()
    lost = read["lost"]
    assert lost["heard_utc"] == (START + timedelta(seconds=895)).isoformat().replace("+00:00", "Z")
    assert lost["height_msl_m"][1] == pytest.approx(225.0 + 5.0 * (895 - 120) + 5.0 * 305, abs=250.0)
    assert lost["down"]["p"] < 0.1
    assert any(one["geometry"] for one in lost["area"]["features"])
    assert read["search"] is None, "most likely it is still aloft"
    # the wind that it measured: 1.5e-4 degrees of longitude a second at 37.38 S, 111.32 km a degree at the equator
    (east, north) = ([one[f"wind_{part}_m_s"] for one in read["winds"]["measured"]] for part in "uv")
    assert sum(east) / len(east) == pytest.approx(1.5e-4 * 111_320 * 0.7946, rel=0.02)
    assert max(map(abs, north)) < 0.5
    assert (read["winds"]["measured_itself"], read["winds"]["height_msl_m"]) == (True, [])
    answer = crew.post("/api/watch/cut-down")
    assert answer.status_code == 200, answer.text
    cut, whole = answer.json()["cut_down"], answer.json()["prediction"]
    assert cut["arrival_utc"][1] < whole["arrival_utc"][1]
    assert answer.json()["log"][-1]["what"] == "asked what a cut-down would do"


def test_warnings_are_acknowledged_by_name(client: Client, desk: Desk, send: Send) -> None:
    director, crew = client(Role.DIRECTOR), client(Role.CREW)
    started(director)
    warning = Warning_(WarningKind.POWER, "", NOW, "Battery 5.9 V.", "Expect silence.", "", 5.9, 6.1, "V", True)
    flight_day(desk)._warned = Warned((warning,))
    wrong = crew.post("/api/watch/acknowledge", json={"kind": "floats", "subject": ""})
    assert (wrong.status_code, wrong.json()["findings"][0]["field"]) == (422, "kind")
    answer = crew.post("/api/watch/acknowledge", json={"kind": "low on power", "subject": ""})
    (one,) = answer.json()["state"]["warnings"]
    assert (one["taken_by"], one["taken_utc"]) == ("a crew", NOW.isoformat().replace("+00:00", "Z"))
    crew.post("/api/watch/note", json={"words": "We wait for the balloon at the bridge."})
    director.post("/api/watch/stop")
    with FlightStore.open(desk.store_path, read_only=True) as store:
        kept = [record.content for record in store.records("decision")]
    assert {"what": "warning acknowledged", "words": "Battery 5.9 V.", "by": "a crew", "kind": "low on power",
            "subject": ""} in kept  # fmt: skip
    assert {"what": "note", "words": "We wait for the balloon at the bridge.", "by": "a crew"} in kept


def test_pages_are_told_at_most_twice_a_second(
    client: Client, desk: Desk, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    director = client(Role.DIRECTOR)
    told: list[float] = []
    publish = desk.events.publish

    def counted(kind: str, data: dict[str, Any], least: Role = Role.VIEWER) -> None:
        if kind == "watch" and data["state"] is not None:
            told.append(time.monotonic())
        publish(kind, data, least)

    monkeypatch.setattr(desk.events, "publish", counted)
    started(director)
    for second in range(200):
        send(second)
        time.sleep(0.01)
    wait_for(lambda: director.get("/api/watch").json()["state"]["packets"] >= 190, "the packets", 20.0)
    assert len(told) >= 3
    assert all(later - earlier >= 0.45 for earlier, later in pairwise(told))


@pytest.mark.parametrize("path", ["start", "stop"])
def test_only_the_director_starts_and_stops(client: Client, path: str) -> None:
    assert client(Role.CREW).post(f"/api/watch/{path}", json={}).status_code == 403
    assert client(Role.VIEWER).post("/api/watch/note", json={"words": "x"}).status_code == 403
