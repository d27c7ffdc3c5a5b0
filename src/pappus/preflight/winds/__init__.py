"""The winds at hand: read, chosen for a flight, and every run of them flown."""

from pappus.preflight.winds._choose import choose_winds
from pappus.preflight.winds._column import column, site_air
from pappus.preflight.winds._gather import HOLD, Winds, around, gather_winds
from pappus.preflight.winds._runs import Ensemble, Run, fly_all, prepare, run_in
from pappus.preflight.winds._site import nominal_top_in, site_of

__all__ = [
    "HOLD",
    "Ensemble",
    "Run",
    "Winds",
    "around",
    "choose_winds",
    "column",
    "fly_all",
    "gather_winds",
    "nominal_top_in",
    "prepare",
    "run_in",
    "site_air",
    "site_of",
]
