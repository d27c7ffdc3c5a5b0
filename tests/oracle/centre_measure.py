"""How much a fetch moves, keeps and holds in memory, against a loopback ensemble."""

from __future__ import annotations

import tempfile
import time
import tracemalloc
from datetime import timedelta
from typing import NamedTuple

import numpy as np

from oracle.centre_faults import NOW, RUN
from oracle.centre_runs import Run
from oracle.centre_server import CentreServer
from pappus.sources import DownloadRules, FetchWish, fetch, plan_fetch

LEVELS_HPA = (
    *(1000, 975, 950, 925, 900, 850, 800, 750, 700, 650, 600, 550, 500, 450, 400, 350, 300, 250, 200, 150, 100),
    *(70, 50, 40, 30, 20, 15, 10, 7, 5, 3),
)
SITES = np.array([(46.1, 6.2), (47.4, 9.1), (44.9, 11.3)])


class Measure(NamedTuple):
    """What one fetch costs."""

    files: int
    moved_bytes: int
    whole_bytes: int
    sent_bytes: int
    """By the server, index files among them, headers of HTTP not."""
    disk_bytes: int
    peak_bytes: int
    """Of the memory that Python and numpy took while the files were moved, those of the server among it."""
    seconds: float


def measure(members: int, hours: int, step_deg: float) -> Measure:
    """Three sites some hundred kilometres apart, ``hours`` of releases and flights, an ensemble in two files a step.

    The files hold 31 levels with four wanted fields and six others each, and fields near the ground. The grid is
    coarser than that of the centre; so that the ratio is that of large files, the gap rule is made smaller alike.
    """
    points = (180.0 / step_deg + 1.0) * 360.0 / step_deg
    rules = DownloadRules(
        merge_gap_bytes=round(DownloadRules().merge_gap_bytes * points / (361 * 720)), reread_share=0.0
    )
    steps = tuple(range(3, 3 + hours + 1, 3))
    run = Run("gefs", RUN, steps, range(members), step_deg=step_deg, levels_hpa=LEVELS_HPA, decoys=6)
    start = RUN + timedelta(hours=3)
    (south, west), (north, east) = SITES.min(axis=0) - 3.0, SITES.max(axis=0) + 3.0
    area = (float(south), float(north), float(west), float(east))
    last = start + timedelta(hours=hours - 6)
    wish = FetchWish("gefs", area, start, last, 6.0 * 3600.0, tuple(range(members)), run=RUN)
    with CentreServer([run]) as server, tempfile.TemporaryDirectory() as folder:
        begin = time.perf_counter()
        plan = plan_fetch(wish, base_url=server.url, now=lambda: NOW, rules=rules)
        tracemalloc.start()
        fetched = fetch(plan, folder, rules=rules)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        disk = sum(path.stat().st_size for path in fetched.paths)
        seconds = time.perf_counter() - begin
    moved, whole = fetched.moved_bytes, fetched.whole_bytes
    return Measure(len(fetched.files), moved, whole, server.sent_bytes, disk, peak, seconds)
