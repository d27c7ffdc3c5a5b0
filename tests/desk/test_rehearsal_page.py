"""A rehearsal in a real browser: started on page Watch, marked all the time, a warning taken note of, judged.

The flight is the invented example with a balloon that bursts low.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from accessible import serious
from flown_desk import PATIENCE_S, show, stayed_inside
from rehearsal_form import start_rehearsal

from pappus.preflight import write_example

Open = Callable[..., Any]
LOW = {
    'mass = "1200 g"': 'mass = "350 g"',
    'burst_diameter = "8.6 m"': 'burst_diameter = "2.6 m"',
    'wanted_height = "31 km"': 'wanted_height = "8 km"',
    '["26 km", "30 km"]': '["6 km"]',
}
"""A balloon that bursts near 12 km: 80 minutes in the air."""


def low_example(folder: Path) -> str:
    text = write_example(folder).read_text("utf-8")
    for old, new in LOW.items():
        text = text.replace(old, new, 1)
    return text


def test_a_rehearsal_from_start_to_score(serve: Open, open_page: Open, tmp_path: Path) -> None:
    served = serve(low_example(tmp_path))
    seen = open_page(served.link, bypass_csp=True)
    show(seen, "watch")
    start_rehearsal(seen.page, 200, 5, "low power")
    seen.until("document.querySelector('[data-rehearsal=running]') !== null", "the rehearsal", PATIENCE_S)
    assert "REHEARSAL" in seen.text(".rehearsal-banner")
    assert "low power" not in seen.text(".watch"), "nobody is told what goes wrong"
    seen.until(
        "document.querySelectorAll('[data-panel=winds] svg').length === 2", "winds on their forecast", PATIENCE_S
    )
    names = seen.page.locator("[data-panel=winds] .chart-name").all_text_contents()
    assert names == ["Height, msl, km", "towards east, m/s", "Height, msl, km", "towards north, m/s"]
    assert serious(seen) == []
    warned = "document.querySelector('[data-warning=\"low on power\"] button') !== null"
    seen.until(warned, "the warning", PATIENCE_S)
    seen.page.locator('[data-warning="low on power"] button').click()
    seen.until("document.querySelector('[data-panel=log]').textContent.includes('warning acknowledged')", "the log")
    banner = seen.page.locator(".rehearsal-banner").bounding_box()
    seen.page.mouse.wheel(0, 600)
    assert banner is not None
    at = "document.querySelector('.rehearsal-banner').getBoundingClientRect()"
    assert seen.page.evaluate(f"{at}.bottom > 0 && {at}.top < innerHeight"), "the mark stays in sight"
    seen.until("document.querySelector('[data-rehearsal=over]') !== null", "the end", PATIENCE_S)
    assert "low power" in seen.text("[data-panel=score]")
    assert "of your time" in seen.text("[data-panel=score]")
    captions = seen.page.locator("[data-panel=score] caption").all_text_contents()
    assert [words.split(",")[0] for words in captions] == [
        "Landing as predicted at", "The tool: warnings that were called for", "The crew: warnings raised"
    ]  # fmt: skip
    grey = "90 % areas of the last 3 predictions before that"
    seen.until(f"document.querySelector('.legend').textContent.includes({grey!r})", "how many earlier areas are drawn")
    assert serious(seen) == []
    assert seen.page.locator("[data-panel=score] a").get_attribute("href") == (
        "#/review?flight=flight.rehearsal-1.record"
    )
    assert (served.folder / "flight.rehearsal-1.record").is_file()
    assert not (served.folder / "flight.record").exists(), "the real flight has no record yet"
    seen.page.get_by_role("button", name="Put it away").click()
    seen.until("document.querySelector('.rehearsal-banner') === null", "the real day")
    seen.until("document.querySelector('[data-panel=rehearsal]') !== null", "the form again")
    assert "window opens" in seen.text(".strip"), "the times of the plan were kept"
    stayed_inside(served, seen)


def test_a_phone_shows_the_mark_first_and_the_warnings_before_the_charts(
    serve: Open, open_page: Open, tmp_path: Path
) -> None:
    served = serve(low_example(tmp_path))
    seen = open_page(served.link, 390, 844)
    show(seen, "watch")
    seen.until("document.querySelector('[data-panel=rehearsal] form') !== null", "the form", PATIENCE_S)
    seen.page.get_by_role("button", name="Start the rehearsal").click()
    seen.until("document.querySelector('[data-panel=warnings]') !== null", "the rehearsal", PATIENCE_S)
    seen.until("document.querySelector('[data-panel=winds]') !== null", "winds", PATIENCE_S)
    tops = {
        name: seen.page.evaluate(f"document.querySelector('{selector}').getBoundingClientRect().top")
        for name, selector in {
            "mark": ".rehearsal-banner", "map": ".watch-map", "warnings": "[data-panel=warnings]",
            "winds": "[data-panel=winds]",
        }.items()
    }  # fmt: skip
    assert sorted(tops, key=tops.__getitem__) == ["mark", "map", "warnings", "winds"]
    small = [
        button.inner_text()
        for button in seen.page.locator(".watch button:visible").all()
        if (box := button.bounding_box()) is not None and box["height"] < 48 and "maplibre" not in str(
            button.get_attribute("class")
        )
    ]  # fmt: skip
    assert small == []
    seen.page.get_by_role("button", name="Stop the rehearsal").click()
    seen.until("document.querySelector('[data-rehearsal=stopped]') !== null", "the early end", PATIENCE_S)
    assert "Stopped at" in seen.text("[data-panel=score]")
    stayed_inside(served, seen)
