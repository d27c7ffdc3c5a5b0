"""Open one cell of the window: flown again with as many flights as its limits ask for, with its landing area."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from pappus.decision import (
    Answer,
    Fact,
    GoLimits,
    Mend,
    flights_needed,
    what_would_change,
)
from pappus.ground import PlaceIndex
from pappus.landing import Share
from pappus.plan import Plan
from pappus.preflight._brief import brief
from pappus.preflight._briefing import Briefing
from pappus.preflight._gather import Winds
from pappus.preflight._window import LaunchWindow, fly_window
from pappus.preflight._window_around import Around
from pappus.preflight._window_cell import LaunchCell
from pappus.preflight._window_options import LaunchOptions, with_balloon
from pappus.sources import Prior

MOST_FLIGHTS = 20_000
"""More take a minute on a small laptop, and a chance that they leave open lies at its limit."""
ROUNDS = 3
MOST_OTHERS = 12
_CHANCES = {
    "reaches_wanted": "reach_wanted_least", "lands_acceptably": "land_acceptably_least", "water": "water_most",
    "built_up": "built_up_most", "road": "road_most", "rail": "rail_most", "power_line": "power_line_most",
    "keep_out": "keep_out_most", "leaves_permit_area": "leave_permit_area_most", "abroad": "abroad_most",
    "airspace": "airspace_most", "unknown_share": "unknown_share_most",
}  # fmt: skip
"""Facts that are counted over flights, and their limits."""


@dataclass(frozen=True, eq=False)
class OpenedCell:
    """One cell in full."""

    cell: LaunchCell
    """Flown again."""
    briefing: Briefing | None
    """The same flights with their areas; None when it cannot be flown."""
    mends: tuple[Mend, ...]
    """What would have to change in it, the worst first."""
    others: tuple[LaunchCell, ...]
    """Better answers of the window, those that differ from it in the fewest choices first."""


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


def flights_wanted(cell: LaunchCell, limits: GoLimits) -> int:
    """How many flights would decide every chance that more flights can decide; 0 when none is left open by them."""
    wanted = [0]
    for name, limit_name in _CHANCES.items():
        fact: Fact = getattr(cell.facts, name)
        limit: float | None = getattr(limits, limit_name)
        if limit is None or not isinstance(fact.value, Share) or fact.value.limit != "draws":
            continue
        check = next(check for check in cell.decision.checks if check.name == name)
        if check.mends != "more flights":
            continue
        unknown = fact.unknown or cell.facts.unknown_share.value
        lost = unknown.p if isinstance(unknown, Share) and name != "unknown_share" else 0.0
        seen = fact.value.p
        needed = flights_needed(limit, seen, min(lost, 1.0 - seen), least=limit_name.endswith("least"))
        # the share will not stay exactly as it is: a tenth more leaves room for it
        wanted.append(0 if needed is None else int(1.1 * needed) + 1)
    return max(wanted)


def better_neighbours(window: LaunchWindow, cell: LaunchCell) -> tuple[LaunchCell, ...]:
    """Cells with a better answer: the best answers first, of these the ones with the fewest other choices, then what
    is changed most easily (time, fill, balloon, site), then the nearest in time.
    """
    rank = list(Answer)
    found = []
    for other in window.cells:
        if rank.index(other.decision.answer) > rank.index(cell.decision.answer):
            differs = _differs(cell, other)
            away_s = abs((other.option.release - cell.option.release).total_seconds())
            found.append(((-rank.index(other.decision.answer), len(differs), differs, away_s), other))
    found.sort(key=lambda pair: pair[0])
    return tuple(other for _, other in found[:MOST_OTHERS])


def _differs(one: LaunchCell, other: LaunchCell) -> list[int]:
    """Which choices are not the same, what is changed most easily first."""
    a, b = one.option, other.option
    pairs = (
        (a.release, b.release), (a.fill_name, b.fill_name), (a.balloon_name, b.balloon_name), (a.site.name, b.site.name)
    )  # fmt: skip
    return [index for index, (own, theirs) in enumerate(pairs) if own != theirs]
