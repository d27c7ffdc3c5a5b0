"""Page Flight in a real browser: the map is drawn, and the chart moves the clock that all views share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from flown_desk import PATIENCE_S, serve_example, show, stayed_inside

Open = Callable[..., Any]


def test_scrubbing_moves_clock_and_map(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link)
    show(seen, "flight")
    seen.until("document.querySelector('.flight .map[data-ready=true]') !== null", "the map", PATIENCE_S)
    seen.page.evaluate("() => { location.hash = '#/plan' }")
    seen.until("document.querySelector('.flight') === null", "another page")
    seen.requests.clear()
    show(seen, "flight")
    ready_ms = seen.page.evaluate(
        "() => new Promise(done => { const began = performance.now(); const look = () =>"
        " document.querySelector('.flight .map[data-ready=true]') ? done(performance.now() - began)"
        " : requestAnimationFrame(look); look() })"
    )
    print(f"map ready again in {ready_ms:.0f} ms")
    chart = seen.page.locator(".height-time .chart")
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    slider = "Number(document.querySelector('.strip input').value)"
    moment = "Number(document.querySelector('.flight-now').dataset.moment)"
    before = seen.page.evaluate(slider)
    y = box["y"] + 0.4 * box["height"]
    seen.page.mouse.move(box["x"] + 0.3 * box["width"], y)
    seen.page.mouse.down()
    seen.page.mouse.move(box["x"] + 0.5 * box["width"], y, steps=5)
    first = seen.page.evaluate(moment)
    seen.page.mouse.move(box["x"] + 0.6 * box["width"], y, steps=5)
    seen.page.mouse.up()
    assert seen.page.evaluate(moment) > first > 0, "to the right is later"
    assert seen.page.evaluate(slider) != before, "the strip moved along"
    assert "km" in seen.text(".flight-now"), "the nominal flight has a height at that moment"
    frames = seen.page.evaluate(
        "() => new Promise(done => { const input = document.querySelector('.strip input'); let frames = 0;"
        " const began = performance.now(); const step = () => { frames += 1;"
        " input.value = String(Number(input.value) + 10000); input.dispatchEvent(new Event('input', {bubbles: true}));"
        " performance.now() - began < 2000 ? requestAnimationFrame(step) : done(frames / 2) }; step() })"
    )
    print(f"scrubbing: {frames:.0f} frames a second")
    assert frames > 10, "the page goes on while the clock is dragged"
    stayed_inside(served, seen)


def test_layers_are_switched_and_distances_measured(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link)
    show(seen, "flight")
    seen.until("document.querySelector('.flight .map[data-ready=true]') !== null", "the map", PATIENCE_S)
    seen.page.get_by_role("button", name="Measure").click()
    box = seen.page.locator(".flight-map .maplibregl-canvas").bounding_box()
    for share in (0.3, 0.6):
        seen.page.mouse.click(box["x"] + share * box["width"], box["y"] + 0.7 * box["height"])
        seen.page.wait_for_timeout(400)  # two clicks at once are a double click
    metres = seen.until("Number(document.querySelector('[data-measured]')?.dataset.measured ?? 0)", "a distance")
    assert 1_000 < metres < 500_000
    seen.page.locator(".flight-map-tools summary", has_text="Layers").click()
    for box in seen.page.locator(".flight-map-tools input").all():
        box.click()
    seen.page.locator(".flight-map-tools summary", has_text="Legend").click()
    assert seen.page.locator(".map-legend li").count() >= 12
    stayed_inside(served, seen)
