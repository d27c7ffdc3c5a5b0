"""A chance with what cannot be told beside it: unknown is never counted as safe."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from pappus.hazard._descents import Array, Descents, Mask
from pappus.landing import Quantiles, Share, quantiles, share_over_members

QUANTILES = (0.05, 0.5, 0.95)


class Flags(NamedTuple):
    """For each flight whether something holds, and whether it may; shape (flights,) each."""

    yes: Mask
    may: Mask
    """It cannot be told. Never where ``yes`` is true."""

    @property
    def no(self) -> Mask:
        """It surely does not hold."""
        return np.asarray(~(self.yes | self.may))

    def either(self, other: Flags) -> Flags:
        """One or the other or both."""
        yes = self.yes | other.yes
        return Flags(yes, (self.may | other.may) & ~yes)

    def reversed(self) -> Flags:
        """It does not hold."""
        return Flags(self.no, self.may)


@dataclass(frozen=True)
class Chance:
    """Share of all flights for which something holds, with what its samples leave open."""

    share: Share
    """Flights for which it surely holds."""
    unknown: Share
    """Flights for which it cannot be told: they did not land in the data, or land where the map ends."""
    at_most: Share
    """Flights for which it holds or may hold: the number to hold against a limit."""
    flights: int
    place_deg: tuple[float, float] | None
    """Latitude and longitude of one landing for which it holds, in the middle of them; None when there is none."""


def chance(flags: Flags, descents: Descents) -> Chance:
    """The chance of what the flags say of these flights, members taken into account."""
    certain = share_over_members(flags.yes, descents.member)
    unknown = flags.may.any()
    return Chance(
        share=certain,
        unknown=share_over_members(flags.may, descents.member),
        at_most=share_over_members(flags.yes | flags.may, descents.member) if unknown else certain,
        flights=descents.flights,
        place_deg=_middle_one(flags.yes & descents.landed, descents),
    )


def over_flights(found: Flags, descents: Descents) -> Flags:
    """Flags of the landed flights as flags of all: of those that did not land it cannot be told."""
    yes, may = np.zeros(descents.flights, dtype=np.bool_), np.ones(descents.flights, dtype=np.bool_)
    yes[descents.landed], may[descents.landed] = found
    return Flags(yes, may)


def quantiles_known(values: Array, flights: int, rest: str) -> Quantiles | None:
    """Quantiles at 5, 50 and 95 % over the flights that have a value, None when none has.

    :param rest: what the others do, for the note: "did not land in the data".
    """
    if not len(values):
        return None
    missing = flights - len(values)
    note = f"{missing:,} of {flights:,} flights ({missing / flights:.1%}) {rest}" if missing else ""
    return replace(quantiles(values, QUANTILES, unknown=missing), note=note)


def _middle_one(chosen: Mask, descents: Descents) -> tuple[float, float] | None:
    latitude, longitude = descents.latitude_deg[chosen], descents.longitude_deg[chosen]
    if not latitude.size:
        return None
    east = (longitude - longitude[0] + 180.0) % 360.0 - 180.0
    away = (latitude - latitude.mean()) ** 2 + ((east - east.mean()) * np.cos(np.radians(latitude[0]))) ** 2
    index = int(np.argmin(away))
    return float(latitude[index]), float(longitude[index])
