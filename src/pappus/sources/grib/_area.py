"""The part of a forecast that is asked for: rows and columns of a grid of latitudes and longitudes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadInput, Finding
from pappus.sources._files import bad_file

Array = NDArray[np.float64]
_NOT_HELD = "the forecast does not reach into the area asked for"


@dataclass(frozen=True)
class Area:
    """A box from ``west_deg`` eastwards; ``width_deg`` from above 0 to 360."""

    south_deg: float
    north_deg: float
    west_deg: float
    width_deg: float

    @classmethod
    def of(cls, box: tuple[float, float, float, float]) -> Area:
        """From south, north, west and east in degrees; the east may lie beyond the date line in either way."""
        south, north, west, east = box
        if not (-90.0 <= south < north <= 90.0 and -360.0 <= west <= 360.0 and -360.0 <= east <= 720.0):
            finding = Finding("area", str(box), "it is not south, north, west, east in degrees", "Give such a box.")
            raise BadInput(finding)
        width = east - west
        return cls(south, north, west, 360.0 if width >= 360.0 else (width % 360.0 or 360.0))


def rows_inside(name: str, latitude_deg: Array, area: Area | None) -> slice:
    """Rows of ascending latitudes inside the area, with one more on each side."""
    if area is None:
        return slice(0, len(latitude_deg))
    if area.south_deg > latitude_deg[-1] or area.north_deg < latitude_deg[0]:
        raise bad_file(name, _NOT_HELD, "Get one for that area.")
    first = int(np.searchsorted(latitude_deg, area.south_deg, side="right")) - 1
    last = int(np.searchsorted(latitude_deg, area.north_deg, side="left"))
    return slice(max(first - 1, 0), min(last + 1, len(latitude_deg) - 1) + 1)


def columns_inside(name: str, longitude_deg: Array, area: Area | None) -> tuple[NDArray[np.intp] | slice, Array]:
    """Columns inside the area with one more on each side, and their ascending longitudes from -180 upwards.

    A grid round the whole earth gets its first column once more at the end, so that nothing is missing at the seam.
    """
    count = len(longitude_deg)
    columns = np.arange(count)
    step = float(longitude_deg[1] - longitude_deg[0]) if count > 1 else 0.0
    if count > 1 and abs((longitude_deg[-1] - longitude_deg[0]) - 360.0) < 1e-3 * step:
        count -= 1  # the file repeats its first column; we do that ourselves
    is_global = count > 1 and abs(count * step - 360.0) < 0.01 * step
    if is_global:
        start, length = 0, count + 1
        if area is not None and area.width_deg < (count - 4) * step:
            start = int(np.floor((area.west_deg - longitude_deg[0]) / step + 1e-6)) - 1
            length = int(np.ceil(area.width_deg / step - 1e-6)) + 4
        steps = start + np.arange(length)
        columns, longitude = steps % count, longitude_deg[0] + steps * step
    else:
        columns, longitude = columns[:count], longitude_deg[:count]
        if area is not None:
            columns, longitude = _part(name, columns, longitude, area)
    longitude = longitude - 360.0 * np.floor((longitude[0] + 180.0) / 360.0)
    if bool((np.diff(columns) == 1).all()):
        return slice(int(columns[0]), int(columns[-1]) + 1), longitude
    return columns, longitude


def _part(name: str, columns: NDArray[np.intp], longitude: Array, area: Area) -> tuple[NDArray[np.intp], Array]:
    west = longitude[0] + (area.west_deg - longitude[0]) % 360.0
    # the area may begin to the west of the grid and still reach into it
    candidates = [start for start in (west, west - 360.0) if start <= longitude[-1]]
    candidates = [start for start in candidates if start + area.width_deg >= longitude[0]]
    if not candidates:
        raise bad_file(name, _NOT_HELD, "Get one for that area.")

    def held(start: float) -> float:
        return float(min(start + area.width_deg, longitude[-1]) - max(start, longitude[0]))

    start = max(candidates, key=held)
    first = max(int(np.searchsorted(longitude, start, side="right")) - 1, 0)
    last = min(int(np.searchsorted(longitude, start + area.width_deg, side="left")), len(longitude) - 1)
    taken = slice(max(first - 1, 0), min(last + 1, len(longitude) - 1) + 1)
    return columns[taken], longitude[taken]
