"""Forecasts in netCDF that the test writes, and the folder of kept forecasts."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import netCDF4
import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.sources import Forecast, looks_like_forecast, read_forecast
from pappus.sources.forecasts._kept import kept_path
from sources.grib_writer import LATITUDES, LEVELS_HPA, LONGITUDES, RUN, air, value_of, written

HOURS = (0.0, 3.0)


def netcdf(
    path: Path,
    *,
    units: dict[str, str] | None = None,
    leave_out: tuple[str, ...] = (),
    order: tuple[str, ...] = ("time", "plev", "lat", "lon"),
    longitudes: np.ndarray = LONGITUDES,
    members: int = 0,
    finish: Callable[[Any], None] = lambda data: None,
) -> Path:
    """A file by the CF conventions of the same air as the GRIB files have."""
    found = {"eastward_wind": "m s-1", "northward_wind": "m s-1", "air_temperature": "K", "geopotential_height": "m"}
    found |= {"air_pressure": "hPa", "time": f"hours since {RUN:%Y-%m-%d %H:%M}"} | (units or {})
    axes = {"time": HOURS, "plev": LEVELS_HPA, "lat": LATITUDES, "lon": longitudes}
    with netCDF4.Dataset(path, "w") as data:
        for name, values in axes.items():
            data.createDimension(name, len(values))
            data.createVariable(name, "f8", (name,))[:] = np.asarray(values, dtype=float)
        data["plev"].standard_name, data["plev"].units = "air_pressure", found["air_pressure"]
        data["time"].units = found["time"]
        data["lat"].units, data["lon"].units = "degrees_north", "degrees_east"
        if members:
            data.createDimension("number", members)
            data.createVariable("number", "i4", ("number",))[:] = np.arange(members)
            data["number"].standard_name = "realization"
        if "forecast_reference_time" not in leave_out:
            run = data.createVariable("run", "f8", ())
            run.standard_name, run.units = "forecast_reference_time", f"hours since {RUN:%Y-%m-%d %H:%M}"
            run[...] = 0.0
        short = {"eastward_wind": "u", "northward_wind": "v", "air_temperature": "t", "geopotential_height": "gh"}
        for name, letter in short.items():
            if name in leave_out:
                continue
            cube = np.array(
                [[value_of(letter, p, LATITUDES, longitudes, hour, 0) for p in LEVELS_HPA] for hour in HOURS]
            )
            cube = cube.transpose([("time", "plev", "lat", "lon").index(axis) for axis in order])
            dimensions = (("number",) if members else ()) + order
            variable = data.createVariable(letter, "f4", dimensions, fill_value=-999.0)
            variable.standard_name, variable.units = name, found[name]
            variable[...] = np.stack([cube + 0.0 * k for k in range(members)]) if members else cube
        finish(data)
    return path


def only(path: Path, **how: Any) -> Forecast:
    """The one run of a file."""
    (forecast,) = read_forecast([path], **how)
    return forecast


@pytest.mark.parametrize("order", [("time", "plev", "lat", "lon"), ("lon", "lat", "time", "plev")])
def test_it_equals_the_same_air_in_grib(tmp_path: Path, order: tuple[str, ...]) -> None:
    path = netcdf(tmp_path / "a.nc", order=order)
    assert looks_like_forecast(path)
    field, other = only(path).field, only(written(tmp_path, air(hours=(0, 3)))).field
    assert (field.issued, field.kind) == (RUN, "forecast")
    assert field.coverage.last_valid == RUN + timedelta(hours=3)
    for name in ("time_s", "latitude_deg", "longitude_deg"):
        np.testing.assert_allclose(getattr(field, name), getattr(other, name))
    for name in ("pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s"):
        np.testing.assert_allclose(getattr(field, name), getattr(other, name), rtol=1e-6, atol=1e-4)


def test_pressure_in_pascal_and_members_and_area(tmp_path: Path) -> None:
    def pascal(data: Any) -> None:
        data["plev"][:] = np.array(LEVELS_HPA) * 100.0

    path = netcdf(tmp_path / "a.nc", units={"air_pressure": "Pa"}, members=3, finish=pascal)
    field = only(path, area=(47.2, 47.8, 7.2, 7.8)).field
    assert field.members == 3
    assert field.pressure_pa[0, 0, 0, 0, 0] == 100_000.0
    np.testing.assert_allclose(field.latitude_deg, [46.0, 47.0, 48.0, 49.0])
    np.testing.assert_allclose(field.longitude_deg, [6.0, 7.0, 8.0, 9.0])
    u = value_of("u", 1000, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_u_m_s[2, 0, 0], u, rtol=1e-6)


def test_an_earth_round_grid_closes(tmp_path: Path) -> None:
    field = only(netcdf(tmp_path / "a.nc", longitudes=np.arange(-180.0, 180.0, 45.0))).field
    np.testing.assert_allclose(field.longitude_deg, np.arange(-180.0, 181.0, 45.0))
    np.testing.assert_array_equal(field.wind_u_m_s[..., 0], field.wind_u_m_s[..., -1])


def test_ground_and_weather(tmp_path: Path) -> None:
    def more(data: Any) -> None:
        ground = data.createVariable("oro", "f4", ("lat", "lon"))
        ground.standard_name, ground.units = "surface_altitude", "m"
        ground[...] = 250.0
        cloud = data.createVariable("tcc", "f4", ("time", "lat", "lon"))
        cloud.standard_name, cloud.units = "cloud_area_fraction", "%"
        cloud[...] = 40.0

    forecast = only(netcdf(tmp_path / "a.nc", finish=more))
    assert forecast.ground_height_msl_m is not None
    assert forecast.surface is not None
    np.testing.assert_allclose(forecast.ground_height_msl_m, 250.0, atol=0.1)
    assert forecast.surface.at("cloud_area_fraction", 47.0, 7.0, 0.0) == pytest.approx(0.4)


def test_without_a_run_the_first_time_is_taken_and_said(tmp_path: Path) -> None:
    field = only(netcdf(tmp_path / "a.nc", leave_out=("forecast_reference_time",))).field
    assert field.issued == RUN
    assert "the file names no run: its first valid time is taken for it" in field.notes


def hole(data: Any) -> None:
    """One wind missing."""
    data["u"][1, 2, 3, 4] = np.ma.masked


def two_runs(data: Any) -> None:
    """Two run times in one file."""
    data.createDimension("runs", 2)
    runs = data.createVariable("runs", "f8", ("runs",))
    data["run"].standard_name = "time"
    runs.standard_name, runs.units = "forecast_reference_time", "hours since 2026-03-04"
    runs[:] = [0.0, 6.0]


def same_latitude_twice(data: Any) -> None:
    """A row that repeats another."""
    data["lat"][1] = data["lat"][0]


def bare_level(data: Any) -> None:
    """A vertical axis that is no pressure."""
    data["plev"].units, data["plev"].standard_name = "1", "atmosphere_sigma_coordinate"


@pytest.mark.parametrize(
    ("how", "reason"),
    [
        ({"units": {"eastward_wind": "knots"}}, "knots: eastward_wind is in an unknown unit"),
        ({"units": {"air_temperature": "degC"}}, "degC: air_temperature is in an unknown unit"),
        ({"units": {"geopotential_height": "ft"}}, "ft: geopotential_height is in an unknown unit"),
        ({"units": {"air_pressure": "inHg"}}, "inHg: the pressure of levels is in an unknown unit"),
        ({"units": {"time": "fortnights since 2026-03-04"}}, "times cannot be understood"),
        ({"units": {"air_pressure": "Pa"}}, "which its pressure cannot have"),
        ({"leave_out": ("northward_wind",)}, "standard name northward_wind"),
        ({"leave_out": ("geopotential_height",)}, "geopotential_height or geopotential"),
        ({"finish": hole}, "eastward wind is missing at 1 of"),
        ({"finish": two_runs}, "several runs"),
        ({"finish": same_latitude_twice}, "latitude is there twice"),
        ({"finish": bare_level}, "no variable on pressure levels"),
    ],
)
def test_a_file_that_cannot_be_trusted_is_refused(tmp_path: Path, how: dict[str, Any], reason: str) -> None:
    with pytest.raises(BadFile, match=reason):
        read_forecast([netcdf(tmp_path / "a.nc", **how)])


def test_a_cut_netcdf_file_is_refused(tmp_path: Path) -> None:
    path = netcdf(tmp_path / "a.nc")
    path.write_bytes(path.read_bytes()[:2000])
    with pytest.raises(BadFile, match="cannot be read"):
        read_forecast([path])
    assert not looks_like_forecast(path)


def test_a_netcdf_file_without_a_grid_is_no_forecast(tmp_path: Path) -> None:
    path = tmp_path / "sounding.nc"
    with netCDF4.Dataset(path, "w") as data:
        data.createDimension("time", 3)
        wind = data.createVariable("u", "f4", ("time",))
        wind.standard_name, wind.units = "eastward_wind", "m s-1"
    assert not looks_like_forecast(path)


def kept_file(folder: Path) -> Path:
    """The one file in a folder of kept forecasts."""
    (path,) = folder.iterdir()
    return path


def equal(one: Forecast, other: Forecast) -> None:
    """Fail unless two forecasts hold the same."""
    for name in ("name", "kind", "issued", "epoch", "coverage", "sources", "notes"):
        assert getattr(one.field, name) == getattr(other.field, name)
    for name in ("time_s", "latitude_deg", "longitude_deg", "pressure_pa", "height_msl_m", "temperature_k"):
        np.testing.assert_array_equal(getattr(one.field, name), getattr(other.field, name))
    np.testing.assert_array_equal(one.field.wind_u_m_s, other.field.wind_u_m_s)
    np.testing.assert_array_equal(one.field.wind_v_m_s, other.field.wind_v_m_s)
    assert (one.surface is None) == (other.surface is None)


def test_a_kept_forecast_is_the_same_and_is_not_decoded_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = tmp_path / "kept"
    path = written(tmp_path, air(hours=(0, 3), members=(1, 2)) + air(run=RUN + timedelta(hours=6)))
    first = read_forecast([path], keep_in=kept)
    monkeypatch.setattr("pappus.sources.forecasts._forecast.read_grib", None)  # a second decoding would fail
    second = read_forecast([path], keep_in=kept)
    assert len(first) == len(second) == 2
    for one, other in zip(first, second, strict=True):
        equal(one, other)
    assert [item.name for item in kept.iterdir()] == [kept_file(kept).name]


@pytest.mark.parametrize("damage", [lambda octets: octets[:-8], lambda octets: b"", lambda octets: octets[:100]])
def test_a_cut_kept_file_is_made_anew(tmp_path: Path, damage: Callable[[bytes], bytes]) -> None:
    kept, path = tmp_path / "kept", written(tmp_path, air())
    first = only(path, keep_in=kept)
    whole = kept_file(kept).read_bytes()
    kept_file(kept).write_bytes(damage(whole))
    equal(first, only(path, keep_in=kept))
    assert kept_file(kept).read_bytes() == whole


@pytest.mark.parametrize("place", [5, 20, 128, 140, 150, 300, 700])
def test_a_kept_file_with_a_damaged_header_is_made_anew(tmp_path: Path, place: int) -> None:
    kept, path = tmp_path / "kept", written(tmp_path, air())
    first = only(path, keep_in=kept)
    octets = bytearray(kept_file(kept).read_bytes())
    octets[place] ^= 0xFF
    kept_file(kept).write_bytes(bytes(octets))
    equal(first, only(path, keep_in=kept))
    octets[place] ^= 0xFF
    assert kept_file(kept).read_bytes() == bytes(octets)


def test_what_changes_the_answer_changes_the_kept_file(tmp_path: Path) -> None:
    path = written(tmp_path, air())
    names = {kept_path(tmp_path, [path], "a").name, kept_path(tmp_path, [path], "b").name}
    status = path.stat()
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns + 1))
    names.add(kept_path(tmp_path, [path], "a").name)
    assert len(names) == 3
    kept = tmp_path / "kept"
    whole = only(path, keep_in=kept)
    part = only(path, keep_in=kept, area=(47.0, 48.0, 7.0, 8.0))
    assert whole.field.wind_u_m_s.shape != part.field.wind_u_m_s.shape


def test_a_folder_that_cannot_be_written_costs_only_time(tmp_path: Path) -> None:
    (tmp_path / "kept").write_text("a file where the folder should be")
    field = only(written(tmp_path, air()), keep_in=tmp_path / "kept" / "inside").field
    assert any("could not be kept" in note for note in field.notes)
