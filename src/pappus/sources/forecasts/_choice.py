"""Which members, steps and levels of a run are complete; what is not is left out and named, never filled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

Place = tuple[int, int]
"""Member and valid time in seconds after the run."""


@dataclass(frozen=True)
class Choice:
    """Complete in every combination; levels from the lowest upwards as the caller sorts them."""

    members: list[int]
    times_s: list[int]
    levels: list[float]
    notes: list[str]


def choose_complete(usable: Mapping[Place, frozenset[float]], lacking: Mapping[float, str], unit: str) -> Choice:
    """Choose from the usable levels of each member and time.

    ``usable`` names every member and time of which the file holds anything; ``lacking`` says for levels that are not
    usable everywhere what is missing. The levels are those that most members and times have; members and times that
    lack one of them are left out, the one with most gaps first.
    """
    counts = Counter(levels for levels in usable.values() if levels)
    if not counts:
        return Choice([], [], [], _lacking_notes(lacking, unit))
    levels = max(counts, key=lambda found: (counts[found], len(found)))
    members = sorted({member for member, _ in usable})
    times = sorted({time for _, time in usable})
    whole = np.array([[levels <= usable.get((member, time), frozenset()) for time in times] for member in members])
    notes = []
    while not whole.all():
        gaps_of_member, gaps_of_time = 1.0 - whole.mean(axis=1), 1.0 - whole.mean(axis=0)
        if gaps_of_time.max() >= gaps_of_member.max():
            worst = int(gaps_of_time.argmax())
            notes.append(f"step {_hours(times.pop(worst))} left out: it is not complete")
            whole = np.delete(whole, worst, axis=1)
        else:
            worst = int(gaps_of_member.argmax())
            notes.append(f"member {members.pop(worst)} left out: it is not complete")
            whole = np.delete(whole, worst, axis=0)
    dropped = {level: why for level, why in lacking.items() if level not in levels}
    return Choice(members, times, sorted(levels), [*_lacking_notes(dropped, unit), *notes])


def _lacking_notes(lacking: Mapping[float, str], unit: str) -> list[str]:
    by_reason: dict[str, list[float]] = {}
    for level, reason in sorted(lacking.items()):
        by_reason.setdefault(reason, []).append(level)
    return [
        f"{len(levels)} level{'s' if len(levels) > 1 else ''} left out, no {reason}: "
        + ", ".join(f"{level:g}" for level in levels[:8])
        + (" ..." if len(levels) > 8 else "")
        + (f" {unit}" if unit else "")
        for reason, levels in by_reason.items()
    ]


def _hours(seconds: int) -> str:
    return f"+{seconds / 3600:g} h"
