"""Flights as comma-separated lines of a small tracker: switched on long before the release, one line a second.

Columns that are read: Time, Temperature(degree C), Pressure(hPa), Lat, Lon, Height(m), Speed(km/hr) and
Direction(degree). The last two are the motion of the tracker, so the direction is where the wind goes to. Without a
satellite fix latitude and longitude are 0.
"""

from __future__ import annotations

import csv
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import standard_height_msl_m
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.soundings._cells import numbers, require_columns, whole_rows
from pappus.sources.soundings._layer_temperature import without_floor
from pappus.sources.soundings._legs import both_legs
from pappus.sources.soundings._levels import (
    PRESSURE_PA,
    RawLevels,
    RawSounding,
    counted,
    geopotential_of,
    wind_components,
)
from pappus.units import zero_celsius_k

Array = NDArray[np.float64]

_NEEDED = {
    "Time": "date and time",
    "Temperature(degree C)": "temperature",
    "Pressure(hPa)": "pressure",
    "Lat": "latitude",
    "Lon": "longitude",
    "Height(m)": "height",
    "Speed(km/hr)": "speed over ground",
    "Direction(degree)": "direction of travel",
}
_TELLING = frozenset({"Time", "Lat", "Lon", "Height(m)"})
SUSTAINED_S = 60.0
SUSTAINED_M = 60.0
"""A climb is one that gains 60 m in a minute and never comes back before the top."""
STEADY_M = 3.0
"""Pressure at rest moves the standard height by less than this within a minute (three real files: about 2 m)."""


def is_tracker_table(file: FileBytes) -> bool:
    """True when the first line names the columns of a tracker."""
    first = file.content[:2000].split(b"\n", 1)[0].decode("latin-1")
    return {cell.strip() for cell in first.split(",")} >= _TELLING


def read_tracker_table(file: FileBytes) -> list[RawSounding]:
    """The ascent from the release and, where the record goes on, the descent to the ground; BadFile says what lacks."""
    try:
        header, *rows = [row for row in csv.reader(file.content.decode("latin-1").splitlines()) if row]
    except csv.Error as error:
        raise bad_file(file.name, f"the table cannot be read ({error})", "Get the file again.") from None
    names = [name.strip() for name in header]
    require_columns(file.name, names, _NEEDED)
    notes: list[str] = []
    text = dict(zip(names, whole_rows(rows, len(names), notes), strict=True))
    value = {name: numbers(name, text[name], notes) for name in _NEEDED if name != "Time"}
    start, seconds = _times(file, text["Time"], notes)
    notes.append("the file names no time zone: its times are taken as UTC")
    notes.append("the file does not say which height it gives: taken as above mean sea level")

    # 0 0 is a place at sea; a tracker that knows no place writes it, and then its height and motion are 0 too
    fixed = (value["Lat"] != 0.0) | (value["Lon"] != 0.0)
    fixed &= (np.abs(value["Lat"]) <= 90.0) & (np.abs(value["Lon"]) <= 360.0)
    if not fixed.all():
        notes.append(counted(int((~fixed).sum()), "without a satellite fix left out", "record"))
    if not fixed.any():
        raise bad_file(file.name, "no record has a satellite fix", "Give a record of a whole flight.")
    levels = RawLevels.missing(len(seconds))
    levels.time_s = seconds
    levels.pressure_pa = value["Pressure(hPa)"] * 100.0
    levels.temperature_k = value["Temperature(degree C)"] + zero_celsius_k
    levels.latitude_deg, levels.longitude_deg = value["Lat"], value["Lon"]
    levels.geopotential_m = geopotential_of(value["Height(m)"], float(value["Lat"][fixed][0]))
    levels.wind_u_m_s, levels.wind_v_m_s = wind_components(
        _opposite(value["Direction(degree)"]), value["Speed(km/hr)"] / 3.6
    )
    flight = _from_release(file, levels.take(fixed & np.isfinite(seconds)), start, notes)
    legs = both_legs(flight)
    for leg in legs:
        if leg.is_descent:
            _cut_at_landing(leg)
        levels = leg.levels
        levels.temperature_k = without_floor(levels.temperature_k, levels.geopotential_m, levels.pressure_pa, leg.notes)
    return legs


def _opposite(direction_deg: Array) -> Array:
    sane = np.where((direction_deg >= 0.0) & (direction_deg <= 360.0), direction_deg, np.nan)
    return (sane + 180.0) % 360.0


