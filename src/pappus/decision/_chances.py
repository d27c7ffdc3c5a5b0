"""How far a counted chance can be trusted against a limit, and how many flights would decide it."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np

from pappus.errors import OutOfRange
from pappus.landing import Share, clopper_pearson, samples_for_zero_events

MOST_FLIGHTS = 100_000
"""Beyond this many flights a chance is not refined: it lies too near to its limit (own choice)."""
_TAIL = 0.025
"""What the 95 % interval of Clopper and Pearson leaves on either side."""


def highest_share(share: Share, unknown: Share | None, flights: int) -> float:
    """The high end of a chance when every unknown flight counts as one that does.

    Counted again as one number of events where the draws limit both shares (exact binomial), else the high ends are
    added, which is never too small. Unknown flights that are themselves not known may be all the others.

    :param unknown: share of flights of which it cannot be said; None when not known.
    :param flights: flights behind the shares; 0 when not known.
    """
    if unknown is None:
        return 1.0
    if unknown.p == 0.0:
        return share.high
    if flights > 0 and share.limit == "draws" and unknown.limit == "draws":
        events = min(math.ceil((share.p + unknown.p) * flights - 1e-6), flights)
        return max(share.high, clopper_pearson(events, flights)[1])
    return min(share.high + unknown.high, 1.0)


@lru_cache(maxsize=8192)
def flights_needed(limit: float, seen: float = 0.0, unknown: float = 0.0, *, least: bool = False) -> int | None:
    """About how many flights would decide a chance against its limit, if the share seen stays as it is.

    Without an event: the fewest flights whose interval, with none seen, ends at or below the limit; (1 - p)^n <= 0.025,
    that is 3.7/n, as the interval leaves 2.5 % on either side (with 5 % on one side it is the rule of three: Hanley &
    Lippman-Hand, JAMA 249 (1983) 1743-1745, from memory). With events: the fewest at which the exact interval (Clopper
    & Pearson 1934) ends on one side of the limit.

    :param limit: 0 to 1; the most that is allowed, or with ``least`` the least that is asked.
    :param seen: share of flights that do, 0 to 1.
    :param unknown: share of flights of which it cannot be said; with ``seen`` not above 1.
    :returns: None when more than ``MOST_FLIGHTS`` would be needed, or when no number of flights decides.
    :raises OutOfRange: outside those ranges.
    """
    for name, value in (("limit", limit), ("seen", seen), ("unknown", unknown)):
        if not 0.0 <= value <= 1.0:
            raise OutOfRange(name, value, 0.0, 1.0, "(a share)")
    if seen + unknown > 1.0 + 1e-9:
        raise OutOfRange("seen + unknown", seen + unknown, 0.0, 1.0, "(a share)")
    if least:  # the same question about the flights that do not
        limit, seen = 1.0 - limit, max(1.0 - seen - unknown, 0.0)
    worst = min(seen + unknown, 1.0)
    if worst == 0.0:
        if not 0.0 < limit < 1.0:
            return None
        needed = samples_for_zero_events(limit, 1.0 - _TAIL)
        return needed if needed <= MOST_FLIGHTS else None
    if worst < limit:
        return _fewest(lambda n: _tail_below(math.ceil(worst * n - 1e-9), n, limit) <= _TAIL)
    if seen > limit:
        return _fewest(lambda n: _tail_above(math.floor(seen * n + 1e-9), n, limit) < _TAIL)
    return None


def _fewest(decided: Callable[[int], bool]) -> int | None:
    """Smallest power of two that decides, then bisected: between teeth of rounding it is the number to the tooth."""
    high = 1
    while not decided(high):
        high *= 2
        if high > MOST_FLIGHTS:
            if not decided(MOST_FLIGHTS):
                return None
            high = MOST_FLIGHTS
            break
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if decided(middle) else (middle, high)
    return high


def _tail_below(events: int, flights: int, chance: float) -> float:
    """Binomial probability of ``events`` or fewer."""
    if events < 0:
        return 0.0
    if events >= flights or chance == 0.0:
        return 1.0
    if chance == 1.0:
        return 0.0
    # ln of the terms from 0 up, each from the one before
    count = np.arange(events, dtype=np.float64)
    steps = np.log((flights - count) / (count + 1.0)) + math.log(chance) - math.log1p(-chance)
    logs = flights * math.log1p(-chance) + np.concatenate(([0.0], np.cumsum(steps)))
    return min(float(np.exp(logs).sum()), 1.0)


def _tail_above(events: int, flights: int, chance: float) -> float:
    """Binomial probability of ``events`` or more."""
    return 1.0 - _tail_below(events - 1, flights, chance)
