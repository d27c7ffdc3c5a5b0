"""How fast flights are flown, and how well: ``make bench`` writes docs/performance.md.

    python benchmarks/flights.py

Everything is measured in one run on one invented forecast; ratios count, not seconds. Times are medians. Landings are
compared with those of tiny steps in time (Runge-Kutta, double precision).
"""

from __future__ import annotations

import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numba
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from drift_by_parcels import STEPS, seconds_to_drift

from columns import PRIOR, conditions, example_fill, example_train
from oracle.forecasts import forecast_field, hills
from oracle.plain_flights import fly_plainly
from oracle.plain_way import PlainWay
from oracle.tiny_steps import land_by_tiny_steps
from pappus.earth import distance_m
from pappus.plan import NODE_STEP_M
from pappus.trajectory import Conditions, Draws, flight_knots, fly, kernel_is_compiled, nominal_draw, sample_draws
from pappus.wind import draw_wind_error, member_mean

SIZES = (1, 100, 1_000, 10_000, 100_000)
MEMBERS = (1, 30)
PLAIN_WAY_FLIGHTS, REFERENCE_FLIGHTS, REFERENCE_STEP_S = 100, 300, 2.0
Row = list[str]


def work(members: int, flights: int) -> tuple[Conditions, Draws]:
    """Flights through a forecast of 21 x 21 points, 33 levels and 9 times over 601 x 601 points of hills."""
    train = example_train(fouled_chance=0.1, early_burst_chance=0.05)
    fill = example_fill(train)
    shared = conditions(forecast_field(members=members), train, step_m=NODE_STEP_M, longest_flight_s=8 * 3600.0 - 1.0)
    shared = replace(shared, ground=hills())
    nominal = fly(replace(shared, field=member_mean(shared.field)), nominal_draw(train, fill, PRIOR.flight))
    rng = np.random.default_rng(1)
    draws = sample_draws(
        train, fill, PRIOR.flight, flights=flights, members=members, scale_sd_n=0.3,
        nominal_top_msl_m=float(nominal.top_height_msl_m[0]),
        level_height_msl_m=shared.field.height_msl_m.mean(axis=(0, 1, 3, 4)), rng=rng,
    )  # fmt: skip
    knots = flight_knots(shared.field, nominal, PRIOR.wind)
    return shared, replace(draws, wind_error_m_s=draw_wind_error(knots, flights, rng, PRIOR.wind))


def first(draws: Draws, flights: int) -> Draws:
    return Draws(**{field.name: getattr(draws, field.name)[:flights] for field in fields(Draws)})


def median_s(do: Callable[[], Any], times: int) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        do()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def kernel_s(shared: Conditions, draws: Draws) -> tuple[float, float]:
    """Medians on one thread and on two, in turns, so that what else the machine does falls on both alike."""
    times = 15 if draws.flights <= 1_000 else 9 if draws.flights <= 10_000 else 5

    def fly_once() -> None:
        fly(shared, draws, heights_msl_m=(18_000.0,))

    spent: tuple[list[float], list[float]] = [], []
    for _ in range(times):
        for threads in (1, 2):
            numba.set_num_threads(threads)
            spent[threads - 1].append(median_s(fly_once, 1))
    return statistics.median(spent[0]), statistics.median(spent[1])


def off_by(latitude: Any, longitude: Any, reference: Any, flights: int) -> str:
    """Median, 99 % and largest distance from the reference."""
    apart = distance_m(latitude, longitude, reference.latitude_deg[:flights], reference.longitude_deg[:flights])
    return f"{np.median(apart):.1f} / {np.quantile(apart, 0.99):.1f} / {apart.max():.1f}"


def seconds(value: float, *, scaled: bool = False) -> str:
    text = f"{value:.2g}" if value < 100 else f"{value:,.0f}"
    return f"({text})" if scaled else text


