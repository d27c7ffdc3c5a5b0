"""The desk as a process of its own, a real browser on it, and a record of what that browser asked for and said."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from pappus.plan import example_plan_text

PATIENCE_S = 90.0


def complaint(said: Any) -> bool:
    """Errors and warnings of the page; that a map without a graphics card is slow is the driver's remark, not ours."""
    return said.type in ("error", "warning") and not said.text.startswith("[.WebGL-")


@dataclass
class Served:
    """A desk that runs, and how to come in."""

    link: str
    folder: Path
    process: subprocess.Popen[str]

    @property
    def address(self) -> str:
        return self.link.partition("/#")[0]


@dataclass
class Seen:
    """One page and everything it did that a page may not do."""

    page: Any
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def until(self, script: str, what: str, patience_s: float = PATIENCE_S) -> Any:
        """The first true value of a script; the content policy forbids the browser tool's own way of waiting."""
        end = time.monotonic() + patience_s
        while not (value := self.page.evaluate(script)):
            assert time.monotonic() < end, f"{what}: not after {patience_s:.0f} s; complaints: {self.complaints}"
            time.sleep(0.05)
        return value

    def text(self, selector: str) -> str:
        return str(self.page.locator(selector).first.evaluate("one => one.textContent")).replace("\u202f", "")


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Served]]:
    """``serve()``: the example plan on a free port; ``serve(plan=None)``: no plan yet; stopped at the end."""
    started: list[subprocess.Popen[str]] = []

    def one(plan: str | None = example_plan_text(), *more: str) -> Served:
        if not (Path(__file__).parents[2] / "src/pappus/web/static/index.html").is_file():
            pytest.skip("the pages are not built (pip install builds them)")
        path = tmp_path / "flight.toml"
        if plan is not None:
            path.write_text(plan, encoding="utf-8")
        command = [sys.executable, "-u", "-m", "pappus.web", str(path), "--port", "0", *more]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        started.append(process)
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+#enter=\S+", line)
        assert found, line + process.stdout.read()
        return Served(found[0], tmp_path, process)

    yield one
    for process in started:
        process.terminate()
    for process in started:
        try:
            process.communicate(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            raise


@pytest.fixture
def open_page(chromium: Any) -> Iterator[Callable[..., Seen]]:
    """``open_page(link, width, height)``: a browser of its own on this link."""
    contexts = []

    def one(link: str, width: int = 1440, height: int = 900, **options: Any) -> Seen:
        context = chromium.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        seen = Seen(context.new_page())
        seen.page.on("request", lambda request: seen.requests.append(request.url))
        seen.page.on("console", lambda said: complaint(said) and seen.complaints.append(said.text))
        seen.page.on("pageerror", lambda error: seen.complaints.append(str(error)))
        seen.page.goto(link)
        return seen

    yield one
    for context in contexts:
        context.close()
