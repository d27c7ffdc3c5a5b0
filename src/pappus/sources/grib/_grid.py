"""Where the values of a GRIB field lie: every grid becomes ascending latitudes and longitudes, cut to an area.

Source: WMO-No. 306, Manual on Codes, volume I.2, FM 92 GRIB edition 2, templates 3.0, 3.30, 3.40 and code table 3.2,
and edition 1, section 2 (from memory; the tests compare with ecCodes). Own code, since ecCodes crashes the process on
damaged headers.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.sources._files import bad_file
from pappus.sources.grib._area import Area, columns_inside, rows_inside
from pappus.sources.grib._lambert import Lambert, LambertGrid

Array = NDArray[np.float64]

_READ = "Use a regular latitude-longitude, a regular Gaussian or a Lambert conformal grid."
_REGULAR, _GAUSSIAN, _LAMBERT = 0, 40, 30
_KINDS_1 = {0: _REGULAR, 4: _GAUSSIAN, 3: _LAMBERT}
_OTHER_KINDS = {1: "rotated latitude-longitude", 10: "Mercator", 20: "polar stereographic", 50: "spectral"}
_OTHER_KINDS_1 = {1: "Mercator", 5: "polar stereographic", 10: "rotated latitude-longitude", 50: "spectral"}
_EARTHS_M = {
    0: (6_367_470.0, 6_367_470.0),
    2: (6_378_160.0, 6_356_775.0),
    4: (6_378_137.0, 6_356_752.314),
    5: (6_378_137.0, 6_356_752.3142),
    6: (6_371_229.0, 6_371_229.0),
    8: (6_371_200.0, 6_371_200.0),
    9: (6_377_563.396, 6_356_256.909),
}
_MOST_GAUSSIAN = 2_000
"""Rows between pole and equator; the finest global models have about 1300."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Axes of the result and the way there."""

    latitude_deg: Array
    longitude_deg: Array
    cut: Callable[[NDArray[Any]], NDArray[Any]]
    """Values (n, point) in the order of the file to (n, latitude, longitude)."""
    earth_wind: Callable[[Array, Array], tuple[Array, Array]]
    """Eastward and northward wind from the components of the file, both (..., latitude, longitude)."""
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Section:
    """What a grid section says, in degrees and metres; ``scan`` is flag table 3.4 (edition 1: table 8)."""

    kind: int
    columns: int
    rows: int
    latitude1: float
    longitude1: float
    winds_on_grid: bool
    scan: int
    latitude2: float = 0.0
    longitude2: float = 0.0
    gaussian: int = 0
    central_longitude: float = 0.0
    parallel1: float = 0.0
    parallel2: float = 0.0
    dx_m: float = 0.0
    dy_m: float = 0.0
    earth_m: tuple[float, float] = (0.0, 0.0)

    @property
    def flip_columns(self) -> bool:
        return bool(self.scan & 0x80)

    @property
    def north_first(self) -> bool:
        return not self.scan & 0x40


def read_grid(name: str, section: bytes, edition: int, points: int, area: Area | None) -> Grid:
    """The grid of a section; raises BadFile for a kind that we do not read or one outside the area."""
    try:
        found = _section_2(name, section) if edition == 2 else _section_1(name, section)
    except (struct.error, IndexError, OverflowError):
        raise bad_file(name, "the section that defines the grid is too short", "Get the file again.") from None
    if found.columns * found.rows != points or found.columns < 2 or found.rows < 2:
        raise bad_file(name, "rows and columns of the grid do not make its points", "Get the file again.")
    if found.scan & 0x10:
        raise bad_file(name, "rows of the grid run to and fro", "Convert it so that all rows run the same way.")
    if found.kind == _LAMBERT:
        return _lambert_grid(name, found, area)
    return _latitude_grid(name, found, area)


