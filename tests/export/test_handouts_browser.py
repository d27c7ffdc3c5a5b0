"""The HTML page in Chromium: phone, wide screen, night, paper; no network, no script, nothing lost at the side."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pages import NOTE, TITLE, chart, page, square
from pictures import pixels, where

from pappus.export import briefing_html

pytest.importorskip("playwright", reason="playwright is not installed")
PHONE, WIDE = {"width": 390, "height": 844}, {"width": 1280, "height": 900}


@pytest.fixture(scope="module")
def browser(chromium: Any) -> Iterator[Any]:
    yield chromium
    chromium.close_pages()


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "briefing.html"
    pictures = {"Map": square("#ff0000"), "Height": square("#0000ff"), "Winds": chart()}
    path.write_text(briefing_html(page(), title=TITLE, pictures=pictures), encoding="utf-8")
    return path


def opened(browser: Any, file: Path, size: dict[str, int], **keys: Any) -> Any:
    tab = browser.new_context(viewport=size, **keys).new_page()
    tab.goto(file.as_uri())
    return tab


@pytest.mark.parametrize("size", [PHONE, WIDE])
def test_it_opens_quietly_and_asks_nobody(browser: Any, file: Path, size: dict[str, int]) -> None:
    tab = browser.new_context(viewport=size).new_page()
    said: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(file.as_uri())
    assert said == []
    assert [url for url in asked if not url.startswith("data:")] == [file.as_uri()]
    assert tab.title() == TITLE
    seen = tab.inner_text("body")
    for text in (*page().lead, NOTE, "Where the steam goes", "114,828", "No terrain.", "A planning aid."):
        assert text in seen


@pytest.mark.parametrize("size", [PHONE, {"width": 320, "height": 640}, {"width": 820, "height": 1180}, WIDE])
def test_nothing_lies_beyond_the_side(browser: Any, file: Path, size: dict[str, int]) -> None:
    """320 px is the width of WCAG 2.2, 1.4.10; what is wider scrolls in its own place."""
    tab = opened(browser, file, size)
    assert tab.evaluate("document.documentElement.scrollWidth") == size["width"]
    outside = tab.evaluate(
        "[...document.querySelectorAll('h1, h2, p, dt, dd, li, img, figcaption, .wide')]"
        ".filter(e => e.getBoundingClientRect().right > innerWidth).map(e => e.outerHTML.slice(0, 60))"
    )
    assert outside == []
    table = tab.locator(".wide").first
    assert table.evaluate("e => e.scrollWidth > e.clientWidth")
    table.evaluate("e => e.scrollLeft = 10000")
    last = tab.locator("thead th").last.bounding_box()
    assert last["x"] + last["width"] <= size["width"]
    # the first column stays, or nobody knows which row it is
    first = tab.locator("tbody th").first.bounding_box()
    assert first["x"] >= 0.0


def test_the_lead_is_the_largest(browser: Any, file: Path) -> None:
    sizes = (
        "[...document.querySelectorAll('body *')].filter(e => e.tagName !== 'IMG')"
        ".map(e => [e.className, parseFloat(getComputedStyle(e).fontSize)])"
    )
    for size, largest in ((PHONE, 20), (WIDE, 28)):
        found = opened(browser, file, size).evaluate(sizes)
        assert max(points for _, points in found) == largest
        assert {points for _, points in found} <= {12, 14, 16, 20, 28}
        assert ["lead", largest] in found


def test_fingers_find_what_can_be_touched(browser: Any, file: Path) -> None:
    tab = opened(browser, file, PHONE)
    tab.locator("summary").click()
    for target in (*tab.locator("nav a").all(), tab.locator("summary"), *tab.locator("figure label").all()):
        assert target.bounding_box()["height"] >= 48
    tab.locator("nav a", has_text="Winds").click()
    assert tab.locator("#picture-3").bounding_box()["y"] < 844


def test_a_tick_makes_a_picture_larger_without_a_script(browser: Any, file: Path) -> None:
    tab = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    tab.goto(file.as_uri())
    picture = tab.locator("#picture-3 img")
    before = picture.bounding_box()["width"]
    tab.locator("#picture-3 label").click()
    assert before < 390
    assert picture.bounding_box()["width"] == 720
    assert tab.locator("#picture-3 .wide").bounding_box()["width"] < 390


def test_pictures_are_seen(browser: Any, file: Path, tmp_path: Path) -> None:
    tab = opened(browser, file, WIDE)
    for number, hue in ((1, "#ff0000"), (2, "#0000ff")):
        path = tmp_path / f"{number}.png"
        tab.locator(f"#picture-{number} img").screenshot(path=str(path))
        assert np.mean(where(pixels(path), hue, 10)) > 0.95


def test_places_are_kept_free_until_the_pictures_are_there(browser: Any, file: Path, tmp_path: Path) -> None:
    """HTML Living Standard, 4.8.3 and 15.4.3: width and height give the proportions of a picture still to come."""
    heights = "[...document.querySelectorAll('figure img')].map(e => e.getBoundingClientRect().height)"
    waiting = tmp_path / "waiting.html"
    waiting.write_text(re.sub('src="data:[^"]*"', 'loading="lazy"', file.read_text("utf-8")), encoding="utf-8")
    for size in (PHONE, WIDE):
        shown = opened(browser, file, size).locator("#picture-3 img").bounding_box()
        assert shown["height"] / shown["width"] == pytest.approx(8.0 / 12.0, rel=0.002)
        assert opened(browser, waiting, size).evaluate(heights)[2] == pytest.approx(shown["height"], abs=0.5)


def test_night_is_dark_and_paper_is_white(browser: Any, file: Path) -> None:
    background = "getComputedStyle(document.body).backgroundColor"
    tab = opened(browser, file, PHONE, color_scheme="dark")
    red, green, blue = (int(part) for part in tab.evaluate(background)[4:-1].split(","))
    assert max(red, green, blue) < 60
    tab.emulate_media(media="print", color_scheme="dark")
    assert tab.evaluate(background) == "rgb(255, 255, 255)"
    assert tab.evaluate("getComputedStyle(document.querySelector('.lead')).color") == "rgb(0, 0, 0)"
    assert not tab.locator("nav").is_visible()
    assert not tab.locator("figure input").first.is_visible()


@pytest.mark.parametrize(("paper", "width_mm"), [("A4", 210.0), ("Letter", 215.9)])
def test_it_prints_on_both_papers(browser: Any, file: Path, paper: str, width_mm: float) -> None:
    """ISO 216 and ANSI Y14.1 sizes less margins of 15 mm: the whole text is as wide, each picture on one sheet."""
    tab = opened(browser, file, {"width": round((width_mm - 30.0) / 25.4 * 96.0), "height": 1000})
    tab.emulate_media(media="print")
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
    height_px = (279.4 - 30.0) / 25.4 * 96.0
    assert all(figure.bounding_box()["height"] < height_px for figure in tab.locator("figure").all())
    sheets = tab.pdf(format=paper)
    # the first has the words, then one for each picture
    assert sheets.count(b"/Type /Page\n") == 4
