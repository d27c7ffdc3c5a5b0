"""What the compiled kernel reads and writes: flat arrays and numbers, in tuples that numba understands."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Single = NDArray[np.float32]

LANES = 32
"""Flights that go in step with each other."""
QUANTITIES = 5
"""u, v, temperature, height and density at each point of the cube."""
BITS = 45
"""Of a float64 below the cells of a table by bits: 128 cells an octave."""
FIRST_BITS = 1023 << 52
"""One, as it stands in memory."""


class Cube(NamedTuple):
    """The wind field: ``[member, level, time, latitude, longitude, quantity]``, flat.

    Axes have two rows: the points, and one over the width of the cell behind each.
    """

    values: Single
    member_stride: int
    level_stride: int
    time_stride: int
    row_stride: int
    levels: int
    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    seam_deg: float
    """Longitudes are taken between here and a full turn on."""


class Tables(NamedTuple):
    """Laws of other rooms at even steps."""

    warmth: Array
    """[time, height, 2]: what the gas is warmer than the air by day where no air is left above, and by night."""
    warmth_from_s: float
    warmth_per_s: float
    per_height_m: float
    """Entries a metre: of ``warmth`` from sea level, of gravity from ``lowest_m``."""
    gravity_m_s2: Array
    per_root_gravity: Array
    lowest_m: float
    fluidity: Array
    """One over the viscosity, each kelvin from ``coldest_k``."""
    coldest_k: float
    film_pa: Array
    """Squeeze of the film from the slack balloon upwards."""
    film_per_stretch: float
    per_reynolds: Array
    """One over Re, of Cd Re^2 from one up, by its bits."""
    earth: Array
    """[latitude from the south pole, 4]: meridional radius, distance from the axis, cosine, height over the equator."""
    per_latitude_deg: float


class Limits(NamedTuple):
    """Where and when the winds are held, how long the flight may last, and what cuts it down."""

    first_s: float
    last_s: float
    south_deg: float
    north_deg: float
    west_deg: float
    width_deg: float
    latitude_deg: float
    longitude_deg: float
    radius_m: float
    """Of the disc around latitude and longitude; negative where the box holds instead."""
    longest_s: float
    cut_time_s: float
    cut_height_msl_m: float
    corners_deg: Array
    """[corner, 2] of all areas that the flight must keep to; longitudes from the first corner of each."""
    area_start: Index
    area_base_deg: Array


class Ground(NamedTuple):
    """Grids of heights, the uppermost first, and the flat ground beneath them; all grids in one flat array."""

    values: Single
    value_start: Index
    latitude_deg: Array
    latitude_start: Index
    longitude_deg: Array
    longitude_start: Index
    flat_msl_m: float
    highest_msl_m: float


class Lift(NamedTuple):
    """What carries one flight."""

    content_per_k: float
    """Gas content over the volume of the slack balloon [Pa/K]."""
    carried_kg: float
    slack_diameter_m: float
    per_drag_factor: float
    excess_offset_k: float


class Rows(NamedTuple):
    """All draws."""

    order: Index
    """In which they are flown: by member, so that neighbours read the same air."""
    member: Index
    numbers: Array
    """[flight, 10]: those of ``Lift``; stretch and height of the burst, the second infinite unless it comes early;
    seconds for a metre of fall at unit density and gravity with the remnant and without, and the exponent of density.
    """
    wind_error_m_s: Array
    """[flight, leg, level, 2]; one flight of zeros stands for none."""


class Out(NamedTuple):
    """What the kernel fills."""

    top: Array
    """[flight, 4]: latitude, longitude, height, time; so is ``end``."""
    end: Array
    touchdown_m_s: Array
    outcome: NDArray[np.int8]
    ascent_end: NDArray[np.int8]
    heights_msl_m: Array
    seconds_above: Array
    """[flight, height]; starts at zero."""
    track: Array
    """[first flights, step, 4]: time, latitude, longitude, height."""
    steps: Index
    """Points of each track; starts at zero."""


class Spot(NamedTuple):
    """The eight points around a place and a time: their cell, the place of the first in the cube, their weights."""

    t: int
    y: int
    x: int
    base: int
    a0: np.float32
    a1: np.float32
    b0: np.float32
    b1: np.float32
    c0: np.float32
    c1: np.float32
    d0: np.float32
    d1: np.float32


class Air(NamedTuple):
    u: float
    v: float
    temperature: float
    height: float
    density: float


class State(NamedTuple):
    latitude: float
    longitude: float
    height: float
    time: float
    level: float


class Pace(NamedTuple):
    """Wind, and seconds for each metre of height; negative on the way down."""

    u: float
    v: float
    slow: float


class Bend(NamedTuple):
    """How far the middle of a step lies off the straight line between its ends, over a quarter of what follows."""

    time: float
    """As a share of the step."""
    latitude: float
    longitude: float


class Block(NamedTuple):
    """Room for the flights that go together."""

    numbers: Array
    """[lane, quantity]"""
    places: Index
    """[lane, index]"""
    weights: Single
    """[lane, 8]"""
