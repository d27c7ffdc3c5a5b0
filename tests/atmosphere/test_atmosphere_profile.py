"""Columns of air and hydrostatic heights."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pappus.atmosphere import Profile, hydrostatic_height_msl_m, standard_air
from pappus.errors import BadInput, OutOfRange

HEIGHT = np.array([200.0, 5_000.0, 31_000.0])
PRESSURE = np.array([98_000.0, 54_000.0, 1_000.0])
TEMPERATURE = np.array([290.0, 256.0, 230.0])


def profile() -> Profile:
    return Profile("three levels", HEIGHT, PRESSURE, TEMPERATURE)


def test_nodes_come_back_exactly() -> None:
    column = profile()
    assert column.temperature_k_at(HEIGHT).tolist() == TEMPERATURE.tolist()
    assert column.pressure_pa_at(HEIGHT).tolist() == PRESSURE.tolist()
    assert column.height_msl_m_at_pressure(PRESSURE).tolist() == HEIGHT.tolist()


def test_between_nodes() -> None:
    column, middle = profile(), 18_000.0
    assert column.temperature_k_at(middle) == pytest.approx(243)
    assert column.pressure_pa_at(middle) == pytest.approx(np.sqrt(54_000 * 1_000))
    assert column.density_at(middle) == pytest.approx(np.sqrt(54_000 * 1_000) / (287.05287 * 243))
    assert column.height_msl_m_at_pressure(np.sqrt(54_000 * 1_000)) == pytest.approx(middle)
    assert column.pressure_pa_at([[300.0], [400.0]]).shape == (2, 1)


def test_nothing_is_extended_beyond_the_nodes() -> None:
    column = profile()
    for call in (
        lambda: column.temperature_k_at(199.9),
        lambda: column.pressure_pa_at([300, 31_000.1]),
        lambda: column.density_at(np.nan),
        lambda: column.height_msl_m_at_pressure(999),
        lambda: column.height_msl_m_at_pressure(98_001),
    ):
        with pytest.raises(OutOfRange, match="three levels"):
            call()


@pytest.mark.parametrize(
    ("field", "values", "words"),
    [
        ("height_msl_m", [200.0, 200.0, 31_000.0], "heights must rise"),
        ("height_msl_m", [200.0, np.nan, 31_000.0], "heights must rise"),
        ("pressure_pa", [98_000.0, 99_000.0, 1_000.0], "pressures must fall"),
        ("pressure_pa", [98_000.0, 5_000.0, 0.0], "above 0 Pa"),
        ("temperature_k", [290.0, np.nan, 230.0], "above 0 K"),
        ("temperature_k", [290.0, 16.0, -20.0], "above 0 K"),
    ],
)
def test_bad_columns_are_named(field: str, values: list[float], words: str) -> None:
    columns = {"height_msl_m": HEIGHT, "pressure_pa": PRESSURE, "temperature_k": TEMPERATURE, field: np.array(values)}
    with pytest.raises(BadInput, match=words) as raised:
        Profile("broken", **columns)
    assert raised.value.findings[0].field == f"broken: {field}"


def test_a_single_level_is_no_profile() -> None:
    with pytest.raises(BadInput, match="two levels"):
        Profile("short", HEIGHT[:1], PRESSURE[:1], TEMPERATURE[:1])


def test_standard_profile_keeps_the_standard_between_its_nodes() -> None:
    """The layer equations of the US Standard Atmosphere 1976 through ``standard_air``, itself checked elsewhere."""
    column = Profile.standard()
    height = np.linspace(-500, 60_000, 6_011)
    air = standard_air(height)
    assert column.pressure_pa_at(height) == pytest.approx(air.pressure_pa, rel=1e-5)
    assert np.abs(column.temperature_k_at(height) - air.temperature_k).max() < 0.2
    assert column.height_msl_m[-1] == 60_000
    assert Profile.standard(31_234.5).height_msl_m[-1] == 31_234.5
    with pytest.raises(OutOfRange, match="top of the profile"):
        Profile.standard(86_001)


def test_hydrostatic_heights_of_the_standard_atmosphere() -> None:
    """The standard atmosphere solves the hydrostatic equation: its own pressures must give back its heights."""
    height = np.arange(0, 47_001, 50.0)
    air = standard_air(height)
    ours = hydrostatic_height_msl_m(air.pressure_pa, air.temperature_k, 0.0, None)
    assert np.abs(ours - height).max() < 0.1


def saturation_vapour_pressure_pa(temperature_k: np.ndarray) -> np.ndarray:
    """Magnus form over water, WMO-No. 8 (from memory)."""
    celsius = temperature_k - 273.15
    return 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))


def test_hydrostatic_heights_of_a_measured_flight(shared_data: Callable[[str], Path]) -> None:
    """GRUAN RS41-GDP.1, Payerne 2017-07-12: its pressure, temperature and humidity against its satellite heights.

    GRUAN made the pressures from those heights with its own gravity and humidity formulae, so 2 m at 31 km is the
    agreement of two hydrostatic integrations; leaving the latitude out gives 3.1 m. Records whose
    pressure is not below all before them are left out: the test prints how many.
    """
    netcdf = pytest.importorskip("netCDF4")
    with netcdf.Dataset(shared_data("sondes/gruan_pay_20170712T00_gdpA.nc")) as flight:
        latitude, height, pressure, temperature, humidity = (
            np.asarray(flight[name][:], dtype=float) for name in ("lat", "alt_amsl", "press", "temp", "rh")
        )
    falling = np.append(True, pressure[1:] < np.minimum.accumulate(pressure)[:-1])
    print(f"{np.sum(~falling)} of {len(falling)} records left out")
    assert falling.mean() > 0.95
    height, pressure, temperature, humidity = (x[falling] for x in (height, pressure, temperature, humidity))
    vapour = np.nan_to_num(humidity) / 100 * saturation_vapour_pressure_pa(temperature)
    virtual = temperature / (1 - 0.378 * vapour / (pressure * 100))
    ours = hydrostatic_height_msl_m(pressure * 100, virtual, float(height[0]), float(latitude.mean()))
    error = ours - height
    assert np.abs(error).max() < 2, f"error {error.min():.1f} to {error.max():.1f} m"


def test_hydrostatic_heights_refuse_rising_pressure() -> None:
    with pytest.raises(OutOfRange, match="ln"):
        hydrostatic_height_msl_m(PRESSURE[::-1], TEMPERATURE, 0.0, 47.0)
