"""Forecast columns over one station in BUFKIT text: profiles for each lead time, then lines of surface weather.

``SNPARM`` names the columns of a profile; we use PRES (hPa), TMPC (degrees Celsius), DRCT (degrees), SKNT (knots) and
HGHT (metres). HGHT is geopotential height above mean sea level: in open files it follows from PRES, TMPC and DWPC by
the hydrostatic balance to better than 1 m up to 1 hPa, where geometric metres would be 340 m more. SKNT is knots.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.sources._files import bad_file
from pappus.sources.forecasts._cube import FEWEST_LEVELS, RawForecast, refuse_large
from pappus.units import knot_m_s, zero_celsius_k

Array = NDArray[np.float64]

_MISSING = -9999.0
_NEEDED = ("PRES", "TMPC", "DRCT", "SKNT", "HGHT")
_NUMBER = r"(-?\d+(?:\.\d+)?)"
_SURFACE_HEAD = re.compile(r"^STN +YYMMDD/HHMM", re.MULTILINE)
_DATE = re.compile(r"\d{6}/\d{4}")
_SURFACE = {
    "UWND": ("eastward_wind", "m s-1", 1.0, 0.0),
    "VWND": ("northward_wind", "m s-1", 1.0, 0.0),
    "T2MS": ("air_temperature", "K", 1.0, zero_celsius_k),
    "LCLD": ("low_type_cloud_area_fraction", "1", 0.01, 0.0),
    "MCLD": ("medium_type_cloud_area_fraction", "1", 0.01, 0.0),
    "HCLD": ("high_type_cloud_area_fraction", "1", 0.01, 0.0),
    "VSBK": ("visibility_in_air", "m", 1000.0, 0.0),
    # millimetres in one and in three hours
    "P01M": ("precipitation_flux", "kg m-2 s-1", 1.0 / 3600.0, 0.0),
    "P03M": ("precipitation_flux", "kg m-2 s-1", 1.0 / 10800.0, 0.0),
}


@dataclass(frozen=True, eq=False)
class _Profile:
    station: str
    latitude_deg: float
    longitude_deg: float
    station_height_m: float
    issued: datetime
    lead_s: float
    levels: Array
    """Shape (level, column), complete levels only."""
    left_out: int


def is_bufkit(head: bytes) -> bool:
    """True when the names of the columns of a profile stand near the start."""
    return b"SNPARM" in head and b"\x00" not in head


def read_bufkit(name: str, content: bytes, *, radius_m: float) -> Iterator[RawForecast]:
    """Every run of a file; raises BadFile when the text is no forecast column."""
    text = content.decode("ascii", errors="replace").replace("\r", "")
    head = re.search(r"SNPARM *= *(\S+)", text)
    columns = head[1].split(";") if head else []
    absent = [column for column in _NEEDED if column not in columns]
    if absent:
        raise bad_file(name, f"SNPARM does not name {', '.join(absent)}", "Get a file with all columns.")
    surface_at = _SURFACE_HEAD.search(text)
    profiles_text = text[: surface_at.start()] if surface_at else text
    blocks = re.split(r"^STID *=", profiles_text, flags=re.MULTILINE)[1:]
    profiles = [_profile(name, block, columns) for block in blocks]
    if not profiles:
        raise bad_file(name, "there is no profile in it", "Get the file again.")
    for run in sorted({(profile.issued, profile.station) for profile in profiles}):
        chosen = [profile for profile in profiles if (profile.issued, profile.station) == run]
        raw = _run(name, chosen, columns, radius_m)
        if surface_at:
            _add_surface(raw, text[surface_at.start() :])
        yield raw


def _profile(name: str, block: str, columns: list[str]) -> _Profile:
    found = {key: re.search(rf"{key} *= *{_NUMBER}", block) for key in ("SLAT", "SLON", "SELV", "STIM")}
    date = re.search(r"TIME *= *(\d{6}/\d{4})", block)
    station = re.search(r"STNM *= *(\d+)", block)
    absent = [key for key, match in found.items() if match is None]
    if absent or date is None:
        raise bad_file(name, f"a profile does not say {', '.join(absent) or 'TIME'}", "Get the file again.")
    latitude, longitude, height, lead_h = (float(match[1]) for match in found.values() if match is not None)
    if abs(latitude) > 90.0 or abs(longitude) > 360.0 or not 0.0 <= lead_h <= 1000.0:
        raise bad_file(name, "the place or the lead time of a profile is absurd", "Get the file again.")
    valid = _time(name, date[1])
    levels, left_out = _levels(block, columns)
    return _Profile(
        station[1] if station else f"at {latitude:.2f} {longitude:.2f}",
        latitude,
        (longitude + 180.0) % 360.0 - 180.0,
        height,
        valid - timedelta(hours=lead_h),
        lead_h * 3600.0,
        levels,
        left_out,
    )


def _time(name: str, text: str) -> datetime:
    try:
        return datetime.strptime(text, "%y%m%d/%H%M").replace(tzinfo=UTC)
    except ValueError:
        raise bad_file(name, "this is no time", "Get the file again.", value=text) from None


def _levels(block: str, columns: list[str]) -> tuple[Array, int]:
    """Complete levels and the number of others. A level fills lines of eight: one that lacks a value ends early."""
    heading = re.search(rf"^\s*{columns[0]} [\sA-Z0-9]*{columns[-1]}\s*$", block, flags=re.MULTILINE)
    lines = block[heading.end() :].split("\n") if heading else []
    widths = [min(8, len(columns) - start) for start in range(0, len(columns), 8)]
    rows: list[list[float]] = []
    level: list[float] = []
    place = left_out = 0
    for line in lines:
        try:
            numbers = [float(word) for word in line.split()]
        except ValueError:
            numbers = [np.nan]
        if not numbers:
            continue
        if len(numbers) != widths[place]:
            left_out += 1
            level, place = [], 0
            if len(numbers) != widths[0]:
                continue
        level += numbers
        place += 1
        if place == len(widths):
            rows.append(level)
            level, place = [], 0
    table = np.array(rows).reshape(-1, len(columns))
    needed = table[:, [columns.index(column) for column in _NEEDED]]
    whole = np.isfinite(needed).all(axis=1) & (needed != _MISSING).all(axis=1)
    return table[whole], left_out + bool(level) + int((~whole).sum())


def _run(name: str, profiles: list[_Profile], columns: list[str], radius_m: float) -> RawForecast:
    first = profiles[0]
    notes = []
    left_out = sum(profile.left_out for profile in profiles)
    if left_out:
        notes.append(f"{left_out} incomplete levels left out")
    usual = Counter(len(profile.levels) for profile in profiles).most_common(1)[0][0]
    whole = [profile for profile in profiles if len(profile.levels) >= max(0.9 * usual, FEWEST_LEVELS)]
    whole.sort(key=lambda profile: profile.lead_s)
    whole = [profile for index, profile in enumerate(whole) if index == 0 or profile.lead_s > whole[index - 1].lead_s]
    if len(whole) < len(profiles):
        notes.append(f"{len(profiles) - len(whole)} lead times left out: repeated, or too few levels")
    if not whole:
        raise bad_file(name, "no profile has enough complete levels", "Get the file again.")
    count = min(len(profile.levels) for profile in whole)
    if count < usual:
        notes.append(f"cut to the {count} lowest levels, which all lead times have")
    refuse_large(name, 1, len(whole), count, 1)
    cube = np.stack([profile.levels[:count] for profile in whole])[None, :, :, None, None, :]
    pressure, celsius, wind_from, knots, height = (cube[..., columns.index(column)] for column in _NEEDED)
    if not bool(((wind_from >= 0.0) & (wind_from <= 360.0) & (knots >= 0.0)).all()):
        raise bad_file(name, "a wind direction or speed is absurd", "Get the file again.")
    angle = np.radians(wind_from)
    notes.append("a column: taken to hold around its station")
    return RawForecast(
        name=f"forecast column of station {first.station}, run {first.issued:%Y-%m-%d %H:%M} UTC",
        issued=first.issued,
        time_s=np.array([profile.lead_s for profile in whole]),
        latitude_deg=np.array([first.latitude_deg]),
        longitude_deg=np.array([first.longitude_deg]),
        pressure_pa=pressure * 100.0,
        geopotential_m=height.copy(),
        temperature_k=celsius + zero_celsius_k,
        wind_u_m_s=-knots * knot_m_s * np.sin(angle),
        wind_v_m_s=-knots * knot_m_s * np.cos(angle),
        ground_geopotential_m=np.array([[first.station_height_m]]),
        notes=notes,
        centre_deg=(first.latitude_deg, first.longitude_deg),
        radius_m=radius_m,
    )


def _add_surface(raw: RawForecast, text: str) -> None:
    words = text.split()
    dates = [index for index, word in enumerate(words) if _DATE.fullmatch(word)]
    if not dates:
        return
    names = words[: dates[0] - 1]
    rows: list[list[float]] = []
    times: list[datetime] = []
    for at, end in zip(dates, [*(index - 1 for index in dates[1:]), len(words)], strict=True):
        try:
            numbers = [float(word) for word in words[at + 1 : end]]
            time = datetime.strptime(words[at], "%y%m%d/%H%M").replace(tzinfo=UTC)
        except ValueError:
            continue
        if len(numbers) == len(names) - 2 and (not times or time > times[-1]):
            rows.append(numbers)
            times.append(time)
    if len(rows) < len(dates):
        raw.notes.append(f"{len(dates) - len(rows)} lines of surface weather left out: damaged")
    if not rows:
        return
    table = np.array(rows)
    table[table == _MISSING] = np.nan
    surface, units = {}, {}
    for column, values in zip(names[2:], table.T, strict=True):
        if column in _SURFACE and not np.isnan(values).all():
            standard, unit, factor, offset = _SURFACE[column]
            surface[standard] = (values * factor + offset)[None, :, None, None]
            units[standard] = unit
    raw.surface, raw.units = surface, units
    raw.surface_time_s = np.array([(time - raw.issued).total_seconds() for time in times])
