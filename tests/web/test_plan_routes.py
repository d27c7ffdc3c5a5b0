"""Page Plan as JSON: what the plan says, what a change would do, and what is saved."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient

from pappus.plan import example_plan_text, load_plan
from pappus.preflight import fill_card
from pappus.sources import read_prior
from pappus.web import Desk, Role

Client = Callable[[Role | None], TestClient]


def test_the_page_says_what_the_fill_card_says(client: Client, desk: Desk) -> None:
    said = client(Role.VIEWER).get("/api/plan").json()
    card = fill_card(load_plan(desk.plan_path), [], read_prior(None))
    fill = said["fill"]
    assert fill["scale_lift_n"] == card.fill.scale_lift_n
    assert fill["burst_msl_m"] == card.burst_msl_m
    assert fill["cylinders"] == card.cylinders
    assert fill["more"]["climb_m_s"] == card.more.climb_m_s
    assert fill["burst_low_msl_m"] < fill["burst_msl_m"] < fill["burst_high_msl_m"]
    assert said["mission"]["release_utc"] == "2027-02-13T12:30:00Z"
    assert said["digest"] == hashlib.sha256(desk.plan_path.read_bytes()).hexdigest()
    assert said["findings"] == []


def test_burst_spread_holds_eighty_of_a_hundred_diameters(client: Client, desk: Desk) -> None:
    """The share of drawn diameters that burst between the two heights; diameters are lognormal, as the plan has it."""
    import numpy as np

    from pappus.flight_train import burst_height_msl_m

    fill = client(Role.VIEWER).get("/api/plan").json()["fill"]
    card = fill_card(load_plan(desk.plan_path), [], read_prior(None))
    train = card.plan.flight_train
    drawn = train.envelope.burst_diameter_m * np.exp(
        train.envelope.burst_ln_sd * np.random.default_rng(5).standard_normal(4000)
    )
    heights = burst_height_msl_m(card.fill.gas_mol, drawn, train, card.air)
    share = np.mean((heights > fill["burst_low_msl_m"]) & (heights < fill["burst_high_msl_m"]))
    assert share == pytest.approx(0.8, abs=0.03)  # four standard errors of 4000 draws are 0.025


def test_the_train_hangs_in_order(client: Client) -> None:
    train = client(Role.VIEWER).get("/api/plan").json()["train"]
    assert [(one["kind"], one["name"]) for one in train["pieces"]] == [
        ("line", "neck to canopy"), ("canopy", "canopy"), ("line", "canopy to tracking"), ("package", "tracking"),
        ("line", "tracking to camera"), ("package", "camera and kettle"),
    ]  # fmt: skip
    assert train["train_mass_kg"] == pytest.approx(sum(one["mass_kg"] for one in train["pieces"]))
    assert train["length_m"] == 18.0


def ask(browser: TestClient, method: str, path: str, digest: str, **edits: object) -> object:
    rows = [{"path": name.replace("__", "."), "value": value} for name, value in edits.items()]
    return browser.request(method, path, json={"digest": digest, "edits": rows})


def test_trying_saves_nothing_and_saving_does(client: Client, desk: Desk) -> None:
    director = client(Role.DIRECTOR)
    before = director.get("/api/plan").json()
    text = desk.plan_path.read_text("utf-8")
    tried = ask(director, "POST", "/api/plan/try", before["digest"], fill__climb="6.5 m/s").json()
    assert tried["fill"]["burst_msl_m"] < before["fill"]["burst_msl_m"]
    assert tried["fill"]["scale_lift_n"] > before["fill"]["scale_lift_n"]
    assert desk.plan_path.read_text("utf-8") == text
    saved = ask(director, "PUT", "/api/plan", before["digest"], fill__climb="6.5 m/s").json()
    assert saved["fill"] == tried["fill"]
    assert saved["digest"] != before["digest"]
    assert desk.plan_path.read_text("utf-8") == text.replace('climb = "5 m/s"', 'climb = "6.5 m/s"')


def test_mistakes_name_their_field_and_are_not_saved(client: Client, desk: Desk) -> None:
    director = client(Role.DIRECTOR)
    digest = director.get("/api/plan").json()["digest"]
    edits = {"fill__climb": "5 parsec", "balloon__mass": "-3 g"}
    tried = ask(director, "POST", "/api/plan/try", digest, **edits).json()
    assert {one["field"] for one in tried["findings"]} == {"fill.climb", "balloon.mass"}
    assert all(one["reason"] and one["fix"] for one in tried["findings"])
    assert tried["fill"] is None
    refused = ask(director, "PUT", "/api/plan", digest, **edits)
    assert refused.status_code == 422
    assert {one["field"] for one in refused.json()["findings"]} == {"fill.climb", "balloon.mass"}
    assert desk.plan_digest() == digest


def test_a_fill_that_cannot_lift_is_said_in_words(client: Client) -> None:
    director = client(Role.DIRECTOR)
    digest = director.get("/api/plan").json()["digest"]
    tried = director.post(
        "/api/plan/try",
        json={
            "digest": digest,
            "edits": [{"path": "fill.climb", "value": None}, {"path": "fill.volume", "value": "1 m3"}],
        },
    ).json()
    assert tried["fill"] is None
    assert tried["findings"] or tried["fill_problem"]


def test_two_that_save_at_once(client: Client, desk: Desk) -> None:
    one, other = client(Role.DIRECTOR), client(Role.DIRECTOR)
    digest = one.get("/api/plan").json()["digest"]
    assert ask(one, "PUT", "/api/plan", digest, fill__climb="6 m/s").status_code == 200
    late = ask(other, "PUT", "/api/plan", digest, fill__climb="4 m/s")
    assert late.status_code == 409
    assert "changed meanwhile" in late.json()["what"]
    assert 'climb = "6 m/s"' in desk.plan_path.read_text("utf-8")


def test_no_plan_then_the_example_and_never_over_one(client: Client, desk: Desk) -> None:
    desk.plan_path.unlink()
    director = client(Role.DIRECTOR)
    assert director.get("/api/plan").json()["exists"] is False
    assert ask(director, "PUT", "/api/plan", "0" * 64).status_code == 409
    assert director.post("/api/plan/example").json()["mission"]["name"]
    assert desk.plan_path.read_text("utf-8") == example_plan_text()
    assert director.post("/api/plan/example").status_code == 409


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"[mission", b"\0", b"x = 1\n"])
def test_a_broken_file_is_shown_with_its_mistakes(client: Client, desk: Desk, data: bytes) -> None:
    desk.plan_path.write_bytes(data)
    director = client(Role.DIRECTOR)
    said = director.get("/api/plan")
    assert said.status_code == 200
    assert said.json()["findings"]
    assert said.json()["mission"] is None
    assert 400 <= ask(director, "PUT", "/api/plan", said.json()["digest"], fill__climb="5 m/s").status_code < 500
    assert desk.plan_path.read_bytes() == data


def test_saving_is_told_to_every_page(client: Client, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    told = []
    monkeypatch.setattr(desk.events, "publish", lambda kind, data, *_: told.append((kind, data)))
    director = client(Role.DIRECTOR)
    saved = ask(director, "PUT", "/api/plan", director.get("/api/plan").json()["digest"], fill__climb="6 m/s").json()
    assert told == [("plan", {"digest": saved["digest"], "by": "this laptop"})]
    assert json.dumps(told)


def test_now_is_the_clock_of_the_laptop(client: Client) -> None:
    said = client(Role.VIEWER).get("/api/me").json()["now_utc"]
    assert datetime.fromisoformat(said) == datetime(2027, 2, 13, 9, tzinfo=UTC)
