"""The whole job in one go, in a real browser: plan, fill, window, decision, rehearsal, warning, landing, review."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from flown_desk import PATIENCE_S, serve_example, show, stayed_inside
from rehearsal_form import start_rehearsal

Open = Callable[..., Any]

REHEARSAL_PATIENCE_S = 400.0
"""A flight of two to four hours at a hundred times its pace, on a busy machine."""


def burst_km(seen: Any) -> float:
    seen.until("document.querySelector('[data-answer=burst] .amount') !== null", "the fill", PATIENCE_S)
    return float(re.match(r"[\d.]+", seen.text("[data-answer=burst] .amount"))[0])


def test_a_director_walks_the_job(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link)

    # the plan: a faster climb takes more gas, and that bursts lower
    planned = burst_km(seen)
    climb = seen.page.locator("[data-path='fill.climb']")
    climb.fill("7 m/s")
    seen.until(
        f"parseFloat(document.querySelector('[data-answer=burst] .amount').textContent) < {planned} - 0.5",
        "the burst height to move",
    )
    climb.fill("5 m/s")
    seen.until(
        f"parseFloat(document.querySelector('[data-answer=burst] .amount').textContent) === {planned}",
        "the burst height to come back",
    )

    # the window: one of its cells that is go, and why
    show(seen, "window")
    seen.until("document.querySelector('.matrix .cell[data-state=go]') !== null", "the matrix", PATIENCE_S)
    seen.page.locator(".matrix .cell[data-state=go]").first.click()
    seen.until("document.querySelector('.opened [data-answer]') !== null", "the cell", PATIENCE_S)
    answer = seen.page.locator(".opened [data-answer]").first.get_attribute("data-answer")
    assert answer in ("go", "wait", "no-go")
    assert seen.page.locator(".opened .checks li, .opened .checks-met").count() >= 1, "the decision gives its reasons"

    # the flight day, rehearsed at a hundred times its pace with a fault that must be warned of
    show(seen, "watch")
    start_rehearsal(seen.page, 100, 4, "low power")
    seen.until("document.querySelector('[data-rehearsal=running]') !== null", "the rehearsal", PATIENCE_S)
    seen.until("document.querySelector('.watch-map .map[data-ready=true]') !== null", "the map", PATIENCE_S)
    warning = "[data-warning='low on power']"
    seen.until(f'document.querySelector("{warning}[data-taken=false]") !== null', "a warning", REHEARSAL_PATIENCE_S)
    seen.page.locator(f"{warning} button", has_text="Take note").click()
    seen.until(f'document.querySelector("{warning}[data-taken=true]") !== null', "who took note")

    # the landing, and how it went
    seen.until("document.querySelector('[data-rehearsal=over]') !== null", "the end", REHEARSAL_PATIENCE_S)
    seen.until("document.querySelector('[data-panel=score]') !== null", "the score")
    assert "low power" in seen.text("[data-panel=score]")
    assert seen.text(".watch-phase") == "landed"

    # the review of that record: where it was, where it was said to come down, and the warning with who took note
    seen.page.locator("[data-panel=score] a", has_text="Open the review").click()
    seen.until("document.querySelector('.review .map[data-ready=true]') !== null", "the review", PATIENCE_S)
    assert "no balloon flew" in seen.text(".review-rehearsal")
    assert "low on power" in seen.text(".review-parts")
    stayed_inside(served, seen)
    assert (served.folder / "flight.record").exists() is False, "a rehearsal leaves the record of the flight alone"
