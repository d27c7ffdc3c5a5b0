"""What stands before every request: sizes, rates, paths, headers, and bodies that make no sense."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from apart import run_apart
from pappus.web import Role
from pappus.web.desk._guard import MOST_BODY_BYTES, Buckets, Guard, host_name

Client = Callable[[Role | None], TestClient]


def test_oversize_bodies_are_refused_before_they_are_held(client: Client) -> None:
    browser = client(Role.DIRECTOR)

    answer = browser.put("/api/plan", content=b'{"digest":"' + b"0" * MOST_BODY_BYTES)
    assert (answer.status_code, answer.json()["status"]) == (413, 413)
    assert browser.post("/api/plan/try", content=b"".join([b" " * 65536] * 30)).status_code == 413


def test_a_body_without_an_end_is_not_read_to_it() -> None:
    sent, given = [], [0]

    async def receive() -> dict[str, object]:
        given[0] += 1
        return {"type": "http.request", "body": b" " * 65536, "more_body": True}

    async def send(message: dict[str, object]) -> None:
        sent.append(message)

    async def inner(*_: object) -> None:
        raise AssertionError("it came through")

    scope = {"type": "http", "method": "POST", "path": "/api/plan/try", "scheme": "http", "client": ("127.0.0.1", 1),
             "headers": [(b"host", b"localhost")]}  # fmt: skip
    run_apart(Guard(inner, frozenset({"localhost"}))(scope, receive, send))
    assert sent[0]["status"] == 413
    assert given[0] == MOST_BODY_BYTES // 65536 + 1


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"null", b"[]", b"\xff\xfe", b'{"digest": 1}', b'{"digest":"' + b"0" * 64 + b'","edits":[{}]}',
     b'{"digest":"' + b"0" * 64 + b'","edits":[{"path":"x","value":1e999}]}', b"[" * 5000,
     b'{"digest":"' + b"0" * 64 + b'","edits":[],"more":1}'],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/api/plan/try", "/api/enter", "/api/people"])
def test_malformed_bodies_get_a_reason(client: Client, path: str, body: bytes) -> None:
    answer = client(Role.DIRECTOR).post(path, content=body, headers={"content-type": "application/json"})
    assert 400 <= answer.status_code < 500
    assert set(answer.json()) == {"status", "what", "fix", "findings"}


@pytest.mark.parametrize(
    "path",
    [
        "/../flight.toml",
        "/%2e%2e/flight.toml",
        "/assets/../../flight.toml",
        "/assets/%2e%2e/%2e%2e/flight.toml",
        "/assets/..%2f..%2fflight.toml",
        "/..%5cflight.toml",
        "//etc/passwd",
        "/assets//etc/passwd",
        "/%00",
        "/flight.desk/laptop.key",
        "/../flight.desk/laptop.key",
    ],
)
def test_no_path_leads_out_of_the_pages(client: Client, path: str) -> None:
    answer = client(Role.DIRECTOR).get(path)
    assert answer.status_code in (400, 404, 405)
    assert "mission" not in answer.text


def test_headers_on_every_answer(client: Client) -> None:
    browser = client(Role.VIEWER)
    for path in ("/", "/api/me", "/nothing", "/assets/code-1.js"):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "http" not in policy
        assert policy.startswith("default-src 'none'")
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert "server" not in headers
        assert "access-control-allow-origin" not in headers
    assert browser.get("/api/me").headers["cache-control"] == "no-store"
    assert browser.get("/").headers["cache-control"] == "no-cache"
    assert "immutable" in browser.get("/assets/code-1.js").headers["cache-control"]


def test_methods_that_are_not_offered(client: Client) -> None:
    browser = client(Role.DIRECTOR)
    assert browser.request("PATCH", "/api/plan").status_code == 405
    assert browser.request("OPTIONS", "/api/plan").status_code == 405
    assert browser.get("/openapi.json").status_code == 404
    assert browser.get("/docs").status_code == 404


def test_bursts_are_served_and_floods_are_not(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr("pappus.web.desk._guard.time.monotonic", lambda: clock[0])
    buckets = Buckets(per_s=2.0, burst=5.0)
    assert [buckets.take("a") for _ in range(7)] == [True] * 5 + [False] * 2
    assert buckets.take("b"), "one flood does not shut out the others"
    clock[0] += 1.0
    assert [buckets.take("a") for _ in range(3)] == [True, True, False]


@pytest.mark.parametrize(
    ("host", "name"),
    [("127.0.0.1:8340", "127.0.0.1"), ("LOCALHOST", "localhost"), ("[::1]:8340", "::1"), ("", ""), ("[::1", "::1")],
)
def test_host_names(host: str, name: str) -> None:
    assert host_name(host) == name