def speeds(members: int) -> tuple[list[Row], str]:
    """Rows of the table, and the ratios at 10,000 flights."""
    shared, draws = work(members, SIZES[-1])
    laid_out = median_s(lambda: shared.laid_out, 1)
    few = first(draws, REFERENCE_FLIGHTS)
    reference = land_by_tiny_steps(shared, few, step_s=REFERENCE_STEP_S)
    rows: list[Row] = []
    at_10000: dict[str, float] = {}

    def row(name: str, times: list[str], off: str) -> None:
        rows.append([name, str(members), *times, off])

    way, landed = PlainWay(shared, draws), []
    each = median_s(lambda: landed.append(way.land(len(landed))), PLAIN_WAY_FLIGHTS)
    latitude, longitude, _ = np.array(landed).T
    name = f"solve_ivp + RegularGridInterpolator, {PLAIN_WAY_FLIGHTS} flights measured"
    times = [seconds(each * size, scaled=size > 1) for size in SIZES]
    row(name, times, off_by(latitude, longitude, reference, PLAIN_WAY_FLIGHTS))
    at_10000["the plain way"] = each * 10_000

    plain = [median_s(lambda size=size: fly_plainly(shared, first(draws, size)), 1) for size in SIZES[:4]]
    flown = fly_plainly(shared, few)
    times = [*map(seconds, plain), seconds(10 * plain[-1], scaled=True)]
    row("numpy over flights", times, off_by(flown.end_latitude_deg, flown.end_longitude_deg, reference, few.flights))
    at_10000["numpy over flights"] = plain[-1]

    if members == 1:
        try:
            drift = [seconds_to_drift(shared.field, size) for size in SIZES[:4]]
            times = [*map(seconds, drift), seconds(10 * drift[-1], scaled=True)]
            at_10000["parcels"] = drift[-1]
        except Exception as error:  # another program's failure is a line of the table, not the end of it
            times = [f"does not run: {type(error).__name__}"] + [""] * 4
        row(f"parcels, drift alone in {STEPS} steps", times, "not flights")

    flown = fly(shared, few)
    off = off_by(flown.end_latitude_deg, flown.end_longitude_deg, reference, few.flights)
    kernel = [kernel_s(shared, first(draws, size)) for size in SIZES]
    row("kernel, 1 thread", [seconds(one) for one, _ in kernel], off)
    row("kernel, 2 threads", [seconds(two) for _, two in kernel], off)
    one, two = kernel[3]
    ratios = ", ".join(f"{other / one:,.0f}x {name}" for name, other in at_10000.items())
    return rows, (
        f"- Members: {members}, N = 10,000: one thread flies {10_000 / one:,.0f} a second: {ratios}; two threads are "
        f"{one / two:.2f}x one. To lay the field out for the kernel takes {laid_out:.3f} s, once for all flights "
        f"({shared.laid_out[0].values.nbytes / 1e6:.0f} MB)."
    )


