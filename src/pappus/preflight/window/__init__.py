"""The launch window: every launch time, site, fill and balloon flown, and held against limits and rules."""

from pappus.preflight.window._around import Around, entries_of, hazard_of
from pappus.preflight.window._cell import LaunchCell
from pappus.preflight.window._choose import choose_cell
from pappus.preflight.window._curves import AgainstDelay, AgainstLift, delay_curve, lift_curve
from pappus.preflight.window._fly import BLOCK, CellFlights, WindowFlights
from pappus.preflight.window._gather_around import gather_around
from pappus.preflight.window._opened import OpenedCell, better_neighbours, flights_wanted
from pappus.preflight.window._options import OWN, LaunchOption, LaunchOptions, launch_options, with_balloon
from pappus.preflight.window._rules import Law, facts_of_plan
from pappus.preflight.window._window import LaunchWindow, fly_window
from pappus.preflight.window._words import cell_json, curve_json, window_json

__all__ = [
    "BLOCK",
    "OWN",
    "AgainstDelay",
    "AgainstLift",
    "Around",
    "CellFlights",
    "LaunchCell",
    "LaunchOption",
    "LaunchOptions",
    "LaunchWindow",
    "Law",
    "OpenedCell",
    "WindowFlights",
    "better_neighbours",
    "cell_json",
    "choose_cell",
    "curve_json",
    "delay_curve",
    "entries_of",
    "facts_of_plan",
    "flights_wanted",
    "fly_window",
    "gather_around",
    "hazard_of",
    "launch_options",
    "lift_curve",
    "window_json",
    "with_balloon",
]
