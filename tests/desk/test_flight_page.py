"""Page Flight in a real browser: the map is drawn, and the chart moves the clock that all views share."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from accessible import serious
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


def test_zone_is_drawn_kept_and_taken_away(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link)
    show(seen, "flight")
    ready = "document.querySelector('.flight .map[data-ready=true]') !== null"
    seen.until(ready, "the map", PATIENCE_S)
    seen.page.get_by_role("button", name="Draw a keep-out zone").click()
    box = seen.page.locator(".flight-map .maplibregl-canvas").bounding_box()
    for x, y in ((0.3, 0.6), (0.5, 0.6), (0.5, 0.8)):
        seen.page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
        seen.page.wait_for_timeout(400)  # two clicks at once are a double click
    seen.page.get_by_role("button", name="Add the map's middle").click()
    seen.page.get_by_role("button", name="Take the last corner back").click()
    seen.page.get_by_label("Name").fill("gravel works")
    seen.page.get_by_role("button", name="Keep this zone of 3 corners").click()
    drawn = "document.querySelector('.drawn-zones')?.textContent ?? ''"
    seen.until(f"({drawn}).includes('gravel works')", "the zone is kept and flown against", PATIENCE_S)
    kept = json.loads((served.folder / "flight.zones.geojson").read_text("utf-8"))
    (zone,) = kept["features"]
    assert zone["properties"] == {"name": "gravel works", "role": "keep-out"}
    assert len(zone["geometry"]["coordinates"][0]) == 4
    seen.until(ready, "the map again", PATIENCE_S)
    seen.page.locator(".drawn-zones summary").click()
    with seen.page.expect_download() as waiting:
        seen.page.locator(".drawn-zones a").click()
    assert waiting.value.suggested_filename == "flight.zones.geojson"
    seen.page.get_by_role("button", name="Take gravel works away").click()
    seen.until(f"!({drawn}).includes('gravel works')", "no zone is drawn", PATIENCE_S)
    assert not (served.folder / "flight.zones.geojson").exists()
    stayed_inside(served, seen)


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (390, 844)])
def test_axe_finds_nothing_serious_on_a_flight(
    serve: Open, open_page: Open, tmp_path: Path, width: int, height: int
) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link, width, height, bypass_csp=True)
    show(seen, "flight")
    seen.until("document.querySelector('.flight .map[data-ready=true]') !== null", "the map", PATIENCE_S)
    seen.page.get_by_role("button", name="Draw a keep-out zone").click()
    assert serious(seen) == []
    stayed_inside(served, seen)


def test_without_webgl_every_page_says_where_a_map_is(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve_example(serve, tmp_path)
    seen = open_page(served.link)
    seen.page.add_init_script(
        "const own = HTMLCanvasElement.prototype.getContext;"
        " HTMLCanvasElement.prototype.getContext = function (kind, ...more) {"
        " return kind.startsWith('webgl') ? null : own.call(this, kind, ...more); }"
    )
    seen.page.reload()
    show(seen, "window")
    seen.until("document.querySelector('.cell') !== null", "the matrix", PATIENCE_S)
    seen.page.locator(".cell[data-state='no-go']").first.click()
    seen.until("document.querySelector('.map-none') !== null", "the reason", PATIENCE_S)
    assert "no WebGL 2" in seen.text(".map-none")
    seen.page.locator(".map-none a").click()
    seen.until("document.querySelector('.drawn-map')?.naturalWidth > 300", "the map that the desk draws", PATIENCE_S)
    stayed_inside(served, seen)
