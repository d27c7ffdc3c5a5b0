"""Lambert grids: positions against ecCodes, directions against differences of positions, and the box inside."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import eccodes
import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.sources import Forecast, read_forecast
from pappus.sources.grib._lambert import Lambert, LambertGrid, largest_rectangle
from sources.grib_writer import LEVELS_HPA, NUMBERS_2, RUN, TEMPERATURE_K, height_gpm, written

COLUMNS, ROWS, STEP_M = 40, 30, 40_000.0
KEYS: dict[str, Any] = {
    "gridType": "lambert",
    "Nx": COLUMNS,
    "Ny": ROWS,
    "latitudeOfFirstGridPointInDegrees": 41.5,
    "longitudeOfFirstGridPointInDegrees": 2.25,
    "LoVInDegrees": 12.0,
    "LaDInDegrees": 46.0,
    "Latin1InDegrees": 40.0,
    "Latin2InDegrees": 52.0,
    "DxInMetres": STEP_M,
    "DyInMetres": STEP_M,
    "jScansPositively": 1,
    "iScansNegatively": 0,
    "uvRelativeToGrid": 1,
    "shapeOfTheEarth": 6,
}


def lambert_message(name: str, level: int, values: Any, keys: dict[str, Any]) -> bytes:
    """A field; ``values`` is a number, an array, or a function of latitude and longitude as ecCodes has them."""
    handle = eccodes.codes_grib_new_from_samples("regular_ll_pl_grib2")
    discipline, category, number = NUMBERS_2[name]
    put = {"discipline": discipline, "parameterCategory": category, "parameterNumber": number, "level": level}
    put |= {"dataDate": int(f"{RUN:%Y%m%d}"), "dataTime": int(f"{RUN:%H%M}"), "centre": 98}
    for key, value in (KEYS | keys | put).items():
        eccodes.codes_set(handle, key, value)
    eccodes.codes_set(handle, "bitsPerValue", 24)
    eccodes.codes_set_values(handle, np.zeros(COLUMNS * ROWS))
    if callable(values):
        latitude, longitude = (eccodes.codes_get_array(handle, key) for key in ("latitudes", "longitudes"))
        values = values(latitude, longitude)
    eccodes.codes_set_values(handle, np.zeros(COLUMNS * ROWS) + values)
    octets = bytes(eccodes.codes_get_message(handle))
    eccodes.codes_release(handle)
    return octets


def lambert_air(u: Any, v: Any, keys: dict[str, Any] | None = None) -> bytes:
    """All fields on all levels."""
    fields = {"u": u, "v": v, "t": TEMPERATURE_K}
    return b"".join(
        lambert_message(name, level, height_gpm(level) if name == "gh" else fields[name], keys or {})
        for level in LEVELS_HPA
        for name in ("u", "v", "t", "gh")
    )


def only(path: Path, **how: Any) -> Forecast:
    """The one run of a file."""
    (forecast,) = read_forecast([path], **how)
    return forecast


def eccodes_positions(keys: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """Latitudes and longitudes of the points, rows from the first one on."""
    handle = eccodes.codes_new_from_message(lambert_message("u", 500, 0.0, keys))
    found = tuple(eccodes.codes_get_array(handle, key).reshape(ROWS, COLUMNS) for key in ("latitudes", "longitudes"))
    eccodes.codes_release(handle)
    return found[0], found[1]


def grid_of(keys: dict[str, Any]) -> LambertGrid:
    """Our grid of the same keys, on a sphere."""
    all_keys = KEYS | keys
    projection = Lambert(
        6_371_229.0, 0.0, all_keys["Latin1InDegrees"], all_keys["Latin2InDegrees"], all_keys["LoVInDegrees"]
    )
    x0, y0 = projection.on_map_m(
        all_keys["latitudeOfFirstGridPointInDegrees"], all_keys["longitudeOfFirstGridPointInDegrees"]
    )
    return LambertGrid(projection, float(x0), float(y0), STEP_M, STEP_M, COLUMNS, ROWS)


SOUTH = {
    "latitudeOfFirstGridPointInDegrees": -55.0,
    "longitudeOfFirstGridPointInDegrees": 290.0,
    "LoVInDegrees": 300.0,
    "LaDInDegrees": -45.0,
    "Latin1InDegrees": -40.0,
    "Latin2InDegrees": -50.0,
    "projectionCentreFlag": 128,
}


@pytest.mark.parametrize("keys", [{}, {"Latin1InDegrees": 46.0, "Latin2InDegrees": 46.0}, SOUTH])
def test_positions_equal_those_of_eccodes(keys: dict[str, Any]) -> None:
    latitude, longitude = eccodes_positions(keys)
    grid = grid_of(keys)
    row, column = grid.place(latitude, longitude)
    # headers give angles to a millionth of a degree: 0.1 m of 40 km
    np.testing.assert_allclose(row, np.arange(ROWS)[:, None] + np.zeros(COLUMNS), atol=1e-4)
    np.testing.assert_allclose(column, np.arange(COLUMNS) + np.zeros((ROWS, 1)), atol=1e-4)
    x, y = grid.x0_m + np.arange(COLUMNS) * STEP_M, grid.y0_m + np.arange(ROWS) * STEP_M
    back_latitude, back_longitude = grid.projection.on_earth_deg(x[None, :], y[:, None])
    np.testing.assert_allclose(back_latitude, latitude, atol=1e-5)
    np.testing.assert_allclose(np.mod(back_longitude - longitude + 180.0, 360.0), 180.0, atol=1e-5)


def test_ellipsoid_against_the_worked_example_of_snyder() -> None:
    # Snyder 1987, USGS Professional Paper 1395, p. 296: Clarke 1866, parallels 33 and 45 N, origin 23 N 96 W;
    # 35 N 75 W lies at x = 1 894 410.9 m, y = 1 564 649.5 m (from memory)
    projection = Lambert(6_378_206.4, np.sqrt(0.00676866), 33.0, 45.0, -96.0)
    x, y = projection.on_map_m(35.0, -75.0)
    _, y_origin = projection.on_map_m(23.0, -96.0)
    assert float(x) == pytest.approx(1_894_410.9, abs=0.5)
    assert float(y - y_origin) == pytest.approx(1_564_649.5, abs=0.5)
    latitude, longitude = projection.on_earth_deg(x, y)
    assert float(latitude) == pytest.approx(35.0, abs=1e-9)
    assert float(longitude) == pytest.approx(-75.0, abs=1e-9)


@pytest.mark.parametrize("keys", [{}, SOUTH])
def test_wind_along_grid_north_turns_as_positions_do(tmp_path: Path, keys: dict[str, Any]) -> None:
    # second formula: grid north is where the next row lies, seen from the point, on a sphere
    field = only(written(tmp_path, lambert_air(0.0, 10.0, keys))).field
    latitude, longitude = eccodes_positions(keys)
    north = np.radians(np.diff(latitude, axis=0))
    middle = np.radians(latitude[1:] + latitude[:-1]) / 2.0
    east = np.radians(np.mod(np.diff(longitude, axis=0) + 180.0, 360.0) - 180.0) * np.cos(middle)
    length = np.hypot(north, east)
    grid = grid_of(keys)
    for row, column in ((3, 4), (14, 20), (25, 35), (10, 2)):
        place = (
            (latitude[row, column] + latitude[row + 1, column]) / 2.0,
            (longitude[row, column] + longitude[row + 1, column]) / 2.0,
        )
        u = 10.0 * east[row, column] / length[row, column]
        v = 10.0 * north[row, column] / length[row, column]
        found = grid.projection.earth_wind(np.array(0.0), np.array(10.0), np.array(place[1]))
        np.testing.assert_allclose(found, (u, v), atol=0.02)
        k = int(np.abs(field.longitude_deg - (np.mod(place[1] + 180.0, 360.0) - 180.0)).argmin())
        turned = grid.projection.earth_wind(np.array(0.0), np.array(10.0), field.longitude_deg[k])
        np.testing.assert_allclose(field.wind_u_m_s[0, 0, 0, :, k], turned[0], atol=1e-4)
        np.testing.assert_allclose(field.wind_v_m_s[0, 0, 0, :, k], turned[1], atol=1e-4)
    assert np.abs(field.wind_u_m_s).max() > 0.5  # the grid does turn within it


def test_wind_relative_to_the_earth_stays(tmp_path: Path) -> None:
    field = only(written(tmp_path, lambert_air(3.0, 10.0, {"uvRelativeToGrid": 0}))).field
    np.testing.assert_allclose(field.wind_u_m_s, 3.0, atol=1e-5)
    np.testing.assert_allclose(field.wind_v_m_s, 10.0, atol=1e-5)


def smooth(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """A field that bilinear interpolation over 40 km keeps to 0.02."""
    return 10.0 * np.sin(np.radians(8.0 * latitude)) + 10.0 * np.cos(np.radians(8.0 * longitude))


@pytest.mark.parametrize("south_first", [True, False])
@pytest.mark.parametrize("west_first", [True, False])
def test_a_known_field_comes_back_at_every_point(tmp_path: Path, south_first: bool, west_first: bool) -> None:
    latitude, longitude = eccodes_positions({})
    rows, columns = slice(None, None, 1 if south_first else -1), slice(None, None, 1 if west_first else -1)
    latitude, longitude = latitude[rows, columns], longitude[rows, columns]
    keys = {
        "latitudeOfFirstGridPointInDegrees": latitude[0, 0],
        "longitudeOfFirstGridPointInDegrees": longitude[0, 0],
        "jScansPositively": int(south_first),
        "iScansNegatively": int(not west_first),
        "uvRelativeToGrid": 0,
    }
    field = only(written(tmp_path, lambert_air(smooth(latitude, longitude).ravel(), 0.0, keys))).field
    expected = smooth(field.latitude_deg[:, None], field.longitude_deg[None, :])
    np.testing.assert_allclose(field.wind_u_m_s[0, 0, 0], expected, atol=0.02)
    assert any("Lambert grid of 40 km" in note for note in field.notes)


def test_the_box_lies_inside_the_grid_and_is_large(tmp_path: Path) -> None:
    field = only(written(tmp_path, lambert_air(0.0, 0.0))).field
    grid = grid_of({})
    assert grid.holds(field.latitude_deg[:, None], field.longitude_deg[None, :]).all()
    # area on the sphere against that of the grid
    south, north = np.radians(field.latitude_deg[[0, -1]])
    width = np.radians(field.longitude_deg[-1] - field.longitude_deg[0])
    box = 6371.229**2 * width * (np.sin(north) - np.sin(south))
    assert box > 0.6 * (COLUMNS - 1) * (ROWS - 1) * (STEP_M / 1e3) ** 2


def test_an_area_inside_is_wholly_held(tmp_path: Path) -> None:
    path = written(tmp_path, lambert_air(0.0, 0.0))
    field = only(path, area=(44.0, 46.0, 9.0, 13.0)).field
    assert 43.0 < field.latitude_deg[0] <= 44.0
    assert 46.0 <= field.latitude_deg[-1] < 47.0
    assert 7.5 < field.longitude_deg[0] <= 9.0
    assert 13.0 <= field.longitude_deg[-1] < 14.5
    with pytest.raises(BadFile, match="does not reach into the area"):
        read_forecast([path], area=(10.0, 12.0, 9.0, 13.0))


def test_an_absurd_projection_is_refused(tmp_path: Path) -> None:
    content = lambert_air(0.0, 0.0, {"Latin1InDegrees": 30.0, "Latin2InDegrees": -30.0})
    with pytest.raises(BadFile, match="Lambert grid is absurd"):
        read_forecast([written(tmp_path, content)])


@pytest.mark.parametrize("seed", range(20))
def test_largest_rectangle_against_trying_all(seed: int) -> None:
    mask = np.random.default_rng(seed).random((6, 7)) < 0.7
    best = 0
    for top in range(6):
        for bottom in range(top, 6):
            for left in range(7):
                for right in range(left, 7):
                    if mask[top : bottom + 1, left : right + 1].all():
                        best = max(best, (bottom - top + 1) * (right - left + 1))
    top, bottom, left, right = largest_rectangle(mask)
    assert (bottom - top + 1) * (right - left + 1) == best
    assert mask[top : bottom + 1, left : right + 1].all()
