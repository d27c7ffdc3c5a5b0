"""Flights as a text table whose first line is the number of lines of its head; columns are apart by spaces.

The head holds lines ``name : value`` (the launch date as yyyymmdd, the launch time as hh:mm in UT, the number that
stands for a missing value); its last two lines are the names and the units of the columns. Names are two or more spaces
apart, since some hold one. Read are Time, Press, Alt, Temp, W Dir (where the wind comes from), W Spd, GPSLat, GPSLon.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.soundings._cells import numbers, require_columns, whole_rows
from pappus.sources.soundings._height_kind import as_geopotential
from pappus.sources.soundings._legs import both_legs
from pappus.sources.soundings._levels import RawLevels, RawSounding, wind_components
from pappus.units import zero_celsius_k

Array = NDArray[np.float64]

_COUNT = re.compile(rb"\s{0,9}(\d{1,3})[ \t]*\r?\n")
_MOST_APART_M = 2_000.0
"""Launch site and station of one name are seldom further apart; more is said."""
_NEEDED = {
    "Time": "seconds after launch",
    "Press": "pressure",
    "Alt": "height",
    "Temp": "temperature",
    "W Dir": "direction the wind comes from",
    "W Spd": "wind speed",
}
_FACTORS: dict[str, dict[str, float]] = {
    "Time": {"sec": 1.0, "s": 1.0, "min": 60.0},
    "Press": {"hPa": 100.0, "mb": 100.0},
    "Alt": {"km": 1000.0, "m": 1.0},
    "Temp": {"C": 1.0},
    "W Dir": {"deg": 1.0},
    "W Spd": {"m/s": 1.0},
    "GPSLat": {"deg": 1.0},
    "GPSLon": {"deg": 1.0},
}


def is_headed_table(file: FileBytes) -> bool:
    """True when the first line is a small number and the next ones hold names and values."""
    count = _COUNT.match(file.content)
    return count is not None and int(count[1]) >= 4 and b":" in file.content[count.end() : count.end() + 400]


def read_headed_table(file: FileBytes) -> list[RawSounding]:
    """The ascent and, where the record goes on, the descent; BadFile names what is missing."""
    lines = file.content.decode("latin-1").splitlines()
    count = int(lines[0])
    if len(lines) <= count:
        reason = f"the head should have {count} lines, the file has {len(lines)}"
        raise bad_file(file.name, reason, "Get the file again.")
    head = {}
    for line in lines[1 : count - 2]:
        name, _, said = line.partition(":")
        head[re.sub(r"\(.*", "", name).strip()] = said.strip()
    names = [name.strip() for name in re.split(r"\s{2,}|\t", lines[count - 2].strip())]
    require_columns(file.name, names, _NEEDED)
    units = lines[count - 1].split()
    if len(units) != len(names):
        reason = f"the head has {len(names)} names of columns and {len(units)} units"
        raise bad_file(file.name, reason, "Get the file again.")
    notes: list[str] = []
    rows = [line.split() for line in lines[count:] if line.strip()]
    text = dict(zip(names, whole_rows(rows, len(names), notes), strict=True))
    gap = _number(head.get("Missing or bad values", ""))
    value = {}
    for name, known in _FACTORS.items():
        if name not in names:
            value[name] = np.full(len(text["Time"]), np.nan)
            continue
        unit = units[names.index(name)]
        if unit not in known:
            where = f"{file.name}: {name}"
            raise bad_file(where, "the unit is not understood", f"Use one of: {', '.join(known)}.", value=unit)
        read = numbers(name, text[name], notes)
        value[name] = np.where(read == gap, np.nan, read) * known[unit]

    _unswap(head, value, notes)
    latitude_deg, longitude_deg = _place(head, value, notes)
    levels = RawLevels.missing(len(value["Time"]))
    levels.time_s = value["Time"]
    levels.pressure_pa = value["Press"]
    levels.temperature_k = value["Temp"] + zero_celsius_k
    levels.geopotential_m = as_geopotential(
        value["Alt"], value["Press"], levels.temperature_k, latitude_deg, notes, stands_for_geometric=False
    )
    levels.wind_u_m_s, levels.wind_v_m_s = wind_components(value["W Dir"], value["W Spd"])
    levels.latitude_deg, levels.longitude_deg = value["GPSLat"], value["GPSLon"]
    elevation = _number(head.get("Elevation", ""))
    raw = RawSounding(
        station=head.get("STATION") or f"at {latitude_deg:.3f} {longitude_deg:.3f}",
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        station_height_msl_m=elevation if -500.0 <= elevation <= 9_000.0 else None,
        release=_launch(file, head),
        is_descent=False,
        levels=levels,
        notes=notes,
    )
    return both_legs(raw)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _station(head: dict[str, str]) -> tuple[float, float] | None:
    latitude_deg, longitude_deg = _number(head.get("Latitude", "")), _number(head.get("Longitude", ""))
    return (latitude_deg, longitude_deg) if abs(latitude_deg) <= 90.0 and abs(longitude_deg) <= 360.0 else None


def _first_placed(value: dict[str, Array]) -> tuple[float, float] | None:
    placed = np.flatnonzero((np.abs(value["GPSLat"]) <= 90.0) & (np.abs(value["GPSLon"]) <= 360.0))
    return (float(value["GPSLat"][placed[0]]), float(value["GPSLon"][placed[0]])) if placed.size else None


def _unswap(head: dict[str, str], value: dict[str, Array], notes: list[str]) -> None:
    """Some files name the columns of the position in the wrong order; the station of the head tells."""
    station, first, swapped = _station(head), _first_placed(value), (value["GPSLon"], value["GPSLat"])
    turned = _first_placed({"GPSLat": swapped[0], "GPSLon": swapped[1]})
    if station is None or turned is None:
        return
    if first is None or geodesic_inverse(*station, *turned)[0] < 0.1 * geodesic_inverse(*station, *first)[0]:
        value["GPSLat"], value["GPSLon"] = swapped
        notes.append("the columns GPSLat and GPSLon hold each other's values, judged by the station in the head")


def _place(head: dict[str, str], value: dict[str, Array], notes: list[str]) -> tuple[float, float]:
    """First measured position; the station of the head where there is none, and both when they are far apart."""
    station, first = _station(head), _first_placed(value)
    if first is None:
        return station or (float("nan"), float("nan"))
    if station and (apart_m := geodesic_inverse(*station, *first)[0]) > _MOST_APART_M:
        notes.append(
            f"the head puts the station at {station[0]:.2f} {station[1]:.2f}, {apart_m / 1000.0:.0f} km from the first "
            "measured position, which is used"
        )
    return first


def _launch(file: FileBytes, head: dict[str, str]) -> datetime:
    text = f"{head.get('Launch Date', '')} {head.get('Launch Time', '')}"
    found = re.match(r"(\d{4})(\d\d)(\d\d) (\d\d):(\d\d)(?::(\d\d))?$", text)
    try:
        if not found:
            raise ValueError
        return datetime(*(int(part) for part in found.groups("0")), tzinfo=UTC)  # type: ignore[misc, arg-type]  # six numbers
    except ValueError:
        reason = "the head does not say when the flight was launched"
        fix = "Write Launch Date : 20141210 and Launch Time (UT) : 11:04."
        raise bad_file(file.name, reason, fix, value=text.strip()) from None
