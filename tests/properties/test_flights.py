"""What must hold for every flight, whatever the wind and the draw."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from columns import PRIOR, SITE, column_field, conditions, example_fill, example_train
from pappus.flight_train import CutDown, FillWish, molar_mass_kg_mol
from pappus.trajectory import AscentEnd, Draws, Flights, Outcome, flight_knots, fly, nominal_draw, sample_draws
from pappus.wind import WindField, draw_wind_error

seeds = st.integers(min_value=0, max_value=2**32 - 1)
quick = settings(max_examples=12, deadline=None)


def windy(strength: float, turn: float) -> WindField:
    return column_field(u=lambda z: strength * np.sin(z / 9_000.0 + turn), v=lambda z: strength * np.cos(z / 7_000.0))


def ensemble(seed: int, strength: float = 15.0, flights: int = 40, **chances: float) -> tuple[Flights, Draws]:
    train = example_train(**chances)
    fill = example_fill(train)
    shared = conditions(windy(strength, seed % 7), train)
    nominal = fly(shared, nominal_draw(train, fill, PRIOR.flight))
    rng = np.random.default_rng(seed)
    draws = sample_draws(
        train, fill, PRIOR.flight, flights=flights, members=1, scale_sd_n=0.3,
        nominal_top_msl_m=float(nominal.top_height_msl_m[0]),
        level_height_msl_m=shared.field.height_msl_m.mean(axis=(0, 1, 3, 4)), rng=rng,
    )  # fmt: skip
    knots = flight_knots(shared.field, nominal, PRIOR.wind)
    draws = replace(draws, wind_error_m_s=draw_wind_error(knots, flights, rng, PRIOR.wind))
    return fly(shared, draws), draws


@quick
@given(seed=seeds, strength=st.floats(0.0, 40.0))
def test_up_to_the_top_then_only_down(seed: int, strength: float) -> None:
    flights, _ = ensemble(seed, strength, fouled_chance=0.3, early_burst_chance=0.3)
    for time, height, top_time in zip(
        flights.track_time_s, flights.track_height_msl_m, flights.top_time_s, strict=True
    ):
        known = ~np.isnan(time)
        assert (np.diff(time[known]) >= 0.0).all()
        rising = time[known] <= top_time + 1e-6
        assert (np.diff(height[known][rising]) >= -0.01).all()
        assert (np.diff(height[known][~rising]) <= 1e-6).all()


@quick
@given(seed=seeds)
def test_every_flight_has_one_outcome_and_landed_ones_are_on_the_ground(seed: int) -> None:
    flights, _ = ensemble(seed, 20.0, fouled_chance=0.2, early_burst_chance=0.2)
    counts = [int((flights.outcome == outcome).sum()) for outcome in Outcome]
    assert sum(counts) == 40
    assert np.allclose(flights.end_height_msl_m[flights.landed], 0.0, atol=1e-6)
    assert np.isfinite(flights.touchdown_m_s[flights.landed]).all()
    assert (flights.touchdown_m_s[flights.landed] > 0.5).all()


@quick
@given(seed=seeds)
def test_the_order_of_members_does_not_matter(seed: int) -> None:
    flights, draws = ensemble(seed)
    order = np.random.default_rng(seed).permutation(draws.flights)
    shuffled = Draws(**{
        field.name: None if (value := getattr(draws, field.name)) is None else value[order] for field in fields(Draws)
    })  # fmt: skip
    train = example_train()
    again = fly(conditions(windy(15.0, seed % 7), train), shuffled)
    assert np.array_equal(again.end_latitude_deg, flights.end_latitude_deg[order])
    assert np.array_equal(again.end_time_s, flights.end_time_s[order])


@quick
@given(seed=seeds)
def test_the_same_seed_gives_the_same_flights(seed: int) -> None:
    first, _ = ensemble(seed)
    second, _ = ensemble(seed)
    assert np.array_equal(first.end_longitude_deg, second.end_longitude_deg)


@settings(max_examples=40, deadline=None)
@given(climb=st.floats(2.5, 8.0), train_kg=st.floats(0.3, 4.0))
def test_lift_and_mass_balance(climb: float, train_kg: float) -> None:
    """Archimedes: displaced air = gas + balloon + train + free lift, all as forces at the site."""
    train = example_train()
    train = replace(train, canopy=replace(train.canopy, mass_kg=train_kg))
    fill = example_fill(train, FillWish("climb", climb))
    density = fill.site_pressure_pa / (287.05287 * fill.site_temperature_k)
    weight = (fill.gas_mass_kg + train.envelope.mass_kg + train.train_mass_kg) * 9.80665
    assert density * fill.volume_m3 * 9.80665 == pytest.approx(weight + fill.free_lift_n, rel=1e-6)
    assert fill.gas_mass_kg == pytest.approx(fill.gas_mol * molar_mass_kg_mol(train.gas))
    assert fill.scale_lift_n - fill.free_lift_n == pytest.approx(train.train_mass_kg * 9.80665, rel=1e-6)


def test_a_floater_stays_aloft_and_is_counted() -> None:
    """Little free lift: the film's squeeze takes it all before the burst diameter is reached."""
    train = example_train()
    train = replace(train, envelope=replace(train.envelope, burst_diameter_m=14.0))
    fill = example_fill(train, FillWish("free_lift", 0.35))
    shared = conditions(column_field(), train, longest_flight_s=8 * 3600.0)
    flight = fly(shared, nominal_draw(train, fill, PRIOR.flight))
    assert flight.outcome[0] == Outcome.STILL_ALOFT
    assert flight.ascent_end[0] == AscentEnd.NONE
    assert flight.end_time_s[0] == pytest.approx(8 * 3600.0, abs=31.0)


