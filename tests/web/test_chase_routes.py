"""The chase: what a car is told, from an invented prediction and no map. Checked against the sphere and the clock."""

from __future__ import annotations

import json
import math
import socket
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from fastapi.testclient import TestClient

from pappus.plan import example_plan_text
from pappus.recovery import SAFETY, Car, Landings, meeting_point
from pappus.store import FlightStore
from pappus.web import Desk, Role
from pappus.web.day._chase_answers import chase_answer
from pappus.web.day._chase_routes import POSITIONS_BURST
from pappus.web.day._flight_ahead import Chased
from pappus.web.day._flight_day import FlightDay, flight_day
from pappus.web.day._rehearsal import Rehearsal, rehearsals, wish_of
from receiving import free_port

Client = Callable[[Role | None], TestClient]
NOW = datetime(2027, 2, 13, 9, 0, tzinfo=UTC)


def test_says_why_there_is_nothing(client: Client) -> None:
    read = client(Role.VIEWER).get("/api/chase").json()
    assert (read["running"], read["cars"]) == (False, [])
    assert "not running" in read["why_not"]
    assert read["safety"] == [words for _, words in SAFETY]


def told(day: FlightDay, age_s: float) -> FlightDay:
    """One car a tenth of a degree south of where every flight lands in 30 to 50 minutes."""
    landings = Landings(np.full(5, -37.0), np.full(5, -63.0), np.linspace(1800.0, 3000.0, 5), 0)
    chase = meeting_point([Car("pick-up", -37.1, -63.0, age_s)], landings, None)
    arrival = tuple(NOW + timedelta(minutes=minutes) for minutes in (30, 40, 50))
    day._chased, day._chase_why_not = Chased(NOW, chase, (arrival[0], arrival[1], arrival[2]), ()), ""
    return day


