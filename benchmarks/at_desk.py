"""A desk on the invented example as a process of its own, and a browser that looks at it."""

from __future__ import annotations

import contextlib
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from pappus.preflight import write_example

PATIENCE_S = 300.0


@contextlib.contextmanager
def served(folder: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Link of the director and the process."""
    plan = write_example(folder)
    command = [sys.executable, "-u", "-m", "pappus.web", str(plan), "--port", "0"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+#enter=\S+", line)
        if found is None:
            raise RuntimeError(f"the desk did not start: {line}{process.stdout.read()}")
        yield found[0], process
    finally:
        process.terminate()
        process.wait(timeout=20)


@contextlib.contextmanager
def browser() -> Iterator[Any]:
    """Chromium without a window."""
    found = next(path for name in ("chromium", "chromium-browser") if (path := shutil.which(name)))
    with sync_playwright() as tool:
        running = tool.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield running
        running.close()


def until(page: Any, script: str, patience_s: float = PATIENCE_S) -> Any:
    """The first true value of a script in the page."""
    end = time.monotonic() + patience_s
    while not (value := page.evaluate(script)):
        if time.monotonic() > end:
            raise TimeoutError(script)
        time.sleep(0.05)
    return value


def show(page: Any, name: str) -> None:
    """Go to a page of the desk."""
    until(page, "document.querySelector('.head nav a') !== null")
    page.evaluate(f"() => {{ location.hash = '#/{name}' }}")
