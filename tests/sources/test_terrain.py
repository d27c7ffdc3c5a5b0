"""Terrain files: tiles written by the test, GeoTIFF written with rasterio, and a real one."""

from __future__ import annotations

import gzip
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.sources import read_terrain

POINTS = 1201
ROWS, COLUMNS = np.mgrid[0:POINTS, 0:POINTS]
SLOPE = 100 + (POINTS - 1 - ROWS) + 2 * COLUMNS
"""Rises by 1 m a row towards the north and 2 m a column towards the east."""


def tile(height: np.ndarray) -> bytes:
    """Big-endian 16-bit metres, rows from the north (SRTM documentation, from memory)."""
    return height.astype(">i2").tobytes()


def written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


# --- tiles


@pytest.mark.parametrize(
    ("name", "south", "west"),
    [
        ("S38W065.hgt", -38, -65),
        ("N46W114.hgt", 46, -114),
        ("n00e009.HGT", 0, 9),
        ("S01E179.hgt", -1, 179),
        ("N89W180.hgt", 89, -180),
        ("heights_S90E000_version3.hgt", -90, 0),
    ],
)
def test_a_tile_lies_north_and_east_of_the_corner_in_its_name(name: str, south: int, west: int, tmp_path: Path) -> None:
    grid = read_terrain([written(tmp_path / name, tile(SLOPE))])[0]
    assert grid.height_msl_m(south, west) == 100.0
    assert grid.height_msl_m(south + 1, west) == 1300.0
    assert grid.height_msl_m(south, west + 1) == 2500.0
    assert grid.height_msl_m(south + 1, west + 1) == 3700.0
    assert grid.height_msl_m(south + 0.5, west + 360.5) == pytest.approx(100.0 + 600.0 + 1200.0)
    assert not grid.holds(south - 0.001, west + 0.5)
    assert not grid.holds(south + 0.5, west + 1.001)
    assert name in grid.name


def test_a_tile_of_one_second_has_3601_points_a_side(tmp_path: Path) -> None:
    height = np.zeros((3601, 3601))
    height[3601 - 1 - 36, 72] = 1800.0  # 36 seconds north and 72 seconds east of the corner
    grid = read_terrain([written(tmp_path / "N10E020.hgt", tile(height))])[0]
    assert grid.height_msl_m(10.01, 20.02) == pytest.approx(1800.0, abs=1e-6)
    assert grid.height_msl_m(10.01, 20.02 + 1.0 / 3600.0) == pytest.approx(0.0, abs=1e-6)


def test_heights_are_signed_and_big_endian(tmp_path: Path) -> None:
    """-430 m is about the shore of the Dead Sea (from memory); its bytes are written out here by hand."""
    content = bytes([0xFE, 0x52]) * POINTS**2
    assert read_terrain([written(tmp_path / "N31E035.hgt", content)])[0].height_msl_m(31.5, 35.5) == -430.0


def test_a_void_spoils_its_four_cells_and_no_more(tmp_path: Path) -> None:
    height = SLOPE.copy()
    height[600, 600] = -32768
    grid = read_terrain([written(tmp_path / "S38W065.hgt", tile(height))])[0]
    cell = 1.0 / 1200.0
    north, east = np.meshgrid([-1.5, -0.5, 0.5, 1.5], [-1.5, -0.5, 0.5, 1.5], indexing="ij")
    held = grid.holds(-37.5 + cell * north, -64.5 + cell * east)
    assert held.tolist() == [[True] * 4, [True, False, False, True], [True, False, False, True], [True] * 4]
    assert float(np.nanmin(grid.grid_msl_m)) == 100.0  # the mark of a void is no height


def test_a_packed_tile_reads_as_the_open_one(tmp_path: Path) -> None:
    opened = read_terrain([written(tmp_path / "S38W065.hgt", tile(SLOPE))])[0]
    packed = read_terrain([written(tmp_path / "S38W065.hgt.gz", gzip.compress(tile(SLOPE), 1))])[0]
    np.testing.assert_array_equal(packed.grid_msl_m, opened.grid_msl_m)


