"""Who may do what: every route without a link, with too small a role, from another site, and after a link ended."""

from __future__ import annotations

import json
import logging
import stat
from collections.abc import Callable
from typing import Any

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from pappus.web import Desk, Role, _app, create_app
from pappus.web.desk._access import DeskRoute, role_of

Client = Callable[[Role | None], TestClient]
RANK = {Role.VIEWER: 0, Role.CREW: 1, Role.DIRECTOR: 2}


def routes(app: FastAPI) -> list[tuple[str, str, Role | None]]:
    """Method, path and least role of everything that answers, held against what the application says it answers."""
    listed = [
        (method, route.path, role_of(route))
        for router in _app.ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute)
        for method in sorted(route.methods)
    ]
    told = {(method.upper(), path) for path, methods in app.openapi()["paths"].items() for method in methods}
    assert told == {(method, path) for method, path, _ in listed}
    return listed


def call(browser: TestClient, method: str, path: str, **options: Any) -> Any:
    """With a body that is no body: who may not come in is sent away before it is read."""
    return browser.request(method, path.replace("{", "").replace("}", ""), content=b"{}", **options)


def test_every_route_asks_for_a_role(app: FastAPI) -> None:
    listed = routes(app)
    assert {path for _, path, role in listed if role is None} == {"/api/enter"}
    assert len(listed) >= 10
    for method, path, role in listed:
        assert method in {"GET", "POST", "PUT", "DELETE"}
        if method != "GET" and path != "/api/enter":
            assert role in (Role.CREW, Role.DIRECTOR), f"{method} {path} lets a viewer change things"


def test_nobody_comes_in_without_a_link(app: FastAPI, client: Client) -> None:
    browser = client(None)
    for method, path, role in routes(app):
        if role is not None:
            answer = call(browser, method, path)
            assert (answer.status_code, answer.json()["status"]) == (401, 401), f"{method} {path}"
            assert answer.json()["fix"]


@pytest.mark.parametrize("held", [Role.VIEWER, Role.CREW])
def test_too_small_a_role_is_refused(app: FastAPI, client: Client, held: Role) -> None:
    browser = client(held)
    refused = [(method, path, role) for method, path, role in routes(app) if role and RANK[role] > RANK[held]]
    assert refused
    for method, path, role in refused:
        answer = call(browser, method, path)
        assert answer.status_code == 403, f"{method} {path}"
        assert f"needs the role {role}" in answer.json()["what"]


def test_changes_need_the_token_of_a_page(app: FastAPI, client: Client) -> None:
    browser = client(Role.DIRECTOR)
    changes = [(method, path) for method, path, role in routes(app) if method != "GET" and role]
    assert len(changes) >= 5
    others = client(Role.CREW).headers["x-pappus-token"]
    for method, path in changes:
        for token in ("", "0" * 64, others, "é"):
            sent = {"x-pappus-token": token.encode("latin-1")}
            answer = browser.request(method, path.replace("{", "").replace("}", ""), content=b"{}", headers=sent)
            assert (answer.status_code, answer.json()["what"]) == (
                403,
                "The change did not come from a page of this desk",
            ), f"{method} {path}"


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1:8340"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_other_sites_change_nothing(app: FastAPI, client: Client, headers: dict[str, str]) -> None:
    browser = client(Role.DIRECTOR)
    for method, path, _ in routes(app):
        if method != "GET":
            answer = call(browser, method, path, headers=headers)
            assert (answer.status_code, answer.json()["what"]) == (403, "The change came from another site")
    assert call(browser, "POST", "/api/plan/try", headers={"origin": "http://127.0.0.1:8340"}).status_code == 422


@pytest.mark.parametrize("host", ["elsewhere.example", "127.0.0.1.elsewhere.example:8340", "", "[::2]:8340"])
def test_foreign_names_that_point_here_are_not_served(client: Client, host: str) -> None:
    answer = client(Role.DIRECTOR).get("/api/plan", headers={"host": host})
    assert answer.status_code == 421
    assert "mission" not in answer.text


