"""Soundings as a plain table of comma-separated values, one level a line.

Our columns are ``pressure_hPa``, ``temperature_C``, ``height_msl_m`` or ``geopotential_height_m``, and for the wind
either ``wind_from_deg`` and ``wind_speed_m_s`` or ``wind_u_m_s`` and ``wind_v_m_s``; optional are ``time_utc``,
``latitude_deg`` and ``longitude_deg``. Lines that start with ``#`` are comments and may carry ``# station: ..``,
``# latitude_deg: ..``, ``# longitude_deg: ..``, ``# release_utc: ..`` and ``# station_height_msl_m: ..``. Further
columns are not read. Cells may be empty.
"""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile, Finding
from pappus.sources._files import FileBytes
from pappus.sources.soundings._cells import MISSING, whole_rows
from pappus.sources.soundings._cells import numbers as cell_numbers
from pappus.sources.soundings._levels import RawLevels, RawSounding, geopotential_of, wind_components
from pappus.sources.soundings._unknown_text import refuse_text
from pappus.units import zero_celsius_k

Array = NDArray[np.float64]

# Names that archives give to the same columns.
_THEIR_NAMES = {
    "time": "time_utc",
    "latitude": "latitude_deg",
    "longitude": "longitude_deg",
    "geopotential height_m": "geopotential_height_m",
    "wind direction_degree": "wind_from_deg",
    "wind speed_m/s": "wind_speed_m_s",
}
_NUMBER_COLUMNS = (
    "height_msl_m",
    "geopotential_height_m",
    "pressure_hPa",
    "temperature_C",
    "wind_from_deg",
    "wind_speed_m_s",
    "wind_u_m_s",
    "wind_v_m_s",
    "latitude_deg",
    "longitude_deg",
)
_COLUMNS = (*_NUMBER_COLUMNS, "time_utc")
_HEADER_KEYS = ("station", "latitude_deg", "longitude_deg", "release_utc", "station_height_msl_m")


def read_table(file: FileBytes) -> RawSounding:
    """The sounding of a table; raises BadFile with one finding for each thing that is wrong."""
    comments, header, rows = _split(file)
    names = [_THEIR_NAMES.get(name.strip(), name.strip()) for name in header]
    _require_columns(file, names)
    notes: list[str] = []
    text = dict(zip(names, whole_rows(rows, len(names), notes), strict=True))
    count = len(text[names[0]])
    numbers = {name: cell_numbers(name, text[name], notes) for name in _NUMBER_COLUMNS if name in text}

    latitude_deg = _position(file, comments, numbers, "latitude_deg", 90.0)
    longitude_deg = _position(file, comments, numbers, "longitude_deg", 360.0)
    release, time_s = _times(file, comments, text.get("time_utc", ()), count, notes)
    levels = RawLevels.missing(count)
    levels.time_s = time_s
    if "pressure_hPa" in numbers:
        levels.pressure_pa = numbers["pressure_hPa"] * 100.0
    if "height_msl_m" in numbers:
        levels.geopotential_m = geopotential_of(numbers["height_msl_m"], latitude_deg)
    elif "geopotential_height_m" in numbers:
        levels.geopotential_m = numbers["geopotential_height_m"]
    levels.temperature_k = numbers["temperature_C"] + zero_celsius_k
    if "wind_u_m_s" in numbers:
        levels.wind_u_m_s, levels.wind_v_m_s = numbers["wind_u_m_s"], numbers["wind_v_m_s"]
    else:
        levels.wind_u_m_s, levels.wind_v_m_s = wind_components(numbers["wind_from_deg"], numbers["wind_speed_m_s"])
    levels.latitude_deg = numbers.get("latitude_deg", levels.latitude_deg)
    levels.longitude_deg = numbers.get("longitude_deg", levels.longitude_deg)
    return RawSounding(
        station=comments.get("station") or PurePath(file.name).name.split(".")[0],
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        station_height_msl_m=_comment_number(file, comments, "station_height_msl_m", 9_000.0),
        release=release,
        is_descent=None,
        levels=levels,
        notes=notes,
    )