def test_files_come_back_in_the_order_given(tmp_path: Path) -> None:
    names = ["S38W065.hgt", "S37W065.hgt", "S38W064.hgt"]
    grids = read_terrain([str(written(tmp_path / name, tile(SLOPE))) for name in names])
    assert [grid.name for grid in grids] == [f"the terrain of {name}" for name in names]
    assert read_terrain([]) == []


PEAK, PIT = SLOPE.copy(), SLOPE.copy()
PEAK[5, 5], PIT[5, 5] = 9_001, -501


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("terrain.hgt", tile(SLOPE), "which tile"),
        ("N95E010.hgt", tile(SLOPE), "no such tile"),
        ("N90E010.hgt", tile(SLOPE), "no such tile"),
        ("N45E180.hgt", tile(SLOPE), "no such tile"),
        ("N45W181.hgt", tile(SLOPE), "no such tile"),
        ("S38W065.hgt", tile(SLOPE)[:-2], "neither a tile"),
        ("S38W065.hgt", tile(SLOPE[:, :-1]), "neither a tile"),
        ("S38W065.hgt", b"latitude, longitude, height\n-38, -65, 100 m\n", "neither a tile"),
        ("S38W065.hgt", tile(np.full_like(SLOPE, -32768)), "no point"),
        ("S38W065.hgt", tile(PEAK), "9001.*metres"),
        ("S38W065.hgt", tile(PIT), "-501.*metres"),
        ("S38W065.hgt", SLOPE.astype("<i2").tobytes(), "metres"),
        ("S38W065.hgt", b"", "empty"),
        ("S38W065.hgt.gz", gzip.compress(tile(SLOPE), 1)[:-500], "gzip packing is damaged"),
    ],
)
def test_unfit_tiles_are_refused_by_name(name: str, content: bytes, said: str, tmp_path: Path) -> None:
    with pytest.raises(BadFile, match=said) as refused:
        read_terrain([written(tmp_path / name, content)])
    (finding,) = refused.value.findings
    assert finding.field == name
    assert finding.fix


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no such file"):
        read_terrain([tmp_path / "S38W065.hgt"])
    with pytest.raises(BadFile, match="folder"):
        read_terrain([tmp_path])


# --- GeoTIFF

DEM = np.arange(24, dtype="float32").reshape(4, 6)
DEM[0, 0] = -9999.0


def rasterio() -> Any:
    return pytest.importorskip("rasterio", reason="rasterio is not installed")


def geotiff(
    path: Path,
    values: np.ndarray = DEM,
    *,
    crs: str | None = "EPSG:4326",
    transform: tuple[float, ...] = (0.25, 0.0, -66.0, 0.0, -0.25, -37.0),
    nodata: float | None = -9999.0,
    unit: str | None = None,
    scale: float = 1.0,
    offset: float = 0.0,
    point: bool = False,
) -> Path:
    """One quarter of a degree a cell, the north-west corner at 37 S 66 W, the north-west cell without data."""
    library = rasterio()
    bands = values if values.ndim == 3 else values[None]
    profile = {"driver": "GTiff", "count": len(bands), "height": bands.shape[1], "width": bands.shape[2]}
    with library.open(
        path, "w", **profile, dtype=bands.dtype, crs=crs, transform=library.Affine(*transform), nodata=nodata
    ) as raster:
        raster.write(bands)
        raster.scales, raster.offsets = (scale,) * len(bands), (offset,) * len(bands)
        if unit:
            raster.units = (unit,) * len(bands)
        if point:
            raster.update_tags(AREA_OR_POINT="Point")
    return path


def test_geotiff_values_stand_for_the_middle_of_their_cells(tmp_path: Path) -> None:
    grid = read_terrain([geotiff(tmp_path / "dem.tif")])[0]
    assert grid.height_msl_m(-37.375, -65.625) == 7.0
    assert grid.height_msl_m(-37.625, -65.5) == pytest.approx(13.5)
    assert grid.height_msl_m(-37.875, -64.625) == 23.0
    assert not grid.holds(-37.125, -65.875)  # no data
    assert not grid.holds(-37.95, -65.0)  # south of the last row of values
    assert grid.lowest_msl_m == 0.0  # the mark for no data is no height


