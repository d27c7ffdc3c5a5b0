"""The launch window: the ensemble flown for every launch time, site, fill and balloon, each cell judged."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from pappus.decision import Answer, GoLimits
from pappus.errors import BadInput, Finding
from pappus.plan import Plan
from pappus.preflight.window._around import Around
from pappus.preflight.window._cell import LaunchCell
from pappus.preflight.window._fly import BLOCK, WindowFlights
from pappus.preflight.window._options import LaunchOptions
from pappus.preflight.window._site import SiteCells
from pappus.preflight.winds import Winds
from pappus.sources import Prior
from pappus.trajectory import flight_threads

FLIGHTS = 500
"""In each cell: enough to rank cells; the one that is chosen is flown again with as many as its limits ask for."""
Step = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class LaunchWindow:
    """All cells, in the order of sites, launch times, balloons, fills."""

    options: LaunchOptions
    cells: tuple[LaunchCell, ...]
    limits: GoLimits
    notes: tuple[str, ...]
    """What no cell knows, one sentence each."""
    seconds: float
    """How long it took."""

    @cached_property
    def _by_name(self) -> dict[tuple[str, datetime, str, str], LaunchCell]:
        return {
            (one.option.site.name, one.option.release, one.option.fill_name, one.option.balloon_name): one
            for one in self.cells
        }

    def cell(self, site_name: str, release: datetime, fill_name: str, balloon_name: str) -> LaunchCell:
        """One of them. Raises BadInput when the window has no such cell."""
        found = self._by_name.get((site_name, release, fill_name, balloon_name))
        if found is None:
            asked = f"{site_name}, {release:%Y-%m-%d %H:%MZ}, {fill_name}, {balloon_name}"
            raise BadInput(Finding("cell", asked, "the window has no such cell", "Choose one of its axes."))
        return found

    @property
    def flights(self) -> int:
        """Flights of all cells."""
        return sum(cell.flights for cell in self.cells)

    def count(self, answer: Answer) -> int:
        """Cells with that answer."""
        return sum(cell.decision.answer is answer for cell in self.cells)


def fly_window(
    plan: Plan,
    winds: Sequence[Winds],
    prior: Prior,
    options: LaunchOptions,
    limits: GoLimits,
    *,
    now: datetime,
    around: Around | None = None,
    flights: int = FLIGHTS,
    step: Step = lambda done, total: None,
) -> LaunchWindow:
    """Fly every option and judge it.

    All cells draw the same random numbers, so that two of them differ by what was chosen and not by chance; a cell has
    the flights that ``brief`` has for it with as many flights and the same seed, as far as both cut the winds alike.
    ``now`` dates the forecasts. ``step`` is told how many cells are done, of how many. A cell that cannot be flown is
    a cell that says why.
    """
    started = time.perf_counter()
    around = Around() if around is None else around
    sized = replace(plan, ensemble=replace(plan.ensemble, flights=flights))
    cells: list[LaunchCell] = []
    with flight_threads() as threads:
        flyer = WindowFlights(
            sized, winds, prior, sites=options.sites, first=min(options.releases), last=max(options.releases),
            terrain=around.surroundings.terrain, threads=threads,
        )  # fmt: skip
        tracks = flights if around.tracks_needed and flights <= BLOCK else 0
        for site in options.sites:
            made = SiteCells(winds, around, site, options.releases, now)
            for index, release in enumerate(options.releases, 1):
                at_once = list(options.at(site, release))
                for flown in flyer.fly_at(site, release, at_once, tracks=tracks):
                    made.take(flown)
                step(len(cells) + index * len(at_once), options.cells)
            cells += made.decide(limits)
    return LaunchWindow(options, tuple(cells), limits, around.notes, time.perf_counter() - started)
