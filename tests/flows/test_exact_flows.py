"""Flights through winds whose answer is known without the program."""

from __future__ import annotations

import numpy as np
import pytest

from columns import PRIOR, SITE, column_field, conditions, example_fill, example_train
from pappus.earth import geodesic_inverse, radii_of_curvature_m
from pappus.plan import NODE_STEP_M
from pappus.trajectory import AscentEnd, Flights, Outcome, drift, fly, nominal_draw
from pappus.wind import WindField

TRAIN = example_train()
FILL = example_fill(TRAIN)


def flown(field: WindField, step_m: float = 250.0, site: tuple[float, float] = SITE) -> Flights:
    return fly(conditions(field, TRAIN, step_m=step_m, site=site), nominal_draw(TRAIN, FILL, PRIOR.flight))


def test_still_air_lands_where_it_left() -> None:
    flight = flown(column_field())
    assert flight.outcome[0] == Outcome.LANDED
    assert flight.ascent_end[0] == AscentEnd.BURST
    assert (flight.end_latitude_deg[0], flight.end_longitude_deg[0]) == SITE
    assert flight.end_height_msl_m[0] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("site", [SITE, (52.0, 179.95), (0.0, 0.0)])
def test_even_wind_drifts_by_speed_times_time(site: tuple[float, float]) -> None:
    """North wind component only: along a meridian the ground track is the path scaled by M / (M + z)."""
    flight = flown(column_field(v=lambda z: 10.0 + 0.0 * z, site=site), site=site)
    time, height = flight.track_time_s[0], flight.track_height_msl_m[0]
    known = ~np.isnan(time)
    meridional = radii_of_curvature_m(site[0])[0]
    step, middle = np.diff(time[known]), 0.5 * (height[known][1:] + height[known][:-1])
    expected = np.sum(10.0 * step * meridional / (meridional + middle))
    distance, azimuth, _ = geodesic_inverse(*site, flight.end_latitude_deg[0], flight.end_longitude_deg[0])
    assert distance == pytest.approx(expected, rel=3e-4)  # the meridional radius changes a little on the way
    assert azimuth == pytest.approx(0.0, abs=1e-6) or azimuth == pytest.approx(360.0, abs=1e-6)


def test_east_wind_keeps_its_latitude_and_crosses_the_date_line() -> None:
    site = (52.0, 179.95)
    flight = flown(column_field(u=lambda z: 10.0 + 0.0 * z, site=site), site=site)
    assert flight.end_latitude_deg[0] == pytest.approx(52.0, abs=1e-9)
    assert flight.end_longitude_deg[0] > 180.0  # not wrapped inside a flight
    aloft = flight.end_time_s[0]
    distance = geodesic_inverse(*site, 52.0, flight.end_longitude_deg[0] - 360.0)[0]
    assert distance == pytest.approx(10.0 * aloft, rel=4e-3)


def test_shear_converges_with_the_square_of_the_step() -> None:
    """Wind quadratic in height: halving the step must cut the error by about four (second-order scheme)."""
    field = column_field(u=lambda z: 20.0 * (z / 30_000.0) ** 2, level_step_m=100.0)
    ends = [flown(field, step_m=step).end_longitude_deg[0] for step in (100.0, 50.0, 12.5)]
    assert abs(ends[1] - ends[2]) < 0.5 * abs(ends[0] - ends[2]) or abs(ends[0] - ends[2]) < 1e-6
    assert abs(ends[0] - ends[2]) * 88_000.0 < 10.0  # metres


def test_default_step_is_within_ten_metres_of_a_fine_one() -> None:
    field = column_field(
        u=lambda z: 8.0 + 30.0 * np.exp(-(((z - 11_000.0) / 4_000.0) ** 2)), v=lambda z: 6.0 * np.sin(z / 3_000.0)
    )
    coarse, fine = flown(field, NODE_STEP_M), flown(field, 20.0)
    distance = geodesic_inverse(
        coarse.end_latitude_deg[0], coarse.end_longitude_deg[0], fine.end_latitude_deg[0], fine.end_longitude_deg[0]
    )[0]
    assert distance < 10.0


def test_burst_height_of_a_flight_is_that_of_the_fill() -> None:
    """Two ways to the same height: steps through the field, and the closed form on the column."""
    from pappus.atmosphere import Profile
    from pappus.flight_train import SiteAir, burst_height_msl_m

    flight = flown(column_field())
    air = SiteAir(Profile.standard(50_000.0), 0.0, 40.0)
    closed = burst_height_msl_m(FILL.gas_mol, TRAIN.envelope.burst_diameter_m, TRAIN, air)[0]
    assert flight.top_height_msl_m[0] == pytest.approx(closed, abs=15.0)


def test_dead_reckoning_around_a_parallel() -> None:
    """u = w (N + h) cos(lat) turns the longitude at the even rate w whatever the height (solid rotation)."""
    time = np.linspace(0.0, 6000.0, 601)
    height = np.linspace(0.0, 30_000.0, 601)
    rate = 2.0e-6
    prime = radii_of_curvature_m(45.0)[1]
    u = rate * (prime + height) * np.cos(np.radians(45.0))
    latitude, longitude = drift(time, height, u, 0.0 * u, 45.0, 10.0)
    assert latitude[-1] == pytest.approx(45.0, abs=1e-12)
    assert longitude[-1] - 10.0 == pytest.approx(np.degrees(rate * 6000.0), rel=1e-6)


def test_dead_reckoning_refuses_times_that_go_back() -> None:
    with pytest.raises(ValueError, match="ascend"):
        drift(np.array([0.0, 2.0, 1.0]), np.zeros(3), np.zeros(3), np.zeros(3), 0.0, 0.0)
