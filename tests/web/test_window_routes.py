"""Page Window as JSON: what the desk says is what the launch window says, and only the crew sets it to work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient
from flown_example import NOW, FlownExample, flown_example

from pappus import preflight
from pappus.preflight import answer_state, short_reason
from pappus.sources import load_countries, load_places, read_prior
from pappus.web import Role
from pappus.web.before import _release_work

FLIGHTS = 60


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlownExample]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_release_work, "WINDOW_FLIGHTS", FLIGHTS)
        with flown_example(tmp_path_factory.mktemp("window")) as example:
            yield example


def test_viewer_sets_no_laptop_to_work(flown: FlownExample) -> None:
    answer = flown.browser(Role.VIEWER).get("/api/window")
    assert answer.status_code == 409
    assert "crew" in answer.json()["what"]
    assert flown.desk.jobs.all() == []


def test_matrix_says_what_the_launch_window_says(flown: FlownExample) -> None:
    table = flown.done("/api/window")["window"]
    plan, pack = flown.desk.plan(), flown.desk.pack()
    given = preflight.Given(plan, flown.desk.winds(), load_places(), read_prior(None), (), NOW)
    around = preflight.gather_around(
        plan, flown.desk.plan_path, preflight.read_maps(pack), (), load_places(), load_countries()
    )
    window = preflight.fly_plan_window(given, around, flights=FLIGHTS)
    cells = table["cells"]
    assert len(cells) == len(window.cells) == len(table["releases_utc"]) * len(table["sites"]) * len(table["fills"])
    for said, cell in zip(cells, window.cells, strict=True):
        assert (said["site"], said["fill"]) == (cell.option.site.name, cell.option.fill_name)
        assert (said["state"], said["reason"]) == (answer_state(cell.decision), short_reason(cell.decision))
        assert bool(said["first_reason"]) == (said["state"] != "go"), "whatever is not go has its reason beside it"
        assert said["reaches"]["low"] <= said["reaches"]["p"] == cell.facts.reaches_wanted.value.p
    counted = Counter(one["state"] for one in cells)
    assert {state: count for state, count in table["counts"].items() if count} == dict(counted)
    assert datetime.fromisoformat(cells[table["planned"]]["release_utc"]) == plan.window.release
    assert flown.done("/api/window", Role.VIEWER)["window"] == table, "a viewer sees what there is"


def test_cell_is_opened_with_its_reasons_and_its_landing(flown: FlownExample) -> None:
    table = flown.done("/api/window")["window"]
    worst = next(one for one in table["cells"] if one["state"] == "no-go")
    query = {"site": worst["site"], "release": worst["release_utc"], "fill": worst["fill"]}
    opened = flown.done("/api/window/cell", **query)["opened"]
    assert (opened["cell"]["site"], opened["cell"]["fill"]) == (worst["site"], worst["fill"])
    assert opened["cell"]["flights"] >= 200, "as often as the plan says at least"
    first = opened["decision"]["checks"][0]
    assert first["state"] == opened["decision"]["state"] == "no-go"
    assert first["why"], "what stops it says why"
    assert first["mend"], "and what mends it"
    assert opened["decision"]["would_change"]
    kinds = Counter(one["properties"]["kind"] for one in opened["landing"]["features"])
    assert kinds["landing area"] == 3
    assert kinds["site"] == 1
    order = ["no-go", "wait", "go"]
    assert all(order.index(one["state"]) > 0 for one in opened["others"]), "others are better answers"


def test_curves_go_through_the_chosen_release_and_lift(flown: FlownExample) -> None:
    curves = flown.done("/api/window/curves")
    delay, lift = curves["delay"], curves["lift"]
    assert curves["levels"] == [0.05, 0.25, 0.5, 0.75, 0.95]
    assert delay["delay_s"][0] == 0.0
    assert len(delay["states"]) == len(delay["delay_s"]) == len(delay["moved_m"])
    for row in (*delay["moved_m"], *lift["moved_m"], *lift["burst_msl_m"]):
        known = [one for one in row if one is not None]
        assert known == sorted(known), "quantiles rise"
    assert lift["lift_n"][0] < lift["planned_lift_n"] < lift["lift_n"][-1]


@pytest.mark.parametrize(
    ("query", "field"),
    [({"site": "Z"}, "site"), ({"release": "2027-02-13T12:31:00Z"}, "release"), ({"fill": "lots"}, "fill")],
)
def test_unknown_choice_is_named(flown: FlownExample, query: dict[str, str], field: str) -> None:
    answer = flown.browser().get("/api/window/cell", params=query)
    assert answer.status_code == 422
    finding = answer.json()["findings"][0]
    assert (finding["field"], finding["value"]) == (field, query[field])
    assert "One of" in finding["fix"]


def test_flown_again_is_flown_as_of_now(flown: FlownExample) -> None:
    before = flown.done("/api/window")["window"]
    later = datetime(2027, 2, 13, 10, 0, tzinfo=UTC)
    flown.desk.now = lambda: later
    try:
        assert flown.browser(Role.VIEWER).post("/api/window/again").status_code == 403
        assert flown.browser().post("/api/window/again").status_code == 200
        after = flown.done("/api/window")["window"]
    finally:
        flown.desk.now = lambda: NOW
    assert datetime.fromisoformat(before["made_utc"]) == NOW
    assert datetime.fromisoformat(after["made_utc"]) == later


def test_without_a_pack_the_page_says_how_to_make_one(client: Callable[[Role | None], TestClient]) -> None:
    answer = client(Role.DIRECTOR).get("/api/window")
    assert answer.status_code == 409
    assert "field pack" in answer.json()["what"]
    assert "pappus fetch" in answer.json()["fix"]
