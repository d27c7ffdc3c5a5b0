"""Forecasts of weather centres: values against cfgrib, heights and winds against a second way.

Data: NOAA/NCEP (US government, no copyright), ECMWF samples (Apache-2.0 repositories), MET Norway (CC BY 4.0).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import eccodes
import numpy as np
import pytest

from pappus.earth import geopotential_height_m
from pappus.errors import BadFile
from pappus.sources import Forecast, read_forecast
from pappus.sources.forecasts._grib import Run, find_runs
from pappus.sources.grib._values import decode
from pappus.wind import Sampler

SharedData = Callable[[str], Path]
Array = np.ndarray

IFS = "nwp/ecmwf_ifs_137ml_2018111412_f024_europe.grib2"
NAM = "nwp/nam_awp211_2018091700_f000_lambert.grib2"
RUNS = "nwp/ecmwf_6pl_4runs_2steps_20240603.grib1"
MEMBERS = "nwp/era5_10members_z_t_2levels_201701.grib1"
GFS = ("nwp/gfs_2p5deg_2011011012_f120.grib2", "nwp/gfs_2p5deg_2011100800_f072.grib2")
AROME = tuple(
    f"nwp/arome_arctic_2018071000_f{hour:03d}_svalbard_lambert.grib1"
    for hour in (0, 3, 6, 9, 12, 18, 24, 30, 36, 42, 48)
)
COLUMNS = tuple(f"nwp/{model}_kmso_20170401{hour}_bufkit.txt.gz" for model in ("gfs", "nam") for hour in ("00", "06"))

# gas constant of dry air over standard gravity, ISO 2533; gas constant of water vapour 461.5 J/(kg K)
METRES_PER_K = 287.05287 / 9.80665
VAPOUR_EXCESS = 461.5 / 287.05 - 1.0


@cache
def forecast_of(*paths: Path) -> list[Forecast]:
    """Read once for all tests."""
    return read_forecast(paths)


def runs_of(path: Path) -> list[Run]:
    """The fields of a file before they become a forecast."""
    return find_runs([(path.name, np.fromfile(path, np.uint8))])


@pytest.mark.filterwarnings("ignore")  # those of the other reader
@pytest.mark.parametrize("name", [IFS, NAM, RUNS, MEMBERS, *GFS, *AROME])
def test_values_and_headers_equal_those_of_cfgrib(shared_data: SharedData, name: str) -> None:
    messages = pytest.importorskip("cfgrib.messages")
    path = shared_data(name)
    content = np.fromfile(path, np.uint8)
    ours: dict[Any, Any] = {}
    for run in runs_of(path):
        for kind in ("pressure", "hybrid"):
            for key, field in run.by_kind[kind].items():
                ours[(run.issued, kind, *key)] = field
    kinds = {"isobaricInhPa": ("pressure", 100.0), "hybrid": ("hybrid", 1.0)}
    compared = 0
    for message in messages.FileStream(str(path)).items():
        message = message[1]
        if message["shortName"] not in ("u", "v", "t", "gh", "z", "q", "lnsp") or message["typeOfLevel"] not in kinds:
            continue
        kind, factor = kinds[message["typeOfLevel"]]
        issued = datetime.strptime(f"{message['dataDate']}{message['dataTime']:04d}", "%Y%m%d%H%M").replace(tzinfo=UTC)
        member = message.get("number", 0) or 0
        key = (message["shortName"], member, message["endStep"] * 3600, message["level"] * factor)
        field = ours.pop((issued, kind, *key))
        found = decode([field], [content], [path.name], lambda values: values)[0]
        np.testing.assert_allclose(found, message["values"], rtol=1e-14, atol=1e-14, err_msg=str(key))
        compared += 1
    assert compared >= 60
    assert not ours


def test_model_level_heights_against_fine_quadrature(shared_data: SharedData) -> None:
    """R Tv dln(p) integrated in 20 000 steps through Tv linear in ln(p) between full levels, read by ecCodes."""
    (forecast,) = forecast_of(shared_data(IFS))
    field = forecast.field
    levels: dict[tuple[str, int], Array] = {}
    with shared_data(IFS).open("rb") as file:
        while (handle := eccodes.codes_grib_new_from_file(file)) is not None:
            key = (eccodes.codes_get(handle, "shortName"), eccodes.codes_get(handle, "level"))
            levels[key] = eccodes.codes_get_values(handle).reshape(34, 48)[::-1]
            pv = eccodes.codes_get_array(handle, "pv")
            eccodes.codes_release(handle)
    worst = {1_000.0: 0.0, 100.0: 0.0}
    for row, column in ((0, 0), (5, 20), (12, 7), (20, 40), (33, 47), (11, 25)):
        surface_pa = float(np.exp(levels["lnsp", 1][row, column]))
        half = pv[:138] + pv[138:] * surface_pa
        log_full = np.log((half[1:] + half[:-1]) / 2.0)
        virtual = np.array(
            [levels["t", k][row, column] * (1.0 + VAPOUR_EXCESS * levels["q", k][row, column]) for k in range(1, 138)]
        )
        for pressure in worst:
            log_p = np.linspace(np.log(pressure), np.log(surface_pa), 20_001)
            tv = np.interp(log_p, log_full, virtual)
            height = levels["z", 1][row, column] / 9.80665
            height += METRES_PER_K * float(np.trapezoid(tv, log_p))
            own = geopotential_height_m(field.height_msl_m[0, 0, :, row, column], field.latitude_deg[row])
            found = np.interp(-np.log(pressure), -np.log(field.pressure_pa[0, 0, :, row, column]), own)
            worst[pressure] = max(worst[pressure], abs(float(found) - height))
    assert worst[1_000.0] < 15.0, worst
    assert worst[100.0] < 25.0, worst


def test_model_level_heights_are_where_they_can_be(shared_data: SharedData) -> None:
    # 10 hPa lies at 28 to 32.5 km, 1 hPa at 43 to 50 km: common practice, no source
    (forecast,) = forecast_of(shared_data(IFS))
    field = forecast.field
    assert field.levels == 137
    for pressure, low, high in ((1_000.0, 28_000.0, 32_500.0), (100.0, 43_000.0, 50_500.0)):
        level = np.abs(np.log(field.pressure_pa[0, 0, :, 0, 0] / pressure)).argmin()
        assert low < field.height_msl_m[0, 0, level].min() < field.height_msl_m[0, 0, level].max() < high
    assert forecast.ground_height_msl_m is not None
    # the lowest model level lies about 10 m above the ground
    above_ground = field.height_msl_m[0, 0, 0] - forecast.ground_height_msl_m
    assert 8.0 < above_ground.min() < above_ground.max() < 12.0


@pytest.mark.parametrize("name", GFS)
def test_heights_of_the_file_agree_with_its_temperatures(shared_data: SharedData, name: str) -> None:
    (forecast,) = forecast_of(shared_data(name))
    field = forecast.field
    assert field.wind_u_m_s.shape == (1, 1, 26, 73, 145)
    geopotential = geopotential_height_m(field.height_msl_m[0, 0], field.latitude_deg[:, None])
    mean_k = (field.temperature_k[0, 0, 1:] + field.temperature_k[0, 0, :-1]) / 2.0
    log_step = -np.diff(np.log(field.pressure_pa[0, 0, :, 0, 0]))[:, None, None]
    thickness = METRES_PER_K * mean_k * log_step
    upper = field.pressure_pa[0, 0, 1:, 0, 0] < 50_000.0  # below, humid air is thicker by up to 1 %
    error = (np.diff(geopotential, axis=0) - thickness)[upper]
    assert np.abs(np.median(error, axis=(1, 2))).max() < 12.0
    assert np.quantile(np.abs(error), 0.99) < 60.0
    np.testing.assert_array_equal(field.wind_u_m_s[..., 0], field.wind_u_m_s[..., -1])
    top = field.height_msl_m[0, 0, -1]
    assert 27_900.0 < top.min() < top.max() < 32_500.0
    weather = forecast.surface
    assert weather is not None
    assert {"eastward_wind", "northward_wind", "wind_speed_of_gust", "cloud_area_fraction"} <= set(weather.fields)


def test_an_area_holds_the_same_values(shared_data: SharedData) -> None:
    path = shared_data(GFS[0])
    (whole,), (part,) = forecast_of(path), read_forecast([path], area=(40.0, 50.0, -10.0, 20.0))
    rows = np.searchsorted(whole.field.latitude_deg, part.field.latitude_deg)
    columns = np.searchsorted(whole.field.longitude_deg, np.mod(part.field.longitude_deg, 360.0))
    np.testing.assert_array_equal(part.field.wind_u_m_s, whole.field.wind_u_m_s[:, :, :, rows][..., columns])
    assert part.field.wind_u_m_s.size < whole.field.wind_u_m_s.size / 50


def grid_north(latitude: Array, longitude: Array) -> tuple[Array, Array]:
    """Eastward and northward part of the unit vector towards the next row, by central differences on a sphere."""
    north = np.radians(latitude[2:] - latitude[:-2])
    east = np.radians(longitude[2:] - longitude[:-2]) * np.cos(np.radians(latitude[1:-1]))
    length = np.hypot(north, east)
    return east / length, north / length


@pytest.mark.parametrize(("name", "shape", "edge"), [(NAM, (65, 93), 2.0), (AROME[6], (100, 100), 0.6)])
def test_rotated_winds_against_directions_of_the_grid(
    shared_data: SharedData, name: str, shape: tuple[int, int], edge: float
) -> None:
    """Grid points are sampled in our field; the wind there is turned by where the next grid row really lies."""
    path = shared_data(name)
    (forecast,) = forecast_of(path)
    (run,) = (run for run in runs_of(path) if run.by_kind["pressure"])
    level_pa = 50_000.0
    time_s = int(forecast.field.time_s[0])
    fields = [run.by_kind["pressure"][letter, 0, time_s, level_pa] for letter in ("u", "v")]
    handle = eccodes.codes_new_from_message(run.octets(fields[0]))
    assert eccodes.codes_get(handle, "uvRelativeToGrid") == 1
    latitude, longitude = (eccodes.codes_get_array(handle, key).reshape(shape) for key in ("latitudes", "longitudes"))
    eccodes.codes_release(handle)
    u, v = decode(fields, run.contents, run.files, lambda values: values).reshape(2, *shape)[:, 1:-1]
    to_east, to_north = grid_north(latitude, np.unwrap(longitude, axis=0, period=360.0))
    expected_u, expected_v = u * to_north + v * to_east, v * to_north - u * to_east
    points = latitude[1:-1].ravel(), longitude[1:-1].ravel()
    count = len(points[0])
    sampler = Sampler(forecast.field)
    inside = sampler.inside(*points, np.full(count, float(time_s)))
    assert inside.mean() > 0.3
    level = np.full(count, float(np.abs(forecast.field.pressure_pa[0, 0, :, 0, 0] - level_pa).argmin()))
    found = sampler.at(np.zeros(count, int), level, *points, np.full(count, float(time_s)))
    turned = np.degrees(np.arctan2(to_east, to_north))
    assert np.abs(turned).max() > 10.0  # without the rotation this test would fail
    expected_u, expected_v = expected_u.ravel()[inside], expected_v.ravel()[inside]
    found_u, found_v = found.wind_u_m_s[inside], found.wind_v_m_s[inside]
    # two bilinear interpolations smooth the field: the wind itself is some 10 m/s
    error = np.hypot(found_u - expected_u, found_v - expected_v)
    assert np.median(error) < 0.5
    assert np.quantile(error, 0.95) < edge
    # smoothing has no sense of rotation: the mean angle between both winds shows an error of the rotation alone
    for half in (turned.ravel()[inside] < 0.0, turned.ravel()[inside] >= 0.0):
        if half.sum() > 200:
            across = (expected_u * found_v - expected_v * found_u)[half].sum()
            along = (expected_u * found_u + expected_v * found_v)[half].sum()
            assert abs(np.degrees(np.arctan2(across, along))) < 0.1


def test_several_files_of_one_run(shared_data: SharedData) -> None:
    (forecast,) = forecast_of(*(shared_data(name) for name in AROME))
    field = forecast.field
    assert field.wind_u_m_s.shape[:3] == (1, 11, 16)
    assert (field.time_s / 3600.0).tolist() == [0, 3, 6, 9, 12, 18, 24, 30, 36, 42, 48]
    assert field.coverage.last_valid - field.coverage.first_valid == timedelta(hours=48)
    assert len(field.sources) == 11
    # the height of the ground has 24 bits a value and a header that says 16: ecCodes gives 15 000 values of noise
    assert any("z on surface level 0 left out" in note and "(11 times)" in note for note in field.notes)
    assert forecast.ground_height_msl_m is None


def test_four_runs_are_four_forecasts(shared_data: SharedData) -> None:
    forecasts = forecast_of(shared_data(RUNS))
    issued = [one.field.issued for one in forecasts]
    assert issued == [datetime(2024, 6, 3, tzinfo=UTC) + timedelta(hours=12 * k) for k in range(4)]
    for one in forecasts:
        assert one.field.time_s.tolist() == [0.0, 21_600.0]
        assert one.field.levels == 6


def test_members_without_wind(shared_data: SharedData) -> None:
    path = shared_data(MEMBERS)
    with pytest.raises(BadFile, match="no u v"):
        read_forecast([path])
    runs = runs_of(path)
    assert len(runs) == 4
    for run in runs:
        keys = run.by_kind["pressure"]
        assert {key[0] for key in keys} == {"z", "t"}
        assert sorted({key[1] for key in keys}) == list(range(10))
        assert {key[3] for key in keys} == {85_000.0, 50_000.0}
        assert len(keys) == 40


@pytest.mark.parametrize("name", COLUMNS)
def test_columns_of_one_station(shared_data: SharedData, name: str) -> None:
    (forecast,) = forecast_of(shared_data(name))
    field = forecast.field
    hour = int(name.split("_")[2][-2:])
    assert field.issued == datetime(2017, 4, 1, hour, tzinfo=UTC)
    assert field.coverage.radius_m == 200_000.0
    assert field.coverage.top_msl_m > (44_000.0 if "gfs" in name else 30_000.0)
    # geopotential metres: a dry column is at most 20 m thinner, geometric metres would add 107 m at 20 hPa
    geopotential = geopotential_height_m(field.height_msl_m[0, :, :, 0, 0], field.latitude_deg[0])
    pressure, kelvin = field.pressure_pa[0, :, :, 0, 0], field.temperature_k[0, :, :, 0, 0]
    steps = METRES_PER_K * (kelvin[:, 1:] + kelvin[:, :-1]) / 2.0 * -np.diff(np.log(pressure), axis=1)
    excess = (geopotential[:, -1] - geopotential[:, 0]) - steps.sum(axis=1)
    assert 0.0 < excess.min() < excess.max() < 25.0
    # knots: at 50 to 70 m the wind is a little stronger than at 10 m, which is in m/s; metres a second would double it
    weather = forecast.surface
    assert weather is not None
    u10, v10 = (weather.at(wind, 46.9, -114.1, field.time_s) for wind in ("eastward_wind", "northward_wind"))
    assert u10 is not None
    assert v10 is not None
    along = (field.wind_u_m_s[0, :, 1, 0, 0] * u10 + field.wind_v_m_s[0, :, 1, 0, 0] * v10).sum()
    assert 1.0 < along / (u10**2 + v10**2).sum() < 1.6
