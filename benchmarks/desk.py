"""How fast the desk is there, how it moves, and how big it is: ``python benchmarks/desk.py``.

The map is drawn without a graphics card, with the flights of the plan (1,000) computed before; a cold open is a browser
that has never seen the desk.
"""

from __future__ import annotations

import gzip
import os
import platform
import statistics
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "benchmarks")]

from at_desk import browser, served, show, until

OPENS = 9
MAP_READY = "document.querySelector('.flight-map[data-drawn=true]') !== null"
SINCE_OPENED = (
    "() => new Promise(done => { const look = () => document.querySelector('.flight-map[data-drawn=true]')"
    " ? done(performance.now()) : requestAnimationFrame(look); look() })"
)
FRAMES = (
    "() => new Promise(done => { const input = document.querySelector('.strip input'); let frames = 0;"
    " const from = Number(input.min), span = Number(input.max) - from;"
    " const began = performance.now(); const step = () => { frames += 1;"
    " input.value = String(from + span * ((frames % 200) / 200));"
    " input.dispatchEvent(new Event('input', {bubbles: true}));"
    " performance.now() - began < 4000 ? requestAnimationFrame(step) : done(frames / 4) }; step() })"
)


def map_and_scrubber() -> None:
    """Seconds from the address to the drawn map, and frames while the clock is dragged."""
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as (link, _), browser() as running:
        first = running.new_context(viewport={"width": 1440, "height": 900})
        page = first.new_page()
        page.goto(link)
        show(page, "flight")
        until(page, MAP_READY)
        frames = page.evaluate(FRAMES)
        session = first.storage_state()
        first.close()
        opened = []
        for _ in range(OPENS):
            # a new browser profile: nothing in its store but who the director is
            context = running.new_context(viewport={"width": 1440, "height": 900}, storage_state=session)
            page = context.new_page()
            page.goto(f"{link.partition('#')[0]}#/flight")
            opened.append(page.evaluate(SINCE_OPENED) / 1000.0)
            context.close()
    print(
        f"- map with 1,000 flights, everything on it drawn, after {statistics.median(opened):.2f} s (median of {OPENS} "
        f"cold opens; {min(opened):.2f} to {max(opened):.2f} s), without a graphics card"
    )
    print(f"- scrubbing: {frames:.0f} frames a second while map, chart and strip follow the clock")


def size() -> None:
    """What a browser loads when it sees every page."""
    files = [path for path in (ROOT / "src/pappus/web/static").rglob("*") if path.is_file()]
    code = [path for path in files if path.suffix != ".woff2"]
    packed = sum(len(gzip.compress(path.read_bytes(), 9)) for path in code)
    fonts = sum(path.stat().st_size for path in files if path.suffix == ".woff2")
    print(f"- bundle {packed / 1000:.0f} kB gzip in {len(code)} files, and {fonts / 1000:.0f} kB of fonts")


def main() -> None:
    load = os.getloadavg()[0]
    print(f"{platform.machine()}, {os.cpu_count()} cores, load of the machine at the start {load:.1f}")
    size()
    map_and_scrubber()


if __name__ == "__main__":
    main()
