"""Every control of every page by the Tab key alone: reached, ringed and named; large on a phone; tables with heads."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from flown_desk import PATIENCE_S, serve_example, show

Open = Callable[..., Any]

READY = {
    "plan": "document.querySelector('[data-answer=burst] .amount') !== null",
    "window": "document.querySelectorAll('.opened .chart svg').length === 3"
    " && document.querySelector('.opened .map[data-ready=true]') !== null",
    "flight": "document.querySelector('.flight-map[data-drawn=true]') !== null",
    "briefing": "document.querySelector('.checks li') !== null",
    "watch": "document.querySelector('[data-panel=rehearsal] form') !== null",
    "chase": "document.querySelector('.chase-safety') !== null",
    "review": "document.querySelector('[data-state=empty]') !== null",
}
CONTROLS = """() => {
  const seen = one => one.checkVisibility() && one.getClientRects().length > 0;
  const wanted = 'a[href], button, input, select, textarea, summary, [tabindex="0"]';
  const all = [...document.querySelectorAll(wanted)].filter(one => seen(one) && !one.disabled);
  const radios = new Set();
  const stops = all.filter(one => {
    if (one.type !== 'radio') return true;
    if (!one.checked || radios.has(one.name)) return false;
    return radios.add(one.name);
  });
  stops.forEach((one, index) => { one.dataset.stop = index; });
  return stops.length;
}"""
"""The Tab stops of the page, numbered; of radio buttons with one name the chosen one is the stop."""
FOCUSED = """() => {
  const one = document.activeElement;
  if (one === document.body || one === null) return null;
  const drawn = one.matches('.strip input') ? one.nextElementSibling : one;
  const style = getComputedStyle(drawn);
  return {
    stop: one.dataset.stop ?? null,
    words: `${one.tagName} ${one.className} ${(one.textContent || one.ariaLabel || '').trim().slice(0, 30)}`,
    ring: style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth),
    cut: one.matches('canvas') && parseFloat(style.outlineOffset) >= 0,
  };
}"""
SMALL_TARGETS = """() => [...document.querySelectorAll('main button, main summary, main a.button, main select')]
  .map(one => [one, one.getBoundingClientRect()])
  .filter(([one, box]) => one.checkVisibility() && box.width > 0 && box.height < 47.9)
  .map(([one, box]) => `${one.outerHTML.slice(0, 80)}: ${box.width} x ${box.height}`)"""
NAMELESS = """() => [...document.querySelectorAll('button, a[href], summary')]
  .filter(one => one.checkVisibility() && !(one.textContent || one.ariaLabel || one.title).trim())
  .map(one => one.outerHTML)"""
UNTITLED = """() => [...document.querySelectorAll('table')].filter(one =>
  !one.caption && !one.querySelector('th') && !one.closest('[role=region][aria-label]')).map(one => one.textContent)"""


def bring(seen: Any, name: str) -> None:
    """Go to a page and wait until all of it is there."""
    show(seen, name)
    if name == "window":
        seen.until("document.querySelector('.cell') !== null", "the matrix", PATIENCE_S)
        seen.page.locator(".cell").first.press("Enter")
    seen.until(READY[name], name, PATIENCE_S)


def test_tab_reaches_every_control_and_shows_where_it_is(serve: Open, open_page: Open, tmp_path: Path) -> None:
    seen = open_page(serve_example(serve, tmp_path).link)
    for name in READY:
        bring(seen, name)
        assert seen.page.evaluate(NAMELESS) == [], name
        assert seen.page.evaluate(UNTITLED) == [], name
        seen.page.evaluate("() => { scrollTo(0, 0); document.activeElement?.blur() }")
        seen.page.evaluate("document.querySelector('.to-page').focus()")
        stops = seen.page.evaluate(CONTROLS)
        assert stops > 12, "the head alone has more"
        reached = set()
        for _ in range(stops + 20):
            here = seen.page.evaluate(FOCUSED)
            if here is None or here["stop"] in reached:
                break
            assert here["ring"] >= 2, f"{name}: no ring on {here['words']}"
            assert not here["cut"], f"{name}: the ring on {here['words']} lies outside of what cuts it off"
            reached.add(here["stop"])
            seen.page.keyboard.press("Tab")
        left = seen.page.evaluate(
            "reached => [...document.querySelectorAll('[data-stop]')]"
            ".filter(one => !reached.includes(one.dataset.stop)).map(one => one.outerHTML.slice(0, 120))",
            list(reached),
        )
        assert left == [], name
        seen.page.evaluate("document.querySelectorAll('[data-stop]').forEach(one => delete one.dataset.stop)")


def test_targets_on_a_phone_are_large(serve: Open, open_page: Open, tmp_path: Path) -> None:
    seen = open_page(serve_example(serve, tmp_path).link, 390, 844)
    for name in READY:
        bring(seen, name)
        assert seen.page.evaluate(SMALL_TARGETS) == [], name
        assert seen.page.evaluate("document.documentElement.scrollWidth") == 390, name
