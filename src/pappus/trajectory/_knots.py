"""Where the mean flight meets the levels: the places and times at which the wind error is drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane, distance_m
from pappus.trajectory._flights import Flights
from pappus.wind import FlightKnots, WindField, sounding_wind_sd_m_s

Array = NDArray[np.float64]

ABOVE_TOP_M_S = 5.0
"""Levels above the mean flight's top are met as if it had gone on at this rate."""


def flight_knots(field: WindField, nominal: Flights) -> FlightKnots:
    """Knots of the wind-error field on the levels of ``field`` (already subdivided), from the nominal flight.

    The size of the error at each knot follows from the distance and age at which the sounding is used there, and from
    how far the level lies above the last known wind.
    """
    heights = field.height_msl_m.mean(axis=(0, 1, 3, 4))
    pressure = np.exp(np.log(field.pressure_pa).mean(axis=(0, 1, 3, 4)))
    known = ~np.isnan(nominal.track_time_s[0])
    track = (
        nominal.track_time_s[0, known], nominal.track_latitude_deg[0, known],
        nominal.track_longitude_deg[0, known], nominal.track_height_msl_m[0, known],
    )  # fmt: skip
    top = int(np.argmax(track[3]))
    up = _at_heights(heights, *(column[: top + 1] for column in track))
    down = _at_heights(heights, *(column[top:][::-1] for column in track))
    time, latitude, longitude = (np.stack(pair) for pair in zip(up, down, strict=True))

    plane = LocalPlane(float(track[1][0]), float(track[2][0]))
    east, north = plane.to_east_north_m(latitude, longitude)
    last_known = field.levels - 1 if field.extended_from_level is None else field.extended_from_level - 1
    beyond = np.maximum(heights - heights[last_known], 0.0)
    beyond = np.maximum(beyond, heights[field.extended_below_level] - heights)
    station = field.coverage.centre_deg
    away = np.zeros_like(time) if station is None else distance_m(*station, latitude, longitude)
    age = time - (field.issued - field.epoch).total_seconds()
    sd = sounding_wind_sd_m_s(pressure, away, age, beyond)
    return FlightKnots(np.stack([heights, heights]), time, east, north, sd)


def _at_heights(
    heights: Array, time: Array, latitude: Array, longitude: Array, track_height: Array
) -> tuple[Array, Array, Array]:
    """Time, latitude and longitude at which a rising track passes the heights, held beyond its ends."""
    beyond = np.maximum(heights - track_height[-1], 0.0)
    return (
        np.interp(heights, track_height, time) + beyond / ABOVE_TOP_M_S,
        np.interp(heights, track_height, latitude),
        np.interp(heights, track_height, longitude),
    )
