"""The flight train from the neck down, the envelope above it and what may end its ascent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pappus.flight_train._prior import NO_BEND, ClimbBend


@dataclass(frozen=True)
class Gas:
    """Lifting gas; the impurity counts as air."""

    kind: Literal["helium", "hydrogen"]
    purity: float = 1.0
    """Mole fraction of the named gas, 0.5 to 1."""


@dataclass(frozen=True)
class Cylinder:
    """Gas cylinders as they stand at the site; pressures are absolute."""

    water_volume_m3: float
    pressure_pa: float
    temperature_k: float
    residual_pressure_pa: float


@dataclass(frozen=True)
class Envelope:
    """A latex balloon."""

    mass_kg: float
    burst_diameter_m: float
    burst_ln_sd: float
    """Standard deviation of ln(burst diameter)."""
    unstretched_diameter_m: float
    diameter_is_prior: bool
    """True when no maker's sheet was given and the diameter is the power-law prior."""
    early_burst_chance: float
    """Chance that the balloon bursts anywhere between 8 km and its nominal height."""
    climb_bend: ClimbBend = NO_BEND
    """How climbs of such balloons stray from the drag law."""
    drag_factor: float = 1.0
    """Drag of such balloons over the law."""


@dataclass(frozen=True)
class Canopy:
    """A parachute. ``drag_coefficient`` is based on ``area_m2``, the constructed cloth area."""

    mass_kg: float
    area_m2: float
    drag_coefficient: float
    drag_area_ln_sd: float
    """Standard deviation of ln(Cd S)."""
    fouled_chance: float
    """Chance that the canopy is fouled by the remnant of the balloon."""


@dataclass(frozen=True)
class Package:
    """A box on the train."""

    name: str
    mass_kg: float
    edges_m: tuple[float, float, float]


@dataclass(frozen=True)
class Line:
    """A line of the train."""

    name: str
    length_m: float
    mass_kg: float
    breaking_force_n: float | None


@dataclass(frozen=True)
class CutDown:
    """A device that separates the train from the balloon."""

    name: str
    devices: int
    """How many independent devices of this kind hang on the train."""
    trigger: Literal["time", "height", "area", "command"]
    link: str
    """How it is fired or watched: timer, satellite, radio ..."""
    after_release_s: float | None = None
    height_msl_m: float | None = None
    keep_inside_deg: tuple[tuple[float, float], ...] | None = None
    """Polygon of (latitude, longitude); the cut comes when the flight leaves it."""


@dataclass(frozen=True)
class FlightTrain:
    """Everything that leaves the ground, less the gas."""

    envelope: Envelope
    gas: Gas
    canopy: Canopy
    packages: tuple[Package, ...]
    lines: tuple[Line, ...]
    cut_downs: tuple[CutDown, ...]

    @property
    def train_mass_kg(self) -> float:
        """Mass below the neck: canopy, packages and lines."""
        return self.canopy.mass_kg + sum(p.mass_kg for p in self.packages) + sum(line.mass_kg for line in self.lines)

    @property
    def length_m(self) -> float:
        """Length of all lines in series."""
        return sum(line.length_m for line in self.lines)


@dataclass(frozen=True)
class FillWish:
    """How the crew says how much gas goes in: exactly one way."""

    by: Literal["volume", "scale_lift", "free_lift", "climb", "height"]
    value: float
    """m3 at site conditions; newton; newton; m/s as the mean of the first 5 km; m above mean sea level."""
    chance: float | None = None
    """For ``height``: chance to reach it."""
    scale_sd_n: float = 0.5
    """Standard deviation of the lift as filled, newton (the crew's scale and the wind on the balloon)."""
