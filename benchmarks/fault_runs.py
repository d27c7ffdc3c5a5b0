"""Fetches from a loopback centre that misbehaves: what came of each fault, how little is moved, how much memory.

    python benchmarks/fault_runs.py [N] [SEED]

N fetches (1000) go through the list of faults in turn, each with a random centre, place and number of strikes. What
lies on disk afterwards is compared with what the centre has, value by value, by ecCodes; a refused fetch is tried again
against a sound centre and has to go on from what was kept. The exit code is 1 when wrong data was ever accepted.
"""

from __future__ import annotations

import sys
import tempfile
import time
import tracemalloc
from collections import Counter
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from oracle.centre_arms import ARMS, UNSEEN
from oracle.centre_faults import CENTRES, NOW, RUN, Arm, Outcome, outcome
from oracle.centre_runs import Run
from oracle.centre_server import CentreServer
from pappus.sources._centre_fetch import fetch
from pappus.sources._centre_plan import plan_fetch
from pappus.sources._centre_wish import FetchWish
from pappus.sources._download_rules import DownloadRules

ENDS = ("recovered", "refused", "gap said", "wrong")


def fault_runs(count: int, seed: int, arms: Sequence[Arm] = ARMS) -> dict[str, list[Outcome]]:
    """Outcomes by the name of the fault; run ``number`` is the same whatever the count."""
    found: dict[str, list[Outcome]] = {arm.name: [] for arm in arms}
    for number in range(count):
        arm = arms[number % len(arms)]
        rng = np.random.default_rng([seed, number])
        with tempfile.TemporaryDirectory() as folder:
            centre = CENTRES[int(rng.integers(len(CENTRES)))]
            found[arm.name].append(outcome(centre, arm, Path(folder), rng))
    return found


def table(found: dict[str, list[Outcome]]) -> list[str]:
    """A line a fault, and a message of one that was refused."""
    lines = [f"{'fault':38}{''.join(f'{end:>11}' for end in ENDS)}"]
    for name, outcomes in found.items():
        ends = Counter(one.end for one in outcomes)
        lines.append(f"{name:38}{''.join(f'{ends[end]:>11}' for end in ENDS)}")
    ends = Counter(one.end for outcomes in found.values() for one in outcomes)
    lines.append(f"{'together':38}{''.join(f'{ends[end]:>11}' for end in ENDS)}")
    return lines


class Measure(NamedTuple):
    """What one fetch costs."""

    files: int
    moved_bytes: int
    whole_bytes: int
    sent_bytes: int
    """By the server, headers of HTTP not counted."""
    disk_bytes: int
    peak_bytes: int
    """Of memory that Python and numpy took during the fetch."""
    seconds: float


def measure(members: int = 20, hours: int = 48, step_deg: float = 2.5) -> Measure:
    """Three sites some hundred kilometres apart, ``hours`` of releases and flights, an ensemble in two files a step.

    The files hold 31 levels with four wanted fields and six others each, and fields near the ground. The grid is
    coarser than that of the centre; so that the ratio is that of large files, the gap rule is made smaller alike.
    """
    levels = (
        *(1000, 975, 950, 925, 900, 850, 800, 750, 700, 650, 600, 550, 500, 450, 400, 350, 300, 250, 200, 150, 100),
        *(70, 50, 40, 30, 20, 15, 10, 7, 5, 3),
    )
    points = (180.0 / step_deg + 1.0) * 360.0 / step_deg
    rules = DownloadRules(merge_gap_bytes=round(DownloadRules().merge_gap_bytes * points / (361 * 720)))
    steps = tuple(range(3, 3 + hours + 1, 3))
    run = Run("gefs", RUN, steps, range(members), step_deg=step_deg, levels_hpa=levels, decoys=6)
    start = RUN + timedelta(hours=3)
    sites = np.array([(46.1, 6.2), (47.4, 9.1), (44.9, 11.3)])
    (south, west), (north, east) = sites.min(axis=0) - 3.0, sites.max(axis=0) + 3.0
    wish = FetchWish(
        "gefs", (float(south), float(north), float(west), float(east)), start, start + timedelta(hours=hours - 6),
        6.0 * 3600.0, tuple(range(members)), run=RUN,
    )  # fmt: skip
    with CentreServer([run]) as server, tempfile.TemporaryDirectory() as folder:
        begin = time.perf_counter()
        plan = plan_fetch(wish, base_url=server.url, now=lambda: NOW, rules=rules)
        tracemalloc.start()
        fetched = fetch(plan, folder, rules=rules)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        disk = sum(path.stat().st_size for path in fetched.paths)
        seconds = time.perf_counter() - begin
        return Measure(
            len(fetched.files), fetched.moved_bytes, fetched.whole_bytes, server.sent_bytes, disk, peak, seconds
        )


def main() -> int:
    """Print the tables."""
    count, seed = (int(text) for text in [*sys.argv[1:3], "1000", "1"][: max(2, len(sys.argv) - 1)][:2])
    start = time.perf_counter()
    found = fault_runs(count, seed)
    print(f"{count} fetches, seed {seed}, {time.perf_counter() - start:.0f} s")
    print("\n".join(table(found)))
    wrong = [(name, one.message) for name, outcomes in found.items() for one in outcomes if one.end == "wrong"]
    for name, message in wrong:
        print(f"WRONG: {name}: {message}")
    print("\nknown limit: values are packed without a checksum")
    print("\n".join(table(fault_runs(max(1, count // 10), seed, (UNSEEN,)))[1:2]))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
