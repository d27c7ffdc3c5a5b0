"""Where the sun stands and how far the horizon drops below the level line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from importlib.machinery import PathFinder
from importlib.util import find_spec, module_from_spec
from types import ModuleType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import require_range
from pappus.errors import BadInput, Finding

EARTH_RADIUS_M = 6_371_000.0

_DELTA_T_S = 69.0
"""Terrestrial time less UT1 since about 2017; 40 s of error turn the sun by 0.0005 degrees."""
_FIRST_YEAR, _LAST_YEAR = 1950.0, 2050.0


def sun_elevation_deg(
    times: Sequence[datetime] | NDArray[np.datetime64], latitude_deg: ArrayLike, longitude_deg: ArrayLike
) -> NDArray[np.float64]:
    """True elevation of the centre of the sun, without refraction, one value for each time.

    ``times`` are UTC-aware datetimes or an array of datetime64 in UTC, 1950 to 2050; latitude and longitude are
    scalars or have one value for each time. Within 0.001 degrees. For a balloon compare it with minus the dip of the
    horizon: air bends the light by another degree when the sun stands there. Source: Reda & Andreas 2004, Solar
    Energy 76, 577-589 (SPA), through pvlib. Raises ``BadInput`` for a time without zone.
    """
    instants = _as_utc(times)
    require_range("year", 1970 + instants.astype("datetime64[D]").astype(float) / 365.2425, _FIRST_YEAR, _LAST_YEAR, "")
    latitude = require_range("latitude", latitude_deg, -90, 90, "deg")
    longitude = require_range("longitude", longitude_deg, -360, 360, "deg")
    unix_s = instants.astype("datetime64[us]").astype(np.int64) / 1e6
    # the airless elevation is the fourth row; pressure and temperature act on the refracted rows only
    rows = _spa().solar_position_numpy(unix_s, latitude, longitude, 0.0, 1013.25, 15.0, _DELTA_T_S, 0.5667, 1)
    return np.asarray(rows[3], dtype=np.float64)


def horizon_dip_deg(height_msl_m: ArrayLike) -> NDArray[np.float64]:
    """Angle of the sea horizon below the level line, acos(R / (R + h)), R = 6371 km, no refraction.

    Valid from 0 to 100 km. Refraction lifts the horizon by 0.16 degrees at 30 km; the edge one sees is often a cloud
    top and lies higher still.
    """
    height = require_range("height above mean sea level", height_msl_m, 0, 100_000, "m")
    # the same angle as the arc cosine, which loses its digits near the ground
    return np.degrees(np.arctan2(np.sqrt(height * (2 * EARTH_RADIUS_M + height)), EARTH_RADIUS_M))


def _as_utc(times: Sequence[datetime] | NDArray[np.datetime64]) -> NDArray[np.datetime64]:
    if isinstance(times, np.ndarray):
        return times.astype("datetime64[us]")
    naive = next((time for time in times if time.utcoffset() is None), None)
    if naive is not None:
        raise BadInput(Finding("times", naive.isoformat(), "the time has no zone", "Give it in UTC."))
    return np.array([round(time.timestamp() * 1e6) for time in times], dtype="datetime64[us]")


@cache
def _spa() -> ModuleType:
    """pvlib's SPA alone: ``import pvlib.spa`` would first load all of pvlib, pandas and scipy (about a second)."""
    package = find_spec("pvlib")
    spec = PathFinder.find_spec("pvlib.spa", package.submodule_search_locations) if package else None
    if spec is None or spec.loader is None:
        raise ModuleNotFoundError("pvlib is not installed", name="pvlib")
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
