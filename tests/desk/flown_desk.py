"""The invented example with its field pack, made small, for a desk that a browser opens."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from pappus.preflight import write_example

PATIENCE_S = 150.0


def serve_example(serve: Callable[..., Any], folder: Path) -> Any:
    """A desk with winds, map and zones, few releases and few flights."""
    path = write_example(folder)
    text = path.read_text("utf-8").replace('step = "30 min"', 'step = "2 h"').replace("flights = 1000", "flights = 300")
    return serve(text)


def show(seen: Any, page: str) -> None:
    """Go to a page of the desk that is open."""
    seen.until("document.querySelector('.head nav a') !== null", "the desk")
    seen.page.evaluate(f"() => {{ location.hash = '#/{page}' }}")


def stayed_inside(served: Any, seen: Any) -> None:
    """No complaint of the browser, and no request that left this machine."""
    assert seen.complaints == []
    assert all(url.startswith((served.address, "data:", "blob:")) for url in seen.requests), seen.requests
    assert seen.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "no sideways scrolling"
