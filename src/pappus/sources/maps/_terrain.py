"""Terrain that the crew brings: one-degree tiles of the Shuttle Radar Topography Mission, and GeoTIFF.

A ``.hgt`` tile is named after its south-west corner (``S38W065.hgt``) and holds big-endian 16-bit metres above mean sea
level (EGM96), rows from the north, 1201 or 3601 points a side, -32768 where nothing is known (SRTM documentation, from
memory).
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.ground import FlatGround, TerrainGrid
from pappus.sources._files import FileBytes, bad_file, read_file

_TILE_NAME = re.compile(r"([NS])(\d{2})([EW])(\d{3})", re.IGNORECASE)
_TILE_POINTS = {2 * points**2: points for points in (1201, 3601)}
_VOID = -32768
_LOWEST_M, _HIGHEST_M = -500.0, 9_000.0
_LARGEST_POINTS = 50_000_000
_SAME_AS_WGS84 = {"WGS84", "NAD83", "GRS80"}
"""Datums and ellipsoids of modern frames: their latitudes and longitudes agree with WGS84 to a few metres."""
_METRES = {None, "", "m", "metre", "meter", "metres", "meters"}
_NOWHERE = FlatGround(0.0, "no ground")


def read_terrain(paths: Sequence[str | Path]) -> list[TerrainGrid]:
    """Each file as a grid of heights; who flies on them says what lies beneath.

    Tiles are known by their size and name, GeoTIFF by its first bytes; GeoTIFF needs the extra ``terrain`` and must
    hold one band of metres, north up, in degrees on WGS84 or a frame within metres of it. Any of them may be packed
    with gzip. Raises BadFile for anything else, and for heights that no ground on earth has.
    """
    return [_read(path) for path in paths]


def _read(path: str | Path) -> TerrainGrid:
    file = read_file(path, largest_bytes=500_000_000)
    if file.content.startswith((b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")):
        latitude, longitude, height = _geotiff(file)
    elif len(file.content) in _TILE_POINTS:
        latitude, longitude, height = _tile(file)
    else:
        raise bad_file(
            file.name,
            "this is neither a tile of 1201 or 3601 points a side nor a GeoTIFF",
            "Give SRTM tiles such as S38W065.hgt, or a GeoTIFF in degrees.",
        )
    height[~np.isfinite(height)] = np.nan
    known = height[np.isfinite(height)]
    if known.size == 0:
        raise bad_file(file.name, "no point of it has a height", "Get the file again.")
    if float(known.min()) < _LOWEST_M or float(known.max()) > _HIGHEST_M:
        worst = float(known.min()) if float(known.min()) < _LOWEST_M else float(known.max())
        raise bad_file(
            file.name, "no ground is that high or low; are these metres?", "Give metres.", value=f"{worst:g}"
        )
    return TerrainGrid(latitude, longitude, height, f"the terrain of {file.name}", _NOWHERE)


def _tile(file: FileBytes) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    corner = _TILE_NAME.search(file.name)
    if corner is None:
        raise bad_file(file.name, "the name does not say which tile it is", "Name it as S38W065.hgt.")
    south = int(corner[2]) * (1 if corner[1].upper() == "N" else -1)
    west = int(corner[4]) * (1 if corner[3].upper() == "E" else -1)
    if not (-90 <= south <= 89 and -180 <= west <= 179):
        raise bad_file(file.name, "there is no such tile on earth", "Name it as S38W065.hgt.", value=corner[0])
    points = _TILE_POINTS[len(file.content)]
    metres = np.frombuffer(file.content, dtype=">i2").reshape(points, points)[::-1].astype(np.float64)
    steps = np.linspace(0.0, 1.0, points)
    return south + steps, west + steps, np.where(metres == _VOID, np.nan, metres)


def _geotiff(file: FileBytes) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    try:
        import rasterio
    except ImportError:
        reason = "a GeoTIFF needs the extra packages for terrain"
        raise bad_file(file.name, reason, "Install with: pip install 'pappus[terrain]'.") from None
    try:
        # from the bytes, so that a packed file opens too and nothing beside the file changes what it says
        with warnings.catch_warnings(), rasterio.MemoryFile(file.content) as memory:
            warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)  # refused in words just below
            with memory.open() as raster:
                _refuse_what_is_not_terrain(file, raster)
                transform = raster.transform
                height = raster.read(1, masked=True).astype(np.float64).filled(np.nan)
                height = height * raster.scales[0] + raster.offsets[0]
    except (rasterio.errors.RasterioError, rasterio.errors.CRSError) as error:
        raise bad_file(file.name, f"it cannot be read ({error})", "Get the file again.") from None
    # a value stands for the middle of its cell
    longitude = transform.c + transform.a * (np.arange(height.shape[1]) + 0.5)
    latitude = transform.f + transform.e * (np.arange(height.shape[0]) + 0.5)
    return latitude[::-1], longitude, height[::-1]


def _refuse_what_is_not_terrain(file: FileBytes, raster: Any) -> None:
    crs = raster.crs.to_dict() if raster.crs else {}
    if crs.get("proj") != "longlat":
        raise bad_file(file.name, "it is not in degrees of latitude and longitude", "Convert it to EPSG:4326.")
    if not _SAME_AS_WGS84 & {str(value) for value in crs.values()}:
        raise bad_file(file.name, "its degrees are not those of WGS84", "Convert it to EPSG:4326.")
    transform = raster.transform
    if transform.b != 0.0 or transform.d != 0.0 or transform.a <= 0.0 or transform.e >= 0.0:
        raise bad_file(file.name, "its rows do not run from north to south", "Convert it to EPSG:4326.")
    if raster.count != 1:
        reason = "it has more than one band, so it is a picture rather than heights"
        raise bad_file(file.name, reason, "Give one band of heights.", value=f"{raster.count} bands")
    if raster.units[0] not in _METRES:
        raise bad_file(file.name, "its heights are not in metres", "Convert them.", value=raster.units[0])
    if min(raster.width, raster.height) < 2:
        raise bad_file(file.name, "it has a single row or column", "Cut out the area of the flight.")
    if raster.width * raster.height > _LARGEST_POINTS:
        raise bad_file(file.name, "it has more than 50 million points", "Cut out the area of the flight.")
