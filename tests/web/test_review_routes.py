"""The review: what a record holds, scored against the last position. The flight and its record are invented."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from flown_example import FlownExample, small_example

from pappus.earth import distance_m
from pappus.store import FlightStore
from pappus.tracking import received
from pappus.web import Desk, Role, create_app
from rehearsed_record import Flown

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
    (warning,) = read["warnings"]
    assert (warning["kind"], warning["words"], warning["taken_by"]) == ("floats", "It floats.", None)
    assert [(one["by"], one["words"]) for one in read["log"]] == [("Ana", "We drive.")]
    assert read["stale"] == 0


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[FlownExample, Flown]]:
    """A whole invented flight in the record of its desk."""
    folder = tmp_path_factory.mktemp("reviewed")
    desk = Desk(small_example(folder), now=lambda: NOW)
    flight = Flown(desk)
    with FlightStore.open(desk.store_path, laptop="test") as store:
        flight.keep(store, predict_every_s=1500.0)
    yield FlownExample(desk, create_app(desk, folder)), flight
    desk.jobs.close()


def test_moments_of_a_flight_are_scored(flown: tuple[FlownExample, Flown]) -> None:
    example, flight = flown
    read = example.browser().get("/api/review").json()
    truth = flight.done.truth
    assert datetime.fromisoformat(read["last"]["time_utc"]).timestamp() == pytest.approx(
        flight.at(truth.landed_s).timestamp(), abs=60.0
    )
    where = read["last"]["latitude_deg"], read["last"]["longitude_deg"]
    assert distance_m(*where, truth.latitude_deg[-1], truth.longitude_deg[-1]) < 100.0
    assert read["burst_msl_m"] == pytest.approx(float(truth.height_msl_m.max()), abs=150.0)
    moments = {one["name"]: one for one in read["moments"]}
    assert list(moments) == ["release", "half ascent", "burst - 5 min", "burst + 2 min", "10 km down", "5 km down"]
    for one in moments.values():
        assert one["score"] is None or one["score"]["made_utc"] <= one["at_utc"]
    assert moments["5 km down"]["score"]["error_m"] < moments["release"]["score"]["error_m"]
    times = [one["made_utc"] for one in read["scores"]]
    assert times == sorted(times)
    assert len(read["areas"]) == min(12, len(times))
    assert {"50", "90"} <= set(read["scores"][0]["inside"])
    assert read["flown"][0][0] < read["flown"][-1][0]
    (warning,) = read["warnings"]
    taken, raised = (datetime.fromisoformat(warning[key]) for key in ("taken_utc", "raised_utc"))
    assert (warning["taken_by"], (taken - raised).total_seconds()) == ("Ana", 95.0)


def test_plan_and_winds_beside_the_flight(flown: tuple[FlownExample, Flown]) -> None:
    """The invented truth was drawn from the error model of the forecast, so that the winds are off by about as much as
    that expects: within a factor of two for one flight, whose errors hang together over many layers."""
    example, flight = flown
    read = example.browser().get("/api/review/plan").json()
    assert read["why_not"] == ""
    planned = read["planned"]
    assert max(planned["height_msl_m"]) == pytest.approx(float(flight.model.nominal.top_height_msl_m[0]), abs=50.0)
    released = datetime.fromisoformat(planned["release_utc"]).timestamp()
    assert released == pytest.approx(flight.at(flight.done.truth.released_s).timestamp(), abs=60.0)
    total = read["winds"]["total"]
    assert total["layers"] > 100
    assert sum(one["layers"] for one in read["winds"]["scores"]) == total["layers"]
    assert 0.5 < total["rms_m_s"] / total["expected_m_s"] < 2.0
    known = [one for one in read["winds"]["measured"] if one["told_u_m_s"] is not None]
    squares = sum(
        (one["wind_u_m_s"] - one["told_u_m_s"]) ** 2 + (one["wind_v_m_s"] - one["told_v_m_s"]) ** 2 for one in known
    )
    assert total["rms_m_s"] == pytest.approx(math.sqrt(0.5 * squares / len(known)), abs=0.01)


def test_rehearsals_are_listed_apart_and_nothing_else_is_opened(flown: tuple[FlownExample, Flown]) -> None:
    example, _ = flown
    own = example.desk.store_path
    beside = own.with_name("flight.rehearsal-1.record")
    with FlightStore.open(beside, laptop="test") as store:
        store.take(received("hill", 1, NOW, "json", b"{}"))
    browser = example.browser()
    assert browser.get("/api/review").json()["records"] == [
        {"name": "flight.record", "rehearsal": False}, {"name": beside.name, "rehearsal": True},
    ]  # fmt: skip
    read = browser.get("/api/review", params={"flight": beside.name}).json()
    assert (read["record"], read["rehearsal"], read["packets"]) == (beside.name, True, 1)
    for name in ("../flight.record", "flight.toml", str(own), "nothing.record", ""):
        for path in ("/api/review", "/api/review/plan"):
            assert browser.get(path, params={"flight": name}).status_code == 404, name
    beside.unlink()


def test_without_winds_the_plan_says_why(client: Client, desk: Desk) -> None:
    with FlightStore.open(desk.store_path, laptop="test") as store:
        store.take(received("hill", 1, NOW, "json", b"{}"))
        place = {"time_utc": NOW.isoformat(), "latitude_deg": -37.0, "longitude_deg": -63.0, "height_msl_m": 900.0}
        store.put_estimate({"phase": "ascent", "position": place}, NOW, store.basis())
    read = client(Role.VIEWER).get("/api/review/plan").json()
    assert (read["planned"], read["winds"]) == (None, None)
    assert "no winds" in read["why_not"]
    assert not Path(f"{desk.store_path}-wal").exists(), "reading leaves no files behind"


def test_a_flight_lost_high_is_not_judged_and_a_rehearsal_knows_better(client: Client, desk: Desk) -> None:
    late = NOW + timedelta(hours=1)
    place = {"time_utc": late.isoformat(), "latitude_deg": -37.0, "longitude_deg": -63.0, "height_msl_m": 9_000.0}
    estimate = {"phase": "descent", "position": place, "ground_msl_m": 200.0}
    prediction = {
        "made_utc": NOW.isoformat(), "phase": "ascent", "middle_deg": [-37.0, -63.0], "area_km2": 300.0,
        "arrival_utc": None, "landing": {"type": "FeatureCollection", "features": []},
    }  # fmt: skip
    with FlightStore.open(desk.store_path, laptop="test") as store:
        store.take(received("hill", 1, NOW, "json", b"{}"))
        store.put_estimate(estimate, late, store.basis())
        store.put_prediction(prediction, NOW, store.basis())
    viewer = client(Role.VIEWER)
    read = viewer.get("/api/review").json()
    assert (read["judged"], read["scores"]) == (None, [])
    assert "last heard 9000 m" in read["judged_why_not"]
    with FlightStore.open(desk.store_path, laptop="test") as store:
        low = {**estimate, "position": {**place, "height_msl_m": 1_200.0}}
        store.put_estimate(low, late + timedelta(seconds=1), store.basis())
    read = viewer.get("/api/review").json()
    assert read["judged"]["by"] == "last position heard"
    assert read["scores"][0]["error_m"] == pytest.approx(0.0, abs=0.01)
    down = {"landed_utc": (late + timedelta(minutes=5)).isoformat(), "latitude_deg": -37.0, "longitude_deg": -62.0}
    with FlightStore.open(desk.store_path, laptop="test") as store:
        store.put_message({"message": "rehearsal score", "score": down}, late)
    read = viewer.get("/api/review").json()
    assert read["judged"]["by"] == "touchdown of the rehearsal"
    assert read["scores"][0]["ahead_s"] == 3900.0
    # a degree of longitude along the parallel on WGS84, a cos(phi) / sqrt(1 - e2 sin2); the geodesic is little shorter
    e2 = (2.0 - 1.0 / 298.257223563) / 298.257223563
    parallel_m = 6_378_137.0 * math.cos(math.radians(37.0)) / math.sqrt(1.0 - e2 * math.sin(math.radians(37.0)) ** 2)
    assert read["scores"][0]["error_m"] == pytest.approx(parallel_m * math.radians(1.0), rel=1e-4)
