"""Writes small BUFR soundings with ecCodes, so that the reader can be tested where no real file is at hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import eccodes
import numpy as np

from sources.sounding_texts import air

CLOCK = ("year", "month", "day", "hour", "minute", "second")
MISSING_INTEGER = eccodes.CODES_MISSING_LONG
MISSING_REAL = eccodes.CODES_MISSING_DOUBLE


class Level(NamedTuple):
    """One level as the template holds it; missing values are those of ecCodes."""

    time_s: int
    pressure_pa: float
    geopotential_m: float
    temperature_k: float
    wind_from_deg: int
    wind_speed_m_s: float
    latitude_step_deg: float = 0.0
    longitude_step_deg: float = 0.0


def ascent(count: int = 30) -> list[Level]:
    """Levels of the standard atmosphere in the steps of the template, under a balloon that drifts east-north-east."""
    levels = []
    for i, (height, hectopascal, celsius) in enumerate(air(np.arange(count) * 300.0 + 100.0)):
        air_there = (round(hectopascal * 100), round(height), round(celsius + 273.15, 2))
        levels.append(Level(i * 60, *air_there, 240, 10.0 + i / 10, i * 1e-3, i * 2e-3))
    return levels


def bufr_message(
    release: datetime,
    latitude_deg: float,
    longitude_deg: float,
    levels: Sequence[Level],
    *,
    template: int = 309057,
    shear_points: int = 0,
    subsets: int = 1,
    station: tuple[int, int] = (94, 461),
) -> bytes:
    """One edition 4 message; ``shear_points`` are appended after the levels as an encoder does, all at 99 Pa."""
    handle = eccodes.codes_bufr_new_from_samples("BUFR4")
    try:
        for key, value in (
            ("edition", 4),
            ("masterTableNumber", 0),
            ("masterTablesVersionNumber", 31),
            ("dataCategory", 2),
            ("numberOfSubsets", subsets),
            ("observedData", 1),
            ("compressedData", 0),
        ):
            eccodes.codes_set(handle, key, value)
        eccodes.codes_set_array(handle, "inputExtendedDelayedDescriptorReplicationFactor", [len(levels)] * subsets)
        eccodes.codes_set_array(handle, "inputDelayedDescriptorReplicationFactor", [shear_points] * subsets)
        eccodes.codes_set_array(handle, "unexpandedDescriptors", [template])
        shear = [0] * shear_points
        columns = {
            **{key: [part] for key, part in zip(CLOCK, release.timetuple(), strict=False)},
            "blockNumber": [station[0]],
            "latitude": [latitude_deg],
            "longitude": [longitude_deg],
            "timePeriod": [level.time_s for level in levels] + shear,
            "pressure": [level.pressure_pa for level in levels] + [99.0] * shear_points,
            "nonCoordinateGeopotentialHeight": [level.geopotential_m for level in levels],
            "airTemperature": [level.temperature_k for level in levels],
            "windDirection": [level.wind_from_deg for level in levels],
            "windSpeed": [level.wind_speed_m_s for level in levels],
            "latitudeDisplacement": [level.latitude_step_deg for level in levels] + shear,
            "longitudeDisplacement": [level.longitude_step_deg for level in levels] + shear,
        }
        if template != 309056:  # a descent has no station
            columns["heightOfStationGroundAboveMeanSeaLevel"] = [levels[0].geopotential_m]
        # the occurrences of a key are numbered through all subsets
        for key, values in columns.items():
            for index, value in enumerate(values * subsets, start=1):
                eccodes.codes_set(handle, f"#{index}#{key}", value)
        for subset in range(subsets):
            eccodes.codes_set(handle, f"#{subset + 1}#stationNumber", station[1] + subset)
        eccodes.codes_set(handle, "pack", 1)
        return eccodes.codes_get_message(handle)
    finally:
        eccodes.codes_release(handle)
