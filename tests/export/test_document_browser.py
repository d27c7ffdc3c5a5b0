"""The briefing document in Chromium: phone, wide screen and paper."""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any
from unicodedata import normalize

import numpy as np
import pytest
from documents import document, full, overfull

from pappus.export import AID, document_html

pytest.importorskip("playwright", reason="playwright is not installed")
pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
PHONE, WIDE = {"width": 390, "height": 844}, {"width": 1440, "height": 900}
SIZES_PX = {12, 14, 16, 20, 28, 44}


@pytest.fixture(scope="module")
def browser(chromium: Any) -> Iterator[Any]:
    yield chromium
    chromium.close_pages()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("documents")
    paths = {}
    for name, made in (("usual", document()), ("full", full()), ("overfull", overfull())):
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(document_html(made), encoding="utf-8")
    return paths


def opened(browser: Any, file: Path, size: dict[str, int], **keys: Any) -> Any:
    tab = browser.new_context(viewport=size, **keys).new_page()
    tab.goto(file.as_uri())
    return tab


@pytest.mark.parametrize("name", ["usual", "full", "overfull"])
@pytest.mark.parametrize("size", [PHONE, {"width": 320, "height": 640}, {"width": 900, "height": 1180}, WIDE])
def test_nothing_lies_beyond_the_side(browser: Any, files: dict[str, Path], name: str, size: dict[str, int]) -> None:
    """320 px is the width of WCAG 2.2, 1.4.10."""
    tab = opened(browser, files[name], size)
    assert tab.evaluate("document.documentElement.scrollWidth") == size["width"]
    outside = tab.evaluate(
        "[...document.querySelectorAll('h1, h2, h3, p, dt, dd, li, li span, pre, img, .wide, .answer')]"
        ".filter(e => e.getBoundingClientRect().right > innerWidth + 0.5).map(e => e.outerHTML.slice(0, 60))"
    )
    assert outside == []


def test_it_opens_quietly_and_asks_nobody(browser: Any, files: dict[str, Path]) -> None:
    tab = browser.new_context(viewport=PHONE).new_page()
    said: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(files["usual"].as_uri())
    assert said == []
    assert [url for url in asked if not url.startswith("data:")] == [files["usual"].as_uri()]


def test_a_phone_shows_one_column_in_the_order_of_need(browser: Any, files: dict[str, Path]) -> None:
    tab = opened(browser, files["usual"], PHONE)
    parts = (".answer", ".clock", ".map", ".calls", ".numbers", ".cautions")
    boxes = [tab.locator(part).bounding_box() for part in parts]
    assert [box["y"] for box in boxes] == sorted(box["y"] for box in boxes)
    assert all(above["y"] + above["height"] <= below["y"] for above, below in pairwise(boxes))
    assert tab.locator(".map img").bounding_box()["height"] <= 0.5 * PHONE["height"]
    for link in tab.locator(".calls a").all():
        assert link.bounding_box()["height"] >= 48


def test_the_answer_is_the_largest_and_sizes_are_few(browser: Any, files: dict[str, Path]) -> None:
    script = (
        "[...document.querySelectorAll('body *')].filter(e => [...e.childNodes].some(n => n.nodeType === 3 && "
        "n.textContent.trim())).map(e => [e.className, parseFloat(getComputedStyle(e).fontSize)])"
    )
    for size in (PHONE, WIDE):
        found = opened(browser, files["usual"], size).evaluate(script)
        assert {points for _, points in found} <= SIZES_PX
        assert [name for name, points in found if points == max(points for _, points in found)] == ["state"]


def test_shapes_differ_in_black_and_white(browser: Any, files: dict[str, Path]) -> None:
    """As the pictures draw them, so does the page: every hue made black, a fifth of what either covers differs."""
    from PIL import Image

    tab = opened(browser, files["usual"], WIDE, device_scale_factor=2)
    masks = {}
    for sign in tab.locator(".judged .word").all() + tab.locator(".answer li").all():
        word = sign.inner_text().split(":")[0].strip()
        picture = Image.open(io.BytesIO(sign.locator("svg").screenshot())).convert("RGB").resize((40, 40))
        masks[word] = np.asarray(picture).min(axis=-1) < 200
    assert set(masks) == {"not met", "cannot tell", "met", "wait", "go"}
    for one, other in combinations(("not met", "cannot tell", "met", "wait"), 2):
        either = masks[one] | masks[other]
        assert np.mean((masks[one] ^ masks[other])[either]) > 0.2, (one, other)


@pytest.mark.parametrize("name", ["usual", "full", "overfull"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_crew_page_prints_on_one_sheet(browser: Any, files: dict[str, Path], name: str, paper: str) -> None:
    tab = opened(browser, files[name], WIDE)
    sheets = pypdf.PdfReader(io.BytesIO(tab.pdf(format=paper))).pages
    # the typeface of the browser may join letters, as in fi
    said = [" ".join(normalize("NFKC", sheet.extract_text()).split()) for sheet in sheets]
    assert AID in said[0]
    assert "Clock" in said[0]
    first = "First sheet, in full" if name == "overfull" else "Checks, worst first"
    assert first not in said[0]
    assert first in said[1]
    for number, text in enumerate(said, 1):
        assert f"{number} / {len(said)}" in text
        assert "made 2027-02-13 14:20Z" in text


def test_paper_is_white_and_keeps_what_can_be_touched_away(browser: Any, files: dict[str, Path]) -> None:
    tab = opened(browser, files["usual"], PHONE, color_scheme="dark")
    tab.emulate_media(media="print", color_scheme="dark")
    assert tab.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert not tab.locator("nav").is_visible()
    assert not tab.locator("figure label").first.is_visible()
