"""One checked question, the answer, and what holds them together."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pappus.decision._questions import Mends, importance
from pappus.rules import Verdict

DASH = "–"
"""Stands for a number that is not known."""


class Answer(StrEnum):
    """What the checks come to; the worst is first."""

    NO_GO = "no-go"
    WAIT = "wait"
    GO = "go"


@dataclass(frozen=True)
class Check:
    """One question, how it was answered, from what, and what would mend it."""

    name: str
    """A field of ``Facts``, or the id of a rule."""
    question: str
    verdict: Verdict
    number_text: str
    """A dash when it is not known."""
    spread_text: str
    """95 % interval; for a chance the unknown flights are counted in. Empty for none."""
    limit_text: str
    limit_source: str
    value: float | None
    """SI units, chances and fractions from 0 to 1; None when not known, and for rules."""
    low: float | None
    high: float | None
    source: str
    age_s: float | None
    why: str
    """Empty for a question that is met; a rule may say why it does not hold."""
    mends: Mends | None
    """What kind of thing mends it; None when met."""
    mend: str
    place_deg: tuple[float, float] | None

    @property
    def number(self) -> str:
        """``"62 % (59 to 65 %)"``."""
        return f"{self.number_text} ({self.spread_text})" if self.spread_text else self.number_text

    @property
    def stops(self) -> bool:
        """Whether it is broken in a way that only another plan mends."""
        return self.verdict is Verdict.NOT_MET and self.mends == "changing the plan"


@dataclass(frozen=True)
class Decision:
    """The answer, one line that says why, and every check, what stops the flight first."""

    answer: Answer
    checks: tuple[Check, ...]
    headline: str


def rank(check: Check) -> tuple[int, float]:
    """Sorts checks: what stops the flight, what waits, what is not known, what is met; people first in each.

    The number of flights that do not land in the data leads what is not known: without it no chance can be met.
    """
    if check.verdict is Verdict.NOT_MET:
        weight = 0 if check.stops else 1
    else:
        weight = 2 if check.verdict is Verdict.CANNOT_TELL else 3
    root = weight == 2 and check.name == "unknown_share"
    return weight, -1.0 if root else importance(check.name)
