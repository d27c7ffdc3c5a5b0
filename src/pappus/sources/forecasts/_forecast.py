"""One door for forecasts of every format; the content tells the format, not the name."""

from __future__ import annotations

import gzip
import hashlib
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pappus.earth import require_range
from pappus.errors import BadFile, BadInput, Finding
from pappus.sources._files import bad_file, is_netcdf, read_file
from pappus.sources.forecasts._bufkit import is_bufkit, read_bufkit
from pappus.sources.forecasts._cube import Forecast, RawForecast, build_forecast
from pappus.sources.forecasts._grib import read_grib
from pappus.sources.forecasts._kept import keep, kept_path, load_kept
from pappus.sources.forecasts._netcdf import holds_grid, read_netcdf
from pappus.sources.grib import Area, Bytes, is_grib
from pappus.wind import SourceFile

LARGEST_FORECAST_BYTES = 100_000_000_000
_HEAD_OCTETS = 65_536


@dataclass(frozen=True, eq=False)
class _File:
    path: Path
    name: str
    sha256: str
    content: Bytes
    """Mapped from disk, or unpacked in memory."""
    is_packed: bool


def read_forecast(
    paths: Sequence[str | Path],
    *,
    keep_in: Path | None = None,
    area: tuple[float, float, float, float] | None = None,
    column_radius_m: float = 200_000.0,
) -> list[Forecast]:
    """Every model run of some files that belong together, in the order of their issue.

    Read are GRIB editions 1 and 2 (u, v, t with gh or z on pressure levels; u, v, t, q with lnsp or sp and z on model
    levels; regular latitude-longitude, regular Gaussian and Lambert grids), netCDF by the CF conventions, and BUFKIT
    text, a column that is taken to hold within ``column_radius_m`` (1 m to 2000 km) of its station. GRIB files of one
    run are joined; no forecast mixes two runs. Text and GRIB may be packed with gzip.

    ``area`` is south, north, west, east in degrees; the forecast is cut to it with a margin of two cells at most.
    ``keep_in`` is a folder in which the decoded forecast is kept for the next time.

    Raises BadFile when a file is damaged or no run in it can be used; what was left out is in the notes.
    """
    require_range("radius of the area of a column", column_radius_m, 1.0, 2e6, "m")
    if not paths:
        raise BadInput(Finding("forecast", "", "no file is named", "Name at least one file."))
    box = None if area is None else Area.of(area)
    named = [Path(path) for path in paths]
    kept = None
    if keep_in is not None:
        for path in named:
            _require_file(path)
        kept = kept_path(keep_in, named, f"{area} {column_radius_m}")
        found = load_kept(kept)
        if found is not None:
            return found
    files = [_open(path) for path in named]
    raws = sorted(_runs(files, box, column_radius_m), key=lambda raw: raw.issued)
    forecasts = []
    for raw in raws:
        sources = tuple(SourceFile(files[index].name, files[index].sha256, raw.name) for index in sorted(raw.files))
        forecasts.append(build_forecast(raw, sources))
    if kept is not None:
        try:
            keep(kept, forecasts)
        except OSError as error:  # a full disk costs the next reading time, nothing else
            note = f"the decoded forecast could not be kept ({error.strerror})"
            forecasts = [replace(one, field=replace(one.field, notes=(*one.field.notes, note))) for one in forecasts]
    return forecasts


def looks_like_column_forecast(path: str | Path) -> bool:
    """Whether a file holds forecasts for one station as text; False for one that cannot be opened."""
    try:
        with open(path, "rb") as file:
            head = file.read(_HEAD_OCTETS)
        if head.startswith(b"\x1f\x8b"):
            with gzip.open(path) as packed:
                head = packed.read(_HEAD_OCTETS)
    except (OSError, EOFError, zlib.error):
        return False
    return is_bufkit(head)


def looks_like_forecast(path: str | Path) -> bool:
    """Whether a file is of a format that ``read_forecast`` reads; False for one that cannot be opened."""
    try:
        with open(path, "rb") as file:
            head = file.read(_HEAD_OCTETS)
        if head.startswith(b"\x1f\x8b"):
            with gzip.open(path) as packed:
                head = packed.read(_HEAD_OCTETS)
            if is_netcdf(head):
                return holds_grid(Path(path), read_file(path).content)
    except (OSError, EOFError, ValueError, zlib.error, BadFile):
        return False
    return is_grib(head[:1024]) or is_bufkit(head) or (is_netcdf(head) and holds_grid(Path(path), None))


def _runs(files: Sequence[_File], area: Area | None, column_radius_m: float) -> Iterator[RawForecast]:
    grib: list[int] = []
    for index, file in enumerate(files):
        head = file.content[:_HEAD_OCTETS].tobytes()
        if is_grib(head[:1024]):
            grib.append(index)
        elif is_netcdf(head):
            content = file.content.tobytes() if file.is_packed else None
            yield _from(read_netcdf(file.name, file.path, content, area), index)
        elif is_bufkit(head):
            for raw in read_bufkit(file.name, file.content.tobytes(), radius_m=column_radius_m):
                yield _from(raw, index)
        else:
            reason = "this is no forecast: neither GRIB nor netCDF nor BUFKIT text"
            raise bad_file(file.name, reason, "Name a forecast file.")
    if grib:
        for raw in read_grib([(files[index].name, files[index].content) for index in grib], area):
            raw.files = frozenset(grib[place] for place in raw.files)
            yield raw


def _from(raw: RawForecast, index: int) -> RawForecast:
    raw.files = frozenset({index})
    return raw


def _require_file(path: Path) -> int:
    """Size of a file; BadFile when there is none that could be a forecast."""
    name = path.name or str(path)
    try:
        if not path.is_file():
            reason = "there is no such file" if not path.exists() else "this is not a regular file"
            raise bad_file(name, reason, "Check the path.")
        size = path.stat().st_size
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        raise bad_file(name, f"it cannot be read ({error})", "Check the path and the permissions.") from None
    if size == 0:
        raise bad_file(name, "the file is empty", "Get the file again.")
    if size > LARGEST_FORECAST_BYTES:
        reason = f"the file is larger than {LARGEST_FORECAST_BYTES / 1e9:.0f} GB"
        raise bad_file(name, reason, "Cut out the part for the place and day.", value=f"{size / 1e9:.0f} GB")
    return size


def _open(path: Path) -> _File:
    _require_file(path)
    name = path.name or str(path)
    try:
        content: Bytes = np.memmap(path, dtype=np.uint8, mode="r").view(np.ndarray)
    except (OSError, ValueError) as error:
        raise bad_file(name, f"it cannot be read ({error})", "Check the path and the permissions.") from None
    if content[:2].tobytes() == b"\x1f\x8b":
        file = read_file(path)
        return _File(path, name, file.sha256, np.frombuffer(file.content, np.uint8), True)
    return _File(path, name, hashlib.sha256(content.data).hexdigest(), content, False)
