"""The invented example with its field pack on a desk, its plan made small, and a client that waits for its jobs."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from pappus.preflight import write_example
from pappus.web import Desk, Role, create_app

NOW = datetime(2027, 2, 13, 9, 0, tzinfo=UTC)
ORIGIN = "http://127.0.0.1:8340"
PATIENCE_S = 180.0


def small_example(folder: Path) -> Path:
    """The example with few releases and few flights."""
    path = write_example(folder)
    text = path.read_text("utf-8").replace('step = "30 min"', 'step = "2 h"')
    path.write_text(re.sub(r"flights = 1000", "flights = 200", text), "utf-8")
    return path


@dataclass
class FlownExample:
    """A desk that can fly."""

    desk: Desk
    app: Any
    entered: dict[Role, TestClient] = field(default_factory=dict)
    """One browser a role: the desk lets nobody knock often."""

    def browser(self, role: Role = Role.DIRECTOR) -> TestClient:
        if role not in self.entered:
            self.entered[role] = self._enter(role)
        return self.entered[role]

    def _enter(self, role: Role) -> TestClient:
        browser = TestClient(self.app, base_url=ORIGIN, raise_server_exceptions=False)
        people = self.desk.people
        key = people.laptop_key if role is Role.DIRECTOR else people.add(f"a {role}", role)[1]
        assert browser.post("/api/enter", json={"key": key}).status_code == 204
        browser.headers["x-pappus-token"] = browser.get("/api/me").json()["token"]
        return browser

    def done(self, path: str, role: Role = Role.DIRECTOR, **query: str) -> Any:
        """What a path answers once its job is done."""
        browser, end = self.browser(role), time.monotonic() + PATIENCE_S
        while True:
            answer = browser.get(path, params=query)
            assert answer.status_code == 200, answer.text
            job = answer.json()["job"]
            if job["state"] == "done":
                return answer.json()
            assert job["state"] != "failed", job
            assert time.monotonic() < end, job
            time.sleep(0.1)


@contextmanager
def flown_example(folder: Path) -> Iterator[FlownExample]:
    """Ends its threads at the end."""
    desk = Desk(small_example(folder), now=lambda: NOW)
    yield FlownExample(desk, create_app(desk, folder))
    desk.jobs.close()
