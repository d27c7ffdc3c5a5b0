"""Bodies, paths and queries drawn from our own OpenAPI document: whatever comes, the desk answers and never breaks."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings

from pappus.plan import example_plan_text
from pappus.web import Desk, create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # of its own imports
    schemathesis = pytest.importorskip("schemathesis", reason="schemathesis draws the requests")

ORIGIN = "http://127.0.0.1:8340"
APART = {"/api/events", "/api/enter"}
"""A stream without an end; ten tries a minute."""


def test_no_request_breaks_the_desk(tmp_path: Path) -> None:
    path = tmp_path / "flight.toml"
    path.write_text(example_plan_text(), encoding="utf-8")
    desk = Desk(path)
    app = create_app(desk)
    browser = TestClient(app, base_url=ORIGIN, raise_server_exceptions=False)
    browser.post("/api/enter", json={"key": desk.people.laptop_key})
    token = browser.get("/api/me").json()["token"]
    tried: dict[str, list[int]] = {}
    for found in schemathesis.openapi.from_dict(app.openapi()).get_all_operations():
        operation = found.ok()
        if operation.path in APART:
            continue

        @settings(max_examples=12, deadline=None, database=None, suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy())
        def drawn(case: Any) -> None:
            call = case.as_transport_kwargs(base_url=ORIGIN)
            call.pop("cookies", None)
            given_headers = {str(name): str(value) for name, value in (call.pop("headers", None) or {}).items()}
            headers = {name: value for name, value in given_headers.items() if value.isascii() and value.isprintable()}
            answer = browser.request(**call, headers={**headers, "x-pappus-token": token})
            where = f"{case.method} {case.path}"
            tried.setdefault(where, []).append(answer.status_code)
            assert answer.status_code < 500, f"{where}: {answer.text}"
            if answer.status_code >= 400:
                assert set(answer.json()) == {"status", "what", "fix", "findings"}, where

        drawn()
    desk.jobs.close()
    assert len(tried) >= 9
    print({where: len(statuses) for where, statuses in tried.items()})
