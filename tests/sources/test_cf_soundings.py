"""Soundings in netCDF with CF standard names, written by the test with the netCDF4 library."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pappus.atmosphere import standard_air
from pappus.errors import BadFile
from pappus.sources import read_sounding

COLUMNS: dict[str, tuple[str, str]] = {
    "lat": ("latitude", "degree_north"),
    "lon": ("longitude", "degree_east"),
    "alt": ("altitude", "m"),
    "pres": ("air_pressure", "hPa"),
    "temp": ("air_temperature", "degC"),
    "u": ("eastward_wind", "m s-1"),
    "v": ("northward_wind", "m s-1"),
}


def write(path: Path, change: dict[str, Any] | None = None, leave_out: tuple[str, ...] = (), **attributes: str) -> Path:
    import netCDF4

    seconds = np.arange(0.0, 3000.0, 2.0)
    height = 200.0 + 5.0 * seconds
    air = standard_air(height)
    values: dict[str, Any] = {
        "lat": 46.8 + seconds * 1e-6, "lon": 6.95 + seconds * 1e-5, "alt": height, "pres": air.pressure_pa / 100.0,
        "temp": air.temperature_k - 273.15, "u": 5.0 + seconds / 300.0, "v": np.full_like(seconds, -2.0),
    }  # fmt: skip
    values |= change or {}
    with netCDF4.Dataset(path, "w") as dataset:
        dataset.setncatts(attributes)
        dataset.createDimension("time", len(seconds))
        time = dataset.createVariable("time", "f8", ("time",))
        time.units = "seconds since 2017-07-11T22:50:42Z"
        time[:] = seconds
        for name, (standard_name, units) in COLUMNS.items():
            if name not in leave_out:
                variable = dataset.createVariable(name, "f8", ("time",))
                variable.standard_name, variable.units = standard_name, units
                variable[:] = values[name]
    return path


def test_values_and_units_arrive(tmp_path: Path) -> None:
    sounding = read_sounding(write(tmp_path / "a.nc", site="PAY, invented"))[0]
    assert sounding.station == "PAY"
    assert f"{sounding.release:%Y-%m-%d %H:%M:%S}" == "2017-07-11 22:50:42"
    assert sounding.levels == 1500
    assert sounding.height_msl_m[[0, -1]] == pytest.approx([200.0, 200.0 + 5.0 * 2998.0], abs=0.01)
    assert sounding.temperature_k[0] == pytest.approx(float(standard_air(200.0).temperature_k))
    assert sounding.wind_u_m_s[-1] == pytest.approx(5.0 + 2998.0 / 300.0)
    assert sounding.positions_measured


def test_positions_summed_from_the_winds_say_so(tmp_path: Path) -> None:
    path = write(tmp_path / "a.nc", latitude_calculation="lat[k-1]+v*dt/111137")
    assert not read_sounding(path)[0].positions_measured


def test_missing_values_are_gaps(tmp_path: Path) -> None:
    height = 200.0 + 5.0 * np.arange(0.0, 3000.0, 2.0)
    height[10:20] = np.nan
    wind = np.full(1500, 4.0)
    wind[100:110] = -9999.0
    sounding = read_sounding(write(tmp_path / "a.nc", {"alt": height, "u": wind}))[0]
    assert sounding.levels == 1490  # lost heights come back from pressure and temperature, lost winds do not
    assert np.abs(np.diff(sounding.height_msl_m)).max() < 120.0


@pytest.mark.parametrize(
    ("leave_out", "said"), [(("u",), "eastward_wind"), (("lat",), "latitude"), (("alt",), "geopotential_height")]
)
def test_what_a_flight_needs_must_be_there(leave_out: tuple[str, ...], said: str, tmp_path: Path) -> None:
    with pytest.raises(BadFile, match=said):
        read_sounding(write(tmp_path / "a.nc", leave_out=leave_out))


def test_unknown_unit_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(COLUMNS, "u", ("eastward_wind", "furlong/fortnight"))
    with pytest.raises(BadFile, match="furlong"):
        read_sounding(write(tmp_path / "a.nc"))


def test_cut_short_file_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.nc")
    path.write_bytes(path.read_bytes()[:2000])
    with pytest.raises(BadFile):
        read_sounding(path)
