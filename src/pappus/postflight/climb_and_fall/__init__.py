"""How recorded flights climbed and fell, against what their first kilometres said; what the laws learn from it."""

from pappus.postflight.climb_and_fall._ascent import AscentChecks, ascent_checks
from pappus.postflight.climb_and_fall._climb_fit import ClimbCurve, climb_curves, fit_climb_shape, fit_drag_factor
from pappus.postflight.climb_and_fall._descents import DescentChecks, descent_checks
from pappus.postflight.climb_and_fall._fall_fit import FallPriorFit, fit_fall_prior
from pappus.postflight.climb_and_fall._page import ascent_sections, descent_sections

__all__ = [
    "AscentChecks",
    "ClimbCurve",
    "DescentChecks",
    "FallPriorFit",
    "ascent_checks",
    "ascent_sections",
    "climb_curves",
    "descent_checks",
    "descent_sections",
    "fit_climb_shape",
    "fit_drag_factor",
    "fit_fall_prior",
]
