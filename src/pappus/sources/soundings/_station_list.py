"""Many soundings of one hour as JSON: a list of stations by code, each with the levels of its report.

``{"profiles": [{"station": "..", "valid": "..Z", "profile": [{"pres", "hght", "tmpc", "drct", "sknt"}, ..]}, ..]}``:
hectopascal, geopotential metres, degrees Celsius, the direction the wind comes from in degrees, knots. NaN and null are
gaps. Neither the places of the stations nor times and positions along the flights are in such a file.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.soundings._levels import RawLevels, RawSounding, wind_components
from pappus.units import zero_celsius_k

Array = NDArray[np.float64]

KNOT_M_S = 1852.0 / 3600.0
_START = re.compile(rb'\s*\{\s*"profiles"\s*:')
_KEYS = ("pres", "hght", "tmpc", "drct", "sknt")


def is_station_list(file: FileBytes) -> bool:
    """True when the text opens as a list of profiles."""
    return _START.match(file.content) is not None


def read_station_list(file: FileBytes) -> Iterator[RawSounding | BadFile]:
    """Every sounding of the list, or why an entry gives none."""
    try:
        entries = json.loads(file.content)["profiles"]
    except (ValueError, RecursionError) as error:
        raise bad_file(file.name, f"the JSON is cut short or damaged ({error})", "Get the file again.") from None
    if not isinstance(entries, list) or not entries:
        raise bad_file(file.name, "its list of profiles is empty", "Get the file again.")
    for number, entry in enumerate(entries, 1):
        where = f"{file.name}, profile {number}"
        try:
            yield _sounding(entry)
        except (ValueError, OverflowError) as error:
            yield bad_file(where, str(error), "Get the file again.")


def _sounding(entry: Any) -> RawSounding:
    if not isinstance(entry, dict):
        raise ValueError("the entry has no names for its parts")
    rows = entry.get("profile")
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise ValueError("the station has no levels")
    missing = [key for key in _KEYS if not any(key in row for row in rows)]
    if missing:
        raise ValueError(f"no level of the station has {', '.join(missing)}")
    column = {key: np.array([_number(row.get(key)) for row in rows]) for key in _KEYS}
    try:
        valid = datetime.fromisoformat(str(entry.get("valid")))
    except ValueError:
        raise ValueError(f"valid is {entry.get('valid')!r}, not a time like 1999-05-04T00:00:00Z") from None
    levels = RawLevels.missing(len(rows))
    levels.pressure_pa = column["pres"] * 100.0
    levels.geopotential_m = column["hght"]
    levels.temperature_k = column["tmpc"] + zero_celsius_k
    levels.wind_u_m_s, levels.wind_v_m_s = wind_components(column["drct"], column["sknt"] * KNOT_M_S)
    return RawSounding(
        station=str(entry.get("station") or "unnamed"),
        latitude_deg=np.nan,
        longitude_deg=np.nan,
        station_height_msl_m=None,
        release=valid.replace(tzinfo=UTC) if valid.tzinfo is None else valid.astimezone(UTC),
        is_descent=False,
        levels=levels,
        notes=["the release time is not known: the nominal hour stands for it"],
        place_known=False,
    )


def _number(value: Any) -> float:
    """A number as it stands; anything else, and a number beyond those of the machine, is a gap."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return float("nan")
    try:
        return float(value)
    except OverflowError:
        return float("nan")
