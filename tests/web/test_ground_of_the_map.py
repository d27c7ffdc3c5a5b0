"""The ground of the maps: land and sea where they are, what the pack holds, and what is said where it holds nothing."""

from __future__ import annotations

import math
from collections.abc import Callable
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from pappus.web import Desk, Role

Client = Callable[[Role | None], TestClient]
pytestmark = pytest.mark.skipif(
    not (files("pappus.sources") / "data" / "data_sources.json").is_file(),
    reason="the data files are not built (pip install makes them)",
)


def on_land(said: dict[str, list[list[list[list[float]]]]], longitude: float, latitude: float) -> bool:
    """Even-odd rule over all rings."""
    inside = False
    for rings in said["land"]:
        for ring in rings:
            for (x1, y1), (x2, y2) in pairwise(ring):
                if (y1 > latitude) != (y2 > latitude) and longitude < x1 + (latitude - y1) / (y2 - y1) * (x2 - x1):
                    inside = not inside
    return inside


def test_land_sea_and_places_around_the_sites(client: Client) -> None:
    """Santa Rosa lies on land and 40 S 60 W in the sea (an atlas; from memory)."""
    said = client(Role.VIEWER).get("/api/map").json()
    assert on_land(said, -64.28, -36.62)
    assert not on_land(said, -60.0, -40.0)
    assert "Santa Rosa" in {place["name"] for place in said["places"]}
    people = [place["population"] for place in said["places"]]
    assert people == sorted(people, reverse=True)
    assert [site["name"] for site in said["sites"]] == ["A", "B"]
    assert said["lines"] == {}
    assert any("no field pack" in note for note in said["notes"])
    assert any("Natural Earth" in words for words in said["attributions"])
    assert any("GeoNames" in words for words in said["attributions"])


@pytest.mark.parametrize(("latitude", "longitude"), [(-17.0, 179.9), (52.0, -179.95), (78.2, 15.6), (-77.8, 166.7)])
def test_maps_over_the_date_line_and_near_the_poles_are_one_piece(
    client: Client, desk: Desk, latitude: float, longitude: float
) -> None:
    text = desk.plan_path.read_text("utf-8")
    for before, after in {
        "latitude_deg = -37.38": f"latitude_deg = {latitude}",
        "longitude_deg = -64.60": f"longitude_deg = {longitude}",
        "latitude_deg = -36.22": f"latitude_deg = {latitude + 0.3}",
        "longitude_deg = -65.44": f"longitude_deg = {(longitude + 0.4 + 180) % 360 - 180}",
    }.items():
        assert before in text
        text = text.replace(before, after)
    fence, after = text.index('[[cut_down]]\nname = "fence"'), text.index("# When the flight may leave")
    desk.plan_path.write_text(text[:fence] + text[after:], "utf-8")  # it lies around the sites of the example
    said = client(Role.VIEWER).get("/api/map").json()
    west, east = said["west_deg"], said["east_deg"]
    assert west < longitude < east
    assert east - west < 45.0
    assert said["land"]
    for rings in said["land"]:
        for ring in rings:
            assert all(west - 1e-4 <= x <= east + 1e-4 and math.isfinite(y) for x, y in ring)
    assert all(abs(site["longitude_deg"] - longitude) < 1.0 for site in said["sites"])


def test_what_the_pack_holds_is_on_the_map(client: Client, tmp_path: Path) -> None:
    from pappus.preflight import write_example
    from pappus.web import create_app

    desk = Desk(write_example(tmp_path / "example"))
    browser = TestClient(create_app(desk), base_url="http://127.0.0.1:8340")
    browser.post("/api/enter", json={"key": desk.people.laptop_key})
    said = browser.get("/api/map").json()
    assert {"main road", "power line"} <= set(said["lines"])
    assert all(len(line) > 1 for lines in said["lines"].values() for line in lines)
    kinds = {area["kind"] for area in said["areas"]}
    assert {"water", "airspace", "keep-out", "permit area"} <= kinds
    assert all(area["limits"] for area in said["areas"] if area["kind"] == "airspace"), "floor and ceiling are written"
    assert any("INVENTED" in words.upper() for words in said["attributions"])
    desk.jobs.close()