def _split(file: FileBytes) -> tuple[dict[str, str], list[str], list[list[str]]]:
    """Comments by key, the header and the rows."""
    try:
        lines = file.content.decode("utf-8-sig").splitlines()
        comments: dict[str, str] = {}
        for line in lines:
            key, colon, value = line.lstrip("# ").partition(":")
            if line.startswith("#") and colon and key.strip() in _HEADER_KEYS:
                comments[key.strip()] = value.strip()
        table = list(csv.reader(line for line in lines if line.strip() and not line.startswith("#")))
    except (UnicodeDecodeError, csv.Error):
        table = []
    if not table or "\x00" in "".join(table[0]) or len(table[0]) < 2:
        raise refuse_text(file)
    return comments, table[0], table[1:]


def _require_columns(file: FileBytes, names: list[str]) -> None:
    needs = (
        ("the pressure", ("pressure_hPa",)),
        ("the temperature", ("temperature_C",)),
    )
    findings = [
        Finding(file.name, "", f"the table has no column for {what}", f"Name it {' or '.join(columns)}.")
        for what, columns in needs
        if not set(columns) & set(names)
    ]
    if not ({"wind_from_deg", "wind_speed_m_s"} <= set(names) or {"wind_u_m_s", "wind_v_m_s"} <= set(names)):
        fix = "Name them wind_from_deg and wind_speed_m_s, or wind_u_m_s and wind_v_m_s."
        findings.append(Finding(file.name, "", "the table has no columns for the wind", fix))
    for name in sorted({name for name in names if name in _COLUMNS and names.count(name) > 1}):
        findings.append(Finding(file.name, name, "the table has this column twice", "Keep one."))
    if findings:
        raise BadFile(*findings)


def _comment_number(file: FileBytes, comments: dict[str, str], key: str, most: float) -> float | None:
    if not (text := comments.get(key)):
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) <= most:
        raise BadFile(Finding(f"{file.name}: {key}", text, "this is no such number", f"Write it as # {key}: 46.5"))
    return value


def _position(file: FileBytes, comments: dict[str, str], numbers: dict[str, Array], key: str, most: float) -> float:
    """From the comment, or the first value of the column."""
    value = _comment_number(file, comments, key, most)
    if value is not None:
        return value
    column = numbers.get(key, np.empty(0))
    known = column[np.abs(column) <= most]
    if len(known) == 0:
        reason = f"the table does not say where the sounding was made ({key})"
        raise BadFile(Finding(file.name, "", reason, f"Add a comment line # {key}: .. or a column {key}."))
    return float(known[0])


def _times(
    file: FileBytes, comments: dict[str, str], cells: tuple[str, ...], count: int, notes: list[str]
) -> tuple[datetime, Array]:
    """Release, and seconds after it of each level; a column that repeats one time is the release of all levels."""
    times = [_time(cell) for cell in cells] or [None] * count
    known = [time for time in times if time is not None]
    release = _time(comments.get("release_utc", ""))
    if comments.get("release_utc") and release is None:
        fix = "Write it as # release_utc: 2026-05-01T11:30:00Z"
        raise BadFile(Finding(f"{file.name}: release_utc", comments["release_utc"], "this is no time", fix))
    if strange := sum(cell.strip().lower() not in MISSING for cell in cells) - len(known):
        notes.append(f"{strange} cells of time_utc are no times and taken as missing")
    if release is None:
        if not known:
            reason = "the table does not say when the sounding was made"
            raise BadFile(Finding(file.name, "", reason, "Add a comment line # release_utc: .. or a column time_utc."))
        release = known[0]
    if len(set(known)) < 2:
        return release, np.full(count, np.nan)
    return release, np.array([np.nan if time is None else (time - release).total_seconds() for time in times])


def _time(text: str) -> datetime | None:
    """A time in ISO 8601; without an offset it is UTC, as the name of the column says."""
    try:
        time = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
