"""What all tests share: the folder of optional data, and ``references.checks`` on the path."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

TESTS = Path(__file__).parent
SHARED_DATA = TESTS.parents[1] / "shared" / "data"

# the first example of a property may pay for an import; how long one takes says nothing about whether it holds
settings.register_profile("house", deadline=None)
settings.load_profile("house")

# so that every test may write ``from references.checks import ...``, whatever import mode pytest runs in
if str(TESTS) not in sys.path:
    sys.path.insert(0, str(TESTS))


class Browser:
    """A browser that is started again when it has died under one test, so that the next ones do not die with it."""

    def __init__(self, start: Callable[[], Any]) -> None:
        self._start, self.running = start, start()

    def new_context(self, **options: Any) -> Any:
        if not self.running.is_connected():
            self.running = self._start()
        return self.running.new_context(**options)

    def close_pages(self) -> None:
        """Whoever opens many pages gives their memory back."""
        for context in self.running.contexts:
            context.close()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A real browser without a window, one for all tests of a process: the tool that drives it runs only once in it."""
    found = os.environ.get("PAPPUS_TEST_BROWSER") or next(
        (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
    )
    if found is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    api = pytest.importorskip("playwright.sync_api", reason="playwright drives the browser")
    with api.sync_playwright() as tool:
        browser = Browser(lambda: tool.chromium.launch(executable_path=found, args=["--no-sandbox"]))
        yield browser
        browser.running.close()


@pytest.fixture(scope="session")
def shared_data() -> Callable[[str], Path]:
    """``shared_data("geo/name.npz")``: the path of an open data file beside the checkout, or a skip that names it."""

    def find(name: str) -> Path:
        path = SHARED_DATA / name
        if not path.exists():
            pytest.skip(f"open data file ../shared/data/{name} is not here")
        return path

    return find
