"""A rehearsal that the desk runs: real packets over this computer's sockets, a record of its own, a score at its end.

The flight is the invented example with a balloon that bursts low, so that it is over in seconds at 200 times life.
"""

from __future__ import annotations

import shutil
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flown_example import FlownExample, flown_example

from pappus.earth import distance_m
from pappus.errors import BadInput, NoSolution
from pappus.inflight import Fault
from pappus.store import FlightStore
from pappus.web import Role
from pappus.web.day._flight_day import flight_day
from pappus.web.day._rehearsal import end_days, rehearsals, wish_of
from receiving import free_port, wait_for

PATIENCE_S = 120.0
LOW = {
    'mass = "1200 g"': 'mass = "350 g"',
    'burst_diameter = "8.6 m"': 'burst_diameter = "2.6 m"',
    'wanted_height = "31 km"': 'wanted_height = "8 km"',
    '["26 km", "30 km"]': '["6 km"]',
}
"""A balloon that bursts near 12 km: 80 minutes in the air."""


@pytest.fixture
def flown(tmp_path: Path) -> Iterator[FlownExample]:
    with flown_example(tmp_path) as example:
        plan = example.desk.plan_path
        low = plan.read_text("utf-8")
        for old, new in LOW.items():
            assert old in low
            low = low.replace(old, new, 1)
        port = free_port(socket.SOCK_DGRAM)
        place = f'name = "hill"\nrole = "ground station"\nkind = "json"\naddress = "udp://127.0.0.1:{port}"\n'
        plan.write_text(f"{low}\n[[receiver]]\n{place}", "utf-8")
        yield example
        end_days(example.desk)


def watched(browser: Any) -> dict[str, Any]:
    answer = browser.get("/api/watch")
    assert answer.status_code == 200, answer.text
    read: dict[str, Any] = answer.json()
    return read


def state_of(browser: Any) -> str:
    rehearsal = watched(browser)["rehearsal"]
    assert rehearsal["state"] != "failed", rehearsal["why_not"]
    return str(rehearsal["state"])