def _section_2(name: str, octets: bytes) -> _Section:
    template = int.from_bytes(octets[12:14], "big")
    if template not in (_REGULAR, _GAUSSIAN, _LAMBERT) or octets[5] != 0 or octets[10] != 0:
        kind = "reduced grid" if octets[10] else _OTHER_KINDS.get(template, f"template 3.{template}")
        raise bad_file(name, "grids of this kind are not read", _READ, value=kind)
    columns, rows = struct.unpack_from(">II", octets, 30)
    if template == _LAMBERT:
        (latitude1, longitude1, flags, _, central, dx, dy, _, scan, parallel1, parallel2) = struct.unpack_from(
            ">IIBIIIIBBII", octets, 38
        )
        return _Section(
            kind=template,
            columns=columns,
            rows=rows,
            latitude1=_signed(latitude1, 31) / 1e6,
            longitude1=_signed(longitude1, 31) / 1e6,
            winds_on_grid=bool(flags & 0x08),
            scan=scan,
            central_longitude=_signed(central, 31) / 1e6,
            parallel1=_signed(parallel1, 31) / 1e6,
            parallel2=_signed(parallel2, 31) / 1e6,
            dx_m=dx / 1e3,
            dy_m=dy / 1e3,
            earth_m=_earth_2(name, octets),
        )
    basic, divisions, latitude1, longitude1, flags, latitude2, longitude2 = struct.unpack_from(">IIIIBII", octets, 38)
    gaussian, scan = struct.unpack_from(">IB", octets, 67)
    unit = 1e-6 if basic in (0, 0xFFFFFFFF) or divisions in (0, 0xFFFFFFFF) else basic / divisions
    return _Section(
        kind=template,
        columns=columns,
        rows=rows,
        latitude1=_signed(latitude1, 31) * unit,
        longitude1=_signed(longitude1, 31) * unit,
        winds_on_grid=bool(flags & 0x08),
        scan=scan,
        latitude2=_signed(latitude2, 31) * unit,
        longitude2=_signed(longitude2, 31) * unit,
        gaussian=gaussian,
    )


def _earth_2(name: str, octets: bytes) -> tuple[float, float]:
    shape = octets[14]
    if shape in _EARTHS_M:
        return _EARTHS_M[shape]
    radius_power, radius, major_power, major, minor_power, minor = struct.unpack_from(">BIBIBI", octets, 15)
    if shape == 1:
        axes = (radius / 10.0**radius_power,) * 2
    elif shape in (3, 7):
        unit = 1000.0 if shape == 3 else 1.0
        axes = (unit * major / 10.0**major_power, unit * minor / 10.0**minor_power)
    else:
        axes = (0.0, 0.0)
    if not 6.3e6 < axes[1] <= axes[0] < 6.4e6:
        raise bad_file(name, "the shape of the earth is absurd", "Get the file again.", value=f"{shape}: {axes} m")
    return axes


def _section_1(name: str, octets: bytes) -> _Section:
    """Edition 1; ``octets`` start at the kind of the grid, octet 6 of the section."""
    kind = _KINDS_1.get(octets[0])
    if kind is None:
        value = _OTHER_KINDS_1.get(octets[0], f"kind {octets[0]}")
        raise bad_file(name, "grids of this kind are not read", _READ, value=value)
    columns, rows = struct.unpack_from(">HH", octets, 1)
    if 0xFFFF in (columns, rows):
        raise bad_file(name, "grids of this kind are not read", _READ, value="reduced grid")

    def three(at: int) -> int:
        return int.from_bytes(octets[at : at + 3], "big")

    def degrees(at: int) -> float:
        return _signed(three(at), 23) / 1e3

    flags, scan = octets[11], octets[22]
    if kind == _LAMBERT:
        return _Section(
            kind=kind,
            columns=columns,
            rows=rows,
            latitude1=degrees(5),
            longitude1=degrees(8),
            winds_on_grid=bool(flags & 0x08),
            scan=scan,
            central_longitude=degrees(12),
            parallel1=degrees(23),
            parallel2=degrees(26),
            dx_m=float(three(15)),
            dy_m=float(three(18)),
            earth_m=_EARTHS_M[2 if flags & 0x40 else 0],
        )
    return _Section(
        kind=kind,
        columns=columns,
        rows=rows,
        latitude1=degrees(5),
        longitude1=degrees(8),
        winds_on_grid=bool(flags & 0x08),
        scan=scan,
        latitude2=degrees(12),
        longitude2=degrees(15),
        gaussian=int.from_bytes(octets[20:22], "big"),
    )


def _signed(number: int, bits: int) -> int:
    """Sign and magnitude: ``bits`` of magnitude under the sign."""
    magnitude = number & ((1 << bits) - 1)
    return -magnitude if number >> bits & 1 else magnitude


def _as_rows(section: _Section) -> Callable[[NDArray[Any]], NDArray[Any]]:
    """Values (n, point) to (n, row, column) with ascending rows and columns."""
    columns, rows = section.columns, section.rows
    by_column = bool(section.scan & 0x20)
    flip_rows = slice(None, None, -1 if section.north_first else 1)
    flip_columns = slice(None, None, -1 if section.flip_columns else 1)

    def as_rows(values: NDArray[Any]) -> NDArray[Any]:
        if by_column:
            table = values.reshape(len(values), columns, rows).transpose(0, 2, 1)
        else:
            table = values.reshape(len(values), rows, columns)
        return table[:, flip_rows, flip_columns]

    return as_rows


