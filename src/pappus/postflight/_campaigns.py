"""Flights that belong together: they share weather, crew and balloons, and do not check one another."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Protocol, TypeVar

from pappus.earth import geodesic_inverse

NEAR_M, NEAR = 500_000.0, timedelta(days=45)
"""Flights this near in place and time belong together, directly or through others [own choice]."""


class Flown(Protocol):
    """A flight from somewhere at some time."""

    @property
    def release(self) -> datetime: ...
    @property
    def latitude_deg(self) -> float: ...
    @property
    def longitude_deg(self) -> float: ...


Flight = TypeVar("Flight", bound=Flown)


def campaigns(flights: Sequence[Flight]) -> list[list[Flight]]:
    """All flights in groups (single linkage), flights and groups in their order."""
    group = list(range(len(flights)))
    for i, one in enumerate(flights):
        near = {group[j] for j in range(i) if _together(one, flights[j])} | {group[i]}
        group = [min(near) if number in near else number for number in group]
    return [[one for one, of in zip(flights, group, strict=True) if of == number] for number in sorted(set(group))]


def of_other_campaigns(flight: Flight, flights: Sequence[Flight]) -> list[Flight]:
    """Flights outside the campaign of this one, which is among them."""
    return [one for group in campaigns(flights) if all(one is not flight for one in group) for one in group]


def _together(one: Flown, other: Flown) -> bool:
    if abs(other.release - one.release) > NEAR:
        return False
    return geodesic_inverse(one.latitude_deg, one.longitude_deg, other.latitude_deg, other.longitude_deg)[0] <= NEAR_M
