"""The flight plan file: one commented TOML file in, domain objects out."""

from pappus.plan._conditions import (
    NODE_STEP_M,
    conditions_for,
    conditions_in,
    field_between,
    ground_under,
    spanning,
    under,
)
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
    "NODE_STEP_M",
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
    "conditions_for",
    "conditions_in",
    "example_plan_text",
    "field_between",
    "ground_under",
    "load_plan",
    "plan_reference",
    "spanning",
    "under",
]
