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
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from oracle.centre_arms import ARMS, UNSEEN
from oracle.centre_faults import CENTRES, Arm, Outcome, outcome
from oracle.centre_measure import measure

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
    """A line a fault."""
    lines = [f"{'fault':38}{''.join(f'{end:>11}' for end in ENDS)}"]
    for name, outcomes in found.items():
        ends = Counter(one.end for one in outcomes)
        lines.append(f"{name:38}{''.join(f'{ends[end]:>11}' for end in ENDS)}")
    ends = Counter(one.end for outcomes in found.values() for one in outcomes)
    lines.append(f"{'together':38}{''.join(f'{ends[end]:>11}' for end in ENDS)}")
    return lines


def main() -> int:
    """Print the tables."""
    given = [int(text) for text in sys.argv[1:3]]
    count, seed = given[0] if given else 1000, given[1] if len(given) > 1 else 1
    start = time.perf_counter()
    found = fault_runs(count, seed)
    print(f"{count} fetches, seed {seed}, {time.perf_counter() - start:.0f} s")
    print("\n".join(table(found)))
    wrong = [(name, one.message) for name, outcomes in found.items() for one in outcomes if one.end == "wrong"]
    for name, message in wrong:
        print(f"WRONG: {name}: {message}")
    print("\nknown limit: values are packed without a checksum")
    print("\n".join(table(fault_runs(max(1, count // 10), seed, (UNSEEN,)))[1:2]))
    cost = measure(members=20, hours=48, step_deg=5.0)
    print(
        f"\nthree sites, 48 h, 20 members: {cost.files} files, {cost.moved_bytes / 1e6:.0f} MB moved of "
        f"{cost.whole_bytes / 1e6:.0f} MB ({100.0 * cost.moved_bytes / cost.whole_bytes:.0f} %), "
        f"{cost.disk_bytes / 1e6:.1f} MB kept, {cost.peak_bytes / 1e6:.0f} MB of memory at the most"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
