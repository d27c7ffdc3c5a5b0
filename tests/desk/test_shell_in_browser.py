"""What is the same on every page: ways, clock, units, look, people, what is said when the desk is gone, and axe."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from accessible import serious

Open = Callable[..., Any]

FILLED = "document.querySelector('[data-answer=burst] .amount') !== null"
PAGES = ("plan", "window", "flight", "briefing", "watch", "chase", "review")


def outside(seen: Any, served: Any) -> list[str]:
    return [url for url in seen.requests if not url.startswith((served.address, "data:", "blob:"))]


def test_every_page_opens_by_keyboard_and_asks_nobody_else(serve: Open, open_page: Open) -> None:
    served = serve()
    seen = open_page(served.link)
    seen.until(FILLED, "the plan")
    page = seen.page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "to-page"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "page"
    for name in PAGES:
        link = page.locator(f".head nav a[href='#/{name}']")
        link.focus()
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        page.keyboard.press("Enter")
        seen.until(f"document.querySelector('main.page-{name}') !== null", name)
        assert link.get_attribute("aria-current") == "page"
    # this plan has no field pack: the browser notes that pages which need one were refused, the pages say it in words
    assert [said for said in seen.complaints if "409 (Conflict)" not in said] == []
    assert outside(seen, served) == []


def test_strip_shows_the_times_of_the_plan_and_moves(serve: Open, open_page: Open) -> None:
    seen = open_page(serve().link)
    seen.until(FILLED, "the plan")
    strip = seen.text(".strip")
    for words in ("release 09:30", "window opens 08:00", "window closes 13:00"):
        assert words in strip  # the plan has 12:30Z; the crew's zone is three hours behind
    slider = seen.page.locator(".strip input")
    slider.focus()
    seen.page.keyboard.press("Home")
    seen.page.keyboard.press("ArrowRight")
    seen.until("document.querySelector('.strip button') !== null", "the way back to now")
    moved = seen.text(".strip-now b")
    seen.page.keyboard.press("PageUp")
    assert seen.text(".strip-now b") != moved
    assert "release in" in slider.get_attribute("aria-valuetext") or "opens in" in slider.get_attribute(
        "aria-valuetext"
    )
    seen.page.get_by_role("button", name="back to now").click()
    assert seen.page.locator(".strip button").count() == 0


def test_units_and_look_are_kept(serve: Open, open_page: Open) -> None:
    seen = open_page(serve().link)
    seen.until(FILLED, "the plan")
    assert seen.text("[data-answer=burst] .amount").startswith("32.")
    seen.page.get_by_role("button", name="feet and miles").click()
    feet = seen.text("[data-answer=burst] .amount")
    assert re.match(r"10\d{4} ?ft", feet), feet
    assert "km" in feet, "the other system stands in small print"
    seen.page.get_by_role("button", name="night look").click()
    dark = "getComputedStyle(document.body).backgroundColor"
    night = seen.page.evaluate(dark)
    seen.page.reload()
    seen.until(FILLED, "the plan again")
    assert seen.page.evaluate(dark) == night != "rgb(251, 250, 246)"
    assert seen.text("[data-answer=burst] .amount") == feet


def test_figures_are_all_as_wide(serve: Open, open_page: Open) -> None:
    """Our font is loaded from the desk, and its digits stand in columns."""
    seen = open_page(serve().link)
    seen.until(FILLED, "the plan")
    seen.page.evaluate("document.fonts.ready.then(() => 1)")
    assert seen.page.evaluate("document.fonts.check('16px \"Noto Sans\"')")
    measured = """[...'0123456789'].map(digit => {
        const one = document.createElement('span');
        one.textContent = digit.repeat(20);
        document.body.append(one);
        const width = one.getBoundingClientRect().width;
        one.remove();
        return width;
    })"""
    widths = seen.page.evaluate(measured)
    assert len(set(widths)) == 1, widths


def test_a_desk_that_stops_is_said_and_the_page_stays(serve: Open, open_page: Open) -> None:
    served = serve()
    seen = open_page(served.link)
    seen.until(FILLED, "the plan")
    served.process.kill()
    seen.until("document.querySelector('[data-state=offline]') !== null", "the word that the desk is gone")
    words = seen.text("[data-state=offline]")
    assert "has not answered" in words
    assert seen.page.locator("[data-answer=burst]").count() == 1
    seen.page.get_by_role("button", name="feet and miles").click()
    assert "ft" in seen.text("[data-answer=burst] .amount")


def test_who_has_no_link_is_told_what_to_do(serve: Open, open_page: Open) -> None:
    served = serve()
    for link in (served.address, f"{served.address}/#enter={'x' * 32}"):
        seen = open_page(link)
        seen.until("document.querySelector('main [role=alert]') !== null", "the refusal")
        assert "link" in seen.text("main")
        assert "Where the steam goes" not in seen.text("body")


def test_links_are_made_used_and_ended(serve: Open, open_page: Open) -> None:
    served = serve()
    seen = open_page(served.link)
    seen.until(FILLED, "the plan")
    seen.page.get_by_role("button", name="People").click()
    dialog = seen.page.get_by_role("dialog")
    dialog.get_by_label("Name").fill("Aylen")
    dialog.get_by_label("Role").select_option("viewer")
    seen.page.get_by_role("button", name="Make a link").click()
    seen.until("document.querySelector('.link-shown img')?.naturalWidth > 100", "the QR code")
    link = re.search(r"http\S+#enter=[\w-]+", seen.text(".link-shown"))[0]
    viewer = open_page(link, 390, 844)
    viewer.until(FILLED, "the plan for the viewer")
    assert viewer.page.locator("[data-path='fill.climb']").get_attribute("readonly") is not None
    assert viewer.page.get_by_role("button", name="Add a box").count() == 0
    cookies = {one["name"]: one for one in viewer.page.context.cookies()}
    (cookie,) = cookies.values()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    seen.page.get_by_role("button", name="End the link").click()
    seen.until("document.querySelector('dialog table').innerText.includes('ended')", "the end of the link")
    viewer.page.reload()
    viewer.until("document.querySelector('main [role=alert]') !== null", "the viewer is out")
    assert seen.complaints == []


@pytest.mark.parametrize("look", ["day", "night"])
def test_axe_finds_nothing_serious(serve: Open, open_page: Open, look: str) -> None:
    served = serve()
    seen = open_page(served.link, bypass_csp=True)
    seen.until(FILLED, "the plan")
    seen.page.get_by_role("button", name=f"{look} look").click()
    for name in PAGES:
        seen.page.evaluate(f"location.hash = '#/{name}'")
        seen.until(f"document.querySelector('main.page-{name}') !== null", name)
        seen.page.wait_for_timeout(300)
        found = serious(seen)
        assert found == [], json.dumps(found, indent=1)


def test_over_plain_http_the_page_says_what_is_off(serve: Open, open_page: Open) -> None:
    """Browsers keep position and wake lock for secure pages; a page on loopback counts as one."""
    seen = open_page(serve().link)
    seen.until(FILLED, "the plan")
    assert seen.page.evaluate("window.isSecureContext") is True
    assert seen.page.locator("text=Plain http").count() == 0
    seen.page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false})")
    seen.page.reload()
    seen.until("document.querySelector('.notice')?.innerText.includes('Plain http')", "the warning")
