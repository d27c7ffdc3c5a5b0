"""Keep-out zones drawn on the desk: kept as GeoJSON (RFC 7946), carried in the field pack, and judged with."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest
from flown_example import FlownExample, flown_example

from pappus.sources import damage, read_pack, read_zones
from pappus.web import Role


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlownExample]:
    with flown_example(tmp_path_factory.mktemp("zones")) as example:
        yield example


def keep_out(flight: dict[str, object]) -> tuple[str, float]:
    """How the decision answers the question of keep-out zones, and the first number in its answer, in percent."""
    (check,) = (one for one in flight["decision"]["checks"] if one["name"] == "keep_out")
    found = re.search(r"\d+(\.\d+)?", check["number"])
    assert found, check
    return check["verdict"], float(found[0])


def around_landings(flight: dict[str, object], half_deg: float) -> list[list[float]]:
    """A square with the middle of the landings in its middle."""
    ends = [(way["longitude_deg"][-1], way["latitude_deg"][-1]) for way in flight["ways"] if way["landed"]]
    x, y = (sum(values) / len(ends) for values in zip(*ends, strict=True))
    return [[x + dx * half_deg, y + dy * half_deg] for dx, dy in ((-1, -1), (1, -1), (1, 1), (-1, 1))]


def test_zone_is_kept_packed_judged_and_taken_away(flown: FlownExample) -> None:
    browser, desk = flown.browser(), flown.desk
    assert browser.get("/api/flight/zones").json() == {"file": "flight.zones.geojson", "zones": []}
    assert browser.get("/api/flight/zones.geojson").status_code == 404
    before = flown.done("/api/flight")["flight"]
    files_before = {(one.kind, one.sha256) for one in read_pack(desk.pack_folder).files if one.kind != "plan"}
    ring = around_landings(before, 3.0)
    answer = browser.post("/api/flight/zones", json={"name": "gravel works", "ring": ring})
    assert answer.status_code == 200, answer.text
    (zone,) = answer.json()["zones"]
    assert zone["name"] == "gravel works"
    assert [tuple(one) for one in zone["ring"]] == [pytest.approx(tuple(one), abs=1e-6) for one in ring]
    pack = read_pack(desk.pack_folder)
    assert damage(pack) == []
    (packed,) = (one for one in pack.files if one.origin == "flight.zones.geojson")
    (read,) = read_zones(desk.pack_folder / packed.path).zones
    assert (read.name, read.role) == ("gravel works", "keep-out")
    drawn = [one for one in browser.get("/api/map").json()["areas"] if one["name"] == "gravel works"]
    assert [one["kind"] for one in drawn] == ["keep-out"]
    after = flown.done("/api/flight")["flight"]
    assert keep_out(before)[0] == "met"
    verdict, percent = keep_out(after)
    assert verdict == "not met"
    assert percent > 90.0, "nearly every flight lands inside"
    file = browser.get("/api/flight/zones.geojson")
    assert "attachment" in file.headers["content-disposition"]
    collection = json.loads(file.content)
    (feature,) = collection["features"]
    edge = feature["geometry"]["coordinates"][0]
    assert (collection["type"], feature["geometry"]["type"]) == ("FeatureCollection", "Polygon")
    assert edge[0] == edge[-1], "RFC 7946, 3.1.6: closed"
    assert len(edge) == 5
    assert browser.delete("/api/flight/zones/gravel%20works").json()["zones"] == []
    assert {(one.kind, one.sha256) for one in read_pack(desk.pack_folder).files if one.kind != "plan"} == files_before
    assert flown.done("/api/flight")["flight"]["decision"]["checks"] == before["decision"]["checks"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"ring": [[0, 0], [1, 1], [1, 0], [0, 1]]}, "cross"),
        ({"ring": [[0, 0], [1, 1]]}, "at least 3"),
        ({"ring": [[0, 0], [1, 1], [1, 95]]}, "less than or equal to 89"),
        ({"name": "a/b"}, "match pattern"),
        ({"name": ""}, "at least 1"),
    ],
)
def test_shapes_and_names_that_cannot_be_used_are_refused(
    flown: FlownExample, wrong: dict[str, object], words: str
) -> None:
    asked = {"name": "yard", "ring": [[-64, -37], [-63, -37], [-63, -36]], **wrong}
    refused = flown.browser().post("/api/flight/zones", json=asked)
    assert refused.status_code == 422
    assert words in json.dumps(refused.json()), refused.json()
    assert flown.browser().get("/api/flight/zones").json()["zones"] == []


def test_the_crew_draws_no_zones_and_names_stand_once(flown: FlownExample) -> None:
    asked = {"name": "yard", "ring": [[-64, -37], [-63, -37], [-63, -36]]}
    assert flown.browser(Role.CREW).post("/api/flight/zones", json=asked).status_code == 403
    browser = flown.browser()
    assert browser.post("/api/flight/zones", json=asked).status_code == 200
    assert browser.post("/api/flight/zones", json=asked).status_code == 422
    assert flown.browser(Role.CREW).delete("/api/flight/zones/yard").status_code == 403
    assert browser.delete("/api/flight/zones/somewhere").status_code == 404
    assert browser.delete("/api/flight/zones/yard").json()["zones"] == []
