"""Soundings in the text of the Integrated Global Radiosonde Archive, version 2.

Source: NOAA NCEI, "IGRA v2 Sounding Data Format"; columns checked against real records, the meaning of rare flags from
memory. A header line starts with ``#`` and is followed by the number of fixed-width level lines that it states.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import numpy as np

from pappus.earth import geometric_height_msl_m
from pappus.errors import BadFile
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.soundings._levels import RawLevels, RawSounding, wind_components
from pappus.units import zero_celsius_k

_HEADER = re.compile(r"#[A-Z0-9]{11} \d{4} [ \d]\d [ \d]\d [ \d]\d")
# -9999: never reported; -8888: reported, but taken out by the archive's own checks
_MISSING = frozenset({-9999, -8888})
_UNKNOWN_HOUR = 99
LEVEL_CHARACTERS = 51


def is_igra(file: FileBytes) -> bool:
    """True when the first line is a header of the archive."""
    return _HEADER.match(file.content[:64].decode("latin-1")) is not None


def read_igra(file: FileBytes) -> Iterator[RawSounding | BadFile]:
    """Every sounding of a file, or why a header gives none."""
    lines = file.content.decode("latin-1").splitlines()
    headers = [number for number, line in enumerate(lines) if line.startswith("#")]
    for first, after in zip(headers, [*headers[1:], len(lines)], strict=True):
        where = f"{file.name}, line {first + 1}"
        try:
            yield _sounding(lines[first], [line for line in lines[first + 1 : after] if line.strip()])
        except ValueError as error:
            yield bad_file(where, str(error), "Get the file again.", value=lines[first][:36].strip())


def _sounding(header: str, rows: list[str]) -> RawSounding:
    if not _HEADER.match(header):
        raise ValueError("the header line does not have the form of the archive")
    # a line that is cut short may end inside a number and give a wrong one
    rows = [row for row in rows if len(row.rstrip()) >= LEVEL_CHARACTERS]
    if not rows:
        raise ValueError("the header has no levels below it")
    notes = []
    stated = _number(header, 32, 36)
    if stated is not None and stated != len(rows):
        notes.append(f"the header states {stated} levels, the file holds {len(rows)} whole ones")
    latitude, longitude = _number(header, 55, 62), _number(header, 63, 71)
    if latitude is None or longitude is None:
        raise ValueError("the header has no position")
    latitude_deg, longitude_deg = latitude / 1e4, longitude / 1e4

    columns = np.array([_level(row) for row in rows], dtype=np.float64).T
    time, pressure, geopotential, temperature, wind_from, wind_speed = columns
    levels = RawLevels.missing(len(rows))
    levels.time_s = time
    levels.pressure_pa = pressure
    levels.geopotential_m = geopotential
    levels.temperature_k = temperature / 10.0 + zero_celsius_k
    levels.wind_u_m_s, levels.wind_v_m_s = wind_components(wind_from, wind_speed / 10.0)
    return RawSounding(
        station=header[1:12],
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        station_height_msl_m=_station_height_msl_m(rows, geopotential, latitude_deg),
        release=_release(header, notes),
        is_descent=False,
        levels=levels,
        notes=notes,
    )


def _release(header: str, notes: list[str]) -> datetime:
    """Time of release; the header dates the nominal hour, so a release late in the evening before is a day earlier."""
    year, month, day, nominal = (int(header[a:b]) for a, b in ((13, 17), (18, 20), (21, 23), (24, 26)))
    release = header[27:31].strip().rjust(4, "9")
    hour, minute = int(release[:2]), int(release[2:])
    midnight = datetime(year, month, day, tzinfo=UTC)
    if hour == _UNKNOWN_HOUR:
        if nominal == _UNKNOWN_HOUR:
            raise ValueError("neither the hour of the sounding nor its release time is known")
        notes.append("the release time is not known: the nominal hour stands for it")
        return midnight + timedelta(hours=nominal)
    if minute == _UNKNOWN_HOUR:
        notes.append("the minute of release is not known: the full hour stands for it")
        minute = 0
    if hour > 23 or minute > 59:
        raise ValueError("the release time is not a time of day")
    released = midnight + timedelta(hours=hour, minutes=minute)
    if nominal != _UNKNOWN_HOUR and hour - nominal > 12:
        released -= timedelta(days=1)
    return released


def _level(row: str) -> tuple[float, ...]:
    """Elapsed seconds, Pa, geopotential m, tenths of degC, degrees and tenths of m/s of one level line."""
    clock = _number(row, 3, 8)  # minutes and seconds, mmmss
    if clock is not None and (clock < 0 or clock % 100 > 59):
        clock = None
    seconds = None if clock is None else clock // 100 * 60 + clock % 100
    # one letter of the archive's quality checks follows pressure, height and temperature
    values = [_number(row, first, last) for first, last in ((9, 15), (16, 21), (22, 27), (40, 45), (46, 51))]
    return tuple(np.nan if value is None else float(value) for value in (seconds, *values))


def _number(line: str, first: int, last: int) -> int | None:
    text = line[first:last].strip()
    try:
        value = int(text) if text else None
    except ValueError:
        raise ValueError(f"columns {first + 1} to {last} of a line hold {text!r}, not a whole number") from None
    return None if value in _MISSING else value


def _station_height_msl_m(rows: list[str], geopotential: np.ndarray, latitude_deg: float) -> float | None:
    """Height of the level that is marked as the surface (second digit of the level type 1)."""
    for row, height in zip(rows, geopotential, strict=True):
        if row[1:2] == "1" and np.isfinite(height) and abs(latitude_deg) <= 90.0:
            return float(geometric_height_msl_m(height, latitude_deg))
    return None
