"""Page Briefing in a real browser: the answer first, drafts marked as drafts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from flown_desk import PATIENCE_S, serve_example, show, stayed_inside

Open = Callable[..., Any]


def test_answer_comes_first_and_drafts_are_marked(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link, 390, 844)
    show(seen, "briefing")
    seen.until("document.querySelector('.briefing [data-answer]') !== null", "the briefing", PATIENCE_S)
    state = seen.page.locator(".briefing [data-answer]").get_attribute("data-answer")
    assert seen.text(".briefing [data-answer] .sign").strip() == state
    drafts = seen.page.locator(".draft")
    assert drafts.count() >= 5
    assert all("draft, not filed" in words for words in drafts.all_inner_texts())
    assert "permission" in seen.text(".aid")
    assert seen.page.locator(".checks-met li").count() >= 20
    stayed_inside(served, seen)
