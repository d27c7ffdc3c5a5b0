"""Terrain files: tiles written by the test, GeoTIFF written with rasterio, and a real one."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.sources import read_terrain

POINTS = 1201


def tile(path: Path, height: np.ndarray) -> Path:
    """Rows from the north, big-endian."""
    path.write_bytes(height.astype(">i2").tobytes())
    return path


def slope() -> np.ndarray:
    """Rises by 1 m a row towards the north and 2 m a column towards the east."""
    rows, columns = np.mgrid[0:POINTS, 0:POINTS]
    return 100 + (POINTS - 1 - rows) + 2 * columns


@pytest.mark.parametrize(
    ("name", "south", "west"), [("S38W065.hgt", -38, -65), ("N46W114.hgt", 46, -114), ("n00e009.HGT", 0, 9)]
)
def test_tile_corners(name: str, south: int, west: int, tmp_path: Path) -> None:
    grid = read_terrain([tile(tmp_path / name, slope())])[0]
    assert grid.height_msl_m(south, west) == 100.0
    assert grid.height_msl_m(south + 1, west) == 1300.0
    assert grid.height_msl_m(south, west + 1) == 2500.0
    assert grid.height_msl_m(south + 0.5, west + 360.5) == pytest.approx(100.0 + 600.0 + 1200.0)
    assert name in grid.name


def test_voids_are_unknown_and_packed_tiles_are_read(tmp_path: Path) -> None:
    height = slope()
    height[600, 600] = -32768
    path = tmp_path / "S38W065.hgt.gz"
    path.write_bytes(gzip.compress(height.astype(">i2").tobytes(), 1))
    grid = read_terrain([path])[0]
    assert not grid.holds(-37.5, -64.5)
    assert grid.holds(-37.4, -64.5)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("terrain.hgt", slope().astype(">i2").tobytes(), "which tile"),
        ("S38W065.hgt", b"\0" * 5000, "neither a tile"),
        ("S38W065.hgt", b"height 100 m\n", "neither a tile"),
        ("S38W065.hgt", np.full((POINTS, POINTS), -32768, ">i2").tobytes(), "no point"),
        ("S38W065.hgt", np.full((POINTS, POINTS), 20_000, ">i2").tobytes(), "metres"),
        ("S38W065.hgt", b"", "empty"),
    ],
)
def test_unfit_files_are_refused(name: str, content: bytes, said: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(BadFile, match=said):
        read_terrain([tmp_path / name])


def geotiff(path: Path, *, crs: str | None = "EPSG:4326", step: float = -0.25) -> Path:
    rasterio = pytest.importorskip("rasterio", reason="rasterio is not installed")
    transform = rasterio.transform.Affine(0.25, 0.0, -66.0, 0.0, step, -37.0)
    values = np.arange(24, dtype="float32").reshape(4, 6)
    values[0, 0] = -9999.0
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=4,
        width=6,
        count=1,
        dtype="float32",
        crs=crs,
        transform=transform,
        nodata=-9999.0,
    ) as raster:
        raster.write(values, 1)
    return path


@pytest.mark.filterwarnings("ignore::Warning")
def test_geotiff_values_stand_for_the_middle_of_their_cells(tmp_path: Path) -> None:
    grid = read_terrain([geotiff(tmp_path / "dem.tif")])[0]
    assert grid.height_msl_m(-37.125 - 0.25, -66.0 + 0.125 + 0.25) == pytest.approx(7.0)
    assert grid.height_msl_m(-37.125 - 0.5, -66.0 + 0.125 + 0.375) == pytest.approx(13.5)
    assert not grid.holds(-37.125, -65.875)  # no data


@pytest.mark.filterwarnings("ignore::Warning")
@pytest.mark.parametrize(
    ("crs", "step", "said"), [("EPSG:32720", -0.25, "degrees"), (None, -0.25, "degrees"), ("EPSG:4326", 0.25, "rows")]
)
def test_unfit_geotiff_is_refused(crs: str | None, step: float, said: str, tmp_path: Path) -> None:
    with pytest.raises(BadFile, match=said):
        read_terrain([geotiff(tmp_path / "dem.tif", crs=crs, step=step)])


def test_truncated_geotiff_is_refused(tmp_path: Path) -> None:
    path = geotiff(tmp_path / "dem.tif")
    path.write_bytes(path.read_bytes()[:60])
    with pytest.raises(BadFile):
        read_terrain([path])


def test_without_rasterio_the_message_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = geotiff(tmp_path / "dem.tif")
    monkeypatch.setitem(__import__("sys").modules, "rasterio", None)
    with pytest.raises(BadFile, match=r"pappus\[terrain\]"):
        read_terrain([path])


def test_real_terrain_at_a_launch_point(shared_data: Callable[[str], Path]) -> None:
    """Western Montana: a balloon crew noted 978 m at this point; range 625 to 3219 m (README of the data folder)."""
    pytest.importorskip("rasterio", reason="rasterio is not installed")
    grid = read_terrain([shared_data("geo/dem_western_montana_46-48N_113-115W.tif")])[0]
    assert float(grid.height_msl_m(46.8597, -113.9850)) == pytest.approx(978.0, abs=20.0)
    assert (float(np.nanmin(grid.grid_msl_m)), float(np.nanmax(grid.grid_msl_m))) == pytest.approx(
        (625.0, 3219.0), abs=1.0
    )
