"""Ascent, burst, descent: one flight and an ensemble."""

from pappus.trajectory._conditions import Conditions
from pappus.trajectory._draws import Draws, joined_draws, nominal_draw, sample_draws
from pappus.trajectory._drift import drift
from pappus.trajectory._flights import AscentEnd, Flights, Outcome, Release
from pappus.trajectory._fly import flight_threads, fly, kernel_is_compiled
from pappus.trajectory._join import join_flights
from pappus.trajectory._knots import flight_knots
from pappus.trajectory._sun import Sun

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
    "flight_threads",
    "fly",
    "join_flights",
    "joined_draws",
    "kernel_is_compiled",
    "nominal_draw",
    "sample_draws",
]