def _latitude_grid(name: str, section: _Section, area: Area | None) -> Grid:
    south, north = sorted((section.latitude1, section.latitude2))
    contradicts = (section.latitude1 > section.latitude2) is not section.north_first
    if contradicts or south == north or max(abs(south), abs(north)) > 90.0:
        raise bad_file(name, "the latitudes of the grid contradict each other", "Get the file again.")
    if section.kind == _GAUSSIAN:
        latitude = _gaussian_latitudes(name, section.gaussian, south, section.rows)
    else:
        latitude = np.linspace(south, north, section.rows)
    west, east = section.longitude1, section.longitude2
    if section.flip_columns:
        west, east = east, west
    span = (east - west) % 360.0 or 360.0
    longitude = west + span * np.arange(section.columns) / (section.columns - 1)
    rows = rows_inside(name, latitude, area)
    columns, longitude = columns_inside(name, longitude, area)
    as_rows = _as_rows(section)

    def cut(values: NDArray[Any]) -> NDArray[Any]:
        return as_rows(values)[:, rows][:, :, columns]

    def same(wind_u: Array, wind_v: Array) -> tuple[Array, Array]:
        return wind_u, wind_v

    return Grid(latitude[rows], longitude, cut, same, ())


def _gaussian_latitudes(name: str, number: int, south: float, rows: int) -> Array:
    """Latitudes from ``south`` on: arc sines of the roots of the Legendre polynomial of degree ``2 number``."""
    from scipy.special import roots_legendre

    if not 0 < number <= _MOST_GAUSSIAN:
        raise bad_file(name, "the number of a Gaussian grid is absurd", "Get the file again.", value=str(number))
    latitude = np.degrees(np.arcsin(roots_legendre(2 * number)[0]))
    first = int(np.abs(latitude - south).argmin())
    if abs(latitude[first] - south) > 0.01 or first + rows > len(latitude):
        raise bad_file(name, "the latitudes of the grid contradict each other", "Get the file again.")
    return np.asarray(latitude[first : first + rows])


def _lambert_grid(name: str, section: _Section, area: Area | None) -> Grid:
    grid = _lambert_of(name, section)
    as_rows = _as_rows(section)
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

    def cut(values: NDArray[Any]) -> NDArray[Any]:
        return grid.interpolated(as_rows(values), latitude, longitude)

    def earth_wind(wind_u: Array, wind_v: Array) -> tuple[Array, Array]:
        return grid.projection.earth_wind(wind_u, wind_v, longitude) if section.winds_on_grid else (wind_u, wind_v)

    shift = 360.0 * np.floor((longitude[0] + 180.0) / 360.0)
    note = (
        f"brought from a Lambert grid of {grid.dx_m / 1e3:g} km to {len(latitude)} x {len(longitude)} latitudes and "
        "longitudes (bilinear), in the largest box inside that grid"
    )
    return Grid(latitude, longitude - shift, cut, earth_wind, (note,))


def _lambert_of(name: str, section: _Section) -> LambertGrid:
    parallels = (section.parallel1, section.parallel2)
    # the map of a cone needs parallels on one side of the equator
    sane = all(0.1 < abs(parallel) < 89.9 for parallel in parallels) and parallels[0] * parallels[1] > 0
    sane &= abs(section.latitude1) < 90.0 and 1.0 <= section.dx_m <= 1e6 and 1.0 <= section.dy_m <= 1e6
    if not sane or max(section.columns * section.dx_m, section.rows * section.dy_m) > 2e7:
        raise bad_file(name, "the Lambert grid is absurd", "Get the file again.")
    major, minor = section.earth_m
    projection = Lambert(major, float(np.sqrt(1.0 - (minor / major) ** 2)), *parallels, section.central_longitude)
    x0, y0 = projection.on_map_m(section.latitude1, section.longitude1)
    x0_m = float(x0) - ((section.columns - 1) * section.dx_m if section.flip_columns else 0.0)
    y0_m = float(y0) - ((section.rows - 1) * section.dy_m if section.north_first else 0.0)
    return LambertGrid(projection, x0_m, y0_m, section.dx_m, section.dy_m, section.columns, section.rows)
