"""Weather centres that publish forecasts openly: where their files lie, how they are called, which steps they have.

Addresses, names and steps are from memory and may be out of date; the address is a setting. What a centre does not
have shows as a file that is not published.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from pappus.sources.centres._run_index import RunIndex, read_ecmwf_index, read_ncep_index


@dataclass(frozen=True)
class RemoteFile:
    """One GRIB file of a run below the base address; ``member`` is None when the file holds all of them."""

    path: str
    index_path: str
    step_h: int
    member: int | None


@dataclass(frozen=True)
class Centre:
    """One model of one centre."""

    name: str
    """Short name, as a person types it."""
    title: str
    number: int
    """In WMO common code table C-11 (from memory)."""
    base_url: str
    """The default; ``plan_fetch`` takes another one."""
    members: tuple[int, ...]
    """Published ones, 0 the control; only 0 for a forecast without members."""
    run_every_h: int
    steps_h: Callable[[int], tuple[int, ...]]
    """Published lead times in hours, by the hour of the run."""
    files_of: Callable[[datetime, int, tuple[int, ...]], list[RemoteFile]]
    """Files with one step of some members."""
    read_index: Callable[[bytes, datetime], RunIndex]
    attribution: str


def _steps(*parts: tuple[int, int, int]) -> tuple[int, ...]:
    """First, last and distance of each part."""
    return tuple(hour for first, last, every in parts for hour in range(first, last + 1, every))


def _ncep_global(run: datetime, step_h: int, members: tuple[int, ...]) -> list[RemoteFile]:
    path = f"gfs.{run:%Y%m%d}/{run:%H}/atmos/gfs.t{run:%H}z.pgrb2.0p25.f{step_h:03d}"
    return [RemoteFile(path, path + ".idx", step_h, 0)]


def _ncep_ensemble(run: datetime, step_h: int, members: tuple[int, ...]) -> list[RemoteFile]:
    """Two files each: the usual levels and fields (a) and all others (b)."""
    files = []
    for member in members:
        who = f"gep{member:02d}" if member else "gec00"
        for part in ("a", "b"):
            folder = f"gefs.{run:%Y%m%d}/{run:%H}/atmos/pgrb2{part}p5"
            path = f"{folder}/{who}.t{run:%H}z.pgrb2{part}.0p50.f{step_h:03d}"
            files.append(RemoteFile(path, path + ".idx", step_h, member))
    return files


def _ecmwf(run: datetime, step_h: int, stream: str, kind: str, member: int | None) -> list[RemoteFile]:
    folder = f"{run:%Y%m%d}/{run:%H}z/ifs/0p25/{stream}"
    path = f"{folder}/{run:%Y%m%d%H}0000-{step_h}h-{stream}-{kind}"
    return [RemoteFile(path + ".grib2", path + ".index", step_h, member)]


def _ecmwf_single(run: datetime, step_h: int, members: tuple[int, ...]) -> list[RemoteFile]:
    return _ecmwf(run, step_h, "oper" if run.hour in (0, 12) else "scda", "fc", 0)


def _ecmwf_ensemble(run: datetime, step_h: int, members: tuple[int, ...]) -> list[RemoteFile]:
    return _ecmwf(run, step_h, "enfo", "ef", None)


def _ecmwf_steps(hour: int) -> tuple[int, ...]:
    return _steps((0, 144, 3), (150, 240, 6)) if hour in (0, 12) else _steps((0, 144, 3))


_NOAA = "NOAA/NCEP, US government data"
_ECMWF = "ECMWF open data, CC BY 4.0 (from memory)"

CENTRES = {
    centre.name: centre
    for centre in (
        Centre(
            "gfs", "NCEP global forecast, 0.25 deg", 7, "https://noaa-gfs-bdp-pds.s3.amazonaws.com", (0,), 6,
            lambda hour: _steps((0, 120, 1), (123, 384, 3)), _ncep_global, read_ncep_index, _NOAA,
        ),
        Centre(
            "gefs", "NCEP global ensemble, 0.5 deg", 7, "https://noaa-gefs-pds.s3.amazonaws.com", tuple(range(31)), 6,
            lambda hour: _steps((0, 240, 3), (246, 384, 6)), _ncep_ensemble, read_ncep_index, _NOAA,
        ),
        Centre(
            "ifs", "ECMWF global forecast, 0.25 deg", 98, "https://data.ecmwf.int/forecasts", (0,), 6,
            _ecmwf_steps, _ecmwf_single, read_ecmwf_index, _ECMWF,
        ),
        Centre(
            "ifs-ens", "ECMWF global ensemble, 0.25 deg", 98, "https://data.ecmwf.int/forecasts", tuple(range(51)), 6,
            _ecmwf_steps, _ecmwf_ensemble, read_ecmwf_index, _ECMWF,
        ),
    )
}  # fmt: skip
"""By name."""
