"""How often the truth lay inside what was promised, with what so few flights leave open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pappus.landing import Share, share


@dataclass(frozen=True)
class InsideCount:
    """One promise over flights: how many kept it, with exact 95 % intervals (Clopper & Pearson 1934)."""

    name: str
    flights: int
    inside_50: Share
    inside_90: Share

    @property
    def keeps_90(self) -> bool:
        """Whether 90 % lies in the interval of the share inside 90 %."""
        return self.inside_90.low <= 0.9 <= self.inside_90.high


def inside_counts(rows: Iterable[tuple[str, bool, bool]]) -> tuple[InsideCount, ...]:
    """Counts by name, in the order in which names first come; rows are (name, inside 50 %, inside 90 %)."""
    found: dict[str, list[tuple[bool, bool]]] = {}
    for name, half, most in rows:
        found.setdefault(name, []).append((half, most))
    counts = []
    for name, seen in found.items():
        inside_50, inside_90 = (share(sum(column), len(seen)) for column in zip(*seen, strict=True))
        counts.append(InsideCount(name, len(seen), inside_50, inside_90))
    return tuple(counts)
