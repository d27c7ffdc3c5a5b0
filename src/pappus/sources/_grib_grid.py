"""Where the values of a GRIB field lie: every grid becomes ascending latitudes and longitudes, cut to an area.

ecCodes reads the grid once for all fields that share it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.sources._files import bad_file
from pappus.sources._forecast_area import Area, columns_inside, rows_inside
from pappus.sources._grib_messages import eccodes
from pappus.sources._lambert import Lambert, LambertGrid

Array = NDArray[np.float64]

_READ = "Use a regular latitude-longitude, a regular Gaussian or a Lambert conformal grid."


@dataclass(frozen=True, eq=False)
class Grid:
    """Axes of the result and the way there."""

    latitude_deg: Array
    longitude_deg: Array
    cut: Callable[[Array], Array]
    """Values (n, point) in the order of the file to (n, latitude, longitude)."""
    earth_wind: Callable[[Array, Array], tuple[Array, Array]]
    """Eastward and northward wind from the components of the file, both (..., latitude, longitude)."""
    notes: tuple[str, ...]


def read_grid(name: str, message: bytes, area: Area | None) -> Grid:
    """The grid of a message; raises BadFile for a kind that we do not read or one outside the area."""
    codes = eccodes()
    handle = None
    try:
        handle = codes.codes_new_from_message(message)
        return _grid(name, _Keys(codes, handle), area)
    except (codes.CodesInternalError, ValueError, MemoryError) as error:
        raise bad_file(name, f"the grid cannot be understood ({error})", "Get the file again.") from None
    finally:
        if handle is not None:
            codes.codes_release(handle)


class _Keys:
    def __init__(self, codes: Any, handle: int) -> None:
        self._codes, self._handle = codes, handle

    def number(self, key: str) -> float:
        return float(self._codes.codes_get_double(self._handle, key))

    def whole(self, key: str) -> int:
        return int(self._codes.codes_get_long(self._handle, key))

    def text(self, key: str) -> str:
        return str(self._codes.codes_get_string(self._handle, key))

    def numbers(self, key: str) -> Array:
        return np.asarray(self._codes.codes_get_array(self._handle, key), dtype=np.float64)


def _grid(name: str, keys: _Keys, area: Area | None) -> Grid:
    kind = keys.text("gridType")
    if kind not in ("regular_ll", "regular_gg", "lambert"):
        raise bad_file(name, "grids of this kind are not read", _READ, value=kind)
    if keys.whole("alternativeRowScanning"):
        raise bad_file(name, "rows of the grid run to and fro", "Convert it so that all rows run the same way.")
    if kind == "lambert":
        return _lambert_grid(name, keys, area)
    return _latitude_grid(name, keys, area, gaussian=kind == "regular_gg")


def _as_rows(keys: _Keys, columns: int, rows: int) -> Callable[[Array], Array]:
    """Values (n, point) to (n, row, column) with ascending rows and columns."""
    by_column = keys.whole("jPointsAreConsecutive")
    flip_rows = slice(None, None, 1 if keys.whole("jScansPositively") else -1)
    flip_columns = slice(None, None, -1 if keys.whole("iScansNegatively") else 1)

    def as_rows(values: Array) -> Array:
        if by_column:
            table = values.reshape(len(values), columns, rows).transpose(0, 2, 1)
        else:
            table = values.reshape(len(values), rows, columns)
        return table[:, flip_rows, flip_columns]

    return as_rows


def _latitude_grid(name: str, keys: _Keys, area: Area | None, *, gaussian: bool) -> Grid:
    columns, rows = keys.whole("Ni"), keys.whole("Nj")
    first, last = (keys.number(f"latitudeOf{end}GridPointInDegrees") for end in ("First", "Last"))
    latitude = np.sort(keys.numbers("distinctLatitudes")) if gaussian else np.linspace(first, last, rows)
    latitude = np.sort(latitude)
    north_first = not keys.whole("jScansPositively")
    if len(latitude) != rows or abs(latitude).max() > 90.0 or (rows > 1 and (first > last) is not north_first):
        raise bad_file(name, "the latitudes of the grid contradict each other", "Get the file again.")
    first, last = (keys.number(f"longitudeOf{end}GridPointInDegrees") for end in ("First", "Last"))
    if keys.whole("iScansNegatively"):
        first, last = last, first
    span = (last - first) % 360.0
    if columns > 1 and span < 1e-6:
        span = 360.0
    longitude = first + span * np.arange(columns) / max(columns - 1, 1)
    row_slice = rows_inside(name, latitude, area)
    columns_taken, longitude = columns_inside(name, longitude, area)
    as_rows = _as_rows(keys, columns, rows)

    def cut(values: Array) -> Array:
        return np.ascontiguousarray(as_rows(values)[:, row_slice][:, :, columns_taken])

    def same(wind_u: Array, wind_v: Array) -> tuple[Array, Array]:
        return wind_u, wind_v

    return Grid(latitude[row_slice], longitude, cut, same, ())


def _lambert_grid(name: str, keys: _Keys, area: Area | None) -> Grid:
    grid = _lambert_of(keys)
    as_rows = _as_rows(keys, grid.columns, grid.rows)
    south, north, west, east = grid.bounds_deg()
    if area is not None:
        margin = 2.0 * max(grid.dx_m, grid.dy_m) / 111_195.0
        area_west = west + (area.west_deg - west) % 360.0
        if area_west > east:
            area_west -= 360.0
        area_east = area_west + area.width_deg
        sideways = margin / max(np.cos(np.radians(min(max(abs(area.south_deg), abs(area.north_deg)), 89.0))), 0.02)
        south, north = max(south, area.south_deg - margin), min(north, area.north_deg + margin)
        west, east = max(west, area_west - sideways), min(east, area_east + sideways)
    axes = grid.axes_inside((south, north, west, east)) if south < north and west < east else None
    if axes is None:
        raise bad_file(name, "the forecast does not reach into the area asked for", "Get one for that area.")
    latitude, longitude = axes
    on_map = bool(keys.whole("uvRelativeToGrid"))

    def cut(values: Array) -> Array:
        return grid.interpolated(as_rows(values), latitude, longitude)

    def earth_wind(wind_u: Array, wind_v: Array) -> tuple[Array, Array]:
        return grid.projection.earth_wind(wind_u, wind_v, longitude) if on_map else (wind_u, wind_v)

    shift = 360.0 * np.floor((longitude[0] + 180.0) / 360.0)
    note = (
        f"brought from a Lambert grid of {grid.dx_m / 1e3:g} km to {len(latitude)} x {len(longitude)} latitudes and "
        "longitudes (bilinear), in the largest box inside that grid"
    )
    return Grid(latitude, longitude - shift, cut, earth_wind, (note,))


def _lambert_of(keys: _Keys) -> LambertGrid:
    minor = major = keys.number("radius") if not keys.whole("earthIsOblate") else 0.0
    if major == 0.0:
        major, minor = keys.number("earthMajorAxisInMetres"), keys.number("earthMinorAxisInMetres")
    projection = Lambert(
        major,
        float(np.sqrt(1.0 - (minor / major) ** 2)),
        keys.number("Latin1InDegrees"),
        keys.number("Latin2InDegrees"),
        keys.number("LoVInDegrees"),
    )
    columns, rows = keys.whole("Nx"), keys.whole("Ny")
    dx, dy = keys.number("DxInMetres"), keys.number("DyInMetres")
    if columns < 2 or rows < 2 or dx <= 0 or dy <= 0 or abs(projection.cone) < 1e-3:
        raise ValueError("a Lambert grid without size")
    x0, y0 = projection.on_map_m(
        keys.number("latitudeOfFirstGridPointInDegrees"), keys.number("longitudeOfFirstGridPointInDegrees")
    )
    x0_m = float(x0) - ((columns - 1) * dx if keys.whole("iScansNegatively") else 0.0)
    y0_m = float(y0) - ((rows - 1) * dy if not keys.whole("jScansPositively") else 0.0)
    return LambertGrid(projection, x0_m, y0_m, dx, dy, columns, rows)


