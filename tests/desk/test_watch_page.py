"""Page Watch in a real browser, fed with datagrams of an invented balloon on this computer."""

from __future__ import annotations

import json
import socket
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from pappus.plan import example_plan_text
from receiving import free_port

Open = Callable[..., Any]

RUNS = "document.querySelector('[data-running=true]') !== null"


def sent(port: int, height_msl_m: float, late_s: float = 0.0) -> None:
    """One packet, measured so long ago."""
    now = datetime.now(UTC) - timedelta(seconds=late_s)
    fields = {
        "tracker": "BALLOON-1", "time_utc": now.isoformat(), "latitude_deg": -37.38, "longitude_deg": -64.6,
        "height_msl_m": height_msl_m,
    }  # fmt: skip
    with socket.socket(type=socket.SOCK_DGRAM) as sender:
        sender.sendto(json.dumps(fields).encode(), ("127.0.0.1", port))


def test_the_watch_hears_ages_and_keeps(serve: Open, open_page: Open) -> None:
    port = free_port(socket.SOCK_DGRAM)
    place = f'name = "hill"\nrole = "ground station"\nkind = "json"\naddress = "udp://127.0.0.1:{port}"\n'
    served = serve(f"{example_plan_text()}\n[[receiver]]\n{place}")
    seen = open_page(f"{served.link}")
    seen.until("document.querySelector('.head') !== null", "the page")
    seen.page.evaluate("location.hash = '#/watch'")
    seen.until("document.querySelector('[data-state=empty]') !== null", "the watch that does not run")
    assert "hill" in seen.text("[data-state=empty]")
    seen.page.get_by_role("button", name="Start the watch").click()
    seen.until(RUNS, "the watch")
    seen.until("document.querySelector('[data-station=hill]') !== null", "the station")
    assert "nothing yet" in seen.text("[data-station=hill]")
    assert seen.text(".watch-phase") == "no position"
    sent(port, 225.0, late_s=45.0)
    seen.until("document.querySelector('[data-station=hill] td:last-child')?.textContent === '1'", "a packet")
    assert seen.page.locator(".watch-head").get_attribute("data-stale") == "true", "45 s old is old"
    assert "old" in seen.text(".watch-numbers")
    sent(port, 226.0)
    seen.until("document.querySelector('.watch-head').dataset.stale === 'false'", "a fresh position")
    assert "0.2" in seen.text(".watch-numbers")
    seen.page.get_by_label("A line for the log").fill("We wait at the bridge.")
    seen.page.get_by_role("button", name="Write").click()
    seen.until("document.querySelector('[data-panel=log]').textContent.includes('at the bridge')", "the log")
    seen.page.get_by_role("button", name="End the watch").click()
    seen.page.get_by_role("button", name="End it: nothing more is heard").click()
    seen.until(f"!({RUNS})", "the end of the watch")
    assert (served.folder / "flight.record").is_file()
    assert seen.complaints == []
    assert all(url.startswith((served.address, "data:", "blob:")) for url in seen.requests), seen.requests


def test_no_receivers_says_what_to_write(serve: Open, open_page: Open) -> None:
    seen = open_page(serve().link, 390, 844)
    seen.until("document.querySelector('.head') !== null", "the page")
    for page, words in {"watch": "[[receiver]]", "chase": "Do not drive under", "review": "no record yet"}.items():
        seen.page.evaluate(f"location.hash = '#/{page}'")
        seen.until(f"document.querySelector('.page').textContent.includes('{words}')", page)
        assert seen.page.evaluate("document.documentElement.scrollWidth") == 390
    assert seen.complaints == []