def test_geotiff_agrees_with_the_library_at_every_cell(tmp_path: Path) -> None:
    path = geotiff(tmp_path / "dem.tif", nodata=None, values=np.arange(24, dtype="int16").reshape(4, 6))
    grid = read_terrain([path])[0]
    latitude, longitude = (values.ravel() for values in np.meshgrid(grid.latitude_deg, grid.longitude_deg))
    with rasterio().open(path) as raster:
        expected = [value[0] for value in raster.sample(zip(longitude, latitude, strict=True))]
    assert grid.height_msl_m(latitude, longitude).tolist() == expected


def test_points_instead_of_cells_lie_where_the_library_puts_them(tmp_path: Path) -> None:
    """The mark "a pixel is a point" changes no position: the library takes the half cell into account."""
    cells = read_terrain([geotiff(tmp_path / "cells.tif")])[0]
    points = read_terrain([geotiff(tmp_path / "points.tif", point=True)])[0]
    with rasterio().open(tmp_path / "points.tif") as raster:
        assert raster.tags()["AREA_OR_POINT"] == "Point"
        assert raster.xy(1, 1) == pytest.approx((-65.625, -37.375))
    np.testing.assert_allclose(points.longitude_deg, cells.longitude_deg, atol=1e-12)
    np.testing.assert_allclose(points.latitude_deg, cells.latitude_deg, atol=1e-12)


@pytest.mark.parametrize("crs", ["EPSG:4269", "EPSG:4258", "EPSG:7844"])
def test_frames_within_metres_of_wgs84_are_taken(crs: str, tmp_path: Path) -> None:
    """NAD83, ETRS89 and GDA2020 (EPSG register)."""
    assert read_terrain([geotiff(tmp_path / "dem.tif", crs=crs)])[0].height_msl_m(-37.375, -65.625) == 7.0


def test_scale_and_offset_of_the_file_are_applied(tmp_path: Path) -> None:
    grid = read_terrain([geotiff(tmp_path / "dem.tif", scale=10.0, offset=100.0, unit="metre")])[0]
    assert grid.height_msl_m(-37.375, -65.625) == pytest.approx(170.0)


def test_a_packed_geotiff_is_read_and_infinite_heights_are_unknown(tmp_path: Path) -> None:
    values = DEM.copy()
    values[3, 5], values[3, 0] = np.inf, -np.inf
    path = geotiff(tmp_path / "dem.tif", values)
    grid = read_terrain([written(tmp_path / "dem.tif.gz", gzip.compress(path.read_bytes()))])[0]
    assert grid.height_msl_m(-37.375, -65.625) == 7.0
    assert not grid.holds(-37.875, -64.625)
    assert grid.lowest_msl_m == 0.0


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"crs": "EPSG:32720", "transform": (30.0, 0.0, 5e5, 0.0, -30.0, 5.9e6)}, "not in degrees"),
        ({"crs": "EPSG:3857", "transform": (30.0, 0.0, -7e6, 0.0, -30.0, -4e6)}, "not in degrees"),
        ({"crs": None}, "not in degrees"),
        ({"crs": "EPSG:4267"}, "not those of WGS84"),  # NAD27, some 100 m off
        ({"crs": "EPSG:4807"}, "not those of WGS84"),  # grads from the meridian of Paris
        ({"transform": (0.25, 0.0, -66.0, 0.0, 0.25, -38.0)}, "north to south"),
        ({"transform": (-0.25, 0.0, -66.0, 0.0, -0.25, -37.0)}, "north to south"),
        ({"transform": (0.2, 0.1, -66.0, 0.1, -0.2, -37.0)}, "north to south"),
        ({"values": np.full((3, 4, 6), 99, "uint8"), "nodata": None}, "3 bands.*picture"),
        ({"unit": "ft"}, "ft.*not in metres"),
        ({"values": DEM[1:2]}, "single row"),
        ({"values": np.full((4, 6), -9999.0, "float32")}, "no point"),
        ({"values": 1000.0 * DEM}, "metres"),
        ({"nodata": None}, "-9999.*metres"),
    ],
)
def test_unfit_geotiff_is_refused(how: dict[str, Any], said: str, tmp_path: Path) -> None:
    path = geotiff(tmp_path / "dem.tif", **how)
    with pytest.raises(BadFile, match=said):
        read_terrain([path])