def test_a_whole_rehearsal_is_heard_judged_and_kept_apart(flown: FlownExample, monkeypatch: pytest.MonkeyPatch) -> None:
    def a_second_time(*args: object, **options: object) -> None:
        raise AssertionError("the crew of the rehearsal predicts, and the page shows that")

    monkeypatch.setattr("pappus.web.day._flight_ahead.repredict", a_second_time)
    monkeypatch.setattr("pappus.web.day._flight_ahead.warn", a_second_time)
    director = flown.browser()
    answer = director.post("/api/watch/rehearsal", json={"speed": 200.0, "seed": 5, "faults": ["low-power"]})
    assert answer.status_code == 200, answer.text
    assert answer.json()["rehearsal"]["record"] == "flight.rehearsal-1.record"
    refused = director.post("/api/watch/start", json={})
    assert (refused.status_code, refused.json()["what"]) == (409, "A rehearsal runs")
    assert director.post("/api/watch/rehearsal", json={}).status_code == 409
    wait_for(lambda: watched(director)["prediction"] is not None, "landing area", PATIENCE_S)
    read = watched(director)
    assert (read["running"], read["rehearsal"]["score"]) == (True, None)
    assert read["prediction"]["flights"] == 2000
    assert read["state"]["speed"] == 200.0
    assert {one["name"] for one in read["state"]["stations"]} <= {
        "rehearsed mast", "rehearsed car", "rehearsed helper"
    }  # fmt: skip
    assert read["planned"]["height_msl_m"][0] < max(read["planned"]["height_msl_m"])
    assert len(read["winds"]["height_msl_m"]) == len(read["winds"]["sd_m_s"]) > 5
    assert flown.browser(Role.CREW).post("/api/watch/note", json={"words": "We stay here."}).status_code == 200
    assert director.get("/api/chase").json()["rehearsal"] is True
    cut = None
    end_s = time.monotonic() + PATIENCE_S
    taken = False
    while state_of(director) == "running":
        read = watched(director)
        phase = read["state"]["phase"]
        if cut is None and phase == "ascent":
            asked = flown.browser(Role.CREW).post("/api/watch/cut-down")
            if asked.status_code == 200:
                cut = asked.json()["cut_down"]
        for one in read["state"]["warnings"]:
            if one["known"] and one["kind"] == "low on power" and not taken:
                body = {"kind": one["kind"], "subject": one["subject"]}
                taken = flown.browser(Role.CREW).post("/api/watch/acknowledge", json=body).status_code == 200
        assert time.monotonic() < end_s
        time.sleep(0.5)  # whoever asks more often takes the time of the predictions that the test is about
    read = watched(director)
    score = read["rehearsal"]["score"]
    assert read["rehearsal"]["state"] == "over"
    assert score["faults"] == ["low-power"]
    assert 0.9 * score["packets_sent"] < score["packets_kept"] <= score["packets_sent"]
    assert score["landings"][-1]["error_m"] < 20_000.0
    assert cut is not None
    assert any(one["geometry"] for one in cut["landing"]["features"])
    by = {one["kind"]: one for one in score["warnings"]}
    assert by["low on power"]["taken_by"] == "a crew" if taken else by["low on power"]["taken_by"] is None
    assert "nothing was commanded" in [one["words"] for one in read["log"]]
    assert read["state"]["phase"] == "landed"
    # areas of before shrink as the flight goes on, and the last lies nearer to the end than the first
    earlier = read["earlier"]
    assert earlier[-1]["area_km2"] < earlier[0]["area_km2"]
    assert all(one["moved_m"] < 100_000.0 for one in earlier)
    assert earlier[-1]["moved_m"] < 10_000.0
    search = read["search"]
    chances = [one["chance"] for one in search["squares"]]
    assert chances == sorted(chances, reverse=True)
    assert 1 <= len(chances) <= 400
    assert search["squares"][-1]["up_to_here"] == pytest.approx(sum(chances))
    (west, south), _, (east, north), _ = search["squares"][0]["corners"]
    across = float(distance_m(south, west, north, east))
    assert across == pytest.approx(search["edge_m"] * 2.0**0.5, rel=0.06), "corners are rounded to a metre"
    nearest = min(
        float(distance_m(one["latitude_deg"], one["longitude_deg"], score["latitude_deg"], score["longitude_deg"]))
        for one in search["squares"]
    )
    assert nearest < 1_000.0, "it was heard until a few hundred metres above the ground, or on it"
    assert len(read["winds"]["measured"]) > 10
    # what the flight measured is about what the forecast, its error and the noise have it
    assert read["winds"]["rms_off_m_s"] < 3.0 * read["winds"]["expected_rms_m_s"]
    # the record of the real flight is not touched, that of the rehearsal says what it is
    assert not flown.desk.store_path.exists()
    with FlightStore.open(flown.desk.store_path.with_name("flight.rehearsal-1.record"), read_only=True) as store:
        messages = [record.content["message"] for record in store.records("message")]
        assert (messages.count("rehearsal"), messages.count("rehearsal score")) == (1, 1)
        assert len(list(store.records("prediction"))) > 3
        assert store.count() == score["packets_kept"]
    assert director.post("/api/watch/rehearsal/away").json()["rehearsal"] is None


def test_stopped_early_it_is_judged_so_far(flown: FlownExample) -> None:
    director = flown.browser()
    assert director.post("/api/watch/rehearsal", json={"speed": 100.0, "drawn": True}).status_code == 200
    assert director.post("/api/watch/rehearsal/away").status_code == 409
    wait_for(lambda: watched(director)["prediction"] is not None, "landing area", PATIENCE_S)
    began = time.monotonic()
    read = director.post("/api/watch/rehearsal/stop").json()
    assert time.monotonic() - began < 15.0
    assert read["rehearsal"]["state"] == "stopped"
    assert len(read["rehearsal"]["score"]["faults"]) <= 2
    score = read["rehearsal"]["score"]
    assert score["notes"][0].startswith("Stopped at")
    record = flown.desk.store_path.with_name(read["rehearsal"]["record"])
    with FlightStore.open(record, read_only=True) as store:
        kept = [one.content for one in store.records("message") if one.content["message"] == "rehearsal score"]
        assert store.count() == score["packets_kept"] > 0
    assert kept[0]["score"] == score
    assert director.post("/api/watch/rehearsal/stop").status_code == 409
    # the real day begins clean
    assert director.post("/api/watch/start", json={}).status_code == 200
    read = watched(director)
    assert (read["rehearsal"], read["flown"], read["record"]) == (None, [], "flight.record")
    refused = director.post("/api/watch/rehearsal", json={})
    assert (refused.status_code, refused.json()["what"]) == (409, "The watch of a real flight runs")


