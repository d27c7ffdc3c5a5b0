"""The search for the best place to wait: best first, with bounds that show what the others can have at most.

From the time d(e, L) of a place e to a landing L follows that of any other place m: at least d(e, L) - d(e, m). So each
place that is looked at closely tells how many landings any other can have in reach at most, and most places need no
closer look.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.earth import distance_m
from pappus.recovery._reach import Array, Mask, Needs

_LANDMARKS = 24
_BESIDE_S = 240.0
"""A place this near to the best so far is looked at in every third turn."""
_ON_THE_WAY = 0.05
"""Of places on one and the same way to the payload of a late car the last counts as a little quicker."""
_BINS = 24
_LOOKS_AT_LEAST = 4


@dataclass(frozen=True)
class Effort:
    """When the search may end."""

    tolerance: float = 0.005
    """The best found may miss the best there is by this share of the flights: a quarter of the sampling error of 2,000.
    """
    keep: float = 0.02
    """A place that the car is bound for already is kept unless another has this much more of the flights."""
    keep_s: float = 120.0
    """Nor is it kept where the crew would stand at the payload so much later, in the mean, than from the best."""
    looks: int = 40
    """Places looked at closely at most; if they do not suffice the bound of what was missed is told."""


@dataclass(frozen=True, eq=False)
class Found:
    """What a search has found for one car."""

    node: int
    chance: float
    """Share of all flights, of those that were asked for."""
    at_most: float
    """No place to wait has a higher chance than this."""
    looked_at: tuple[int, ...]
    """Nodes looked at closely, the best first."""
    chances: tuple[float, ...]
    """Theirs."""


def to_payload_s(needs: Needs, node: int, arrival_s: float, *, whole: bool = False) -> Array:
    """Time from each touchdown until the crew stands at the payload, going by way of a node; inf where it never does.

    A payload that is down already counts from now. Beyond the cap of the needs it is a lower bound, unless it is to be
    ``whole``.
    """
    late = np.maximum(arrival_s - np.maximum(needs.landings.touchdown_s, 0.0), 0.0)
    return np.asarray(late + (needs.uncapped(node) if whole else needs.at(node)[0]))


def find_best(
    needs: Needs,
    candidates: NDArray[np.int64],
    arrival_s: Array,
    asked: Mask,
    effort: Effort,
    bound_for: int | None = None,
) -> Found:
    """The place with the most of the asked flights in reach; among equals the one that is quickest at the payload.

    Where hardly a flight is in reach from anywhere, the place from which the crew is quickest at the middle landing.

    :param candidates: nodes, ascending, at least one, each with a finite arrival.
    :param arrival_s: when the car is at each of them.
    :param asked: which landings count; the share is still of all flights.
    :param bound_for: one of the candidates, for which the car is bound already.
    """
    within = needs.reach.within_s
    touchdown = np.maximum(needs.landings.touchdown_s, 0.0)[asked]
    walk = needs.walk_s[asked]
    flights = needs.landings.flights
    bins = _bins(arrival_s, float(touchdown.min(initial=np.inf)))
    bound = _bound(np.zeros(len(candidates)), within - walk, arrival_s, bins, touchdown)
    chance_guess, time_guess = np.zeros(len(candidates)), np.zeros(len(candidates))
    marks = _landmarks(needs, asked)
    if len(marks):
        away, back = needs.back(marks)
        late = np.maximum(arrival_s - np.maximum(needs.landings.touchdown_s[marks], 0.0)[:, None], 0.0)
        for row, mark in enumerate(marks):
            drive = np.minimum(away[row, candidates], needs.cap_s)
            guess = late[row] + drive + needs.walk_s[mark]
            chance_guess += guess <= within
            time_guess += np.minimum(guess, 2.0 * within + late[row]) + _ON_THE_WAY * drive
            slack = np.where(
                np.isfinite(walk), within - np.where(np.isfinite(walk), walk, 0.0) + back[row, asked], -np.inf
            )
            bound = np.minimum(bound, _bound(drive, slack, arrival_s, bins, touchdown))
    looked: dict[int, tuple[int, float]] = {}
    spare = int(effort.tolerance * flights)
    best, near_best_s = -1, np.full(len(candidates), np.inf)
    while len(looked) < effort.looks:
        open_ = np.flatnonzero(bound > best + spare)
        if len(looked) < _LOOKS_AT_LEAST:
            open_ = np.flatnonzero(bound >= best)
        open_ = open_[~np.isin(candidates[open_], list(looked))]
        if not open_.size:
            break
        if not looked and bound_for is not None:
            pick = int(np.searchsorted(candidates, bound_for))
        else:
            pick = _next_look(len(looked), open_, bound, chance_guess, time_guess, near_best_s)
        node = int(candidates[pick])
        need, row_s = needs.at(node)
        looked[node] = _looked_at(needs, node, float(arrival_s[pick]), asked)
        count = looked[node][0]
        if count > best:
            best, near_best_s = count, row_s[candidates]
        bound[pick] = count
        rest = np.flatnonzero(bound > best + spare)
        apart = row_s[candidates[rest]]
        near = np.isfinite(apart)
        rest, apart = rest[near], apart[near]
        tighter = _bound(-apart, within - need[asked], arrival_s[rest], bins, touchdown)
        bound[rest] = np.minimum(bound[rest], tighter)
    if best <= spare and (far := _quickest(needs, candidates, arrival_s, asked)) is not None:
        looked[int(candidates[far])] = _looked_at(needs, int(candidates[far]), float(arrival_s[far]), asked)
        return _found(
            [int(candidates[far]), *(node for node in looked if node != candidates[far])], looked, needs, bound
        )
    ranked = sorted(looked, key=lambda node: (-looked[node][0], looked[node][1], node))
    near_best = [node for node in ranked if looked[node][0] >= best - spare]
    chosen = min(near_best, key=lambda node: (looked[node][1], node)) if spare else ranked[0]
    if bound_for is not None:
        count, took_s = looked[bound_for]
        if count >= best - int(effort.keep * flights) and took_s <= looked[chosen][1] + effort.keep_s:
            chosen = bound_for
    ranked.remove(chosen)
    ranked.insert(0, chosen)
    return _found(ranked, looked, needs, bound)


def _found(ranked: list[int], looked: dict[int, tuple[int, float]], needs: Needs, bound: Array) -> Found:
    """The first of the places that were looked at is the chosen one."""
    flights = needs.landings.flights
    best = max(count for count, _ in looked.values())
    return Found(
        node=ranked[0],
        chance=looked[ranked[0]][0] / flights,
        at_most=max(best, int(bound.max())) / flights,
        looked_at=tuple(ranked),
        chances=tuple(looked[node][0] / flights for node in ranked),
    )


def _looked_at(needs: Needs, node: int, arrival_s: float, asked: Mask) -> tuple[int, float]:
    """How many landings are in reach from a place, and the mean time that ranks places with equally many."""
    need, within = needs.at(node)[0], needs.reach.within_s
    took = to_payload_s(needs, node, arrival_s)[asked]
    score = np.minimum(took, 4.0 * within) + _ON_THE_WAY * np.minimum(need[asked], needs.cap_s)
    return int((took <= within).sum()), float(score.mean()) if took.size else 0.0


def _quickest(needs: Needs, candidates: NDArray[np.int64], arrival_s: Array, asked: Mask) -> int | None:
    """Which candidate has the car soonest at the road near the middle landing; None where no way leads there."""
    landings = needs.landings
    usable = np.flatnonzero(asked & (needs.node >= 0))
    if not usable.size:
        return None
    north, east = landings.latitude_deg[usable], landings.longitude_deg[usable]
    middle = usable[distance_m(float(np.median(north)), float(np.median(east)), north, east).argmin()]
    drive = needs.graph.to_node(int(needs.node[middle]), np.inf)[candidates]
    late = np.maximum(arrival_s - max(float(landings.touchdown_s[middle]), 0.0), 0.0)
    total = late + (1.0 + _ON_THE_WAY) * drive
    return int(total.argmin()) if np.isfinite(total).any() else None


def _next_look(
    turn: int, open_: NDArray[np.int64], bound: Array, chance_guess: Array, time_guess: Array, near_best_s: Array
) -> int:
    """In turn the likeliest by the landmarks, one beside the best so far, and the one of which the least is known."""
    beside = open_[near_best_s[open_] <= _BESIDE_S]
    if turn % 3 == 1 and beside.size:
        return int(beside[np.lexsort((time_guess[beside], -bound[beside]))[0]])
    first, second = (bound, chance_guess) if turn % 3 == 2 else (chance_guess, bound)
    return int(open_[np.lexsort((time_guess[open_], -second[open_], -first[open_]))[0]])


def _landmarks(needs: Needs, asked: Mask) -> NDArray[np.int64]:
    """Landings that stand for the others: evenly along their order of walk-free places from west to east."""
    usable = np.flatnonzero(asked & np.isfinite(needs.walk_s))
    if not usable.size:
        return usable
    order = usable[np.lexsort((needs.landings.latitude_deg[usable], needs.landings.longitude_deg[usable]))]
    count = min(_LANDMARKS, len(order))
    return order[((np.arange(count) + 0.5) * len(order) / count).astype(np.int64)]


def _bins(arrival_s: Array, first_touchdown_s: float) -> Array:
    """Lower edges of bins of arrivals, ascending; whoever comes before the first touchdown is late for none."""
    late = arrival_s[arrival_s > first_touchdown_s]
    edges = np.quantile(late, np.linspace(0.0, 1.0, _BINS + 1)[:-1], method="lower") if late.size else late
    return np.unique(np.concatenate(([-np.inf], edges)))


def _bound(more_s: Array, slack_s: Array, arrival_s: Array, bins: Array, touchdown_s: Array) -> Array:
    """How many landings each place has in reach at most: those whose slack, less lateness, is not below ``more_s``.

    Lateness is taken at the lower edge of the bin of the arrival, so that the bound holds for all of the bin.
    """
    found = np.zeros(len(more_s))
    which = np.searchsorted(bins, arrival_s, side="right") - 1
    for number in np.flatnonzero(np.bincount(which, minlength=len(bins))):
        late = np.maximum(bins[number] - touchdown_s, 0.0)
        slack = np.sort(slack_s - late)
        mine = np.flatnonzero(which == number)
        # a microsecond, so that rounding never takes a landing away that is just in reach
        found[mine] = len(slack) - np.searchsorted(slack, more_s[mine] - 1e-6, side="left")
    return found