def first_run() -> list[str]:
    """Compile time into an empty cache, and the next start."""
    program = (
        "import sys, time; sys.path[:0] = sys.argv[1:]\n"
        "start = time.perf_counter()\n"
        "from columns import PRIOR, column_field, conditions, example_fill, example_train\n"
        "from pappus.trajectory import fly, nominal_draw\n"
        "train = example_train(); shared = conditions(column_field(), train)\n"
        "middle = time.perf_counter()\n"
        "fly(shared, nominal_draw(train, example_fill(train), PRIOR.flight))\n"
        "print(middle - start, time.perf_counter() - middle)\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "NUMBA_CACHE_DIR": folder}
        command = [sys.executable, "-c", program, str(ROOT / "src"), str(ROOT / "tests")]
        printed = [
            subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout
            for _ in range(4)
        ]
    runs = [[float(number) for number in text.split()] for text in printed]
    later = statistics.median(run[1] for run in runs[1:])
    return [
        f"- First flight on a machine, kernel compiled: {runs[0][1]:.1f} s; first flight of every later process: "
        f"{later:.2f} s (after {runs[-1][0]:.2f} s for Python, numpy and pappus themselves)."
    ]


def memory() -> list[str]:
    """Peak of a process of its own, for 100,000 flights through 30 members."""
    command = [sys.executable, str(Path(__file__)), "--memory"]
    found = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    return [
        f"- 100,000 flights, 30 members: the process has used {found[0]} MB at most once field, draws and wind "
        f"error are ready, and {found[1]} MB at most after the flights (tracks of 1,000 kept).",
    ]


def print_memory() -> None:
    shared, draws = work(30, 100_000)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    fly(shared, draws, heights_msl_m=(18_000.0,))
    print(before // 1024, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)


# without leave to reorder: the compiler would fold the sixteen steps into one
@numba.njit(fastmath={"contract"})
def _multiply_add(x: Any, rounds: int) -> None:
    for _ in range(rounds):
        for i in range(x.size):
            v = x[i]
            for _ in range(16):
                v = v * 0.999 + 0.5
            x[i] = v


def roofline() -> list[str]:
    """What one core of this machine can move and add, and how much of it a flight is."""
    numba.set_num_threads(1)
    source, target = np.ones(20_000_000), np.empty(20_000_000)
    bytes_s = 2 * source.nbytes / median_s(lambda: np.copyto(target, source), 7)
    x = np.ones(2_048)
    _multiply_add(x, 1)
    flops_s = 2 * 16 * x.size * 2_000 / median_s(lambda: _multiply_add(x, 2_000), 5)
    shared, draws = work(1, 10_000)
    flights = fly(shared, draws, tracks=draws.flights)
    nodes = float((~np.isnan(flights.track_time_s)).sum(axis=1).mean())
    each = kernel_s(shared, draws)[0] / draws.flights
    # counted in the source: weights and look-ups at eight corners, two Newton steps or a power, drift, the step
    flops, cube, error = nodes * 330.0, nodes * 8 * 32.0, nodes * 8.0
    return [
        f"- Roofline, one core: {flops_s / 1e9:.1f} GFLOP/s multiply-add, {bytes_s / 1e9:.1f} GB/s copied. A flight "
        f"has {nodes:.0f} nodes: some {flops / 1e3:.0f} kFLOP (counted by hand, +-30 %), {cube / 1e3:.0f} kB of cube "
        f"out of the caches, {error / 1e3:.1f} kB of wind error out of memory. That is "
        f"{100 * flops / each / flops_s:.0f} % of the first roof and {100 * error / each / bytes_s:.1f} % of the "
        "second: neither binds. Sampled (perf, no hardware counters): half of the time goes into the look into the "
        "cube, flight by flight, where some 350 instructions a node follow each other; the laws, many lanes at once, "
        "take a tenth.",
    ]


def main() -> None:
    if "--memory" in sys.argv:
        print_memory()
        return
    started = time.perf_counter()
    compiled, busy_before = kernel_is_compiled(), os.getloadavg()[0]
    found = [speeds(members) for members in MEMBERS]
    head = ["method", "members", *(f"N = {size:,}" for size in SIZES), "landing error, m: median / 99 % / max"]
    lines = [
        "# Performance",
        "",
        "Written by `make bench`; not edited by hand. Ratios count, not seconds: the machine is shared.",
        "",
        f"- {datetime.now(UTC):%Y-%m-%d %H:%M} UTC, {platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}, numpy {np.__version__}, numba {numba.__version__}; kernel "
        f"{'already' if compiled else 'not yet'} compiled at the start",
        f"- load of the machine in the minute before: {busy_before:.1f} on {os.cpu_count()} cores; other work "
        "takes the second core from the two threads first",
        "- 21 x 21 points, 33 levels, 9 times, wind error on every node, 601 x 601 points of terrain, early bursts and",
        f"  fouled canopies; launch to landing, about 9,100 s; levels cut to {NODE_STEP_M:.0f} m",
        f"- errors against Runge-Kutta in steps of {REFERENCE_STEP_S:g} s, {REFERENCE_FLIGHTS} flights",
        "- numbers in brackets are scaled",
        "",
        "Time in seconds for N flights:",
        "",
        "| " + " | ".join(head) + " |",
        "|" + "---|" * len(head),
        *("| " + " | ".join(row) + " |" for rows, _ in found for row in rows),
        "",
        *(note for _, note in found),
        *first_run(),
        *memory(),
        *roofline(),
        f"- The whole run took {(time.perf_counter() - started) / 60:.1f} minutes.",
        "",
    ]
    text = "\n".join(lines)
    (ROOT / "docs" / "performance.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
