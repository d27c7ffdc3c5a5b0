"""What all flights of an ensemble share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from pappus.flight_train import FlightTrain
from pappus.ground import Terrain
from pappus.trajectory._cube import cube_of, ground_of
from pappus.trajectory._flights import Release
from pappus.trajectory._laid_out import Cube, Ground, Limits, State, Tables
from pappus.trajectory._limits import limits_of
from pappus.trajectory._sun import Sun
from pappus.trajectory._tables import tables
from pappus.wind import WindField


@dataclass(frozen=True)
class Conditions:
    """Everything that the flights share."""

    field: WindField
    train: FlightTrain
    release: Release
    ground: Terrain
    """What the flight comes down on."""
    longest_flight_s: float
    sun: Sun

    def moved(self, **changes: Any) -> Conditions:
        """Other flights in the same field, ``changes`` as ``dataclasses.replace`` takes them: the field as it is laid
        out for the kernel is taken over where it stays, since that takes longer than most ensembles fly.
        """
        other = replace(self, **changes)
        if other.field is self.field:
            vars(other)["cube"] = self.cube
        return other

    @cached_property
    def cube(self) -> Cube:
        """The field as the kernel reads it."""
        return cube_of(self.field)

    @cached_property
    def laid_out(self) -> tuple[Cube, Tables, Limits, Ground, State]:
        """The same for the kernel, made once."""
        release = self.release
        last_s = release.time_s + self.longest_flight_s
        return (
            self.cube,
            tables(self.train.envelope, self.sun, release.time_s, last_s, float(self.field.height_msl_m.max())),
            limits_of(self.field, self.train.cut_downs, release, self.longest_flight_s),
            ground_of(self.ground),
            State(
                float(release.latitude_deg), float(release.longitude_deg), float(release.height_msl_m),
                float(release.time_s), 0.0,
            ),
        )  # fmt: skip
