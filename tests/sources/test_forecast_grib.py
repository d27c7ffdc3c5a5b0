"""GRIB forecasts that the test writes with ecCodes, of an air that is known in closed form."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pappus.errors import BadInput
from pappus.sources import Forecast, looks_like_forecast, read_forecast
from pappus.wind import Sampler
from sources.grib_writer import (
    LATITUDES,
    LEVELS_HPA,
    LONGITUDES,
    METRES,
    RUN,
    TEMPERATURE_K,
    air,
    height_gpm,
    message,
    sections,
    value_of,
    written,
)

ISSUED = RUN


def only(path: Path, **how: Any) -> Forecast:
    """The one run of a file."""
    (forecast,) = read_forecast([path], **how)
    return forecast


@pytest.mark.parametrize("edition", [1, 2])
@pytest.mark.parametrize("height", ["gh", "z"])
def test_pressure_levels_become_a_field(tmp_path: Path, edition: int, height: str) -> None:
    path = written(tmp_path, air(names=("u", "v", "t", height), edition=edition, hours=(0, 3)))
    assert looks_like_forecast(path)
    field = only(path).field
    assert field.wind_u_m_s.shape == (1, 2, len(LEVELS_HPA), len(LATITUDES), len(LONGITUDES))
    assert (field.kind, field.issued, field.epoch) == ("forecast", ISSUED, ISSUED)
    assert field.time_s.tolist() == [0.0, 10800.0]
    np.testing.assert_allclose(field.pressure_pa[0, 0, :, 0, 0], np.array(LEVELS_HPA) * 100.0)
    np.testing.assert_allclose(field.latitude_deg, LATITUDES[::-1])
    np.testing.assert_allclose(field.longitude_deg, LONGITUDES)
    for time, hour in enumerate((0, 3)):
        for level, hpa in enumerate(LEVELS_HPA):
            u = value_of("u", hpa, LATITUDES[::-1], LONGITUDES, hour, 0)
            v = value_of("v", hpa, LATITUDES[::-1], LONGITUDES, hour, 0)
            np.testing.assert_allclose(field.wind_u_m_s[0, time, level], u, atol=1e-5)
            np.testing.assert_allclose(field.wind_v_m_s[0, time, level], v, atol=1e-5)
    np.testing.assert_allclose(field.temperature_k, TEMPERATURE_K, atol=1e-4)
    assert field.coverage.first_valid == ISSUED
    assert field.coverage.last_valid == ISSUED + timedelta(hours=3)
    assert (field.coverage.south_deg, field.coverage.north_deg) == (46.0, 50.0)
    assert (field.coverage.west_deg, field.coverage.east_deg) == (5.0, 10.0)


def test_heights_are_geometric(tmp_path: Path) -> None:
    # Smithsonian Meteorological Tables (6th ed., table 50, from memory): near 48 N the geometric height is
    # larger by about z / 6370 km and smaller by the share of gravity above 9.80665
    height = only(written(tmp_path, air())).field.height_msl_m[0, 0]
    for level, hpa in enumerate(LEVELS_HPA):
        for row, latitude in enumerate(LATITUDES[::-1]):
            sin = math.sin(math.radians(latitude))
            # international gravity formula 1980, Moritz (from memory)
            gravity = 9.780327 * (1 + 0.0053024 * sin**2 - 0.0000058 * math.sin(2 * math.radians(latitude)) ** 2)
            geopotential = height_gpm(hpa)
            expected = geopotential * 9.80665 / gravity
            expected *= 1 + expected / 6.3675e6  # mean of the free-air gradient near 48 N
            np.testing.assert_allclose(height[level, row], expected, atol=3.0)


@pytest.mark.parametrize("latitudes", [LATITUDES, LATITUDES[::-1]], ids=["north first", "south first"])
@pytest.mark.parametrize("longitudes", [LONGITUDES, LONGITUDES[::-1]], ids=["west first", "east first"])
def test_every_direction_of_rows_and_columns(tmp_path: Path, latitudes: np.ndarray, longitudes: np.ndarray) -> None:
    field = only(written(tmp_path, air(latitudes=latitudes, longitudes=longitudes))).field
    np.testing.assert_allclose(field.latitude_deg, np.sort(LATITUDES))
    np.testing.assert_allclose(field.longitude_deg, LONGITUDES)
    u = value_of("u", 500, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_u_m_s[0, 0, 2], u, atol=1e-5)
    v = value_of("v", 500, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_v_m_s[0, 0, 2], v, atol=1e-5)


def test_columns_that_run_first(tmp_path: Path) -> None:
    content = air(change=lambda name, level, values: values.T, keys={"jPointsAreConsecutive": 1})
    field = only(written(tmp_path, content)).field
    u = value_of("u", 500, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_u_m_s[0, 0, 2], u, atol=1e-5)


def test_a_global_grid_closes_at_its_seam(tmp_path: Path) -> None:
    longitudes = np.arange(0.0, 360.0, 30.0)
    field = only(written(tmp_path, air(longitudes=longitudes))).field
    np.testing.assert_allclose(field.longitude_deg, np.arange(0.0, 361.0, 30.0))
    sampler = Sampler(field)
    place = np.array([[345.0], [-15.0], [705.0]])
    for longitude in place:
        found = sampler.at(np.zeros(1, int), np.zeros(1), np.array([48.0]), longitude, np.zeros(1))
        np.testing.assert_allclose(found.wind_u_m_s, (10.0 + 33.0 + 10.0) / 2.0, atol=1e-5)  # half way from 330 to 360
    assert sampler.inside(np.array([48.0]), np.array([-15.0]), np.zeros(1)).all()


@pytest.mark.parametrize(
    ("area", "west", "east"),
    [
        ((46.5, 47.5, -20.0, 40.0), -60.0, 90.0),
        ((46.5, 47.5, 340.0, 40.0), -60.0, 90.0),
        ((46.5, 47.5, 170.0, -170.0), 120.0, 240.0),
    ],
)
def test_an_area_over_the_seam_or_the_date_line(tmp_path: Path, area: Any, west: float, east: float) -> None:
    path = written(tmp_path, air(longitudes=np.arange(0.0, 360.0, 30.0)))
    field = only(path, area=area).field
    assert field.longitude_deg[0] >= west
    assert field.longitude_deg[-1] <= east
    middle = (area[2] + ((area[3] - area[2]) % 360.0) / 2.0) % 360.0
    assert Sampler(field).inside(np.array([47.0]), np.array([middle]), np.zeros(1)).all()
    u = value_of("u", 500, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_u_m_s[0, 0, 2], u, atol=1e-4)


def test_an_area_cuts_rows_and_columns(tmp_path: Path) -> None:
    path = written(tmp_path, air(latitudes=np.arange(60.0, 29.0, -1.0), longitudes=np.arange(-20.0, 21.0, 1.0)))
    field = only(path, area=(45.2, 46.8, 3.5, 5.5)).field
    assert 45.2 - 2.0 <= field.latitude_deg[0] <= 45.2
    assert 46.8 <= field.latitude_deg[-1] <= 46.8 + 2.0
    assert 3.5 - 2.0 <= field.longitude_deg[0] <= 3.5
    assert 5.5 <= field.longitude_deg[-1] <= 5.5 + 2.0
    with pytest.raises(BadInput, match="does not reach into the area"):
        read_forecast([path], area=(-20.0, -10.0, 0.0, 10.0))
    with pytest.raises(BadInput, match="does not reach into the area"):
        read_forecast([path], area=(45.0, 46.0, 100.0, 110.0))
    with pytest.raises(BadInput, match="south, north, west, east"):
        read_forecast([path], area=(46.0, 45.0, 0.0, 10.0))


def test_members_and_steps(tmp_path: Path) -> None:
    field = only(written(tmp_path, air(hours=(0, 6, 12), members=(1, 2, 4)))).field
    assert field.wind_u_m_s.shape[:2] == (3, 3)
    for place, member in enumerate((1, 2, 4)):
        for step, hour in enumerate((0, 6, 12)):
            u = value_of("u", 250, LATITUDES[::-1], LONGITUDES, hour, member)
            np.testing.assert_allclose(field.wind_u_m_s[place, step, 3], u, atol=1e-5)


def test_members_of_edition_1(tmp_path: Path) -> None:
    field = only(written(tmp_path, air(names=("u", "v", "t", "z"), members=(0, 3), edition=1))).field
    assert field.members == 2
    np.testing.assert_allclose(field.wind_u_m_s[1] - field.wind_u_m_s[0], 3.0, atol=1e-4)


def test_files_of_one_run_are_joined_and_two_runs_are_not(tmp_path: Path) -> None:
    first = written(tmp_path, air(hours=(0,)), "a.grib")
    second = written(tmp_path, air(hours=(3,)), "b.grib")
    later = written(tmp_path, air(run=RUN + timedelta(hours=12)), "c.grib")
    forecasts = read_forecast([later, second, first])
    assert [one.field.issued for one in forecasts] == [ISSUED, ISSUED + timedelta(hours=12)]
    assert forecasts[0].field.time_s.tolist() == [0.0, 10800.0]
    assert {source.name for source in forecasts[0].field.sources} == {"a.grib", "b.grib"}
    assert [source.name for source in forecasts[1].field.sources] == ["c.grib"]
    assert "one valid time only" in forecasts[1].field.notes
    assert forecasts[1].field.coverage.first_valid == forecasts[1].field.coverage.last_valid


def test_two_runs_in_one_file_are_two_fields(tmp_path: Path) -> None:
    forecasts = read_forecast([written(tmp_path, air() + air(run=RUN + timedelta(hours=6)))])
    assert [one.field.issued for one in forecasts] == [ISSUED, ISSUED + timedelta(hours=6)]


def test_several_fields_in_one_message(tmp_path: Path) -> None:
    # edition 2 may repeat sections 4 to 7: built by hand from two messages, as WMO-No. 306 allows
    parts = []
    for level in LEVELS_HPA:
        u, v = (air(names=(name,), levels=(level,)) for name in ("u", "v"))
        body_u = u[16:-4]
        places = sections(v)
        tail = b"".join(v[slice(*places[number])] for number in (4, 5, 6, 7))
        body = body_u + tail
        parts.append(u[:8] + (16 + len(body) + 4).to_bytes(8, "big") + body + b"7777")
    field = only(written(tmp_path, b"".join(parts) + air(names=("t", "gh")))).field
    v = value_of("v", 100, LATITUDES[::-1], LONGITUDES, 0, 0)
    np.testing.assert_allclose(field.wind_v_m_s[0, 0, 4], v, atol=1e-5)


def test_gaussian_grid(tmp_path: Path) -> None:
    # roots of the Legendre polynomial of degree 16, computed here by numpy
    latitudes = np.degrees(np.arcsin(np.polynomial.legendre.leggauss(16)[0]))[::-1]
    longitudes = np.arange(0.0, 360.0, 11.25)
    keys = {"gridType": "regular_gg", "N": 8}
    parts = []
    for level in LEVELS_HPA:
        for name in ("u", "v", "t", "gh"):
            values = value_of(name, level, latitudes, longitudes, 0, 0)
            parts.append(message(name, values, level=level, latitudes=latitudes, longitudes=longitudes, keys=keys))
    field = only(written(tmp_path, b"".join(parts))).field
    np.testing.assert_allclose(field.latitude_deg, np.sort(latitudes), atol=1e-4)
    np.testing.assert_allclose(
        field.wind_v_m_s[0, 0, 0],
        value_of("v", 1000, np.sort(latitudes), np.append(longitudes, 360.0), 0, 0),
        atol=1e-4,
    )


def test_near_the_ground(tmp_path: Path) -> None:
    here = np.zeros((len(LATITUDES), len(LONGITUDES)))
    parts = [air(hours=(0, 3, 6))]
    for hour in (0, 3, 6):
        parts.append(message("u", here + 4.0 + hour, level=10, kind="above ground", hour=hour))
        parts.append(message("v", here - 2.0, level=10, kind="above ground", hour=hour))
        parts.append(message("t", here + 280.0, level=2, kind="above ground", hour=hour))
        parts.append(message("cloud", here + 25.0, kind="surface", hour=hour))
    parts.append(message("gust", here + 12.0, kind="surface", hour=3))
    parts += [
        message("rain", here + total, kind="surface", hour=hour, window=hour) for hour, total in ((3, 1.5), (6, 2.0))
    ]
    parts.append(message("gh", here + 321.0, kind="surface"))
    forecast = only(written(tmp_path, b"".join(parts)))
    weather = forecast.surface
    assert weather is not None
    assert forecast.ground_height_msl_m is not None
    np.testing.assert_allclose(forecast.ground_height_msl_m, 321.0, atol=0.2)
    at = {"latitude_deg": 47.3, "longitude_deg": 7.7}
    assert weather.at("eastward_wind", **at, time_s=5400.0) == pytest.approx(5.5, abs=1e-4)
    assert weather.at("northward_wind", **at, time_s=5400.0) == pytest.approx(-2.0, abs=1e-4)
    assert weather.at("air_temperature", **at, time_s=0.0) == pytest.approx(280.0, abs=1e-3)
    assert weather.at("cloud_area_fraction", **at, time_s=0.0) == pytest.approx(0.25, abs=1e-5)
    assert weather.at("wind_speed_of_gust", **at, time_s=10800.0) == pytest.approx(12.0, abs=1e-4)
    assert np.isnan(weather.at("wind_speed_of_gust", **at, time_s=9000.0))  # no gust at the step before
    # 1.5 kg/m2 in the first three hours, 0.5 in the next
    assert weather.at("precipitation_flux", **at, time_s=10800.0) == pytest.approx(1.5 / 10800.0, rel=1e-5)
    assert weather.at("precipitation_flux", **at, time_s=21600.0) == pytest.approx(0.5 / 10800.0, rel=1e-5)
    assert np.isnan(weather.at("air_temperature", 60.0, 7.0, 0.0))  # outside the box
    assert np.isnan(weather.at("air_temperature", **at, time_s=30000.0))  # after the last step
    assert weather.at("visibility_in_air", **at, time_s=0.0) is None


@pytest.mark.parametrize("surface_hpa", [1013.25, 880.0])
def test_heights_from_temperature_and_surface(tmp_path: Path, surface_hpa: float) -> None:
    here = np.zeros((len(LATITUDES), len(LONGITUDES)))
    ground = message("gh", here + height_gpm(surface_hpa), kind="surface")
    pressure = message("sp", here + surface_hpa * 100.0, kind="surface")
    path = written(tmp_path, air(names=("u", "v", "t")) + ground + pressure)
    field = only(path).field
    known = only(written(tmp_path, air(), "known.grib")).field
    np.testing.assert_allclose(field.height_msl_m, known.height_msl_m, atol=0.5)
    assert any("heights worked out from the surface pressure" in note for note in field.notes)


@pytest.mark.parametrize("edition", [1, 2])
@pytest.mark.parametrize("log_pressure", [True, False])
def test_model_levels_of_an_isothermal_air(tmp_path: Path, edition: int, log_pressure: bool) -> None:
    # in air of one temperature the height of a pressure is exact: H0 + (R T / g) ln(p0 / p)
    half_hpa = np.concatenate([[0.0], np.geomspace(2.0, 1000.0, 60)])
    sigma = (half_hpa / 1000.0) ** 2
    surface_hpa = 950.0
    a, b = (half_hpa - 1000.0 * sigma) * 100.0, sigma
    pv = np.concatenate([a, b])
    here = np.zeros((len(LATITUDES), len(LONGITUDES)))
    levels = range(1, 61)
    how: dict[str, Any] = {"kind": "hybrid", "edition": edition, "pv": pv}
    parts = [
        message(name, value_of(name, 500.0, LATITUDES, LONGITUDES, 0, 0), level=level, **how)
        for level in levels
        for name in ("u", "v", "t", "q")
    ]
    parts.append(message("z", here + 540.0 * 9.80665, level=1, **how))
    if log_pressure:
        parts.append(message("lnsp", here + math.log(surface_hpa * 100.0), level=1, **how))
    else:
        parts.append(message("sp", here + surface_hpa * 100.0, kind="surface", edition=edition))
    forecast = only(written(tmp_path, b"".join(parts)))
    field = forecast.field
    assert field.levels == 60
    half = a + b * surface_hpa * 100.0
    full = (half[1:] + half[:-1])[::-1] / 2.0
    np.testing.assert_allclose(field.pressure_pa[0, 0, :, 2, 3], full, rtol=1e-5)
    from pappus.earth import geopotential_height_m

    geopotential = geopotential_height_m(field.height_msl_m[0, 0], field.latitude_deg[:, None])
    exact = 540.0 + METRES * np.log(surface_hpa * 100.0 / full)
    # the scheme places a full level by its layer's mean, which differs from its mean pressure by second order
    np.testing.assert_allclose(geopotential[:-1, 2, 3], exact[:-1], atol=15.0)
    assert forecast.ground_height_msl_m is not None
    np.testing.assert_allclose(forecast.ground_height_msl_m, 540.0, atol=1.0)


def test_derived_fields_of_an_ensemble_are_not_members(tmp_path: Path) -> None:
    mean = message(
        "u",
        value_of("u", 500, LATITUDES, LONGITUDES, 0, 0) + 50.0,
        level=500,
        keys={"productDefinitionTemplateNumber": 2},
    )
    field = only(written(tmp_path, mean + air())).field
    assert field.members == 1
    np.testing.assert_allclose(field.wind_u_m_s[0, 0, 2], value_of("u", 500, LATITUDES, LONGITUDES, 0, 0), atol=1e-5)


def test_the_digest_is_that_of_the_file(tmp_path: Path) -> None:
    import hashlib

    path = written(tmp_path, air())
    assert only(path).field.sources[0].sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert datetime.now(tz=UTC) > only(path).field.issued
