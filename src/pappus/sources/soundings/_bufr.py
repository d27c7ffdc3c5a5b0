"""Soundings in WMO FM 94 BUFR: templates 3 09 052 and 3 09 057 (ascents) and 3 09 056 (descents).

Source: WMO-No. 306, Manual on Codes, volume I.2, part B, table D.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.grib import quiet_eccodes
from pappus.sources.soundings._late_winds import to_their_levels
from pappus.sources.soundings._levels import RawLevels, RawSounding, wind_components
from pappus.sources.soundings._wind_steps import written_steps

Array = NDArray[np.float64]

ASCENT_TEMPLATES = frozenset({309052, 309057})
DESCENT_TEMPLATES = frozenset({309056})
LATE_WIND_TYPES = frozenset({154})
"""Radiosonde types (code table 0 02 011) whose winds two real messages show to be of the kind of ``_late_winds``."""
_START, _END = b"BUFR", b"7777"
_MISSING_INTEGER = 2147483647
_MISSING_REAL = -1e100


def is_bufr(file: FileBytes) -> bool:
    """True when a BUFR message starts within the first bytes; a bulletin heading may stand before it."""
    return _START in file.content[:256]


def read_bufr(file: FileBytes) -> Iterator[RawSounding | BadFile]:
    """Every sounding of a file, or why a message gives none."""
    for number, message in enumerate(_messages(file), start=1):
        where = f"{file.name}, message {number}"
        if isinstance(message, str):
            yield bad_file(where, message, "Get the file again.")
        else:
            yield from _decode(where, message)


def _messages(file: FileBytes) -> Iterator[bytes | str]:
    """Cut a file into messages by the length each states in octets 5 to 7; text for one that is cut short."""
    content, start = file.content, file.content.find(_START)
    while start >= 0:
        length = int.from_bytes(content[start + 4 : start + 7], "big")
        message = content[start : start + length]
        if length >= 12 and len(message) == length and message.endswith(_END):
            yield message
            start = content.find(_START, start + length)
        else:
            yield "the BUFR message is cut short or damaged"
            start = content.find(_START, start + 4)


def _decode(where: str, message: bytes) -> Iterator[RawSounding | BadFile]:
    codes = quiet_eccodes()
    handle = None
    try:
        handle = codes.codes_new_from_message(message)
        templates = {int(code) for code in codes.codes_get_array(handle, "unexpandedDescriptors")}
        if not templates & (ASCENT_TEMPLATES | DESCENT_TEMPLATES):
            reason = f"this BUFR message is no sounding (template {min(templates):06d})"
            yield bad_file(where, reason, "Use a message of template 309052, 309056 or 309057.")
            return
        codes.codes_set(handle, "unpack", 1)
        subsets = int(codes.codes_get(handle, "numberOfSubsets"))
        for subset in range(1, subsets + 1):
            yield _sounding(_Subset(codes, handle, subset if subsets > 1 else None), templates)
    except (codes.CodesInternalError, ValueError, IndexError, MemoryError) as error:
        yield bad_file(where, f"the BUFR message cannot be decoded ({error})", "Get the file again.")
    finally:
        if handle is not None:
            codes.codes_release(handle)


class _Subset:
    """Values of one subset of a message, with NaN or None where they are missing."""

    def __init__(self, codes: Any, handle: int, number: int | None) -> None:
        self._codes, self._handle = codes, handle
        self._prefix = f"/subsetNumber={number}/" if number else ""

    def one(self, key: str) -> Any:
        """The first value of a key, None when it is missing or absent."""
        try:
            value = self._codes.codes_get(self._handle, self._prefix + key)
        except self._codes.KeyValueNotFoundError:
            return None
        return None if value in (_MISSING_INTEGER, _MISSING_REAL, "") else value

    def column(self, key: str, count: int) -> Array:
        """The first ``count`` values of a key: after the levels the message repeats keys for points of wind shear."""
        try:
            values = np.asarray(self._codes.codes_get_array(self._handle, self._prefix + key), dtype=np.float64)
        except self._codes.KeyValueNotFoundError:
            return np.full(count, np.nan)
        if len(values) == 1:
            values = np.repeat(values, count)
        if len(values) < count:
            raise ValueError(f"{len(values)} values of {key} for {count} levels")
        values = values[:count].copy()
        values[(values == _MISSING_INTEGER) | (values == _MISSING_REAL)] = np.nan
        return values


def _sounding(subset: _Subset, templates: set[int]) -> RawSounding:
    year, month, day, hour, minute = (subset.one(key) for key in ("year", "month", "day", "hour", "minute"))
    if None in (year, month, day, hour, minute):
        raise ValueError("the release time is missing")
    latitude, longitude = subset.one("latitude"), subset.one("longitude")
    if latitude is None or longitude is None:
        raise ValueError("the position of the station is missing")
    block, station = subset.one("blockNumber"), subset.one("stationNumber")
    if block is not None and station is not None:
        name = f"{block:02d}{station:03d}"
    else:
        call_sign = str(subset.one("shipOrMobileLandStationIdentifier") or "").strip()
        name = call_sign or f"at {latitude:.3f} {longitude:.3f}"
    height = subset.one("heightOfStationGroundAboveMeanSeaLevel")

    count = int(subset.one("extendedDelayedDescriptorReplicationFactor") or 0)
    levels = RawLevels.missing(count)
    levels.time_s = subset.column("timePeriod", count)
    levels.pressure_pa = subset.column("pressure", count)
    levels.geopotential_m = subset.column("nonCoordinateGeopotentialHeight", count)
    levels.temperature_k = subset.column("airTemperature", count)
    levels.wind_u_m_s, levels.wind_v_m_s = wind_components(
        subset.column("windDirection", count), subset.column("windSpeed", count)
    )
    levels.latitude_deg = latitude + subset.column("latitudeDisplacement", count)
    levels.longitude_deg = longitude + subset.column("longitudeDisplacement", count)
    notes: list[str] = []
    wind_steps = written_steps(levels.wind_u_m_s, levels.wind_v_m_s)
    if subset.one("radiosondeType") in LATE_WIND_TYPES:
        to_their_levels(levels, latitude, longitude, notes)
    return RawSounding(
        station=name,
        latitude_deg=latitude,
        longitude_deg=longitude,
        station_height_msl_m=height,
        release=datetime(year, month, day, hour, minute, int(subset.one("second") or 0), tzinfo=UTC),
        is_descent=bool(templates & DESCENT_TEMPLATES),
        levels=levels,
        notes=notes,
        wind_steps=wind_steps,
    )
