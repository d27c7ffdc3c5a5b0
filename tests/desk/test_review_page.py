"""Page Review in a real browser: a whole invented flight, its plan beside it, and a rehearsal that is called one."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from accessible import serious
from flown_desk import PATIENCE_S, serve_example, show, stayed_inside

from pappus.preflight import write_example
from pappus.store import FlightStore
from pappus.web import Desk
from rehearsed_record import Flown

Open = Callable[..., Any]

WHOLE = "document.querySelectorAll('.review .chart svg').length === 4"


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("record")
    desk = Desk(write_example(folder), now=lambda: datetime(2027, 2, 13, 18, tzinfo=UTC))
    with FlightStore.open(desk.store_path, laptop="test") as store:
        Flown(desk).keep(store, predict_every_s=1500.0)
    desk.jobs.close()
    return desk.store_path


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (390, 844)])
def test_flight_is_reviewed(
    serve: Open, open_page: Open, tmp_path: Path, record: Path, width: int, height: int
) -> None:
    served = serve_example(serve, tmp_path)
    shutil.copy(record, served.folder / "flight.record")
    seen = open_page(served.link, width, height)
    show(seen, "review")
    seen.until(WHOLE, "charts of height, errors and winds", PATIENCE_S)
    seen.until("document.querySelector('.review .map[data-ready=true]') !== null", "the map", PATIENCE_S)
    assert "km" in seen.text(".review-large")
    assert "planned" in seen.text(".review-numbers")
    moments = seen.page.locator("tr[data-moment]")
    assert [one.get_attribute("data-moment") for one in moments.all()][:2] == ["release", "half ascent"]
    assert all(row.locator("td").count() == 6 for row in moments.all())
    names = " ".join(seen.page.locator(".review .chart-name").all_text_contents())
    for words in ("Height above mean sea level, km", "Error, km", "wind towards east, m/s"):
        assert words in names
    assert "noted by Ana after 2 min" in seen.text("[data-taken=true]")
    before = seen.text(".review-areas label")
    seen.page.locator(".review-areas input").focus()
    seen.page.keyboard.press("ArrowRight")
    seen.until(f"document.querySelector('.review-areas label').textContent !== {before!r}", "the next prediction")
    strip = seen.text(".strip-now")
    assert re.search(r"(touchdown|last heard) · flight time \d+ h \d\d", strip), strip
    seen.page.locator(".strip input").focus()
    seen.page.keyboard.press("PageDown")
    seen.page.keyboard.press("PageDown")
    moved = seen.text(".strip-now")
    assert re.search(r"flight time \d+ (h \d\d|min)", moved), moved
    assert "flight time" in seen.page.locator(".strip input").get_attribute("aria-valuetext")
    assert seen.page.locator(".review .chart-now circle").count() == 1, "the height at that moment"
    seen.page.get_by_role("button", name="to the end").click()
    assert seen.text(".strip-now") == strip
    for words in (strip, moved):
        assert not re.search(r"\bin \d|\bnow\b", words), "nothing is to come on a flight that is over"
    show(seen, "plan")
    seen.until("document.querySelector('.strip').textContent.includes('window opens')", "the plan's own times again")
    assert "now" in seen.text(".strip-now")
    stayed_inside(served, seen)


def test_rehearsal_is_called_one_and_axe_finds_nothing_serious(
    serve: Open, open_page: Open, tmp_path: Path, record: Path
) -> None:
    served = serve_example(serve, tmp_path)
    shutil.copy(record, served.folder / "flight.rehearsal-1.record")
    seen = open_page(served.link, bypass_csp=True)
    show(seen, "review")
    seen.until("document.querySelector('.review-head select') !== null", "both records")
    assert seen.page.locator(".review-rehearsal").count() == 0
    seen.page.locator(".review-head select").select_option("flight.rehearsal-1.record")
    seen.until(WHOLE, "the rehearsal", PATIENCE_S)
    assert "no balloon flew" in seen.text(".review-rehearsal")
    seen.until("document.querySelector('.review .map[data-ready=true]') !== null", "the map", PATIENCE_S)
    for look in ("day", "night"):
        seen.page.get_by_role("button", name=f"{look} look").click()
        seen.until("document.querySelector('.review .map[data-ready=true]') !== null", "the map in this look")
        assert serious(seen) == [], look
    stayed_inside(served, seen)
