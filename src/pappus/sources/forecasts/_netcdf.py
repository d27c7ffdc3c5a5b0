"""Forecasts in netCDF files that follow the CF conventions: variables and axes are known by standard name and unit.

Source: Climate and Forecast Metadata Conventions 1.11 and its standard name table (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile
from pappus.sources._files import bad_file
from pappus.sources.forecasts._cube import RawForecast, refuse_large
from pappus.sources.grib import Area, columns_inside, rows_inside
from pappus.units import standard_gravity_m_s2

Array = NDArray[np.float64]

_WIND = {"m s-1": 1.0, "m/s": 1.0, "m s**-1": 1.0, "meter second-1": 1.0, "m.s-1": 1.0}
_KELVIN = {"K": 1.0, "kelvin": 1.0, "Kelvin": 1.0}
_METRES = {"m": 1.0, "gpm": 1.0, "metre": 1.0, "meter": 1.0, "metres": 1.0, "meters": 1.0}
_FRACTION = {"1": 1.0, "%": 0.01, "percent": 0.01}
_PRESSURE = {"Pa": 1.0, "hPa": 100.0, "mbar": 100.0, "millibar": 100.0, "mb": 100.0, "millibars": 100.0}
_FACTORS: dict[str, dict[str, float]] = {
    "eastward_wind": _WIND,
    "northward_wind": _WIND,
    "air_temperature": _KELVIN,
    "geopotential_height": _METRES,
    "geopotential": dict.fromkeys(("m2 s-2", "m**2 s**-2", "m2/s2", "m^2 s^-2", "J kg-1"), 1.0 / standard_gravity_m_s2),
    "surface_altitude": _METRES,
}
_NEAR_GROUND: dict[str, tuple[str, dict[str, float]]] = {
    "eastward_wind": ("m s-1", _WIND),
    "northward_wind": ("m s-1", _WIND),
    "wind_speed_of_gust": ("m s-1", _WIND),
    "air_temperature": ("K", _KELVIN),
    "visibility_in_air": ("m", _METRES),
    "precipitation_flux": ("kg m-2 s-1", {"kg m-2 s-1": 1.0, "kg m**-2 s**-1": 1.0, "mm s-1": 1.0}),
    "cloud_area_fraction": ("1", _FRACTION),
    "low_type_cloud_area_fraction": ("1", _FRACTION),
    "medium_type_cloud_area_fraction": ("1", _FRACTION),
    "high_type_cloud_area_fraction": ("1", _FRACTION),
}
_ORDER = ("realization", "time", "air_pressure", "latitude", "longitude")


@dataclass(eq=False)
class _Axes:
    """Which dimension is what, and the part of each that is taken, ascending (pressure falling)."""

    kind: dict[str, str]
    """Dimension to one of ``_ORDER``."""
    take: dict[str, Any]
    """One of ``_ORDER`` to a slice or an index."""
    time_s: Array
    pressure_pa: Array
    latitude_deg: Array
    longitude_deg: Array
    members: int


def holds_grid(path: Path, content: bytes | None) -> bool:
    """Whether a file holds wind on pressure levels, latitudes and longitudes; a sounding does not."""
    import netCDF4

    try:
        with netCDF4.Dataset(str(path), memory=content) if content else netCDF4.Dataset(str(path)) as data:
            return _upper(str(path), data, "eastward_wind") is not None
    except (BadFile, OSError, RuntimeError, ValueError, KeyError, AttributeError):
        return False


def read_netcdf(name: str, path: Path, content: bytes | None, area: Area | None) -> RawForecast:
    """The one run of a file, read from ``content`` where it had to be unpacked, else from ``path``."""
    import netCDF4

    try:
        with netCDF4.Dataset(str(path), memory=content) if content else netCDF4.Dataset(str(path)) as data:
            return _read(name, data, area)
    except (OSError, RuntimeError, IndexError, KeyError, AttributeError, TypeError, MemoryError) as error:
        raise bad_file(name, f"the netCDF file cannot be read ({error})", "Get the file again.") from None
    except ValueError as error:
        raise bad_file(name, f"the netCDF file cannot be understood ({error})", "Get the file again.") from None


def _read(name: str, data: Any, area: Area | None) -> RawForecast:
    upper = {standard: _upper(name, data, standard) for standard in ("eastward_wind", "northward_wind")}
    upper["air_temperature"] = _upper(name, data, "air_temperature")
    absent = [standard for standard, variable in upper.items() if variable is None]
    height = next((one for one in ("geopotential_height", "geopotential") if _upper(name, data, one) is not None), None)
    if height is None:
        absent.append("geopotential_height or geopotential")
    if absent or height is None:
        reason = f"no variable on pressure levels has the standard name {', '.join(absent)}"
        raise bad_file(name, reason, "Get a file that follows the CF conventions.")
    upper[height] = _upper(name, data, height)
    notes: list[str] = []
    issued = _issued(name, data)
    axes, first_valid = _axes(name, data, upper["eastward_wind"], area, issued)
    if issued is None:
        issued = first_valid
        notes.append("the file names no run: its first valid time is taken for it")
    points = len(axes.latitude_deg) * len(axes.longitude_deg)
    refuse_large(name, axes.members, len(axes.time_s), len(axes.pressure_pa), points)
    cubes = {}
    for standard, variable in upper.items():
        shape = (axes.members, len(axes.time_s), len(axes.pressure_pa), len(axes.latitude_deg), len(axes.longitude_deg))
        values = _values(name, variable, axes, _FACTORS[standard])
        if values.shape != shape:
            raise bad_file(name, f"{standard} does not lie on the axes of the wind", "Get the file again.")
        cubes[standard] = values
    raw = RawForecast(
        name=f"netCDF {name}, run {issued:%Y-%m-%d %H:%M} UTC",
        issued=issued,
        time_s=axes.time_s,
        latitude_deg=axes.latitude_deg,
        longitude_deg=axes.longitude_deg,
        pressure_pa=axes.pressure_pa[None, None, :, None, None],
        geopotential_m=cubes[height],
        temperature_k=cubes["air_temperature"],
        wind_u_m_s=cubes["eastward_wind"],
        wind_v_m_s=cubes["northward_wind"],
        notes=notes,
    )
    _add_ground_and_surface(name, data, axes, raw)
    return raw


def _standard(variable: Any) -> str:
    return str(getattr(variable, "standard_name", ""))


def _unit(variable: Any) -> str:
    return str(getattr(variable, "units", "")).strip()


def _kind(data: Any, dimension: str) -> str | None:
    """What a dimension is, by the standard name or the unit of its coordinate."""
    variable = data.variables.get(dimension)
    if variable is None:
        return None
    if _standard(variable) in _ORDER:
        return _standard(variable)
    unit = _unit(variable)
    if " since " in unit:
        return "time"
    if unit in _PRESSURE:
        return "air_pressure"
    if unit in ("degrees_north", "degree_north"):
        return "latitude"
    return "longitude" if unit in ("degrees_east", "degree_east") else None


def _upper(name: str, data: Any, standard: str) -> Any:
    """The variable of that name on pressure levels, None when there is none."""
    found = [
        variable
        for variable in data.variables.values()
        if _standard(variable) == standard
        and {"air_pressure", "latitude", "longitude"} <= {_kind(data, dimension) for dimension in variable.dimensions}
    ]
    if len(found) > 1:
        raise bad_file(name, f"several variables are called {standard}", "Leave one in the file.")
    return found[0] if found else None


def _axes(name: str, data: Any, wind: Any, area: Area | None, issued: datetime | None) -> tuple[_Axes, datetime]:
    kind: dict[str, str] = {}
    for dimension in wind.dimensions:
        found = _kind(data, dimension)
        if found is None or found in kind.values():
            reason = f"it is not known what the dimension {dimension} is"
            raise bad_file(name, reason, "Dimensions are member, time, pressure, latitude and longitude.")
        kind[dimension] = found
    sizes = {found: len(data.dimensions[dimension]) for dimension, found in kind.items()}
    if max(sizes.values()) > 1_000_000 or min(sizes.values()) < 1:
        raise bad_file(name, "an axis is empty or absurdly long", "Get the file again.", value=str(sizes))
    coordinates = {found: data.variables[dimension] for dimension, found in kind.items()}
    take: dict[str, Any] = {"realization": slice(None)}

    times, take["time"] = [issued] if issued else [], slice(None)
    if "time" in coordinates:
        times = _times(name, coordinates["time"])
    if not times:
        raise bad_file(name, "it has no time", "Get a file that follows the CF conventions.")
    start = issued or times[0]
    time_s = np.array([(time - start).total_seconds() for time in times])
    if not bool((np.diff(time_s) > 0).all()):
        raise bad_file(name, "its times do not ascend", "Sort the times.")

    unit = _unit(coordinates["air_pressure"])
    if unit not in _PRESSURE:
        raise bad_file(name, "the pressure of levels is in an unknown unit", "Use Pa or hPa.", value=unit)
    pressure = _plain(coordinates["air_pressure"]) * _PRESSURE[unit]
    take["air_pressure"] = np.argsort(-pressure)
    latitude, take["latitude"] = _ascending(name, _plain(coordinates["latitude"]), "latitude")
    if abs(latitude).max() > 90.0:
        raise bad_file(name, "a latitude is beyond a pole", "Get the file again.")
    rows = rows_inside(name, latitude, area)
    longitude = _plain(coordinates["longitude"])
    falling = len(longitude) > 1 and (longitude[1] - longitude[0]) % 360.0 > 180.0
    longitude = longitude[::-1] if falling else longitude
    steps = np.diff(longitude) % 360.0
    if len(longitude) > 1 and steps[-1] == 0.0:
        steps[-1] = 360.0  # a file that repeats its first column in a grid of two
    longitude = longitude[0] + np.concatenate(([0.0], np.cumsum(steps)))
    if not bool((steps > 0).all()) or longitude[-1] - longitude[0] > 360.0 + 1e-6:
        raise bad_file(name, "its longitudes do not ascend", "Sort the longitudes.")
    columns, longitude_cut = columns_inside(name, longitude, area)
    order = np.arange(len(longitude))[::-1] if falling else np.arange(len(longitude))
    take["latitude"], take["longitude"] = take["latitude"][rows], order[columns]
    found_axes = _Axes(
        kind,
        take,
        time_s,
        pressure[take["air_pressure"]],
        latitude[rows],
        longitude_cut,
        sizes.get("realization", 1),
    )
    return found_axes, start


def _plain(variable: Any) -> Array:
    values = np.ma.filled(np.ma.asarray(variable[:], dtype=np.float64), np.nan)
    if values.ndim != 1 or not np.isfinite(values).all():
        raise ValueError(f"the axis {variable.name} has gaps or is not one column")
    return np.asarray(values)


def _ascending(name: str, values: Array, what: str) -> tuple[Array, NDArray[np.intp]]:
    order = np.argsort(values)
    if len(np.unique(values)) != len(values):
        raise bad_file(name, f"a {what} is there twice", "Get the file again.")
    return values[order], order


def _times(name: str, variable: Any) -> list[datetime]:
    import netCDF4

    try:
        found = netCDF4.num2date(
            _plain_or_scalar(variable),
            _unit(variable),
            getattr(variable, "calendar", "standard"),
            only_use_cftime_datetimes=False,
            only_use_python_datetimes=True,
        )
    except (ValueError, OverflowError) as error:
        raise bad_file(name, f"its times cannot be understood ({error})", "Use hours since a date.") from None
    return [time.replace(tzinfo=UTC) for time in np.atleast_1d(np.asarray(found))]


def _plain_or_scalar(variable: Any) -> Array:
    return np.atleast_1d(np.ma.filled(np.ma.asarray(variable[...], dtype=np.float64), np.nan))


def _issued(name: str, data: Any) -> datetime | None:
    for variable in data.variables.values():
        if _standard(variable) == "forecast_reference_time":
            runs = set(_times(name, variable))
            if len(runs) > 1:
                raise bad_file(name, "it holds several runs", "Split it: one run a file.")
            return runs.pop()
    return None


def _values(name: str, variable: Any, axes: _Axes, factors: dict[str, float]) -> Array:
    """The part that is taken, with every axis of ``_ORDER``, in SI."""
    unit = _unit(variable)
    if unit not in factors:
        standard = _standard(variable)
        raise bad_file(name, f"{standard} is in an unknown unit", f"Use {next(iter(factors))}.", value=unit or "none")
    kinds = [axes.kind.get(dimension, dimension) for dimension in variable.dimensions]
    # rows are cut while reading, which is most of what an area leaves out
    rows = axes.take["latitude"]
    window = slice(int(rows.min()), int(rows.max()) + 1)
    index = tuple(window if kind == "latitude" else slice(None) for kind in kinds)
    values = np.ma.filled(np.ma.asarray(variable[index], dtype=np.float64), np.nan)
    for place, kind in enumerate(kinds):
        taken = rows - window.start if kind == "latitude" else axes.take[kind]
        values = values[(slice(None),) * place + (taken,)]
    order = [kinds.index(kind) for kind in _ORDER if kind in kinds]
    values = values.transpose(order)
    missing = tuple(place for place, kind in enumerate(_ORDER) if kind not in kinds)
    return np.ascontiguousarray(np.expand_dims(values, missing) * factors[unit])


def _add_ground_and_surface(name: str, data: Any, axes: _Axes, raw: RawForecast) -> None:
    surface, units = {}, {}
    for variable in data.variables.values():
        standard, dimensions = _standard(variable), set(variable.dimensions)
        kinds = {axes.kind.get(dimension) for dimension in dimensions}
        if not {"latitude", "longitude"} <= kinds or None in kinds or "air_pressure" in kinds:
            continue
        if standard == "surface_altitude" and len(dimensions) == 2:
            raw.ground_geopotential_m = _values(name, variable, axes, _METRES)[0, 0, 0]
        elif standard in _NEAR_GROUND and "time" in kinds and standard not in surface:
            units[standard], factors = _NEAR_GROUND[standard]
            values = _values(name, variable, axes, factors)[:, :, 0]
            surface[standard] = np.repeat(values, axes.members // len(values), axis=0)
    raw.surface, raw.units = surface, units
