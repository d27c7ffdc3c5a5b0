"""Make the pictures in ``docs/pictures``, from the built-in example: ``make pictures``.

Those of README.md come from the briefing; every page of the desk is shown in three sizes of window, the flight day
during and after a rehearsal.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "benchmarks"), str(ROOT / "tests" / "desk")]

from at_desk import browser, served, show, until
from rehearsal_form import start_rehearsal

SHOWN = ("map.png", "height-time.png", "wind-profile.png")
SIZES = ((1440, 900), (1024, 768), (390, 844))
COLOURS = 128
READY = {
    "plan": "document.querySelector('[data-answer=burst] .amount') !== null",
    "window": "document.querySelector('.opened .map[data-ready=true]') !== null"
    " && document.querySelectorAll('.opened .chart svg').length === 3",
    "flight": "document.querySelector('.flight-map[data-drawn=true]') !== null",
    "briefing": "document.querySelector('.checks li') !== null",
}
SPEED = 40
"""Times life: the descent then lasts about as long as six pages take."""
SETTLES_MS = 1500
"""For tiles and charts that follow the data."""


def folder_of(name: str) -> Path:
    """Where a picture goes."""
    return ROOT / "docs" / "pictures" / name


def of_the_briefing() -> None:
    """Fly the example in a folder of its own and keep its pictures."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pappus.cli", "demo", "trial"], cwd=folder, check=True, stdout=subprocess.DEVNULL
        )
        for name in SHOWN:
            shutil.copy(Path(folder) / "trial" / "briefing" / name, folder_of(name))


def keep(page: Any, name: str) -> None:
    """The window as it stands, in few colours: the pictures are part of the repository."""
    page.wait_for_timeout(SETTLES_MS)
    shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    shot.quantize(COLOURS, dither=Image.Dither.NONE).save(folder_of(f"desk-{name}.png"), optimize=True)


def each_size(running: Any, link: str, session: Any, work: Callable[[Any, str], None]) -> None:
    """Do something with a page in every size."""
    for width, height in SIZES:
        context = running.new_context(viewport={"width": width, "height": height}, storage_state=session)
        page = context.new_page()
        page.goto(link)
        work(page, f"{width}x{height}")
        context.close()


def before_the_flight(page: Any, size: str) -> None:
    """The pages that need no flight day."""
    for name, ready in READY.items():
        show(page, name)
        if name == "window":
            until(page, "document.querySelector('.matrix-list .cell, .matrix .cell') !== null")
            page.locator(".cell").first.click()
        until(page, ready)
        page.evaluate("scrollTo(0, 0)")
        keep(page, f"{name}-{size}")


def on_the_flight_day(running: Any, link: str, session: Any) -> None:
    """Watch and Chase while a rehearsed balloon comes down, Watch and Review when it is over."""
    context = running.new_context(storage_state=session)
    page = context.new_page()
    page.goto(link)
    show(page, "watch")
    start_rehearsal(page, SPEED, 4, "low power")
    until(page, "document.querySelector('.watch-phase')?.dataset.phase === 'descent'", 900.0)

    def coming_down(page: Any, size: str) -> None:
        for name in ("watch", "chase"):
            show(page, name)
            until(page, f"document.querySelector('.{name} .map[data-ready=true]') !== null")
            keep(page, f"{name}-{size}")

    def over(page: Any, size: str) -> None:
        show(page, "watch")
        until(page, "document.querySelector('[data-panel=score] a') !== null")
        keep(page, f"watch-score-{size}")
        page.locator("[data-panel=score] a", has_text="Open the review").click()
        until(page, "document.querySelector('.review .map[data-ready=true]') !== null")
        keep(page, f"review-{size}")

    each_size(running, link, session, coming_down)
    until(page, "document.querySelector('[data-rehearsal=over]') !== null", 900.0)
    each_size(running, link, session, over)
    context.close()


def main() -> None:
    """All of them."""
    of_the_briefing()
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as (link, _), browser() as running:
        first = running.new_context()
        page = first.new_page()
        page.goto(link)
        show(page, "plan")
        until(page, READY["plan"])
        session = first.storage_state()
        first.close()
        link = link.partition("#")[0]
        each_size(running, link, session, before_the_flight)
        on_the_flight_day(running, link, session)


if __name__ == "__main__":
    main()
