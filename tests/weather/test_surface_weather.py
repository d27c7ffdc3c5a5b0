"""Weather near the ground between its points: exact for a field that is linear on each axis."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.weather import SurfaceWeather

TIMES = np.array([0.0, 3600.0, 10_800.0])
LATITUDES = np.array([40.0, 41.0, 43.0])
LONGITUDES = np.array([170.0, 175.0, 182.0])
EPOCH = datetime(2026, 3, 4, 6, tzinfo=UTC)


def linear(member: float, time_s: float, latitude_deg: float, longitude_deg: float) -> float:
    """A field whose interpolation has no error."""
    return 100.0 * member + time_s / 3600.0 + 2.0 * latitude_deg - longitude_deg


def weather(**more: np.ndarray) -> SurfaceWeather:
    """Two members of the linear field."""
    grid = np.meshgrid(np.arange(2.0), TIMES, LATITUDES, LONGITUDES, indexing="ij")
    fields = {"air_temperature": linear(*grid), **more}
    return SurfaceWeather(EPOCH, TIMES, LATITUDES, LONGITUDES, fields, dict.fromkeys(fields, "K"))


@given(
    st.sampled_from([0, 1]),
    st.floats(0.0, 10_800.0),
    st.floats(40.0, 43.0),
    st.floats(170.0, 182.0),
    st.integers(-1, 1),
)
def test_a_linear_field_is_exact_on_whatever_turn(
    member: int, time: float, north: float, east: float, turn: int
) -> None:
    found = weather().at("air_temperature", north, np.clip(east, 170.001, 181.999) + 360.0 * turn, time, member)
    expected = linear(member, time, north, float(np.clip(east, 170.001, 181.999)))
    assert float(found) == pytest.approx(expected, abs=1e-8)


def test_arguments_broadcast() -> None:
    found = weather().at("air_temperature", np.array([[40.0], [41.5]]), np.array([171.0, 180.0, 181.0]), 1800.0)
    assert found.shape == (2, 3)
    assert found[1, 2] == pytest.approx(linear(0, 1800.0, 41.5, 181.0))


@pytest.mark.parametrize(
    ("time", "north", "east"),
    [
        (-1.0, 41.0, 175.0),
        (10_801.0, 41.0, 175.0),
        (0.0, 39.9, 175.0),
        (0.0, 43.1, 175.0),
        (0.0, 41.0, 169.0),
        (0.0, 41.0, 183.0),
    ],
)
def test_outside_is_unknown(time: float, north: float, east: float) -> None:
    assert np.isnan(weather().at("air_temperature", north, east, time))


def test_a_missing_point_spoils_only_its_surroundings() -> None:
    holed = np.ones((1, 3, 3, 3))
    holed[0, 0, 0, 0] = np.nan
    found = weather(visibility_in_air=holed)
    assert np.isnan(found.at("visibility_in_air", 40.5, 172.0, 0.0))
    assert found.at("visibility_in_air", 42.0, 172.0, 0.0) == 1.0
    assert found.at("visibility_in_air", 41.0, 170.0, 0.0) == 1.0  # on the next point: the hole has no weight


def test_a_field_that_is_not_there_is_none() -> None:
    assert weather().at("wind_speed_of_gust", 41.0, 175.0, 0.0) is None


def test_a_column_holds_around_itself() -> None:
    column = SurfaceWeather(
        EPOCH, TIMES, np.array([46.9]), np.array([-114.1]), {"x": np.arange(3.0)[None, :, None, None]}, {"x": "1"}
    )
    assert column.at("x", 47.5, -113.0, 1800.0) == pytest.approx(0.5)
    assert np.isnan(column.at("x", 47.5, -113.0, 20_000.0))


@pytest.mark.parametrize("shape", [(1, 3, 3), (1, 3, 3, 2), (1, 2, 3, 3)])
def test_a_field_that_does_not_fit_is_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="does not fit its axes"):
        weather(odd=np.zeros(shape))
