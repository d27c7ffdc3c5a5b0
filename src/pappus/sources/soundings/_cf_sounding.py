"""Soundings in netCDF: one record a second, positions along the flight.

Variables are known by their CF standard names or, in files older than those, by the long names that archives give to
the same quantities.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.sources._files import FileBytes, bad_file
from pappus.sources.soundings._height_kind import as_geopotential
from pappus.sources.soundings._legs import both_legs
from pappus.sources.soundings._levels import RawLevels, RawSounding

Array = NDArray[np.float64]

_MISSING_BELOW = -9000.0
"""Some archives write -9999 without declaring it."""
# standard name -> unit as found in files -> factor and offset to SI
_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "latitude": {
        "degree_north": (1.0, 0.0),
        "degrees_north": (1.0, 0.0),
        "degree_n": (1.0, 0.0),
        "degrees": (1.0, 0.0),
    },
    "longitude": {"degree_east": (1.0, 0.0), "degrees_east": (1.0, 0.0), "degree_e": (1.0, 0.0), "degrees": (1.0, 0.0)},
    "altitude": {"m": (1.0, 0.0), "meters above mean sea level": (1.0, 0.0)},
    "geopotential_height": {"m": (1.0, 0.0)},
    "air_pressure": {"hpa": (100.0, 0.0), "pa": (1.0, 0.0)},
    "air_temperature": {"k": (1.0, 0.0), "degc": (1.0, 273.15), "c": (1.0, 273.15), "celsius": (1.0, 273.15)},
    "eastward_wind": {"m s-1": (1.0, 0.0), "m/s": (1.0, 0.0)},
    "northward_wind": {"m s-1": (1.0, 0.0), "m/s": (1.0, 0.0)},
}
# long name in small letters -> standard name
_LONG_NAMES = {
    "north latitude": "latitude",
    "east longitude": "longitude",
    "altitude": "altitude",
    "altitude above mean sea level": "altitude",
    "pressure": "air_pressure",
    "dry bulb temperature": "air_temperature",
    "eastward wind component": "eastward_wind",
    "northward wind component": "northward_wind",
}


# what the library raises on bytes that are not what the head of the file says
_DAMAGE = (OSError, RuntimeError, ValueError, IndexError, KeyError, TypeError, OverflowError, AttributeError)


def read_cf_sounding(file: FileBytes) -> list[RawSounding]:
    """The ascent and, where the record goes on, the descent; heights come from geopotential height or altitude."""
    import netCDF4

    try:
        with netCDF4.Dataset("in-memory", memory=file.content) as dataset:
            raw = _record(dataset, file)
    except _DAMAGE as error:
        raise bad_file(file.name, f"the netCDF file is damaged ({error})", "Get the file again.") from None
    return both_legs(raw)


def _record(dataset: Any, file: FileBytes) -> RawSounding:
    found = {name: _column(dataset, name, file) for name in _UNITS}
    missing = [name for name in ("latitude", "longitude", "eastward_wind", "northward_wind") if found[name] is None]
    height = found["geopotential_height"] is not None or found["altitude"] is not None
    if missing or not height:
        wanted = ", ".join(missing or ["geopotential_height or altitude"])
        reason = f"along its time no variable has the CF standard name {wanted}"
        raise bad_file(file.name, reason, "Give a file with wind.")
    start, seconds = _times(dataset, file)
    latitude, longitude = found["latitude"], found["longitude"]
    assert latitude is not None
    assert longitude is not None
    measured = "latitude_calculation" not in dataset.ncattrs()
    site = str(getattr(dataset, "site", getattr(dataset, "site_id", ""))).split(",")[0].strip()
    levels = RawLevels.missing(len(seconds))
    levels.time_s, levels.latitude_deg, levels.longitude_deg = seconds, latitude, longitude
    for name, column in (
        ("air_pressure", "pressure_pa"),
        ("air_temperature", "temperature_k"),
        ("eastward_wind", "wind_u_m_s"),
        ("northward_wind", "wind_v_m_s"),
        ("geopotential_height", "geopotential_m"),
    ):
        values = found[name]
        if values is not None:
            setattr(levels, column, values)
    altitude, known = found["altitude"], np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    if not known.size:
        raise bad_file(file.name, "no record has a position", "Give a file with positions.")
    first = int(known[0])
    notes: list[str] = []
    if found["geopotential_height"] is None and altitude is not None:
        # without measured positions there was no measured height either: it was worked out from the pressure
        levels.geopotential_m = as_geopotential(
            altitude,
            levels.pressure_pa,
            levels.temperature_k,
            float(latitude[first]),
            notes,
            stands_for_geometric=measured,
        )
    return RawSounding(
        station=site or f"{latitude[first]:.2f} {longitude[first]:.2f}",
        latitude_deg=float(latitude[first]),
        longitude_deg=float(longitude[first]),
        station_height_msl_m=None,
        release=start,
        is_descent=False,
        levels=levels,
        notes=notes,
        positions_measured=measured,
    )


def _column(dataset: Any, standard_name: str, file: FileBytes) -> Array | None:
    """The first variable of that standard name along the time in SI, NaN where missing; uncertainties are skipped."""
    time = dataset.variables.get("time")
    for variable in dataset.variables.values():
        # "altitude" also names heights above the ellipsoid: the one above mean sea level says so, or is the only one
        if _name(variable) != standard_name or variable.ndim != 1:
            continue
        if time is not None and variable.dimensions != time.dimensions:
            continue
        if "wgs84" in variable.name.lower():
            continue
        unit = str(getattr(variable, "units", "")).strip()
        try:
            factor, offset = _UNITS[standard_name][unit.lower()]
        except KeyError:
            raise bad_file(
                f"{file.name}: {variable.name}",
                f"the unit of {standard_name} is not understood",
                f"Use one of: {', '.join(_UNITS[standard_name])}.",
                value=unit or "none",
            ) from None
        values: Array = np.ma.filled(np.ma.asarray(variable[:], dtype=float), np.nan)
        return np.where(values > _MISSING_BELOW, values, np.nan) * factor + offset
    return None


def _name(variable: Any) -> str:
    """Standard name, by the long name where the variable carries none."""
    standard_name = str(getattr(variable, "standard_name", "")).strip()
    return standard_name or _LONG_NAMES.get(str(getattr(variable, "long_name", "")).strip().lower(), "")


def _times(dataset: Any, file: FileBytes) -> tuple[datetime, Array]:
    """Time of the first record and seconds since then."""
    import netCDF4

    variable = dataset.variables.get("time")
    if variable is None or variable.ndim != 1 or len(variable) == 0:
        raise bad_file(file.name, "it has no variable named time along its record", "Give a file with times.")
    seconds: Array = np.ma.filled(np.ma.asarray(variable[:], dtype=float), np.nan)
    unit = str(getattr(variable, "units", ""))
    try:
        # whole seconds after the unit's epoch keep the record's own precision; only the epoch is decoded
        unit_read = unit.replace(" 0:00:00 0:00", " 0:00:00")
        epoch: Any = netCDF4.num2date([0], unit_read, only_use_cftime_datetimes=False)
    except ValueError as error:
        raise bad_file(f"{file.name}: time", f"the unit is not understood ({error})", "Use CF time units.") from None
    if not unit.startswith("seconds"):
        raise bad_file(f"{file.name}: time", "times must be in seconds", "Use CF time units.", value=unit)
    if not (known := seconds[np.isfinite(seconds)]).size:
        raise bad_file(f"{file.name}: time", "no record has a time", "Give a file with times.")
    first = float(known[0])
    start = datetime.fromtimestamp(epoch[0].replace(tzinfo=UTC).timestamp() + first, UTC)
    return start, seconds - first
