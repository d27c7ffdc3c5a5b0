"""What the compiled kernel reads and writes: flat arrays and numbers, in tuples that numba understands."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Single = NDArray[np.float32]

LANES = 64
"""Flights that go in step with each other."""
QUANTITIES = 8
"""u, v, temperature, height, density, height one level up, height one level down and fluidity (one over viscosity) at
each point of the cube: as many as the processor takes at once."""


class Cube(NamedTuple):
    """The wind field: points of ``[member, level, time, latitude, longitude]`` in a row, their quantities side by side.

    Strides are in points. Axes have two rows: the points, and one over the width of the cell behind each.
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
    """[time and height, 2]: what the gas is warmer than the air by day where no air is left above, and by night."""
    warmth_times: int
    warmth_heights: int
    warmth_from_s: float
    warmth_per_s: float
    warmth_per_m: float
    slowness: Array
    """Seconds for a metre over those of the drag law, at even steps of the logarithm of how thin the air is."""
    thin_steps: float
    """Steps of it to a logarithm of one."""
    film_pa: float
    """Constant of the film's squeeze."""


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
    cut_after_s: float
    """After the flight's own beginning."""
    cut_height_msl_m: float
    corners_deg: Array
    """[corner, 2] of all areas that the flight must keep to; longitudes from the first corner of each."""
    area_start: Index
    area_base_deg: Array
    ascent_end: int
    """What had ended the ascent before the flights begin; NONE for flights that begin on the way up."""


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


class Rows(NamedTuple):
    """All draws."""

    order: Index
    """In which they are flown: by member, so that neighbours read the same air."""
    member: Index
    numbers: Array
    """[flight, 13]: gas content over the volume of the slack balloon [Pa/K], mass carried, diameter of the slack
    balloon, one over the drag factor, offset of the gas temperature; stretch and height of the burst, the second
    infinite unless it comes early; seconds for a metre of fall at unit density and gravity with the remnant and
    without, and the exponent of density; moment of release, share of the gas that escapes each second, mass of the gas.
    """
    climb_ln: Single
    fall_ln: Single
    """[flight, level] logarithm of the rate of climb and of fall over their laws; one flight of zeros stands for none.
    """
    wind_error_m_s: Single
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
    above: float
    """Height of the level above, and of the one below."""
    below: float
    fluidity: float
    rate_ln: float
    """Logarithm of the flight's rate on this leg over its law."""


class State(NamedTuple):
    latitude: float
    longitude: float
    height: float
    time: float
    level: float


class Pace(NamedTuple):
    """Degrees a second, and seconds for each metre of height; negative on the way down."""

    north: float
    east: float
    slow: float


class Bend(NamedTuple):
    """How far the middle of a step lies off the straight line between its ends, over a quarter of what follows."""

    time: float
    """As a share of the step."""
    latitude: float
    longitude: float


class Block(NamedTuple):
    """Room for the flights that go together: rows of ``LANES``, one behind the other, as ``_block`` names them."""

    numbers: Array
    places: Index