def test_a_flight_longer_than_the_plan_allows_is_still_aloft() -> None:
    train = example_train()
    fill = example_fill(train)
    whole = fly(conditions(column_field(), train), nominal_draw(train, fill, PRIOR.flight))
    for share in (0.5, 0.9):
        limit = share * float(whole.end_time_s[0])  # on the way up, and on the way down
        flight = fly(conditions(column_field(), train, longest_flight_s=limit), nominal_draw(train, fill, PRIOR.flight))
        assert flight.outcome[0] == Outcome.STILL_ALOFT
        assert flight.end_time_s[0] == pytest.approx(limit, abs=120.0)


def test_leaving_the_winds_is_an_outcome() -> None:
    train = example_train()
    far = conditions(column_field(u=lambda z: 30.0 + 0.0 * z, radius_m=50_000.0), train)
    low = conditions(column_field(top_msl_m=20_000.0), train)
    short = conditions(column_field(hours=0.5), train)
    for shared in (far, low, short):
        flight = fly(shared, nominal_draw(train, example_fill(train), PRIOR.flight))
        assert flight.outcome[0] == Outcome.LEFT_COVERAGE
        assert np.isnan(flight.touchdown_m_s[0])


@pytest.mark.parametrize(
    ("device", "check"),
    [
        (CutDown("timer", 1, "time", "timer", after_release_s=1800.0), lambda f: f.top_time_s[0] - 1800.0),
        (CutDown("altitude", 1, "height", "gnss", height_msl_m=12_345.0), lambda f: f.top_height_msl_m[0] - 12_345.0),
    ],
)
def test_a_cut_down_ends_the_ascent_where_it_is_set(device: CutDown, check: Callable[[Flights], float]) -> None:
    train = example_train(device)
    flight = fly(conditions(column_field(), train), nominal_draw(train, example_fill(train), PRIOR.flight))
    assert flight.ascent_end[0] == AscentEnd.CUT_DOWN
    assert check(flight) == pytest.approx(0.0, abs=1e-6)
    assert flight.outcome[0] == Outcome.LANDED


def test_an_area_cut_down_fires_when_the_flight_leaves_the_area() -> None:
    south, north, west, east = SITE[0] - 1.0, SITE[0] + 1.0, SITE[1] - 1.0, SITE[1] + 0.2
    area = ((south, west), (south, east), (north, east), (north, west))
    train = example_train(CutDown("fence", 2, "area", "gnss", keep_inside_deg=area))
    shared = conditions(column_field(u=lambda z: 15.0 + 0.0 * z), train)
    flight = fly(shared, nominal_draw(train, example_fill(train), PRIOR.flight))
    assert flight.ascent_end[0] == AscentEnd.CUT_DOWN
    # found at the end of the level step in which it happens: 15 m/s for up to a minute is a kilometre
    assert east <= flight.top_longitude_deg[0] <= east + 0.015


def test_a_commanded_cut_down_does_not_fire_by_itself() -> None:
    train = example_train(CutDown("radio", 1, "command", "radio"))
    flight = fly(conditions(column_field(), train), nominal_draw(train, example_fill(train), PRIOR.flight))
    assert flight.ascent_end[0] == AscentEnd.BURST


def test_minutes_above_a_height_agree_with_the_climb_and_the_fall() -> None:
    flights, draws = ensemble(3)
    above = flights.time_above_s(20_000.0)
    whole = flights.time_above_s(-1.0)
    assert (above >= 0.0).all()
    assert (above < whole).all()
    assert np.allclose(whole, flights.end_time_s - flights.release_time_s - draws.release_delay_s, rtol=1e-9)
