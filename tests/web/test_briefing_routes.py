"""Page Briefing as JSON, and its papers: drafts say that nobody filed them, viewers see no telephone number."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from flown_example import FlownExample, flown_example

from pappus.web import Role


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlownExample]:
    with flown_example(tmp_path_factory.mktemp("briefing")) as example:
        yield example


def test_decision_comes_with_everything_that_is_not_met(flown: FlownExample) -> None:
    briefing = flown.done("/api/briefing")["briefing"]
    checks = briefing["decision"]["checks"]
    assert len(briefing["reasons"]) == sum(one["verdict"] != "met" for one in checks)
    states = [one["state"] for one in checks]
    assert briefing["decision"]["state"] == ("go" if set(states) == {"go"} else briefing["decision"]["state"])
    if "no-go" in states:
        assert briefing["decision"]["state"] == "no-go"
    elif set(states) - {"go"}:
        assert briefing["decision"]["state"] == "wait", "unknown is never green"
    assert len(briefing["words"]) == 3
    assert briefing["cannot_tell"]
    assert {one["state"] for one in briefing["rules"]} <= {"go", "no-go", "cannot tell"}
    assert all(one["paragraph"] and one["certainty"] for one in briefing["rules"])


def test_drafts_are_drafts(flown: FlownExample) -> None:
    briefing = flown.done("/api/briefing")["briefing"]
    assert briefing["draft_mark"] == "draft, not filed"
    assert len(briefing["drafts"]) >= 5
    assert all(one["text"].strip() for one in briefing["drafts"])


def test_viewer_sees_the_briefing_without_telephone_numbers_and_gets_no_papers(flown: FlownExample) -> None:
    flown.done("/api/briefing")
    phones = flown.desk.phones()
    assert phones, "the example plan has a crew with telephones"
    crew = json.dumps(flown.done("/api/briefing", Role.CREW))
    viewer = json.dumps(flown.done("/api/briefing", Role.VIEWER))
    assert any(phone in crew for phone in phones)
    assert not any(phone in viewer for phone in phones)
    browser = flown.browser(Role.VIEWER)
    assert browser.get("/api/briefing/papers").status_code == 403
    assert browser.get("/api/briefing/papers/document-a4.pdf").status_code == 403


def test_viewer_gets_a_picture_of_the_map_once_it_is_drawn(flown: FlownExample) -> None:
    assert flown.browser(Role.VIEWER).get("/api/flight/map.png").status_code == 409
    flown.done("/api/briefing/papers", Role.CREW)
    answer = flown.browser(Role.VIEWER).get("/api/flight/map.png")
    assert answer.headers["content-type"] == "image/png"
    assert answer.content.startswith(b"\x89PNG\r\n\x1a\n")  # PNG specification, 5.2


def test_papers_are_made_and_saved_under_their_names(flown: FlownExample) -> None:
    browser = flown.browser(Role.CREW)
    papers = flown.done("/api/briefing/papers", Role.CREW)["papers"]
    names = {one["name"] for one in papers}
    assert names >= {"document-a4.pdf", "document-letter.pdf", "document.html", "flight.kml", "flight.gpx"}
    starts = {"document-a4.pdf": b"%PDF-", "flight.kml": b"<?xml", "flight.gpx": b"<?xml", "landing.geojson": b"{"}
    for name in names:
        answer = browser.get(f"/api/briefing/papers/{name}")
        assert answer.status_code == 200
        assert answer.headers["content-disposition"] == f'attachment; filename="{name}"'
        assert answer.content.startswith(starts.get(name, b""))
        assert answer.content
    for other in ("manifest.json", "..%2F..%2Fflight.toml", "people.json"):
        assert browser.get(f"/api/briefing/papers/{other}").status_code in (404, 422)
