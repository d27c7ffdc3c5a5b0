"""Page Window in a real browser: the matrix in words and shapes, and a cell that says why."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from flown_desk import PATIENCE_S, serve_example, show, stayed_inside

Open = Callable[..., Any]


def test_cell_opens_with_its_reason_by_mouse_and_by_key(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link)
    show(seen, "window")
    seen.until("document.querySelector('.cell') !== null", "the matrix", PATIENCE_S)
    cells = seen.page.locator(".matrix .cell")
    states = {cells.nth(index).get_attribute("data-state") for index in range(cells.count())}
    assert states == {"go", "wait", "no-go"}
    for state in states:
        one = seen.page.locator(f".cell[data-state='{state}']").first
        assert one.locator(".sign").inner_text().strip() == state, "the word stands beside the shape"
        assert one.locator("svg").count() == 1
        assert (one.locator(".cell-why").inner_text() == "") == (state == "go"), "what is not go says why"
    seen.page.locator(".cell[data-state='no-go']").first.click()
    seen.until("document.querySelector('.opened [data-answer=no-go]') !== null", "the cell", PATIENCE_S)
    first = seen.page.locator(".opened .checks li").first.inner_text()
    assert "limit" in first
    assert seen.page.locator(".opened .changes li").count() >= 1, "what would change the answer"
    seen.until("document.querySelector('.opened .map[data-ready=true]') !== null", "the landing on the map", PATIENCE_S)
    seen.until("document.querySelectorAll('.opened .chart svg').length === 3", "the curves", PATIENCE_S)
    names = " ".join(seen.page.locator(".opened .chart-name").all_text_contents())
    assert "gf" in names, names
    assert "min" in names, names
    pressed = "document.querySelector('.cell[aria-pressed=true]').textContent"
    before = seen.page.evaluate(pressed)
    seen.page.locator(".cell[aria-pressed=true]").focus()
    seen.page.keyboard.press("ArrowLeft" if "13:00" in before else "ArrowRight")
    seen.page.keyboard.press("Enter")
    seen.until(f"{pressed} !== {before!r}", "the cell beside it")
    stayed_inside(served, seen)


def test_phone_shows_the_matrix_as_a_list(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link, 390, 844)
    show(seen, "window")
    seen.until("document.querySelector('.matrix-list .cell') !== null", "the list", PATIENCE_S)
    heights = seen.page.evaluate(
        "[...document.querySelectorAll('.page button, .page select')].map(one => one.getBoundingClientRect().height)"
    )
    assert min(heights) >= 48, "targets for a thumb"
    stayed_inside(served, seen)
