"""An ensemble that meets everything at once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from columns import PRIOR, conditions, example_fill, example_train
from oracle.forecasts import forecast_field, hills
from pappus.flight_train import FillWish, FlightTrain
from pappus.plan import NODE_STEP_M
from pappus.trajectory import Conditions, Draws, flight_knots, fly, nominal_draw, sample_draws
from pappus.wind import WindField, draw_wind_error

HOURS_8 = 8 * 3600.0 - 1.0


def ensemble(
    flights: int,
    *,
    field: WindField | None = None,
    train: FlightTrain | None = None,
    wish: FillWish | None = None,
    seed: int = 5,
    longest_flight_s: float = HOURS_8,
) -> tuple[Conditions, Draws]:
    """Flights through three members over hills, wind error on, early bursts and fouled canopies among them."""
    train = train or example_train(fouled_chance=0.2, early_burst_chance=0.2)
    fill = example_fill(train, wish)
    field = field or forecast_field(members=3)
    shared = conditions(field, train, step_m=NODE_STEP_M, longest_flight_s=longest_flight_s)
    shared = replace(shared, ground=hills())
    nominal = fly(shared, nominal_draw(train, fill, PRIOR.flight))
    rng = np.random.default_rng(seed)
    draws = sample_draws(
        train, fill, PRIOR.flight, flights=flights, members=field.members, scale_sd_n=0.3,
        nominal_top_msl_m=float(nominal.top_height_msl_m[0]),
        level_height_msl_m=shared.field.height_msl_m.mean(axis=(0, 1, 3, 4)), rng=rng,
    )  # fmt: skip
    knots = flight_knots(shared.field, nominal, PRIOR.wind)
    return shared, replace(draws, wind_error_m_s=draw_wind_error(knots, flights, rng, PRIOR.wind))
