"""One cell of the window in full: how many flights it wants, and the better cells beside it."""

from __future__ import annotations

from dataclasses import dataclass

from pappus.decision import Answer, Fact, GoLimits, Mend, flights_needed
from pappus.landing import Share
from pappus.preflight.briefing import Briefing
from pappus.preflight.window._cell import LaunchCell
from pappus.preflight.window._window import LaunchWindow

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
