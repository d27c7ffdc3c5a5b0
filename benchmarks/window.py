"""How long the launch window takes, and how that compares with the plain way: 24 times, 3 sites, 4 fills, 500 flights.

    python benchmarks/window.py [RUNS]

Whole answers are timed: winds laid out, fills solved, flights drawn and flown, every cell judged. The plain way is
solve_ivp with RegularGridInterpolator, one flight at a time, measured on a sample of flights of one cell; it only
lands them, with fill and draws made beforehand, and gets no share of the judging.
"""

from __future__ import annotations

import os
import platform
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

# as the command line has it, and before numpy is loaded
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from columns import EPOCH, PRIOR
from oracle.forecasts import forecast_field, hills
from oracle.plain_way import PlainWay
from pappus.decision import GoLimits
from pappus.flight_train import FillWish
from pappus.hazard import Surroundings
from pappus.plan import Plan, example_plan_text, load_plan, under
from pappus.preflight import Around, LaunchOptions, LaunchWindow, Winds, fly_window
from pappus.preflight.winds import fly_all, prepare

TIMES, FLIGHTS, RUNS = 24, 500, 5
CLIMBS_M_S = (4.5, 5.0, 5.5, 6.0)
SAMPLE = 10
MEMBERS = (1, 21)


@dataclass(frozen=True)
class Measured:
    """Seconds are medians over the runs."""

    members: int
    cells: int
    flights: int
    first_s: float
    """With the kernel at hand, in a process that has not flown yet."""
    window_s: float
    slowest_s: float
    cpu_s: float
    plain_flight_s: float
    """Processor time of one flight the plain way."""

    @property
    def ratio(self) -> float:
        """How many times the processor time the same number of flights takes the plain way: whatever else runs."""
        return self.plain_flight_s * self.flights / self.cpu_s


def plan() -> Plan:
    """The built-in example."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "flight.toml"
        path.write_text(example_plan_text(), encoding="utf-8")
        return load_plan(path)


def options(example: Plan) -> LaunchOptions:
    """A day of launch times, three sites, four fills."""
    third = replace(example.sites[0], name="C", latitude_deg=-37.9, longitude_deg=-65.2)
    return LaunchOptions(
        tuple(EPOCH + timedelta(hours=hour) for hour in range(TIMES)),
        (*example.sites, third),
        tuple((f"{climb:g} m/s", FillWish("climb", climb)) for climb in CLIMBS_M_S),
        (("own", example.flight_train.envelope),),
    )


def forecast(members: int) -> Winds:
    """A run of 31 hours, hourly for one member and three-hourly for more, as centres publish them."""
    step = 1 if members == 1 else 3
    field = forecast_field(members=members, times=30 // step + 2)
    time_s = 3600.0 * step * np.arange(len(field.time_s))
    coverage = replace(field.coverage, last_valid=EPOCH + timedelta(seconds=float(time_s[-1])))
    return Winds(replace(field, time_s=time_s, coverage=coverage))


def flown(example: Plan, winds: Winds) -> LaunchWindow:
    around = Around(Surroundings(terrain=(hills(),)))
    return fly_window(example, [winds], PRIOR, options(example), GoLimits(), now=EPOCH, around=around, flights=FLIGHTS)


def plain_flight_s(example: Plan, winds: Winds) -> float:
    """Median processor seconds to land one flight of a cell in the middle of the window by scipy."""
    sized = under(replace(example, ensemble=replace(example.ensemble, flights=FLIGHTS)), PRIOR.flight)
    chosen = options(example)
    window = fly_window(
        example, [winds], PRIOR,
        replace(chosen, releases=chosen.releases[12:13], sites=chosen.sites[:1], fills=chosen.fills[1:2]),
        GoLimits(), now=EPOCH, flights=SAMPLE,
    )  # fmt: skip
    fill = window.cells[0].fill
    assert fill is not None
    run = prepare(sized, winds, chosen.sites[0], chosen.releases[12], fill, (hills(),), PRIOR)
    draws = fly_all(sized, [run], fill, 0.5, PRIOR).first_draws
    way, spent = PlainWay(run.conditions, draws), []
    for row in range(SAMPLE):
        start = time.process_time()
        way.land(row)
        spent.append(time.process_time() - start)
    return statistics.median(spent)


def measure(members: int, runs: int = RUNS) -> Measured:
    """Time the window; also what ``benchmarks/evidence.py`` calls."""
    example, winds = plan(), forecast(members)
    spent, cpu = [], []
    for _ in range(runs + 1):
        before, start = time.process_time(), time.perf_counter()
        window = flown(example, winds)
        spent.append(time.perf_counter() - start)
        cpu.append(time.process_time() - before)
    return Measured(
        members, len(window.cells), window.flights, spent[0], statistics.median(spent[1:]), max(spent[1:]),
        statistics.median(cpu[1:]), plain_flight_s(example, winds),
    )  # fmt: skip


def said(found: Measured) -> list[str]:
    """Lines for a reader."""
    return [
        f"{found.members} member{'s' * (found.members > 1)}: {found.cells} cells, {found.flights:,} flights in "
        f"{found.window_s:.1f} s (median; first {found.first_s:.1f} s, slowest later {found.slowest_s:.1f} s; "
        f"{found.cpu_s:.1f} s of processor), everything included",
        f"  the plain way takes {found.plain_flight_s:.2f} s of processor a flight ({SAMPLE} measured), "
        f"{found.ratio:,.0f} times as much for as many flights, and then has only landed them",
    ]


def report(runs: int = RUNS) -> list[str]:
    """All lines."""
    head = (
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before: {TIMES} times x 3 sites x {len(CLIMBS_M_S)} "
        f"fills x {FLIGHTS} flights; Python {platform.python_version()}"
    )
    return [head, *(line for members in MEMBERS for line in said(measure(members, runs)))]


if __name__ == "__main__":
    print("\n".join(report(int(sys.argv[1]) if len(sys.argv) > 1 else RUNS)))
