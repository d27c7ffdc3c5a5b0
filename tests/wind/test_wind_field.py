"""The wind field: looked up, extended, subdivided."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from columns import column_field
from pappus.atmosphere import standard_air
from pappus.wind import Coverage, Sampler, SourceFile, WindField, extend, member_mean, subdivide

EPOCH = datetime(2026, 5, 1, 6, tzinfo=UTC)


def cube(members: int = 2, west: float = 170.0) -> WindField:
    """Random winds on a small grid that crosses the date line when ``west`` is near it."""
    rng = np.random.default_rng(5)
    time, latitude, longitude = (
        np.array([0.0, 3600.0, 10800.0]),
        np.linspace(40.0, 44.0, 5),
        west + np.linspace(0, 20, 9),
    )
    height = np.arange(0.0, 20_001.0, 1000.0)
    shape = (members, 3, len(height), 5, 9)
    z = np.broadcast_to(height[None, None, :, None, None], shape) + rng.uniform(-50.0, 50.0, shape)
    air = standard_air(z)
    coverage = Coverage(EPOCH, EPOCH + timedelta(hours=3), 40.0, 44.0, west, west + 20.0, 60.0, 19_900.0)
    return WindField(
        "random", "forecast", EPOCH, EPOCH, time, latitude, longitude, air.pressure_pa, z, air.temperature_k,
        rng.normal(0.0, 10.0, shape), rng.normal(0.0, 10.0, shape), coverage, (SourceFile("x", "0" * 64, "random"),),
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    member=st.integers(0, 1),
    level=st.floats(0.0, 20.0),
    latitude=st.floats(40.0, 44.0),
    east=st.floats(0.0, 20.0),
    time=st.floats(0.0, 10_800.0),
    turn=st.sampled_from([-360.0, 0.0, 360.0]),
)
def test_sampler_is_linear_on_every_axis(
    member: int, level: float, latitude: float, east: float, time: float, turn: float
) -> None:
    """scipy's RegularGridInterpolator as reference; longitudes in any convention."""
    field = cube()
    axes = (field.time_s, np.arange(field.levels, dtype=float), field.latitude_deg, field.longitude_deg)
    expected = RegularGridInterpolator(axes, field.wind_u_m_s[member])((time, level, latitude, 170.0 + east))
    where = (np.array([level]), np.array([latitude]), np.array([170.0 + east + turn]), np.array([time]))
    air = Sampler(field).at(np.array([member]), *where)
    assert air.wind_u_m_s[0] == pytest.approx(float(expected), abs=1e-9)


def test_inside_knows_the_box_the_times_and_the_date_line() -> None:
    sampler = Sampler(cube())
    latitude = np.array([42.0, 42.0, 42.0, 39.9, 42.0, 42.0])
    longitude = np.array([-175.0, 185.0, -169.0, 175.0, 175.0, 175.0])
    time = np.array([0.0, 0.0, 0.0, 0.0, -1.0, 10_801.0])
    assert sampler.inside(latitude, longitude, time).tolist() == [True, True, False, False, False, False]


def test_extension_is_marked_hydrostatic_and_holds_the_wind() -> None:
    field = column_field(u=lambda z: z / 1000.0, top_msl_m=30_000.0)
    longer = extend(field, bottom_msl_m=-300.0, top_msl_m=35_000.0)
    below, above = longer.extended_below_level, longer.extended_from_level
    assert above is not None
    height = longer.height_msl_m[0, 0, :, 0, 0]
    assert height[0] == pytest.approx(-300.0)
    assert height[-1] >= 35_000.0
    assert height[below] == 0.0
    assert height[above - 1] == 30_000.0
    assert (np.diff(height) > 0.0).all()
    assert (longer.wind_u_m_s[0, 0, above:, 0, 0] == 30.0).all()
    # standard air goes on as standard air: pressure within 0.1 %, the reference being the 1976 standard itself
    truth = standard_air(height)
    assert longer.pressure_pa[0, 0, :, 0, 0] == pytest.approx(truth.pressure_pa, rel=1e-3)
    assert longer.temperature_k[0, 0, above:, 0, 0] == pytest.approx(truth.temperature_k[above:], abs=1e-6)


def test_no_extension_where_none_is_needed() -> None:
    field = column_field(top_msl_m=30_000.0)
    same = extend(field, bottom_msl_m=0.0, top_msl_m=30_000.0)
    assert same.extended_from_level is None
    assert same.levels == field.levels


@settings(max_examples=20, deadline=None)
@given(step=st.floats(60.0, 900.0))
def test_subdividing_keeps_the_native_levels_and_the_step(step: float) -> None:
    field = extend(column_field(u=lambda z: np.sin(z / 2000.0)), bottom_msl_m=-400.0, top_msl_m=43_000.0)
    fine = subdivide(field, step_m=step)
    heights = fine.height_msl_m[0, 0, :, 0, 0]
    assert np.diff(heights).max() <= step * 1.02  # parts are equal in ln p, not in height
    assert (np.diff(fine.pressure_pa[0, 0, :, 0, 0]) < 0.0).all()
    for native, wind in zip(field.height_msl_m[0, 0, :, 0, 0], field.wind_u_m_s[0, 0, :, 0, 0], strict=True):
        nearest = int(np.argmin(np.abs(heights - native)))
        assert heights[nearest] == pytest.approx(native, abs=1e-6)
        assert fine.wind_u_m_s[0, 0, nearest, 0, 0] == pytest.approx(wind, abs=1e-9)
    assert field.extended_from_level is not None
    assert fine.extended_from_level is not None
    assert heights[fine.extended_from_level - 1] == pytest.approx(40_000.0, abs=1e-6)
    assert heights[fine.extended_below_level] == pytest.approx(0.0, abs=1e-6)


def test_member_mean() -> None:
    field = cube()
    mean = member_mean(field)
    assert mean.members == 1
    assert mean.wind_v_m_s[0] == pytest.approx(field.wind_v_m_s.mean(axis=0))
    assert member_mean(mean) is mean


def test_a_cube_that_does_not_fit_its_axes_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        replace(cube(), time_s=np.zeros(2))
