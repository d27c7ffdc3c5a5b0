"""Gravity, geopotential height and the geoid."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pappus.earth import (
    Geoid,
    geometric_height_msl_m,
    geopotential_height_m,
    gravity_m_s2,
    normal_gravity_m_s2,
)
from pappus.errors import OutOfRange

GRUAN = "sondes/gruan_pay_20170712T00_gdpA.nc"


def test_standard_gravity_falls_with_height() -> None:
    """US Standard Atmosphere 1976, table I (from memory): 9.8066 m/s2 at 0 km, 9.7147 at 30 km, 9.5466 at 86 km..."""
    assert gravity_m_s2([0, 30_000]) == pytest.approx([9.80665, 9.7147], abs=1e-4)


def test_normal_gravity_at_equator_and_pole() -> None:
    """WGS84 derived constants, NIMA TR 8350.2 (from memory): 9.7803253359 and 9.8321849378 m/s2."""
    assert normal_gravity_m_s2([0, 90, -90]) == pytest.approx([9.7803253359, 9.8321849378, 9.8321849378], abs=1e-9)


def test_geopotential_height_is_the_integral_of_gravity() -> None:
    """H = integral of g dZ / g0, by quadrature of gravity above the ellipsoid to second order.

    g(h) = g (1 - 2 (1 + f + m - 2 f sin2) h / a + 3 h2 / a2): Heiskanen & Moritz 1967, eq. 2-123, from memory.
    """
    a, f, m = 6_378_137.0, 1 / 298.257223563, 0.00344978650684
    for latitude in (0.0, 46.8, 90.0):
        sin_squared = np.sin(np.radians(latitude)) ** 2
        height = np.linspace(0, 40_000, 4001)
        gravity = normal_gravity_m_s2(latitude) * (
            1 - 2 / a * (1 + f + m - 2 * f * sin_squared) * height + 3 * (height / a) ** 2
        )
        integral = np.trapezoid(gravity, height) / 9.80665
        assert geopotential_height_m(40_000, latitude) == pytest.approx(integral, abs=0.1)


def test_geopotential_height_of_a_measured_flight(shared_data: Callable[[str], Path]) -> None:
    """GRUAN RS41-GDP.1 data product, Payerne 2017-07-12: its own geometric and geopotential heights.

    The latitude form agrees to 1 m up to 30.9 km where the standard form is 2.9 m off, so the test tells them apart.
    """
    netcdf = pytest.importorskip("netCDF4")
    with netcdf.Dataset(shared_data(GRUAN)) as flight:
        latitude, geometric, geopotential = (
            np.asarray(flight[name][:], dtype=float) for name in ("lat", "alt_amsl", "alt_gph")
        )
    assert geometric.max() > 30_000
    error = geopotential_height_m(geometric, latitude) - geopotential
    assert np.abs(error).max() < 1.0, f"error {error.min():.2f} to {error.max():.2f} m"
    back = geometric_height_msl_m(geopotential, latitude) - geometric
    assert np.abs(back).max() < 1.0, f"error {back.min():.2f} to {back.max():.2f} m"


def test_gravity_of_a_measured_flight(shared_data: Callable[[str], Path]) -> None:
    """GRUAN's gravity at 30 km, by its own model, agrees with normal gravity and our decrease with height to 1e-4."""
    netcdf = pytest.importorskip("netCDF4")
    with netcdf.Dataset(shared_data(GRUAN)) as flight:
        latitude, height, gravity = (np.asarray(flight[name][:], dtype=float) for name in ("lat", "alt_amsl", "grav"))
    ours = normal_gravity_m_s2(latitude) * gravity_m_s2(height) / gravity_m_s2(0)
    assert np.abs(ours / gravity - 1).max() < 1e-4


def test_heights_outside_the_formulae_are_refused() -> None:
    for call in (
        lambda: gravity_m_s2(-5001),
        lambda: geopotential_height_m(1_000_001),
        lambda: geopotential_height_m(np.nan),
        lambda: geometric_height_msl_m(800_001),
        lambda: geometric_height_msl_m(0, 91),
    ):
        with pytest.raises(OutOfRange):
            call()


def hilly() -> Geoid:
    """Undulation 0.1 m per degree of latitude north, and a bump of 50 m on one node."""
    grid = np.repeat(np.linspace(9, -9, 721)[:, None], 1440, axis=1)
    grid[360, 0] += 50.0
    return Geoid("made up", grid)


def test_geoid_runs_linearly_between_nodes_and_wraps_round() -> None:
    geoid = hilly()
    assert geoid.undulation_m([90, 12.34, -90], 77.7) == pytest.approx([9, 1.234, -9], abs=1e-12)
    around = [0.0, 0.125, -0.125, 359.875, 360.125, -360.0]
    assert geoid.undulation_m(0.0, around) == pytest.approx([50, 25, 25, 25, 25, 50], abs=1e-9)
    assert geoid.undulation_m(0.125, 0.0) == pytest.approx(25 + 0.0125, abs=1e-9)


def test_geoid_refuses_bad_grids_and_places() -> None:
    with pytest.raises(ValueError, match="shape"):
        Geoid("short", np.zeros((720, 1440)))
    with pytest.raises(ValueError, match="missing"):
        Geoid("holes", np.full((721, 1440), np.nan))
    with pytest.raises(OutOfRange, match="latitude"):
        hilly().undulation_m(90.5, 0)


def test_geoid_of_a_measured_flight(shared_data: Callable[[str], Path]) -> None:
    """EGM96 grid against the difference of the ellipsoid and sea-level heights in GRUAN's own product (near 50 m).

    The product does not say which geoid it used; it lies 0.8 to 1.5 m above EGM96, whose own error is about a metre.
    """
    netcdf = pytest.importorskip("netCDF4")
    with netcdf.Dataset(shared_data(GRUAN)) as flight:
        latitude, longitude, ellipsoid, sea_level = (
            np.asarray(flight[name][:], dtype=float) for name in ("lat", "lon", "alt_wgs84", "alt_amsl")
        )
    with np.load(shared_data("geo/egm96_15min_cm.npz")) as file:
        geoid = Geoid("EGM96", file["undulation_cm"] / 100.0)
    error = geoid.undulation_m(latitude, longitude) - (ellipsoid - sea_level)
    assert np.abs(error).max() < 2.0, f"error {error.min():.2f} to {error.max():.2f} m"
