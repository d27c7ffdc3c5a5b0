"""Page Plan in a real browser: the fill moves the burst height, mistakes stand beside their field, saving saves."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any

Open = Callable[..., Any]

FILLED = "document.querySelector('[data-answer=burst] .amount') !== null"
QUIET = "document.querySelector('.plan-answers').getAttribute('aria-busy') === 'false'"


def burst_km(seen: Any) -> float:
    return float(re.match(r"[\d.]+", seen.text("[data-answer=burst] .amount"))[0])


def settled(seen: Any) -> None:
    seen.page.wait_for_timeout(50)  # for the change to reach the page's own timer
    seen.until(QUIET, "an answer to the change")


def field(seen: Any, path: str) -> Any:
    return seen.page.locator(f"[data-path='{path}']")


def test_fill_is_changed_seen_and_saved(serve: Open, open_page: Open) -> None:
    served = serve()
    seen = open_page(served.link)
    seen.until(FILLED, "the fill")
    assert "#enter" not in seen.page.url
    before, lift = burst_km(seen), seen.text("[data-answer=lift]")
    field(seen, "fill.climb").fill("7 m/s")
    settled(seen)
    assert burst_km(seen) < before - 0.5, "a faster climb needs more gas, and that bursts lower"
    assert seen.text("[data-answer=lift]") != lift
    text = (served.folder / "flight.toml").read_text("utf-8")
    assert 'climb = "5 m/s"' in text, "nothing is saved by trying"
    seen.page.get_by_role("button", name="Save into flight.toml").click()
    seen.until("document.querySelector('.save-bar').innerText.includes('Saved')", "the plan is saved")
    saved = (served.folder / "flight.toml").read_text("utf-8")
    assert tomllib.loads(saved)["fill"] == {"climb": "7 m/s"}
    assert saved == text.replace('climb = "5 m/s"', 'climb = "7 m/s"'), "all else is as it was, comments too"
    assert seen.complaints == []
    assert all(url.startswith((served.address, "data:", "blob:")) for url in seen.requests), seen.requests


def test_mistake_stands_beside_its_field_and_is_not_saved(serve: Open, open_page: Open) -> None:
    seen = open_page(serve().link)
    seen.until(FILLED, "the fill")
    field(seen, "package[2].mass").fill("560 parsec")
    seen.until("document.querySelector('.field.wrong .field-wrong') !== null", "the mistake")
    wrong = seen.page.locator(".field.wrong")
    assert wrong.locator("input").get_attribute("data-path") == "package[2].mass"
    assert wrong.locator("input").get_attribute("aria-invalid") == "true"
    assert len(wrong.locator(".field-wrong").inner_text()) > 20
    settled(seen)
    assert seen.page.get_by_role("button", name="Save into flight.toml").is_disabled()
    field(seen, "package[2].mass").fill("560 g")
    settled(seen)
    assert seen.page.locator(".field.wrong").count() == 0
    assert seen.page.locator(".save-bar").count() == 0, "a value as it was is no change"
    assert seen.complaints == []


def test_another_way_of_saying_the_fill_is_the_same_fill(serve: Open, open_page: Open) -> None:
    seen = open_page(serve().link)
    seen.until(FILLED, "the fill")
    lift = seen.text("[data-answer=lift]")
    for way in ("scale_lift", "free_lift", "volume", "climb"):
        seen.page.locator("#fill-way").select_option(way)
        settled(seen)
        grams = [int(re.sub(r"\D", "", one)) for one in (lift, seen.text("[data-answer=lift]"))]
        assert abs(grams[0] - grams[1]) <= 8, way  # the values are rounded on the way
    assert seen.complaints == []


def test_boxes_and_lines_come_and_go(serve: Open, open_page: Open) -> None:
    served = serve()
    seen = open_page(served.link)
    seen.until(FILLED, "the fill")
    seen.page.get_by_role("button", name="Add a box").click()
    for path, value in {"mass": "90 g", "edges[1]": "8 cm", "edges[2]": "7 cm", "edges[3]": "6 cm"}.items():
        field(seen, f"package[3].{path}").fill(value)
    seen.page.get_by_role("button", name="Take tracking out").click()
    settled(seen)
    assert "box 3" in seen.text(".train svg")
    seen.page.get_by_role("button", name="Save into flight.toml").click()
    seen.until("document.querySelector('.save-bar').innerText.includes('Saved')", "the plan is saved")
    packages = tomllib.loads((served.folder / "flight.toml").read_text("utf-8"))["package"]
    assert packages == [
        {"name": "camera and kettle", "mass": "560 g", "edges": ["20 cm", "18 cm", "15 cm"]},
        {"name": "box 3", "mass": "90 g", "edges": ["8 cm", "7 cm", "6 cm"]},
    ]
    assert seen.complaints == []


def test_file_changed_meanwhile_is_told_and_nothing_is_lost(serve: Open, open_page: Open) -> None:
    served = serve()
    seen = open_page(served.link)
    seen.until(FILLED, "the fill")
    path = served.folder / "flight.toml"
    path.write_text(path.read_text("utf-8").replace('mass = "190 g"', 'mass = "210 g"'), "utf-8")
    field(seen, "fill.climb").fill("6 m/s")
    seen.until("document.querySelector('.save-bar')?.innerText.includes('changed meanwhile')", "the other change")
    settled(seen)
    assert field(seen, "canopy.mass").input_value() == "210 g"
    assert field(seen, "fill.climb").input_value() == "6 m/s"
    seen.page.get_by_role("button", name="Save into flight.toml").click()
    seen.until("document.querySelector('.save-bar').innerText.includes('Saved')", "both are saved")
    tables = tomllib.loads(path.read_text("utf-8"))
    assert (tables["canopy"]["mass"], tables["fill"]["climb"]) == ("210 g", "6 m/s")


def test_no_plan_yet(serve: Open, open_page: Open) -> None:
    served = serve(None)
    seen = open_page(served.link)
    seen.until("document.querySelector('[data-state=empty]') !== null", "the empty state")
    seen.page.get_by_role("button", name="Write an example plan").click()
    seen.until(FILLED, "the example")
    assert (served.folder / "flight.toml").is_file()
    assert seen.complaints == []


def test_page_fits(serve: Open, open_page: Open) -> None:
    link = serve().link
    for width in (1440, 1024, 390):
        seen = open_page(link, width, 844)
        seen.until(FILLED, "the fill")
        assert seen.page.evaluate("document.documentElement.scrollWidth") == width
    small = seen.page.evaluate(
        "[...document.querySelectorAll('button, input, select, nav a')].filter(one => one.offsetParent)"
        ".map(one => [one.innerText || one.dataset.path || one.type, one.getBoundingClientRect().height])"
        ".filter(([, height]) => height < 48)"
    )
    assert small == [], "targets on a phone are 48 px"
