"""Ascent, burst, descent: one flight and an ensemble."""

from pappus.trajectory._draws import Draws, nominal_draw, sample_draws
from pappus.trajectory._drift import drift
from pappus.trajectory._flights import AscentEnd, Flights, Outcome, Release
from pappus.trajectory._fly import Conditions, Sun, fly
from pappus.trajectory._join import join_flights
from pappus.trajectory._knots import flight_knots

__all__ = [
    "AscentEnd",
    "Conditions",
    "Draws",
    "Flights",
    "Outcome",
    "Release",
    "Sun",
    "drift",
    "flight_knots",
    "fly",
    "join_flights",
    "nominal_draw",
    "sample_draws",
]
