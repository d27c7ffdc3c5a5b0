"""Fields near the ground, by their CF standard names."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from pappus.sources.grib._grid import Grid
from pappus.sources.grib._messages import Field

Array = NDArray[np.float64]
Surface = dict[str, Array]

_NAMES: dict[str, tuple[str, str, float]] = {
    "10u": ("eastward_wind", "m s-1", 1.0),
    "10v": ("northward_wind", "m s-1", 1.0),
    "gust": ("wind_speed_of_gust", "m s-1", 1.0),
    "2t": ("air_temperature", "K", 1.0),
    "visibility": ("visibility_in_air", "m", 1.0),
    "rain rate": ("precipitation_flux", "kg m-2 s-1", 1.0),
    "rain": ("precipitation_flux", "kg m-2 s-1", 1.0),
    "rain in metres": ("precipitation_flux", "kg m-2 s-1", 1000.0),  # density of water
}
for _cloud, _cf in (
    ("cloud", "cloud_area_fraction"),
    ("low cloud", "low_type_cloud_area_fraction"),
    ("medium cloud", "medium_type_cloud_area_fraction"),
    ("high cloud", "high_type_cloud_area_fraction"),
):
    _NAMES[_cloud] = (_cf, "1", 1.0)
    _NAMES[_cloud + " %"] = (_cf, "1", 0.01)

_ORDER = {"instant": 0, "maximum": 1, "average": 2, "sum": 3}


def read_surface(
    fields: Sequence[Field],
    members: Sequence[int],
    times_s: Sequence[int],
    grid: Grid,
    decode: Callable[[Sequence[Field], Grid], Array],
) -> tuple[Surface, dict[str, str], list[str]]:
    """Fields [member, time, latitude, longitude], their units and notes; NaN where the files have nothing.

    An instant goes before a mean over the time before it; sums of rain become the mean rate since the sum before.
    """
    result: Surface = {}
    units: dict[str, str] = {}
    notes: list[str] = []
    wanted = [one for one in fields if one.product.name in _NAMES and one.product.member in members]

    def standard(one: Field) -> str:
        return _NAMES[one.product.name][0]

    for name, group in groupby(sorted(wanted, key=standard), key=standard):
        found = list(group)
        best = min(found, key=lambda one: _ORDER[one.product.statistic]).product.statistic
        found = [one for one in found if one.product.statistic == best]
        values = decode(found, grid) * np.array([_NAMES[one.product.name][2] for one in found])[:, None, None]
        cube = np.full((len(members), len(times_s), *values.shape[1:]), np.nan)
        if best == "sum":
            if name != "precipitation_flux":
                continue
            values = _rates(found, values)
        for one, field in zip(found, values, strict=True):
            if one.product.end_s in times_s:
                cube[members.index(one.product.member), times_s.index(one.product.end_s)] = field
        if np.isnan(cube).all():
            continue
        result[name], units[name] = cube, _NAMES[found[0].product.name][1]
        if best == "sum":
            notes.append(f"{name}: mean rate since the sum before")
        elif best != "instant":
            notes.append(f"{name}: {best} over the hours before each time")
    pair = ("eastward_wind", "northward_wind")
    if all(name in result for name in pair):
        result[pair[0]], result[pair[1]] = grid.earth_wind(result[pair[0]], result[pair[1]])
    else:
        for name in pair:
            result.pop(name, None)
            units.pop(name, None)
    return result, units, notes


def _rates(fields: Sequence[Field], sums: Array) -> Array:
    """Mean rate over the end of each sum's window; NaN for a window without length."""
    rates = np.full_like(sums, np.nan)
    ends: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for index, one in enumerate(fields):
        ends.setdefault((one.product.member, one.product.start_s), []).append((one.product.end_s, index))
    for (_, start), windows in ends.items():
        before, total = start, np.zeros(sums.shape[1:])
        for end, index in sorted(windows):
            if end > before:
                rates[index] = np.maximum(sums[index] - total, 0.0) / (end - before)
                before, total = end, sums[index]
    return rates
