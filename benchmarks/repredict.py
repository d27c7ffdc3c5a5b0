"""How long a re-prediction takes, from an estimate to the landing area with 2,000 flights, while packets come in.

Run with ``python benchmarks/repredict.py [repeats]``; ``make evidence`` calls ``measured`` and ``speed_page``. Ten
stations send five packets a second each through the estimator in another thread meanwhile. All flights are invented.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "benchmarks")]

from rehearsal_study import heard, model_of, moments_of, truth_of

from pappus.inflight import repredict
from pappus.tracking import Estimator, Fix, received
from pappus.trajectory import flight_threads

FLIGHTS = 2_000
STATIONS, PACKETS_PER_S = 10, 5
SEED = 1001


@dataclass(frozen=True)
class Taken:
    """Seconds of each repeat at one moment."""

    moment: str
    seconds: tuple[float, ...]

    def quantile(self, share: float) -> float:
        return float(np.quantile(self.seconds, share))


@contextmanager
def packets_coming_in() -> Iterator[None]:
    """An estimator that is fed by ten stations meanwhile."""
    stop = threading.Event()
    model = model_of(False)

    def feed() -> None:
        estimator, start = Estimator(), time.perf_counter()
        count = 0
        while not stop.is_set():
            due = int((time.perf_counter() - start) * STATIONS * PACKETS_PER_S)
            for number in range(count, due):
                tick, station = divmod(number, STATIONS)
                when = model.epoch + timedelta(seconds=tick / PACKETS_PER_S)
                fix = Fix(tracker="BALLOON-1", time_utc=when, time_quality="full", latitude_deg=-37.0,
                          longitude_deg=-64.0 + 1e-5 * tick, height_msl_m=1000.0 + tick, height_ellipsoid_m=None,
                          fix_quality="three-dimensional", checked=True)  # fmt: skip
                estimator.take(received(f"station {station}", tick, when, "json", str(tick).encode()), (fix,))
            if due > count:
                estimator.estimate()
            count = due
            stop.wait(0.05)

    thread = threading.Thread(target=feed, daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()


def measured(repeats: int = 15, flights: int = FLIGHTS) -> list[Taken]:
    """Times at each moment of one flight; the first call of each is thrown away."""
    model = model_of(False)
    truth = next(one for one in (truth_of(model, False, SEED + k) for k in range(20)) if one is not None)
    moments = moments_of(truth)
    order = sorted(moments, key=lambda name: moments[name])
    estimates = heard(model, truth, list(moments.values()), SEED)
    rows = []
    with flight_threads() as threads, packets_coming_in():
        for name, estimate in zip(order, estimates, strict=True):
            now = model.epoch + timedelta(seconds=moments[name])
            seconds = []
            for repeat in range(repeats + 1):
                start = time.perf_counter()
                repredict(model, replace(estimate), now, flights=flights, seed=repeat, threads=threads)
                seconds.append(time.perf_counter() - start)
            rows.append(Taken(name, tuple(seconds[1:])))
    return rows


def speed_page(rows: list[Taken]) -> list[str]:
    """A table and one sentence."""
    every = [second for row in rows for second in row.seconds]
    lines = ["| moment | p50 s | p95 s |", "|--|--|--|"]
    lines += [f"| {row.moment} | {row.quantile(0.5):.2f} | {row.quantile(0.95):.2f} |" for row in rows]
    return [
        *lines,
        "",
        f"Packet to landing area with {FLIGHTS:,} flights while {STATIONS} stations send {PACKETS_PER_S} packets a "
        f"second each: p50 {np.quantile(every, 0.5):.2f} s, p95 {np.quantile(every, 0.95):.2f} s "
        f"({len(every)} predictions).",
        "",
    ]


if __name__ == "__main__":
    print("\n".join(speed_page(measured(int(sys.argv[1]) if len(sys.argv) > 1 else 15))))
