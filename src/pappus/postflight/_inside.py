"""How often the truth lay inside what was promised, with what so few flights leave open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from pappus.landing import Share, share
from pappus.postflight._scores_by_group import share_by_group


@dataclass(frozen=True)
class InsideCount:
    """One promise over flights: how many kept it, with exact 95 % intervals (Clopper & Pearson 1934), which take every
    flight as a case of its own.
    """

    name: str
    flights: int
    inside_50: Share
    inside_90: Share
    by_campaign: tuple[float, float]
    """95 % interval of the share inside 90 % by resampling whole campaigns; few campaigns make it too narrow."""

    @property
    def keeps_90(self) -> bool:
        """Whether 90 % lies in the interval of the share inside 90 %."""
        return self.inside_90.low <= 0.9 <= self.inside_90.high


def inside_counts(rows: Iterable[tuple[str, int, bool, bool]]) -> tuple[InsideCount, ...]:
    """Counts by name, in the order in which names first come; rows are (name, campaign, inside 50 %, inside 90 %)."""
    found: dict[str, list[tuple[int, bool, bool]]] = {}
    for name, campaign, half, most in rows:
        found.setdefault(name, []).append((campaign, half, most))
    counts = []
    for name, seen in found.items():
        groups, halves, mosts = zip(*seen, strict=True)
        inside_50, inside_90 = share(sum(halves), len(seen)), share(sum(mosts), len(seen))
        by_campaign = share_by_group(np.array(mosts), list(groups))
        counts.append(
            InsideCount(name, len(seen), inside_50, inside_90, (by_campaign.group_low, by_campaign.group_high))
        )
    return tuple(counts)
