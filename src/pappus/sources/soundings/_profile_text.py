"""Flights as text with tabs: a head of names and values, a line ``Profile Data``, names, units, one record a line.

Columns that are read: Time (counts from the launch), P, T, Ws, Wd (where the wind comes from), Long., Lat., Alt
(geometric height above mean sea level). The record goes on after the highest point, and there the program that wrote
these texts smoothed the heights: of eight real files six show a false constant sink that ends 28 to 38 s after the top
(in the other two it is like the true one), so 40 s are left out.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.soundings._cells import numbers, require_columns, whole_rows
from pappus.sources.soundings._late_winds import to_their_levels
from pappus.sources.soundings._legs import both_legs
from pappus.sources.soundings._levels import RawLevels, RawSounding, geopotential_of, wind_components
from pappus.sources.soundings._wind_steps import written_steps
from pappus.units import zero_celsius_k

Array = NDArray[np.float64]

SMOOTHED_AFTER_TOP_S = 40.0
MOST_APART_M = 500.0
"""The head gives its place to 0.001 degrees, so that 150 m are rounding; 20 of 21 real files stay within 150 m."""
_TITLE = re.compile(rb"(?:^|[\r\n])Profile Data:?[ \t\r\n]")
_HEAD_BYTES = 100_000
_FOOT = "Tropopauses:"
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NEEDED = {
    "Time": "seconds after launch",
    "P": "pressure",
    "T": "temperature",
    "Ws": "wind speed",
    "Wd": "direction the wind comes from",
    "Alt": "geometric height",
    "Lat.": "latitude",
    "Long.": "longitude",
}
# column -> unit without its signs -> factor
_FACTORS: dict[str, dict[str, float]] = {
    "Time": {"sec": 1.0, "s": 1.0, "min": 60.0},
    "P": {"hPa": 100.0, "mbar": 100.0, "Pa": 1.0},
    "T": {"C": 1.0},
    "Ws": {"m/s": 1.0, "km/h": 1.0 / 3.6, "kn": 1852.0 / 3600.0, "knots": 1852.0 / 3600.0},
    "Wd": {"": 1.0, "deg": 1.0},
    "Alt": {"m": 1.0, "km": 1000.0, "ft": 0.3048},
    "Lat.": {"": 1.0, "deg": 1.0},
    "Long.": {"": 1.0, "deg": 1.0},
}


def is_profile_text(file: FileBytes) -> bool:
    """True when the head of the file holds the line that opens the profile."""
    return _TITLE.search(file.content[:_HEAD_BYTES]) is not None


def read_profile_text(file: FileBytes) -> list[RawSounding]:
    """The ascent and, where the record goes on, the descent; BadFile names what is missing."""
    try:
        lines = file.content.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        lines = file.content.decode("latin-1").splitlines()
    title = next(number for number, line in enumerate(lines) if line.startswith("Profile Data"))
    head = _head(lines[:title])
    if len(lines) < title + 4:
        raise bad_file(file.name, "the text ends before the first record", "Get the file again.")
    names = [cell.strip() for cell in lines[title + 1].split("\t")]
    require_columns(file.name, names, _NEEDED)
    factor = _factors(file, names, lines[title + 2])

    notes = ["the file names no time zone: its times are taken as UTC"]
    rows, whole = [], False
    for line in lines[title + 3 :]:
        if whole := line.startswith(_FOOT):
            break
        if line.strip():
            rows.append(line.split("\t"))
    if not whole:
        notes.append("the text ends inside the record: it may be cut short")
    text = dict(zip(names, whole_rows(rows, len(names), notes), strict=True))
    value = {name: numbers(name, text[name], notes) * factor[name] for name in _NEEDED}

    latitude_deg, longitude_deg = _place(file, head, value, notes)
    levels = RawLevels.missing(len(value["Time"]))
    levels.time_s = value["Time"]
    levels.pressure_pa = value["P"]
    levels.temperature_k = value["T"] + zero_celsius_k
    levels.wind_u_m_s, levels.wind_v_m_s = wind_components(value["Wd"], value["Ws"])
    levels.geopotential_m = geopotential_of(value["Alt"], latitude_deg)
    levels.latitude_deg, levels.longitude_deg = value["Lat."], value["Long."]
    wind_steps = written_steps(levels.wind_u_m_s, levels.wind_v_m_s)
    to_their_levels(levels, latitude_deg, longitude_deg, notes)
    height_msl_m = _first_number(head.get("Altitude", ""))
    raw = RawSounding(
        station=head.get("Station name") or f"at {latitude_deg:.3f} {longitude_deg:.3f}",
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        station_height_msl_m=height_msl_m if np.isfinite(height_msl_m) else None,
        release=_launch(file, head),
        is_descent=False,
        levels=levels,
        notes=notes,
        wind_steps=wind_steps,
    )
    return both_legs(raw, smoothed_s=SMOOTHED_AFTER_TOP_S)


def _head(lines: list[str]) -> dict[str, str]:
    """Names, which end in a colon, and the cell that follows each; a name without one is left out."""
    cells = [cell.strip() for line in lines for cell in line.split("\t")]
    found: dict[str, str] = {}
    name = ""
    for cell in cells:
        if cell.endswith(":"):
            name = cell[:-1]
        elif cell and name:
            found.setdefault(name, cell)
            name = ""
    return found


def _place(file: FileBytes, head: dict[str, str], value: dict[str, Array], notes: list[str]) -> tuple[float, float]:
    """First recorded position; that of the head where the two are far apart, since an early fix may be poor."""
    said = _first_number(head.get("Latitude", "")), _first_number(head.get("Longitude", ""))
    stated = abs(said[0]) <= 90.0 and abs(said[1]) <= 360.0
    placed = np.flatnonzero((np.abs(value["Lat."]) <= 90.0) & (np.abs(value["Long."]) <= 360.0))
    if not placed.size:
        if not stated:
            raise bad_file(
                file.name, "neither the head nor the record says where the flight was", "Get the file again."
            )
        return said
    first = float(value["Lat."][placed[0]]), float(value["Long."][placed[0]])
    if stated and (apart_m := geodesic_inverse(*said, *first)[0]) > MOST_APART_M:
        notes.append(f"the first recorded position is {apart_m:.0f} m from the place in the head, which is used")
        return said
    return first


def _factors(file: FileBytes, names: list[str], line: str) -> dict[str, float]:
    """Factor to seconds, pascal, degrees Celsius, metres ... of each column that is read."""
    # the degree sign comes in several encodings, so that signs are dropped and letters compared
    units = [re.sub(r"[^A-Za-z/]", "", cell) for cell in line.split("\t")]
    units += [""] * (len(names) - len(units))
    factor = {}
    for name, known in _FACTORS.items():
        unit = units[names.index(name)]
        if unit not in known:
            where, wanted = f"{file.name}: {name}", ", ".join(filter(None, known)) or "degrees"
            raise bad_file(where, "the unit is not understood", f"Use one of: {wanted}.", value=unit or "none")
        factor[name] = known[unit]
    return factor


def _first_number(text: str) -> float:
    found = re.match(r"[-+]?\d+(?:\.\d+)?", text)
    return float(found[0]) if found else float("nan")


def _launch(file: FileBytes, head: dict[str, str]) -> datetime:
    """Launch from a date with the English name of its month and a time of 12 or 24 hours."""
    day_text, time_text = head.get("Launch Date", ""), head.get("Launch Time", "")
    month = re.search(rf"\b({'|'.join(_MONTHS)})[a-z]*\b", day_text.lower())
    year, day = re.search(r"\b\d{4}\b", day_text), re.search(r"\b\d{1,2}\b", day_text)
    clock = re.fullmatch(r"(\d{1,2}):(\d\d):(\d\d)(?: ?([AP])M)?", time_text.strip().upper())
    try:
        if not (month and year and day and clock):
            raise ValueError
        hour = int(clock[1])
        if clock[4]:
            if not 1 <= hour <= 12:
                raise ValueError
            hour = hour % 12 + (12 if clock[4] == "P" else 0)
        on = date(int(year[0]), _MONTHS.index(month[1]) + 1, int(day[0]))
        return datetime.combine(on, time(hour, int(clock[2]), int(clock[3])), UTC)
    except ValueError:
        reason = "the head does not say when the flight was launched"
        fix = "Write Launch Date: 10 June 2020 and Launch Time: 17:05:54."
        raise bad_file(file.name, reason, fix, value=f"{day_text} {time_text}".strip()) from None
