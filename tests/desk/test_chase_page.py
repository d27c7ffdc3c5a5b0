"""Page Chase on a phone in a real browser: huge numbers, large targets, a map that follows, and what is old says so."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from accessible import serious
from flight_under_way import UnderWay, flight_under_way
from flown_desk import show

from pappus.store import FlightStore

Open = Callable[..., Any]

PHONE = {"width": 390, "height": 844}
TOLD = "document.querySelector('.chase-numbers') !== null"
SMALL_TARGETS = """() => [...document.querySelectorAll('.page-chase button, .page-chase a, .page-chase summary')]
  .map(one => [one.textContent || one.title, one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && (box.width < 48 || box.height < 48))
  .map(([words, box]) => `${words}: ${box.width} x ${box.height}`)"""


@pytest.fixture(scope="module")
def under_way(tmp_path_factory: pytest.TempPathFactory) -> Iterator[UnderWay]:
    with flight_under_way(tmp_path_factory.mktemp("chase")) as one:
        yield one


def number(text: str) -> float:
    found = re.search(r"[\u2212-]?\d+(\.\d+)?", text)
    assert found, text
    return float(found[0].replace("\u2212", "-"))


def shown(seen: Any) -> dict[str, str]:
    """The large values by their names."""
    read = "all => all.map(one => [one.querySelector('dt').textContent, one.querySelector('dd').textContent])"
    return dict(seen.page.locator(".chase-numbers > div").evaluate_all(read))


def test_numbers_stand_and_the_map_follows(under_way: UnderWay, open_page: Open) -> None:
    under_way.car_at(-37.40, -64.58)
    meeting = under_way.told("van")
    seen = open_page(under_way.link, **PHONE)
    show(seen, "chase")
    seen.until(TOLD, "directions")
    seen.page.get_by_role("button", name="van", exact=True).click()
    seen.until("document.querySelector('.chase').dataset.car === 'van'", "the car")
    values = shown(seen)
    kilometres = number(values["To the meeting point" if meeting.by_road else "Straight to the landing area"])
    metres = meeting.route.length_m if meeting.by_road else meeting.straight_m
    assert kilometres == pytest.approx(metres / 1000, abs=0.06)
    assert number(values["Bearing"]) == pytest.approx(meeting.bearing_deg % 360, abs=2.0)
    if meeting.by_road:
        assert number(values["Drive"]) == pytest.approx(meeting.route.drive_time_s / 60, abs=0.51)
    left = (under_way.flown.at(under_way.flown.done.truth.landed_s) - under_way.clock()).total_seconds() / 60
    assert number(values["Touchdown in"]) == pytest.approx(left, abs=25.0), "the touchdown that is to come"
    sizes = seen.page.locator(".chase-value").evaluate_all(
        "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(sizes) >= 44
    assert sizes.count(72) >= 2
    assert seen.page.evaluate(SMALL_TARGETS) == []
    seen.until("document.querySelector('.chase-map .map[data-ready=true]') !== null", "the map")
    for place in ((-37.35, -64.40), (-37.30, -64.20)):
        under_way.car_at(*place)
        here = f"{place[1]:.4f} {place[0]:.4f}"
        seen.until(f"document.querySelector('.chase-map').dataset.centre === '{here}'", f"the map at {here}")
    box = seen.page.locator(".chase-map canvas.maplibregl-canvas").bounding_box()
    seen.page.locator(".chase-map").scroll_into_view_if_needed()
    box = seen.page.locator(".chase-map canvas.maplibregl-canvas").bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    seen.page.mouse.move(*middle)
    seen.page.mouse.down()
    seen.page.mouse.move(middle[0] + 60, middle[1] + 40, steps=6)
    seen.page.mouse.up()
    seen.until("document.querySelector('.chase-map').dataset.following === 'false'", "the map is left where it is")
    assert seen.page.evaluate(SMALL_TARGETS) == []
    seen.page.get_by_role("button", name="Follow the car").click()
    seen.until(f"document.querySelector('.chase-map').dataset.centre === '{here}'", "the car again")
    assert seen.page.evaluate("document.documentElement.scrollWidth") == 390
    assert seen.complaints == []
    assert all(url.startswith((under_way.address, "data:", "blob:")) for url in seen.requests)


def test_this_phone_tells_where_the_car_is_and_keeps_awake(under_way: UnderWay, open_page: Open) -> None:
    seen = open_page(
        under_way.link, **PHONE, permissions=["geolocation"],
        geolocation={"latitude": -37.20, "longitude": -64.10, "accuracy": 9.0},
    )  # fmt: skip
    show(seen, "chase")
    seen.until("document.querySelector('.chase-phone[data-secure=true]') !== null", "what the phone can do")
    seen.page.get_by_role("button", name="pick-up", exact=True).click()
    seen.page.get_by_role("button", name="This phone tells where pick-up is").click()
    seen.until("document.querySelector('[data-sent=true]') !== null", "the position is taken")
    assert "±9 m" in seen.text("[data-sent=true]")
    with FlightStore.open(under_way.desk.store_path, read_only=True) as store:
        phones = [one for one in store.packets() if one.receiver.startswith("phone of ")]
    assert phones
    assert all(one.role == "vehicle" and b"pick-up" in one.raw for one in phones)
    meeting = under_way.told("pick-up")
    assert (meeting.car.latitude_deg, meeting.car.longitude_deg) == (-37.20, -64.10)
    seen.until("document.querySelector('.chase')?.dataset.car === 'pick-up' && " + TOLD, "directions for the phone")
    if seen.page.get_by_role("button", name="Keep the screen on").count():
        seen.page.get_by_role("button", name="Keep the screen on").click()
        words = "document.querySelector('.chase-switch [role=status]').textContent"
        said = seen.until(f"/stays on|is not held/.test({words}) && {words}", "what became of the screen")
        print(f"wake lock: {said}")
    assert seen.complaints == []


def test_over_plain_http_both_are_off_and_it_says_why(under_way: UnderWay, open_page: Open) -> None:
    """A page on loopback counts as secure, so that the browser is told here that this one is not."""
    seen = open_page(under_way.link, **PHONE)
    seen.page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false})")
    seen.page.reload()
    show(seen, "chase")
    seen.until("document.querySelector('.chase-phone[data-secure=false]') !== null", "the reason")
    words = seen.text(".chase-phone")
    assert "plain http" in words
    assert "Keep-awake and this phone's position are off" in words
    assert seen.page.locator(".chase-phone button").count() == 0


@pytest.mark.parametrize("look", ["day", "night"])
def test_axe_finds_nothing_serious_with_directions(under_way: UnderWay, open_page: Open, look: str) -> None:
    under_way.car_at(-37.40, -64.58)
    under_way.told("van")
    seen = open_page(under_way.link, **PHONE, bypass_csp=True)
    show(seen, "chase")
    seen.until(TOLD, "directions")
    seen.page.locator(".chase-tools").get_by_role("button", name=look).click()
    seen.until("document.querySelector('.chase-map .map[data-ready=true]') !== null", "the map")
    assert serious(seen) == []


def test_what_is_old_says_so(under_way: UnderWay, open_page: Open) -> None:
    under_way.car_at(-37.40, -64.58)
    under_way.told("van")
    seen = open_page(under_way.link, **PHONE)
    show(seen, "chase")
    seen.until(TOLD, "directions")
    under_way.clock.ahead(240.0)
    seen.until("document.querySelector('.chase-numbers').textContent.includes('old')", "an old balloon")
    seen.until("document.querySelector('.chase-old')?.textContent.includes('last seen')", "an old car")
    assert re.search(r"last seen \d+ min ago", seen.text(".chase-old"))
    assert number(shown(seen)["Balloon heard"]) >= 4
    under_way.day.stop("test")
    seen.until("document.querySelector('.page-chase').textContent.includes('watch is not running')", "no watch")
