"""The invented forecast behaves like air and says that it is invented.

Checked against the balances of dynamic meteorology (Holton, An Introduction to Dynamic Meteorology, 4th ed., ch. 2-4:
geostrophic wind, thermal wind, hypsometric equation, vorticity equation; all from memory), computed here by finite
differences from the decoded file, against the U.S. Standard Atmosphere 1976, and against what ecCodes reads back.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import eccodes
import numpy as np
import pytest
from numpy.typing import NDArray

from pappus.atmosphere import standard_height_msl_m
from pappus.earth import geopotential_height_m
from pappus.errors import OutOfRange
from pappus.sources.forecasts._cube import Forecast
from pappus.sources.forecasts._forecast import read_forecast
from pappus.sources.forecasts._invented import FILE_NAME, LEVEL_HPA, STEP_H, invented_air, write_invented_forecast

Array = NDArray[np.float64]

MEMBERS, SEED = 12, 20270213
# Holton, tables of constants, and geodesy (from memory): earth rate, mean radius, gas constant, gravity.
EARTH_RATE_S, RADIUS_M, GAS_J_KG_K, GRAVITY_M_S2 = 7.2921e-5, 6_371_000.0, 287.05, 9.80665
SITE_A, SITE_B = (-37.38, -64.60), (-36.22, -65.44)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("forecast") / FILE_NAME
    write_invented_forecast(path, members=MEMBERS, seed=SEED)
    return path


@pytest.fixture(scope="module")
def forecast(path: Path) -> Forecast:
    (forecast,) = read_forecast([path])
    return forecast


def geopotential_m(forecast: Forecast) -> Array:
    field = forecast.field
    return geopotential_height_m(field.height_msl_m, field.latitude_deg[:, None])


def slopes(forecast: Forecast, cube: Array) -> tuple[Array, Array]:
    """Eastward and northward derivative per metre, by central differences."""
    latitude, longitude = np.radians(forecast.field.latitude_deg), np.radians(forecast.field.longitude_deg)
    east = np.gradient(cube, longitude, axis=-1) / (RADIUS_M * np.cos(latitude)[:, None])
    return east, np.gradient(cube, latitude, axis=-2) / RADIUS_M


def coriolis_s(forecast: Forecast) -> Array:
    return 2.0 * EARTH_RATE_S * np.sin(np.radians(forecast.field.latitude_deg))[:, None]


def geostrophic(forecast: Forecast) -> tuple[Array, Array]:
    east, north = slopes(forecast, geopotential_m(forecast))
    factor = GRAVITY_M_S2 / coriolis_s(forecast)
    return -factor * north, factor * east


def inner(cube: Array) -> Array:
    """Without the rim, where differences are one-sided."""
    return cube[..., 1:-1, 1:-1]


def rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))


def from_level(hpa: float) -> int:
    return int(np.flatnonzero(hpa == LEVEL_HPA)[0])


def test_wind_is_geostrophic_below_the_gravity_waves(forecast: Forecast) -> None:
    """To 0.3 m/s up to 100 hPa, in every member; above 10 hPa the gravity waves are plain to see."""
    u, v = geostrophic(forecast)
    low, high = slice(0, from_level(100) + 1), slice(from_level(10), None)
    away_u, away_v = inner(forecast.field.wind_u_m_s - u), inner(forecast.field.wind_v_m_s - v)
    for member in range(MEMBERS):
        assert rms(away_u[member, :, low]) < 0.3
        assert rms(away_v[member, :, low]) < 0.3
        assert 1.0 < np.hypot(rms(away_u[member, :, high]), rms(away_v[member, :, high])) < 5.0


def test_shear_is_the_thermal_wind(forecast: Forecast) -> None:
    """du/dln p = (R/f) dT/dy and dv/dln p = -(R/f) dT/dx, layer by layer from 850 to 100 hPa, to 0.25 m/s (rms).

    The temperature of a layer is the mean of its two levels, which costs most of that where the jet bends.
    """
    field = forecast.field
    east, north = slopes(forecast, field.temperature_k)
    taken = slice(from_level(850), from_level(100) + 1)
    step = np.diff(np.log(field.pressure_pa[:, :, taken]), axis=2)
    factor = GAS_J_KG_K / coriolis_s(forecast)

    def layer(cube: Array) -> Array:
        return (cube[:, :, taken][:, :, 1:] + cube[:, :, taken][:, :, :-1]) / 2.0

    for wind, thermal in (
        (field.wind_u_m_s, factor * layer(north) * step),
        (field.wind_v_m_s, -factor * layer(east) * step),
    ):
        shear = np.diff(wind[:, :, taken], axis=2)
        assert rms(inner(shear)) > 0.8
        assert rms(inner(shear - thermal)) < 0.25
        assert np.abs(inner(shear - thermal)).max() < 1.2
        assert np.corrcoef(inner(shear).ravel(), inner(thermal).ravel())[0, 1] > 0.97


def test_layers_are_as_thick_as_their_temperature_makes_them(forecast: Forecast) -> None:
    """Hypsometric equation, layer mean temperature from its two levels: to 0.7 %."""
    field = forecast.field
    temperature = (field.temperature_k[:, :, 1:] + field.temperature_k[:, :, :-1]) / 2.0
    step = -np.diff(np.log(field.pressure_pa), axis=2)
    balanced = GAS_J_KG_K / GRAVITY_M_S2 * temperature * step
    thickness = np.diff(geopotential_m(forecast), axis=2)
    assert np.abs(thickness / balanced - 1.0).max() < 0.007


def test_air_is_near_the_standard_atmosphere_and_stable(forecast: Forecast) -> None:
    """Heights of pressures up to 6 % above the standard (summer); lapse under the dry adiabat, 9.8 K/km.

    10 hPa between 28.5 and 32 km: the range over seasons and latitudes, from memory.
    """
    field = forecast.field
    standard = standard_height_msl_m(100.0 * LEVEL_HPA)[:, None, None]
    above = from_level(700)
    ratio = (field.height_msl_m / standard)[:, :, above:]
    assert 1.0 < ratio.min() < ratio.max() < 1.06
    assert field.height_msl_m[:, :, from_level(10)].min() > 28_500.0
    assert field.height_msl_m[:, :, from_level(10)].max() < 32_000.0
    assert 195.0 < field.temperature_k.min() < 215.0
    assert 290.0 < field.temperature_k.max() < 310.0
    lapse = -np.diff(field.temperature_k, axis=2) / np.diff(field.height_msl_m, axis=2)
    assert lapse.max() < 9.8e-3


def test_jet_below_easterlies(forecast: Forecast) -> None:
    """A summer day in the south: jet near 12 km, weak easterlies above 25 km (common knowledge, no source)."""
    u = forecast.field.wind_u_m_s[0].mean(axis=(0, 2, 3))
    assert 200.0 <= LEVEL_HPA[int(u.argmax())] <= 250.0
    assert 20.0 < u.max() < 40.0
    assert -10.0 < u[from_level(20) :].mean() < -1.0


def divergence_and_vorticity_per_s(forecast: Forecast) -> tuple[Array, Array]:
    """On the sphere, without the rim."""
    field = forecast.field
    (u_east, u_north), (v_east, v_north) = slopes(forecast, field.wind_u_m_s), slopes(forecast, field.wind_v_m_s)
    turning = np.tan(np.radians(field.latitude_deg))[:, None] / RADIUS_M
    divergence = u_east + v_north - field.wind_v_m_s * turning
    return inner(divergence), inner(v_east - u_north + field.wind_u_m_s * turning)


def test_flow_is_nearly_free_of_divergence(forecast: Forecast) -> None:
    """Synoptic flow: divergence of 1e-6 to 1e-5 /s, under a third of vorticity (Holton, ch. 4, from memory)."""
    divergence, vorticity = divergence_and_vorticity_per_s(forecast)
    low = slice(0, from_level(100) + 1)
    assert rms(divergence[:, :, low]) < 3e-6
    assert rms(divergence[:, :, low]) < 0.33 * rms(vorticity[:, :, low])
    assert rms(divergence) < 2e-5


def test_gravity_waves_spin_air_up_where_it_converges(forecast: Forecast) -> None:
    """Linear vorticity equation, d(vorticity)/dt = -f divergence, in the control above 10 hPa.

    For waves of period above 6 h the change from 3 h before to 3 h after has the sign of the derivative.
    """
    divergence, vorticity = (one[0][:, from_level(10) :] for one in divergence_and_vorticity_per_s(forecast))
    change = vorticity[2:] - vorticity[:-2]
    made = -inner(coriolis_s(forecast) + 0.0 * forecast.field.longitude_deg) * divergence[1:-1]
    assert np.corrcoef(change.ravel(), made.ravel())[0, 1] > 0.9


def test_weather_moves_east(forecast: Forecast) -> None:
    """Shift of the pattern of v at 300 hPa that fits 6 h later best: 7 to 18 m/s eastwards in the control."""
    field = forecast.field
    level, row = from_level(300), len(field.latitude_deg) // 2
    earlier, later = (field.wind_v_m_s[0, step, level, row] for step in (STEP_H.index(12), STEP_H.index(18)))
    km_per_deg = np.radians(1.0) * RADIUS_M / 1e3 * np.cos(np.radians(field.latitude_deg[row]))
    shifts = np.arange(-5.0, 5.01, 0.1)

    def misfit(shift: float) -> float:
        held = (field.longitude_deg - shift >= field.longitude_deg[0]) & (
            field.longitude_deg - shift <= field.longitude_deg[-1]
        )
        moved = np.interp(field.longitude_deg[held] - shift, field.longitude_deg, earlier)
        return rms(later[held] - moved)

    best = shifts[int(np.argmin([misfit(float(shift)) for shift in shifts]))]
    speed = best * km_per_deg * 1e3 / (6 * 3600.0)
    assert 7.0 < speed < 18.0


def test_gravity_waves_bring_energy_up_and_grow(forecast: Forecast) -> None:
    """South of the equator the wind of a rising inertia-gravity wave turns anticlockwise with height.

    It turns clockwise in the north (Fritts and Alexander 2003, Rev. Geophys. 41, 1003, from memory).
    """
    u, v = geostrophic(forecast)
    away = inner(forecast.field.wind_u_m_s - u)[0], inner(forecast.field.wind_v_m_s - v)[0]
    first = from_level(30)
    (u_low, v_low), (u_high, v_high) = (
        [one[:, at] for one in away] for at in (slice(first, -1), slice(first + 1, None))
    )
    turning = (u_low * v_high - v_low * u_high).mean(axis=(0, 2, 3))
    assert turning.sum() > 0.0
    assert (turning > 0.0).mean() > 0.7
    size = [np.hypot(rms(away[0][:, from_level(hpa)]), rms(away[1][:, from_level(hpa)])) for hpa in (100, 50, 20, 5)]
    assert size == sorted(size)


@pytest.mark.parametrize(
    ("hpa", "error_m_s"), [(850, 1.8), (500, 2.0), (250, 2.8), (100, 2.2), (50, 2.2), (10, 3.2), (5, 4.5)]
)
def test_members_differ_as_forecasts_err(forecast: Forecast, hpa: float, error_m_s: float) -> None:
    """Spread per component within 0.7 and 1.3 of the wind error at short lead: our own prior, fitted to observation
    errors used by NCEP in 2005 and to balloon comparisons (see the wind-error model)."""
    field, level = forecast.field, from_level(hpa)
    spread = [rms(wind[:, 0:3, level].std(axis=0, ddof=1)) for wind in (field.wind_u_m_s, field.wind_v_m_s)]
    assert 0.7 < rms(np.array(spread)) / error_m_s < 1.3


def test_members_differ_more_with_lead() -> None:
    """By a ninth to a quarter from 9 to 24 h below 20 hPa, about as our error prior grows; 40 members."""
    winds = np.array([invented_air(member, SEED).wind_u_m_s[:, : from_level(20)] for member in range(1, 41)])
    spread = winds.std(axis=0, ddof=1)
    assert 1.11 < rms(spread[-1]) / rms(spread[0]) < 1.25


def test_members_err_alike_at_neighbouring_heights(forecast: Forecast) -> None:
    field = forecast.field
    away = field.wind_u_m_s - field.wind_u_m_s.mean(axis=0)

    def correlation(lower: float, upper: float) -> float:
        return float(np.corrcoef(away[:, :, from_level(lower)].ravel(), away[:, :, from_level(upper)].ravel())[0, 1])

    assert correlation(850, 800) > 0.9  # 0.5 km apart
    assert abs(correlation(850, 200)) < 0.5  # 11 km apart


def messages(path: Path) -> list[int]:
    handles = []
    with open(path, "rb") as file:
        while (handle := eccodes.codes_grib_new_from_file(file)) is not None:
            handles.append(handle)
    return handles


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("small") / FILE_NAME
    write_invented_forecast(path, members=2, seed=7)
    return path


def test_every_message_says_that_it_is_a_test_product_of_nobody(small: Path) -> None:
    """WMO code tables 1.3 (1: operational test products), 1.4 (5: control and perturbed), common table C-11 (255:
    missing), as ecCodes reads them."""
    keys = ("edition", "productionStatusOfProcessedData", "typeOfProcessedData", "dataDate", "dataTime")
    found = messages(small)
    assert len(found) == 2 * len(STEP_H) * (4 * len(LEVEL_HPA) + 7) + 1
    for handle in found:
        assert [eccodes.codes_get_long(handle, key) for key in keys] == [2, 1, 5, 20270213, 0]
        assert eccodes.codes_get_long(handle, "centre") == 255
        assert b"INVENTED" in eccodes.codes_get_message(handle)
        eccodes.codes_release(handle)
    assert "invented" in FILE_NAME


def test_eccodes_knows_every_field_and_gives_its_values_back(small: Path) -> None:
    """Names and units as in the tables of ecCodes; values to the step of 16 bits (plus float32 of the reference)."""
    cubes = {}
    for member in (0, 1):
        air = invented_air(member, 7)
        cubes[member] = {"gh": air.geopotential_m, "t": air.temperature_k, "u": air.wind_u_m_s, "v": air.wind_v_m_s}
    names = set()
    for handle in messages(small):
        name, kind = (eccodes.codes_get_string(handle, key) for key in ("shortName", "typeOfLevel"))
        unit = eccodes.codes_get_string(handle, "units")
        if name == "unknown":  # ecCodes has no short name for rain of no centre, but code table 4.2 has it
            name, unit = (eccodes.codes_get_string(handle, key) for key in ("parameterName", "parameterUnits"))
        names.add((name, kind, unit))
        if kind == "isobaricInhPa":
            step, member = (eccodes.codes_get_long(handle, key) for key in ("endStep", "perturbationNumber"))
            level = from_level(eccodes.codes_get_double(handle, "level"))
            made = cubes[member][name][STEP_H.index(step), level]
            decoded = eccodes.codes_get_values(handle).reshape(made.shape)[::-1]
            assert np.abs(decoded - made).max() <= np.ptp(made) / 65535.0 + 1e-7 * np.abs(made).max()
        eccodes.codes_release(handle)
    assert names == {
        ("gh", "isobaricInhPa", "gpm"),
        ("t", "isobaricInhPa", "K"),
        ("u", "isobaricInhPa", "m s**-1"),
        ("v", "isobaricInhPa", "m s**-1"),
        ("orog", "surface", "m"),
        ("10u", "heightAboveGround", "m s**-1"),
        ("10v", "heightAboveGround", "m s**-1"),
        ("i10fg", "heightAboveGround", "m s**-1"),  # i: of the instant
        ("2t", "heightAboveGround", "K"),
        ("tcc", "entireAtmosphere", "%"),
        ("vis", "surface", "m"),
        ("Total precipitation", "surface", "kg m-2"),
    }


def test_same_seed_same_octets(small: Path, tmp_path: Path) -> None:
    again, other = tmp_path / "again.grib2", tmp_path / "other.grib2"
    write_invented_forecast(again, members=2, seed=7)
    write_invented_forecast(other, members=2, seed=8)
    assert again.read_bytes() == small.read_bytes()
    assert other.read_bytes() != small.read_bytes()
    assert np.array_equal(invented_air(0, 7).wind_u_m_s, invented_air(0, 8).wind_u_m_s)  # the control has no chance


def test_file_is_small_and_holds_the_flight(path: Path, forecast: Forecast) -> None:
    """Window 11:00 to 16:00 UTC, six hours aloft, 36 km: what the example plan may ask for."""
    assert path.stat().st_size < 15_000_000
    field = forecast.field
    assert field.members == MEMBERS
    assert field.coverage.first_valid <= datetime(2027, 2, 13, 11, tzinfo=UTC)
    assert field.coverage.last_valid >= datetime(2027, 2, 13, 22, tzinfo=UTC)
    assert field.coverage.top_msl_m > 40_000.0
    assert field.coverage.bottom_msl_m < 225.0
    assert not [note for note in field.notes if "left out" in note or "not used" in note]


def test_ground_is_near_the_sites_and_rises_to_the_west(forecast: Forecast) -> None:
    """Heights of the example's sites: 225 and 312 m."""
    ground, field = forecast.ground_height_msl_m, forecast.field
    assert ground is not None
    for (latitude, longitude), height in ((SITE_A, 225.0), (SITE_B, 312.0)):
        row = int(np.abs(field.latitude_deg - latitude).argmin())
        assert abs(np.interp(longitude, field.longitude_deg, ground[row]) - height) < 15.0
    assert (np.diff(ground, axis=1) < 0.0).all()