def test_the_end_of_the_desk_ends_both(flown: FlownExample) -> None:
    director = flown.browser()
    assert director.post("/api/watch/rehearsal", json={"speed": 100.0}).status_code == 200
    wait_for(lambda: state_of(director) == "running", "rehearsal", PATIENCE_S)
    end_days(flown.desk)
    newest = rehearsals(flown.desk).newest
    assert newest is not None
    assert not newest.runs
    flight_day(flown.desk).start(None, "test")
    end_days(flown.desk)
    assert not flight_day(flown.desk).running
    with FlightStore.open(flown.desk.store_path, read_only=True) as store:
        # the clock of this desk stands still, so the order of its decisions tells nothing
        kept = [record.content for record in store.records("decision")]
    assert {"what": "watch stopped", "words": "", "by": "the end of the desk"} in kept


@pytest.mark.parametrize("role", [Role.CREW, Role.VIEWER])
@pytest.mark.parametrize("path", ["rehearsal", "rehearsal/stop", "rehearsal/away"])
def test_only_the_director_rehearses(flown: FlownExample, role: Role, path: str) -> None:
    assert flown.browser(role).post(f"/api/watch/{path}", json={}).status_code == 403
    assert rehearsals(flown.desk).newest is None


def test_what_cannot_be_rehearsed_is_refused(flown: FlownExample) -> None:
    director = flown.browser()
    for body, field in (
        ({"faults": ["gremlins"]}, "faults"),
        ({"faults": ["floater"], "drawn": True}, "faults"),
        ({"speed": 201}, "body.speed"),
        ({"speed": 0.5}, "body.speed"),
        ({"seed": -1}, "body.seed"),
        ({"site": "nowhere"}, "--site"),
    ):
        answer = director.post("/api/watch/rehearsal", json=body)
        assert answer.status_code == 422, (body, answer.text)
        assert answer.json()["findings"][0]["field"].startswith(field), answer.text
    assert flown.browser(Role.VIEWER).post("/api/watch/cut-down").status_code == 403
    assert director.post("/api/watch/cut-down").status_code == 409
    assert rehearsals(flown.desk).newest is None


def test_without_winds_it_says_what_to_do(flown: FlownExample) -> None:
    shutil.rmtree(flown.desk.pack_folder)
    answer = flown.browser().post("/api/watch/rehearsal", json={})
    assert answer.status_code == 409
    assert "field pack" in answer.json()["what"]
    assert "pappus fetch" in answer.json()["fix"]


def test_drawn_faults_are_none_one_or_two_and_the_same_for_a_seed() -> None:
    drawn = [wish_of(None, 50.0, [], True, seed).faults for seed in range(60)]
    assert {len(one) for one in drawn} == {0, 1, 2}
    assert frozenset().union(*drawn) == frozenset(Fault), "every kind comes"
    assert wish_of(None, 50.0, [], True, 7) == wish_of(None, 50.0, [], True, 7)
    with pytest.raises(BadInput, match="gremlins"):
        wish_of(None, 50.0, ["gremlins"], False, 7)


def test_a_rehearsal_that_fails_says_why(flown: FlownExample, monkeypatch: pytest.MonkeyPatch) -> None:
    def none_lands(*args: object, **options: object) -> None:
        raise NoSolution("none of 30 drawn flights lands in these winds")

    monkeypatch.setattr("pappus.web.day._rehearsal.rehearse", none_lands)
    director = flown.browser()
    assert director.post("/api/watch/rehearsal", json={}).status_code == 200
    wait_for(lambda: watched(director)["rehearsal"]["state"] == "failed", "failure", PATIENCE_S)
    assert "none of 30" in watched(director)["rehearsal"]["why_not"]
    assert watched(director)["running"] is False
    assert director.post("/api/watch/rehearsal/away").json()["rehearsal"] is None
