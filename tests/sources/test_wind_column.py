"""A sounding as one column of winds: layers, pressures, and where and when it may be used."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from ambiance import Atmosphere
from geographiclib.geodesic import Geodesic

from pappus.errors import OutOfRange
from pappus.sources import Sounding, to_wind_field
from pappus.wind import SourceFile, WindField

RELEASE = datetime(2026, 5, 1, 11, 30, tzinfo=UTC)


def sounding(
    height_msl_m: np.ndarray, *, pressure_step_pa: float = 0.0, place: tuple[float, float] = (-36.6, -64.3)
) -> Sounding:
    """The standard atmosphere (package ambiance) under a wind that turns and grows, reported in steps of pressure."""
    air = Atmosphere(height_msl_m)
    pressure = np.round(air.pressure / pressure_step_pa) * pressure_step_pa if pressure_step_pa else air.pressure
    return Sounding(
        station="TEST",
        latitude_deg=place[0],
        longitude_deg=place[1],
        station_height_msl_m=None,
        release=RELEASE,
        is_descent=False,
        time_s=None,
        pressure_pa=pressure,
        height_msl_m=height_msl_m,
        temperature_k=air.temperature,
        wind_u_m_s=10.0 + height_msl_m / 1000.0 + 3.0 * np.sin(height_msl_m / 700.0),
        wind_v_m_s=5.0 * np.cos(height_msl_m / 2000.0),
        level_latitude_deg=None,
        level_longitude_deg=None,
        positions_measured=True,
        source=SourceFile("made.csv", "0" * 64, "made up for a test"),
        notes=("a note",),
    )


def field(given: Sounding, radius_m: float = 200e3) -> WindField:
    return to_wind_field(given, radius_m=radius_m, hold_before_s=3600.0, hold_after_s=7200.0)


def test_dense_levels_are_averaged_and_the_transport_kept() -> None:
    dense = sounding(np.linspace(150.0, 30_000.0, 5971))
    column = field(dense)
    height = column.height_msl_m.ravel()
    assert 295 < column.levels < 305
    assert np.diff(height)[2:-2] == pytest.approx(np.full(column.levels - 5, 100.0), abs=5.1)
    for layers, levels in ((column.wind_u_m_s, dense.wind_u_m_s), (column.wind_v_m_s, dense.wind_v_m_s)):
        transport = np.trapezoid(levels, dense.height_msl_m)
        assert np.trapezoid(layers.ravel(), height) == pytest.approx(transport, rel=1e-3)
    assert column.pressure_pa.ravel() == pytest.approx(Atmosphere(height).pressure, rel=2e-4)
    assert column.temperature_k.ravel() == pytest.approx(
        Atmosphere(height).temperature, abs=0.3
    )  # corners of the layers
    assert column.notes == ("a note", f"5971 levels averaged to {column.levels} layers of about 100 m")


def test_ends_stay_where_they_were() -> None:
    dense = sounding(np.linspace(150.0, 30_000.0, 5971))
    column = field(dense)
    for layers, levels in (
        (column.height_msl_m, dense.height_msl_m),
        (column.wind_u_m_s, dense.wind_u_m_s),
        (column.wind_v_m_s, dense.wind_v_m_s),
        (column.temperature_k, dense.temperature_k),
    ):
        assert layers.ravel()[[0, -1]] == pytest.approx(levels[[0, -1]])
    assert (column.coverage.bottom_msl_m, column.coverage.top_msl_m) == pytest.approx((150.0, 30_000.0))


def test_coarse_pressures_come_out_smooth() -> None:
    # at 34 km pressures in steps of 10 Pa are 1.5 % apart, as far as 100 m of height
    column = field(sounding(np.linspace(1600.0, 34_000.0, 6000), pressure_step_pa=10.0))
    assert (np.diff(column.pressure_pa.ravel()) < 0).all()
    truth = Atmosphere(column.height_msl_m.ravel()).pressure
    assert column.pressure_pa.ravel() == pytest.approx(truth, rel=5e-3)
    assert column.pressure_pa.ravel()[-1] == pytest.approx(truth[-1], rel=5e-3)


def test_sparse_levels_stay_as_they_are() -> None:
    sparse = sounding(np.array([150.0, 180.0, 195.0, 600.0, 1500.0, 1580.0, 3000.0, 5000.0, 9000.0, 16000.0, 31000.0]))
    column = field(sparse)
    assert column.height_msl_m.ravel() == pytest.approx(sparse.height_msl_m)
    assert column.pressure_pa.ravel() == pytest.approx(sparse.pressure_pa, rel=1e-9)
    assert column.wind_u_m_s.ravel().tolist() == sparse.wind_u_m_s.tolist()
    assert column.notes == ("a note",)


def test_levels_of_one_pressure_are_spread() -> None:
    # levels 300 m apart, pressures in steps of 2 hPa: up to five levels share one
    coarse = sounding(np.arange(20_000.0, 31_000.0, 300.0), pressure_step_pa=200.0)
    assert len(np.unique(coarse.pressure_pa)) < 25
    column = field(coarse)
    assert column.levels >= 35  # of 37
    assert (np.diff(column.pressure_pa.ravel()) < 0).all()
    truth = Atmosphere(column.height_msl_m.ravel()).pressure
    assert column.pressure_pa.ravel() == pytest.approx(truth, abs=100.0)  # half a step


def test_column_whose_pressures_do_not_fall_is_thinned_and_said() -> None:
    given = sounding(np.arange(20_000.0, 31_000.0, 300.0))
    given.pressure_pa[10] = given.pressure_pa[9]
    given.pressure_pa[11] = given.pressure_pa[9] * 0.9999  # 300 m higher, yet hardly less
    column = field(given)
    assert (np.diff(column.pressure_pa.ravel()) < 0).all()
    assert column.notes == ("a note", "1 of 37 layers left out: their pressure does not fall")


def test_when_and_what() -> None:
    column = field(sounding(np.arange(20) * 500.0))
    assert column.kind == "sounding"
    assert column.issued == column.epoch == RELEASE
    assert column.coverage.first_valid == RELEASE - timedelta(hours=1)
    assert column.coverage.last_valid == RELEASE + timedelta(hours=2)
    assert column.sources == (SourceFile("made.csv", "0" * 64, "made up for a test"),)
    assert column.wind_u_m_s.shape == (1, 1, 20, 1, 1)
    assert column.time_s.tolist() == [0.0]


@pytest.mark.parametrize(
    "place", [(0.0, 0.0), (-36.6, -64.3), (70.0, 179.5), (-17.0, -179.9), (87.0, 10.0), (89.9, 0.0)]
)
@pytest.mark.parametrize("radius_m", [1.0, 50e3, 500e3])
def test_box_holds_the_disc(place: tuple[float, float], radius_m: float) -> None:
    coverage = field(sounding(np.arange(20) * 500.0, place=place), radius_m).coverage
    assert (coverage.centre_deg, coverage.radius_m) == (place, radius_m)
    assert -180.0 <= coverage.west_deg < coverage.east_deg <= coverage.west_deg + 360.0
    for azimuth in range(0, 360, 5):
        edge = Geodesic.WGS84.Direct(*place, azimuth, radius_m)
        assert coverage.south_deg <= edge["lat2"] <= coverage.north_deg
        assert (edge["lon2"] - coverage.west_deg) % 360.0 <= coverage.east_deg - coverage.west_deg


@pytest.mark.parametrize(
    ("radius_m", "before_s", "after_s"), [(0.0, 0.0, 0.0), (3e6, 0.0, 0.0), (1e5, -1.0, 0.0), (1e5, 0.0, 2e5)]
)
def test_limits(radius_m: float, before_s: float, after_s: float) -> None:
    with pytest.raises(OutOfRange, match="sounding"):
        to_wind_field(sounding(np.arange(20) * 500.0), radius_m=radius_m, hold_before_s=before_s, hold_after_s=after_s)