def test_a_photograph_is_refused_in_words_alone(tmp_path: Path) -> None:
    library, path = rasterio(), tmp_path / "photo.tif"
    with pytest.warns(library.errors.NotGeoreferencedWarning):
        library.open(path, "w", driver="GTiff", count=1, height=4, width=6, dtype="uint8").close()
    with pytest.warns(library.errors.NotGeoreferencedWarning):  # the library warns of it, the reader does not
        library.open(path)
    with pytest.raises(BadFile, match="not in degrees"):
        read_terrain([path])


@pytest.mark.parametrize("kept", [4, 60, 0.5, 0.9])
def test_truncated_geotiff_is_refused(kept: float, tmp_path: Path) -> None:
    whole = geotiff(tmp_path / "dem.tif", np.full((64, 64), 500, "int16"), nodata=None).read_bytes()
    cut = whole[: int(kept if kept > 1 else kept * len(whole))]
    with pytest.raises(BadFile, match="cannot be read"):
        read_terrain([written(tmp_path / "cut.tif", cut)])


@pytest.mark.parametrize("start", [b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"])
def test_without_rasterio_the_message_says_what_to_install(
    start: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Either byte order, plain and big TIFF; needs no rasterio to be tested."""
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(BadFile, match=r"pip install 'pappus\[terrain\]'"):
        read_terrain([written(tmp_path / "dem.tif", start + bytes(100))])
    assert read_terrain([written(tmp_path / "S38W065.hgt", tile(SLOPE))])[0].holds(-37.5, -64.5)  # tiles need it not


# --- a real one

REAL = "geo/dem_western_montana_46-48N_113-115W.tif"


def test_real_terrain_at_a_launch_point(shared_data: Callable[[str], Path]) -> None:
    """Western Montana: 978 m is known for this launch point; the range is 625 to 3219 m (notes of the data folder)."""
    rasterio()
    grid = read_terrain([shared_data(REAL)])[0]
    launch = float(grid.height_msl_m(46.8597, -113.9850))
    print(f"launch point: {launch:.1f} m, known 978 m")
    assert launch == pytest.approx(978.0, abs=10.0)
    assert grid.lowest_msl_m == 0.0  # of the flat ground that stands in until somebody says what lies beneath
    assert float(np.nanmin(grid.grid_msl_m)) == pytest.approx(625.0, abs=1.0)
    assert grid.highest_msl_m == pytest.approx(3219.0, abs=1.0)


def test_real_terrain_is_bilinear_as_the_library_does_it(shared_data: Callable[[str], Path]) -> None:
    """Against rasterio's own bilinear resampling onto a finer grid, in single precision."""
    library = rasterio()
    from rasterio.warp import Resampling, reproject

    path = shared_data(REAL)
    grid = read_terrain([path])[0]
    fine = library.Affine(0.0013, 0.0, -114.1, 0.0, -0.0017, 46.9)
    with library.open(path) as raster:
        expected, _ = reproject(
            library.band(raster, 1), np.zeros((60, 80), "float32"), dst_transform=fine, dst_crs=raster.crs,
            resampling=Resampling.bilinear, tolerance=0.0,
        )  # fmt: skip
        nearest = next(raster.sample([(-113.9850, 46.8597)]))[0]
    latitude = 46.9 - 0.0017 * (np.arange(60) + 0.5)
    longitude = -114.1 + 0.0013 * (np.arange(80) + 0.5)
    difference = grid.height_msl_m(latitude[:, None], longitude[None, :]) - expected
    print(f"largest difference {np.abs(difference).max():.3f} m; nearest value to the launch point {nearest:.1f} m")
    assert np.abs(difference).max() < 0.05
    assert np.ptp(expected) > 200.0  # hills, so that a shift by a cell would show
