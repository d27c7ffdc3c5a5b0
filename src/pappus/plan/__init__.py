"""The flight plan file: one commented TOML file in, domain objects out."""

from pappus.plan._file import example_plan_text, load_plan
from pappus.plan._plan import EnsembleSize, Limits, Mission, Plan, Scatter, Site, Window
from pappus.plan._reference import plan_reference

__all__ = [
    "EnsembleSize",
    "Limits",
    "Mission",
    "Plan",
    "Scatter",
    "Site",
    "Window",
    "example_plan_text",
    "load_plan",
    "plan_reference",
]
