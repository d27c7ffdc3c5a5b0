"""Where the mean flight meets the levels: the places and times at which the wind error is drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane, distance_m
from pappus.trajectory._flights import Flights
from pappus.wind import (
    FlightKnots,
    Sampler,
    WindField,
    WindPrior,
    beyond_wind_sd_m_s,
    forecast_wind_sd_m_s,
    held_wind_sd_m_s,
    member_sd_m_s,
)

Array = NDArray[np.float64]

ABOVE_TOP_M_S = 5.0
"""Levels above the mean flight's top are met as if it had gone on at this rate."""


def flight_knots(
    field: WindField, nominal: Flights, prior: WindPrior, *, extrapolation_grows: bool = True
) -> FlightKnots:
    """Knots of the wind-error field on the levels of ``field`` (already subdivided), from the nominal flight.

    The size of the error at each knot: for a sounding from the distance and age at which it is used; for a forecast
    from its lead time, and from the time outside its valid times; in both from how far the level lies above the last
    known wind, unless ``extrapolation_grows`` is False (to see what that part costs). What forecast members already
    spread is taken off the large part: they carry it themselves.
    """
    heights, pressure = field.level_height_msl_m, field.level_pressure_pa
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

    variance = _variance_m2_s2(field, pressure, time, latitude, longitude, prior)
    if extrapolation_grows:
        last_known = field.levels - 1 if field.extended_from_level is None else field.extended_from_level - 1
        beyond = np.maximum(heights - heights[last_known], heights[field.extended_below_level] - heights)
        variance = variance + beyond_wind_sd_m_s(beyond, prior) ** 2
    deviation = _member_deviation_m_s(field, time, latitude, longitude)
    of_members = member_sd_m_s(deviation) ** 2
    large = np.sqrt(np.maximum(prior.large_share * variance - of_members, 0.0))
    wave = np.sqrt((1.0 - prior.large_share) * variance)
    return FlightKnots(np.stack([heights, heights]), time, east, north, large, wave, deviation)


def _variance_m2_s2(
    field: WindField, pressure_pa: Array, time_s: Array, latitude: Array, longitude: Array, prior: WindPrior
) -> Array:
    """Variance per component of the field against the true wind, at both legs' knots."""
    since_issue = time_s - (field.issued - field.epoch).total_seconds()
    station = field.coverage.centre_deg  # a forecast for one station is held around it too
    away = np.zeros_like(time_s) if station is None else distance_m(*station, latitude, longitude)
    if field.kind == "sounding":
        return np.asarray(prior.instrument_sd_m_s**2 + held_wind_sd_m_s(pressure_pa, away, since_issue, prior) ** 2)
    outside = np.maximum(np.maximum(time_s - field.time_s[-1], field.time_s[0] - time_s), 0.0)
    own = forecast_wind_sd_m_s(np.broadcast_to(pressure_pa, time_s.shape), since_issue, prior)
    return np.asarray(own**2 + held_wind_sd_m_s(pressure_pa, away, outside, prior) ** 2)


def _member_deviation_m_s(field: WindField, time_s: Array, latitude: Array, longitude: Array) -> Array:
    """Winds of the members at the knots less their mean, shape (members, 2, L, 2); zero for a single member."""
    sampler = Sampler(field)
    level = np.broadcast_to(np.arange(field.levels, dtype=np.float64), time_s.shape).ravel()
    flat = sampler.member_winds_m_s(level, latitude.ravel(), longitude.ravel(), time_s.ravel())
    winds = flat.reshape(field.members, *time_s.shape, 2)
    return np.asarray(winds - winds.mean(axis=0))


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
