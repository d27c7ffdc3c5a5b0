"""How the flights of an ensemble come down: what the hazard on the ground is counted from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import FlightTrain
from pappus.trajectory import AscentEnd, Draws, Flights

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Branch(IntEnum):
    """What became of balloon and canopy. A leak only shifts the landing: such flights count as good canopies."""

    GOOD_CANOPY = 0
    FOULED_CANOPY = 1
    """The remnant of the balloon hangs in it; whether the burst came early or not."""
    EARLY_BURST = 2
    """The canopy is good."""

    @property
    def text(self) -> str:
        """In words."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True, eq=False)
class Descents:
    """All N flights of an ensemble at their end; every array has shape (N,)."""

    landed: Mask
    """False for flights that were still aloft or had left the data: their landing is unknown."""
    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array
    """Of the ground where they landed; where they did not, all three are the last known position."""
    touchdown_m_s: Array
    """Sink rate at touchdown, without the wind; NaN where the flight has not landed."""
    mass_kg: Array
    """What comes down: the train and the film of the balloon that hangs on it."""
    branch: NDArray[np.int8]
    """Of ``Branch``."""
    member: NDArray[np.intp]
    """Which member of which forecast each flight saw, any integers."""

    def __post_init__(self) -> None:
        shapes = {getattr(self, field.name).shape for field in fields(self)}
        if len(shapes) != 1 or len(next(iter(shapes))) != 1:
            raise ValueError(f"the arrays of descents have different shapes: {sorted(shapes)}")
        if not self.landed.size:
            raise ValueError("there are no flights")

    @property
    def flights(self) -> int:
        """Number of flights."""
        return len(self.landed)


def descents_of(flights: Flights, draws: Draws, train: FlightTrain, member: NDArray[np.intp] | None = None) -> Descents:
    """The descents of flights that were flown from these draws, in one run of the kernel.

    After a burst the remnant of the draw hangs on the train, after a cut nothing, and where neither ended the ascent
    the whole envelope does.

    :param member: a number for each pair of run and member; without it the members of the draws.
    :raises ValueError: as many flights as draws are needed.
    """
    if len(flights.outcome) != draws.flights:
        raise ValueError(f"{len(flights.outcome)} flights do not come from {draws.flights} draws")
    hanging = np.where(flights.ascent_end == AscentEnd.BURST, draws.remnant_kg, train.envelope.mass_kg)
    hanging = np.where(flights.ascent_end == AscentEnd.CUT_DOWN, 0.0, hanging)
    early = ~np.isnan(draws.early_burst_msl_m)
    branch = np.where(draws.fouled, Branch.FOULED_CANOPY, np.where(early, Branch.EARLY_BURST, Branch.GOOD_CANOPY))
    return Descents(
        landed=flights.landed,
        latitude_deg=flights.end_latitude_deg,
        longitude_deg=flights.end_longitude_deg,
        height_msl_m=flights.end_height_msl_m,
        touchdown_m_s=flights.touchdown_m_s,
        mass_kg=train.train_mass_kg + hanging,
        branch=branch.astype(np.int8),
        member=draws.member if member is None else member,
    )


def join_descents(parts: Sequence[Descents]) -> Descents:
    """The descents of several runs or blocks as one ensemble, in the order given."""
    return Descents(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Descents)))
