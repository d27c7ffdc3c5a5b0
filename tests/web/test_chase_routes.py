"""The chase: what a car is told, from an invented prediction and no map. Checked against the sphere and the clock."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from fastapi.testclient import TestClient

from pappus.recovery import SAFETY, Car, Landings, meeting_point
from pappus.web import Desk, Role
from pappus.web._chase_answers import chase_answer
from pappus.web._flight_ahead import Chased
from pappus.web._flight_day import FlightDay, flight_day

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


def test_without_roads_straight_and_no_drive_time(desk: Desk) -> None:
    (car,) = chase_answer(told(flight_day(desk), 0.0), NOW).cars
    # a tenth of a degree on a sphere of the mean radius; the ellipsoid differs by less than 0.6 %
    assert car.distance_m == pytest.approx(6_371_009.0 * math.radians(0.1), rel=0.006)
    assert car.bearing_deg == pytest.approx(0.0, abs=1e-6)
    assert (car.by_road, car.drive_s, car.margin_s, car.way) == (False, None, None, [])
    assert "no map of roads" in car.why_not


def test_age_of_a_car_is_kept_and_said(desk: Desk) -> None:
    (car,) = chase_answer(told(flight_day(desk), 400.0), NOW).cars
    assert car.seen_utc == NOW - timedelta(seconds=400)
    assert any("7 minutes old" in line.words for line in car.lines["metric"])
    assert any("kilometres" in line.words for line in car.lines["metric"])
    assert any("miles" in line.words for line in car.lines["feet"])
    assert {line.kind for line in car.lines["metric"]} >= {"safety", "warning"}
