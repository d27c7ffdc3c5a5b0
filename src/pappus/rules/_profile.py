"""What a country asks: a base rule set, a lead time and requirements of its own, each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pappus.rules._verdict import Certainty

Base = Literal["us", "icao", "australia"]
MeasuredFact = Literal[
    "gas_capacity_m3",
    "launch_mass_kg",
    "envelope_mass_kg",
    "envelope_diameter_m",
    "suspension_length_m",
    "payload_mass_kg",
]
"""Numbers that a national requirement may hang on; ``payload_mass_kg`` is everything below the neck."""
FlagFact = Literal["controlled_release", "meteorological_only", "night", "day"]


@dataclass(frozen=True)
class Requirement:
    """One thing that a country asks, as a line of a checklist: who, when, reference number."""

    name: str
    """The rule id is the key of the profile, a dot and this name. What the lead time is for is named ``permit``."""
    paragraph: str
    title: str
    kind: Literal["authorisation", "question"]
    """Without a noted reference an authorisation is not met, and a question is not answered: cannot tell."""
    who: str
    when: str
    certainty: Certainty
    text_date: str
    over_fact: MeasuredFact | None = None
    """Holds only where this number is above ``over``."""
    over: float = 0.0
    over_text: str = ""
    """The threshold as the law writes it."""
    only_if: FlagFact | None = None
    """Holds only where this is so."""
    classes: tuple[str, ...] = ()
    """Holds only for these classes of balloon; empty: for all."""
    done_by: Literal["owner_marked"] | None = None
    """Answered by this entry of the equipment instead of a reference."""


@dataclass(frozen=True)
class RuleProfile:
    """The rules of one country. Editable: a planning aid as good as its sources, which every line names."""

    key: str
    name: str
    base: Base
    certainty: Certainty
    text_date: str
    source: str
    requirements: tuple[Requirement, ...] = ()
    lead_time_days: int | None = None
    """How long before the release a permit is asked for; None is not known, 0 is no permit ahead."""
    lead_in_working_days: bool = False
    """Monday to Friday; public holidays are not known here."""
    lead_certainty: Certainty = "common practice"
    lead_source: str = ""
    casualty_expectation_most: float = 1e-4
    """People hurt per flight above which it counts as a hazard here; the laws give no number (common practice)."""
    chance_most: float = 0.01
    """Chance above which something can reasonably be expected; the laws give no number (common practice)."""
    note: str = ""