@pytest.mark.parametrize("route_class", [APIRoute, DeskRoute])
def test_a_route_without_a_role_stops_the_start(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, route_class: type[APIRoute]
) -> None:
    careless = APIRouter(route_class=route_class)
    careless.add_api_route("/api/careless", lambda: {})
    monkeypatch.setattr(_app, "ROUTERS", (*_app.ROUTERS, careless))
    with pytest.raises(RuntimeError, match="/api/careless asks for no role"):
        create_app(desk)


def test_viewers_see_no_telephone_numbers(client: Client) -> None:
    phones = [f"+00 000 000{digit}" for digit in (0, 1, 2, 3, 9)]
    crew = client(Role.CREW).get("/api/plan").text
    viewer = client(Role.VIEWER).get("/api/plan")
    assert all(phone in crew for phone in phones)
    assert not any(phone in viewer.text for phone in phones)
    tables = viewer.json()["tables"]
    assert tables["operator"] == {"name": "Taller Pava y Luna (invented)", "phone": "hidden"}
    without = json.loads(crew)
    for row in (without["tables"]["operator"], *without["tables"]["crew"], *without["tables"]["call"]):
        row["phone"] = "hidden"
    assert viewer.json() == without, "and nothing else is missing"


def test_a_link_ends_at_once(client: Client, desk: Desk) -> None:
    director, viewer = client(Role.DIRECTOR), client(Role.VIEWER)
    assert viewer.get("/api/me").json()["role"] == "viewer"
    listed = director.get("/api/people").json()
    assert listed["address"] is None
    ended = next(one for one in listed["people"] if one["role"] == "viewer")
    assert director.delete(f"/api/people/{ended['id']}").json()["revoked_utc"] == "2027-02-13T09:00:00Z"
    assert viewer.get("/api/me").status_code == 401
    assert director.delete("/api/people/laptop").status_code == 404
    assert director.delete("/api/people/nobody").status_code == 404
    assert director.get("/api/me").status_code == 200


def test_links_outlive_a_restart_and_keys_are_kept_by_their_owner_alone(client: Client, desk: Desk) -> None:
    made = client(Role.DIRECTOR).post("/api/people", json={"name": "Aylen", "role": "crew"}).json()
    key = made["link"].partition("#enter=")[2]
    assert len(key) >= 32
    again = Desk(desk.plan_path)
    assert again.people.by_key(key).name == "Aylen"
    assert again.people.laptop_key == desk.people.laptop_key
    again.jobs.close()
    for path in desk.folder.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(desk.folder.stat().st_mode) == 0o700
    assert key not in (desk.folder / "people.json").read_text("utf-8")
    assert made["qr_svg"].startswith("<svg")


def test_wrong_keys_do_not_enter_and_are_slowed_down(client: Client, desk: Desk) -> None:
    browser = client(None)
    statuses = [browser.post("/api/enter", json={"key": f"wrong-key-{n:020}"}).status_code for n in range(30)]
    assert set(statuses[:10]) == {401}
    assert set(statuses[10:]) == {429}
    assert desk.people.by_key("") is None
    assert desk.people.by_key(None) is None
    assert desk.people.by_key("\ud800" * 20) is None


def test_cookie_is_out_of_reach_of_scripts_and_of_other_sites(client: Client, desk: Desk) -> None:
    answer = client(None).post("/api/enter", json={"key": desk.people.laptop_key})
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert cookie.startswith("pappus-8340=")


def test_secrets_stay_out_of_logs(client: Client, desk: Desk, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    director = client(Role.DIRECTOR)
    link = director.post("/api/people", json={"name": "Bruno", "role": "crew"}).json()["link"]
    client(None).post("/api/enter", json={"key": "a-key-that-nobody-has"})
    director.post("/api/people", content=b"not json")
    said = "\n".join(record.getMessage() for record in caplog.records if record.name != "httpx")
    for secret in (desk.people.laptop_key, director.headers["x-pappus-token"], link.partition("=")[2], "nobody-has"):
        assert secret not in said
