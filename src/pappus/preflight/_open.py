"""Open one cell of the window: flown again with as many flights as its limits ask for, with its landing area."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from pappus.decision import what_would_change
from pappus.ground import PlaceIndex
from pappus.plan import Plan
from pappus.preflight._brief import brief
from pappus.preflight.window import (
    Around,
    LaunchCell,
    LaunchOptions,
    LaunchWindow,
    OpenedCell,
    better_neighbours,
    flights_wanted,
    fly_window,
    with_balloon,
)
from pappus.preflight.winds import Winds
from pappus.sources import Prior

MOST_FLIGHTS = 20_000
"""More take a minute on a small laptop, and a chance that they leave open lies at its limit."""
ROUNDS = 3


def open_cell(
    window: LaunchWindow,
    cell: LaunchCell,
    plan: Plan,
    winds: Sequence[Winds],
    prior: Prior,
    *,
    now: datetime,
    around: Around | None = None,
    places: PlaceIndex | None = None,
    most_flights: int = MOST_FLIGHTS,
    step: Callable[[str], None] = lambda _: None,
) -> OpenedCell:
    """Fly a cell again, at least as often as the plan says, until its flights decide its limits or are too many.

    A chance of none in n flights is known to be below some 3.7/n only, so a limit below that is never met by n.
    """
    around, option = around or Around(), cell.option
    alone = LaunchOptions(
        (option.release,), (option.site,), ((option.fill_name, option.fill),), ((option.balloon_name, option.balloon),)
    )
    mends, others = what_would_change(cell.decision), better_neighbours(window, cell)
    if not cell.flights:
        return OpenedCell(cell, None, mends, others)
    flights = max(plan.ensemble.flights, cell.flights)
    for _ in range(ROUNDS):
        flights = max(flights, min(flights_wanted(cell, window.limits), most_flights))
        if flights <= cell.flights:
            break
        step(f"flying it {flights:,} times")
        cell = fly_window(plan, winds, prior, alone, window.limits, now=now, around=around, flights=flights).cells[0]
    step("landing area")
    sized = replace(with_balloon(plan, option.balloon), ensemble=replace(plan.ensemble, flights=cell.flights))
    sized = replace(sized, sites=(option.site,))
    briefing = brief(
        sized, winds, places, prior, release=option.release, fill_wish=option.fill,
        terrain=around.surroundings.terrain, step=step,
    )  # fmt: skip
    return OpenedCell(cell, briefing, what_would_change(cell.decision), others)
