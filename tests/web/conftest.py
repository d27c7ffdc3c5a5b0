"""A desk of the invented example plan, and clients that hold a link of each role."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from pappus.plan import example_plan_text
from pappus.web import Desk, Role, create_app

NOW = datetime(2027, 2, 13, 9, 0, tzinfo=UTC)
ORIGIN = "http://127.0.0.1:8340"
Client = Callable[[Role | None], TestClient]


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    path = tmp_path / "flight.toml"
    path.write_text(example_plan_text(), encoding="utf-8")
    made = Desk(path, now=lambda: NOW)
    yield made
    made.jobs.close()


@pytest.fixture
def app(desk: Desk, tmp_path: Path) -> FastAPI:
    static = tmp_path / "static"
    (static / "assets").mkdir(parents=True)
    (static / "index.html").write_text("<!doctype html><title>desk</title>")
    (static / "assets" / "code-1.js").write_text("export {}")
    return create_app(desk, static)


@pytest.fixture
def client(app: FastAPI, desk: Desk) -> Client:
    """``client(Role.CREW)``: a browser that entered by such a link and knows its token; None: without a link."""

    def of(role: Role | None) -> TestClient:
        browser = TestClient(app, base_url=ORIGIN, raise_server_exceptions=False, follow_redirects=False)
        if role is not None:
            key = desk.people.laptop_key if role is Role.DIRECTOR else desk.people.add(f"a {role}", role)[1]
            assert browser.post("/api/enter", json={"key": key}).status_code == 204
            browser.headers["x-pappus-token"] = browser.get("/api/me").json()["token"]
        return browser

    return of