def _times(file: FileBytes, cells: tuple[str, ...], notes: list[str]) -> tuple[datetime, Array]:
    """Time of the first record that has one, and seconds since then."""
    times: list[datetime | None] = []
    for cell in cells:
        try:
            times.append(datetime.fromisoformat(cell.strip().replace("/", "-")).replace(tzinfo=UTC))
        except ValueError:
            times.append(None)
    known = [time for time in times if time is not None]
    if not known:
        reason = "no record has a time"
        raise bad_file(file.name, reason, "Write times like 2021/07/20 17:37:35.", value=cells[0] if cells else "")
    if len(known) < len(times):
        notes.append(counted(len(times) - len(known), "without a time left out", "record"))
    return known[0], np.array([np.nan if time is None else (time - known[0]).total_seconds() for time in times])


def _from_release(file: FileBytes, levels: RawLevels, start: datetime, notes: list[str]) -> RawSounding:
    """The record from the last one at rest before the climb that ends at the top."""
    levels = levels.take(np.argsort(levels.time_s, kind="stable"))
    height = _pressure_height_m(levels)
    known = np.flatnonzero(np.isfinite(height))
    released = _last_at_rest(levels.time_s[known], height[known])
    if released is None:
        reason = f"the record never climbs {SUSTAINED_M:.0f} m in {SUSTAINED_S:.0f} s and stays up"
        raise bad_file(file.name, reason, "Give a record of a whole flight.")
    first = int(known[released])
    if first:
        waited_s = levels.time_s[first]  # counted from the first record, which may have no fix
        notes.append(counted(first, f"of the {waited_s:.0f} s on the ground before the release left out", "record"))
    else:
        notes.append("the record starts in the climb: its first record stands for the release")
    flight = levels.take(np.arange(first, len(levels)))
    release = datetime.fromtimestamp(start.timestamp() + float(flight.time_s[0]), UTC)
    flight.time_s = flight.time_s - flight.time_s[0]
    latitude_deg, longitude_deg = float(flight.latitude_deg[0]), float(flight.longitude_deg[0])
    return RawSounding(
        station=f"at {latitude_deg:.3f} {longitude_deg:.3f}",
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        station_height_msl_m=None,
        release=release,
        is_descent=False,
        levels=flight,
        notes=notes,
    )


def _pressure_height_m(levels: RawLevels) -> Array:
    """Height of the pressure in the standard atmosphere: at rest far steadier than a height from satellites."""
    low, high = PRESSURE_PA
    sane = (levels.pressure_pa >= max(low, 100.0)) & (levels.pressure_pa <= high)
    height = np.full(len(levels), np.nan)
    height[sane] = standard_height_msl_m(levels.pressure_pa[sane])
    return height


def _last_at_rest(time_s: Array, height_m: Array) -> int | None:
    """Index of the last record before the first climb that is sustained up to the top."""
    if len(height_m) < 2:
        return None
    top = int(np.argmax(height_m))
    lowest_from = np.minimum.accumulate(height_m[top::-1])[::-1]
    later = np.searchsorted(time_s[: top + 1], time_s[: top + 1] + SUSTAINED_S)
    able = np.flatnonzero(later <= top)
    climbs = able[lowest_from[later[able]] - height_m[able] >= SUSTAINED_M]
    if not climbs.size:
        return None
    first = int(climbs[0])
    minute = slice(first, int(later[first]) + 1)
    rest_m = float(np.median(height_m[np.searchsorted(time_s, time_s[first] - SUSTAINED_S) : first + 1]))
    at_rest = np.flatnonzero(height_m[minute] <= rest_m + STEADY_M)
    return first + int(at_rest[-1]) if at_rest.size else first


def _cut_at_landing(leg: RawSounding) -> None:
    """Leave out what a tracker says on the ground after the flight: the release, seen backwards."""
    levels = leg.levels
    height = _pressure_height_m(levels)
    known = np.flatnonzero(np.isfinite(height))[::-1]
    landed = _last_at_rest(-levels.time_s[known], height[known])
    if landed:
        last = int(known[landed])
        leg.notes.append(counted(len(levels) - 1 - last, "on the ground after the landing left out", "record"))
        leg.levels = levels.take(np.arange(last + 1))