def test_weather_near_the_ground(forecast: Forecast) -> None:
    """Gusts rise through the morning at site A; wind follows the air above; nothing is missing or absurd."""
    surface, field = forecast.surface, forecast.field
    assert surface is not None
    seconds = 3600.0 * np.array(STEP_H)
    for name, low, high in (
        ("wind_speed_of_gust", 0.0, 25.0),
        ("eastward_wind", -15.0, 15.0),
        ("northward_wind", -15.0, 15.0),
        ("air_temperature", 270.0, 312.0),
        ("cloud_area_fraction", 0.0, 1.0),
        ("visibility_in_air", 1_000.0, 40_000.0),
        ("precipitation_flux", 0.0, 20.0 / 3600.0),
    ):
        values = surface.fields[name]
        assert low <= values.min() < values.max() <= high, name
    u, v = surface.fields["eastward_wind"], surface.fields["northward_wind"]
    assert (surface.fields["wind_speed_of_gust"] >= np.hypot(u, v)).all()
    for member in range(MEMBERS):
        gust = surface.at("wind_speed_of_gust", *SITE_A, seconds, member)
        assert gust is not None
        assert gust[STEP_H.index(9)] < gust[STEP_H.index(12)] < gust[STEP_H.index(15)]
        assert gust[STEP_H.index(15)] > 7.0
    aloft = field.wind_u_m_s[:, :, from_level(925)]
    assert np.corrcoef(u[:, 0].ravel(), aloft[:, 0].ravel())[0, 1] > 0.8
    assert rms(u[:, 0]) < rms(aloft[:, 0])


@pytest.mark.parametrize("members", [0, 101])
def test_number_of_members_is_limited(members: int, tmp_path: Path) -> None:
    with pytest.raises(OutOfRange, match="number of members"):
        write_invented_forecast(tmp_path / FILE_NAME, members=members)
    assert not list(tmp_path.iterdir())
