"""The review: what a record holds, scored against the last position. The flight and its record are invented."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from pappus.store import FlightStore
from pappus.tracking import received
from pappus.web import Desk, Role
from pappus.web._review_answers import _holds

Client = Callable[[Role | None], TestClient]
NOW = datetime(2027, 2, 13, 9, 0, tzinfo=UTC)
LANDED_DEG = (-37.0, -63.0)


def test_no_record_yet(client: Client) -> None:
    read = client(Role.VIEWER).get("/api/review").json()
    assert (read["packets"], read["last"], read["scores"]) == (0, None, [])
    assert "start the watch" in read["why_not"]


def test_errors_against_the_landing(client: Client, desk: Desk) -> None:
    """One hundredth of a degree of latitude, by the radius of curvature of the meridian on WGS84:
    a (1 - e2) / (1 - e2 sin2)^1.5, a = 6 378 137 m, 1/f = 298.257223563 (NIMA TR8350.2, formulas of any textbook)."""
    e2 = (2.0 - 1.0 / 298.257223563) / 298.257223563
    radius_m = 6_378_137.0 * (1.0 - e2) / (1.0 - e2 * math.sin(math.radians(37.005)) ** 2) ** 1.5
    late = NOW + timedelta(hours=2)
    square = [[-63.1, -37.1], [-62.9, -37.1], [-62.9, -36.9], [-63.1, -36.9], [-63.1, -37.1]]
    far = [[x + 1.0, y] for x, y in square]
    areas = [
        {"type": "Feature", "properties": {"kind": "landing area", "probability": level},
         "geometry": {"type": "Polygon", "coordinates": [ring]}}
        for level, ring in ((0.9, square), (0.5, far))
    ]  # fmt: skip
    with FlightStore.open(desk.store_path, laptop="test") as store:
        for number in range(3):
            when = NOW + timedelta(seconds=number)
            store.take(received("hill", number + 1, when, "json", b"{}"))
        basis = store.basis()
        estimate = {
            "phase": "landed", "landed_utc": late.isoformat(), "highest_msl_m": 31_000.0,
            "position": {"time_utc": late.isoformat(), "latitude_deg": LANDED_DEG[0], "longitude_deg": LANDED_DEG[1],
                         "height_msl_m": 200.0},
        }  # fmt: skip
        store.put_estimate(estimate, late, basis)
        prediction = {
            "made_utc": NOW.isoformat(), "phase": "ascent", "middle_deg": [-37.01, -63.0], "area_km2": 300.0,
            "arrival_utc": [(late + timedelta(minutes=m)).isoformat() for m in (-20, -10, 5)],
            "landing": {"type": "FeatureCollection", "features": areas},
        }  # fmt: skip
        store.put_prediction(prediction, NOW, basis)
        after = late + timedelta(minutes=1)
        store.put_prediction({**prediction, "made_utc": after.isoformat()}, after, basis)
        store.put_message({"message": "warning", "kind": "floats", "subject": "", "words": "It floats."}, NOW)
        store.put_decision({"what": "note", "words": "We drive.", "by": "Ana"}, NOW)
    read = client(Role.VIEWER).get("/api/review").json()
    assert (read["packets"], read["heard"][0]["receiver"], read["last"]["landed"]) == (3, "hill", True)
    (score,) = read["scores"]
    assert score["error_m"] == pytest.approx(radius_m * math.radians(0.01), abs=0.05)
    assert score["ahead_s"] == 7200.0
    assert score["inside"] == {"90": True, "50": False}
    assert score["arrival_error_s"] == 600.0
    assert read["warnings"] == {"floats": 1}
    assert [(one["by"], one["words"]) for one in read["log"]] == [("Ana", "We drive.")]
    assert read["stale"] == 0


def test_holes_are_outside() -> None:
    ring = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
    hole = [[1, 1], [3, 1], [3, 3], [1, 3], [1, 1]]
    area = {"type": "MultiPolygon", "coordinates": [[ring, hole]]}
    assert [_holds(area, x, 2.0) for x in (0.5, 2.0, 3.5, 4.5)] == [True, False, True, False]