def test_directions_of_a_rehearsal_are_marked(client: Client, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rehearsal that is over and not put away: its clock stands still, and no phone is asked for its position."""
    rehearsal = Rehearsal(desk, wish_of(None, 200.0, [], False, 1), desk.plan().sites[0], "test", desk.store_path)
    monkeypatch.setattr(rehearsals(desk), "_newest", rehearsal)
    told(rehearsal.day, 0.0)
    read = client(Role.VIEWER).get("/api/chase").json()
    assert (read["rehearsal"], read["running"], read["speed"]) == (True, False, 0.0)
    assert datetime.fromisoformat(read["now_utc"]) == rehearsal.now()
    assert [one["name"] for one in read["cars"]] == ["pick-up"]
    monkeypatch.setattr(rehearsals(desk), "_newest", None)
    read = client(Role.VIEWER).get("/api/chase").json()
    assert (read["rehearsal"], read["speed"], read["cars"]) == (False, 1.0, [])


def test_without_roads_straight_and_no_drive_time(desk: Desk) -> None:
    (car,) = chase_answer(told(flight_day(desk), 0.0), NOW, []).cars
    # a tenth of a degree on a sphere of the mean radius; the ellipsoid differs by less than 0.6 %
    assert car.distance_m == pytest.approx(6_371_009.0 * math.radians(0.1), rel=0.006)
    assert car.bearing_deg == pytest.approx(0.0, abs=1e-6)
    assert (car.by_road, car.drive_s, car.margin_s, car.way) == (False, None, None, [])
    assert "no map of roads" in car.why_not


def test_age_of_a_car_is_kept_and_said(desk: Desk) -> None:
    (car,) = chase_answer(told(flight_day(desk), 400.0), NOW, []).cars
    assert car.seen_utc == NOW - timedelta(seconds=400)
    assert any("7 minutes old" in line.words for line in car.lines["metric"])
    assert any("kilometres" in line.words for line in car.lines["metric"])
    assert any("miles" in line.words for line in car.lines["feet"])
    assert {line.kind for line in car.lines["metric"]} >= {"safety", "warning"}


def test_a_car_that_was_never_heard_is_not_said_to_be_seen(desk: Desk) -> None:
    (car,) = chase_answer(told(flight_day(desk), math.inf), NOW, []).cars
    assert car.seen_utc is None
    assert any("not known" in line.words for line in car.lines["metric"])


HERE = {"car": "van", "latitude_deg": -37.41, "longitude_deg": -64.52, "accuracy_m": 8.0, "age_s": 2.0}


@pytest.fixture
def watched(desk: Desk) -> Iterator[FlightDay]:
    """A watch that runs, with one receiver that nobody sends to."""
    port = free_port(socket.SOCK_DGRAM)
    receiver = f'name = "hill"\nrole = "ground station"\nkind = "json"\naddress = "udp://127.0.0.1:{port}"\n'
    text = f'{example_plan_text()}\n[[vehicle]]\nname = "van"\n\n[[receiver]]\n{receiver}'
    desk.plan_path.write_text(text, encoding="utf-8")
    day = flight_day(desk)
    day.start(None, "test")
    yield day
    day.stop("test")


def test_a_phone_tells_where_its_car_is(client: Client, desk: Desk, watched: FlightDay) -> None:
    crew = client(Role.CREW)
    assert "van" in crew.get("/api/chase").json()["names"]
    told = crew.post("/api/chase/position", json={**HERE, "speed_m_s": 12.5, "course_deg": 270.0})
    assert (told.status_code, told.content) == (204, b"")
    with FlightStore.open(desk.store_path, read_only=True) as store:
        (packet,) = store.packets()
    assert packet.role == "vehicle"
    assert packet.receiver.startswith("phone of a crew ")
    said = json.loads(packet.raw)
    assert (said["tracker"], said["latitude_deg"], said["longitude_deg"]) == ("van", -37.41, -64.52)
    assert datetime.fromisoformat(said["time_utc"]) == NOW - timedelta(seconds=2)
    end = time.monotonic() + 20.0
    while watched.estimate is None or not watched.estimate.vehicles:
        assert time.monotonic() < end, "the estimate has no car"
        time.sleep(0.05)
    (car,) = watched.estimate.vehicles
    assert (car.name, car.latitude_deg, car.longitude_deg) == ("van", -37.41, -64.52)
    assert watched.estimate.position is None, "a car is no balloon"


def test_positions_that_cannot_be_used_are_refused_and_not_kept(client: Client, desk: Desk, watched: FlightDay) -> None:
    crew = client(Role.CREW)
    for wrong, words in (
        ({"car": "somebody else's"}, "no car of this flight"),
        ({"accuracy_m": 3000.0}, "more than 500"),
        ({"age_s": 4000.0}, "more than 300"),
        ({"latitude_deg": 91.0}, "less than or equal to 90"),
        ({"longitude_deg": None}, "valid number"),
    ):
        refused = crew.post("/api/chase/position", json={**HERE, **wrong})
        assert refused.status_code == 422, wrong
        assert words in refused.json()["findings"][0]["reason"], wrong
    assert client(Role.VIEWER).post("/api/chase/position", json=HERE).status_code == 403
    with FlightStore.open(desk.store_path, read_only=True) as store:
        assert store.count() == 0


def test_a_phone_that_tells_too_much_has_to_wait(client: Client, watched: FlightDay) -> None:
    crew = client(Role.CREW)
    taken = 0
    while (answer := crew.post("/api/chase/position", json=HERE)).status_code == 204:
        taken += 1
        assert taken < 100, "nobody is held up"
    assert answer.status_code == 429
    assert taken >= POSITIONS_BURST


def test_without_a_watch_nothing_takes_a_position(client: Client, desk: Desk) -> None:
    text = f'{example_plan_text()}\n[[vehicle]]\nname = "van"\n'
    desk.plan_path.write_text(text, encoding="utf-8")
    refused = client(Role.CREW).post("/api/chase/position", json=HERE)
    assert refused.status_code == 409
    assert "No watch runs" in refused.json()["what"]
    assert not desk.store_path.exists()
