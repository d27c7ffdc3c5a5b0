"""The flight plan file: one commented TOML file in, domain objects out."""

from pappus.plan._file import example_plan_text, load_plan
from pappus.plan._plan import (
    Call,
    CrewMember,
    EnsembleSize,
    LegalState,
    Limits,
    Mission,
    Plan,
    ReceiverPlace,
    Scatter,
    Site,
    Vehicle,
    Window,
)
from pappus.plan._reference import plan_reference

__all__ = [
    "Call",
    "CrewMember",
    "EnsembleSize",
    "LegalState",
    "Limits",
    "Mission",
    "Plan",
    "ReceiverPlace",
    "Scatter",
    "Site",
    "Vehicle",
    "Window",
    "example_plan_text",
    "load_plan",
    "plan_reference",
]
