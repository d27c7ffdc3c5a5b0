"""Go, wait or no-go: every question with its number, limit, source and age, and what would change the answer.

Unknown is never green: a question that is asked and not answered keeps the answer from go.
"""

from __future__ import annotations

from pappus.decision._chances import MOST_FLIGHTS, flights_needed
from pappus.decision._changes import Difference, Mend, differences, say_mend, what_would_change
from pappus.decision._check import Answer, Check, Decision
from pappus.decision._facts import Fact, Facts, missing
from pappus.decision._judge import judge
from pappus.decision._limits import LIMIT_REASONS, GoLimits
from pappus.decision._questions import Mends
from pappus.decision._record import from_json, to_json

__all__ = [
    "LIMIT_REASONS",
    "MOST_FLIGHTS",
    "Answer",
    "Check",
    "Decision",
    "Difference",
    "Fact",
    "Facts",
    "GoLimits",
    "Mend",
    "Mends",
    "differences",
    "flights_needed",
    "from_json",
    "judge",
    "missing",
    "say_mend",
    "to_json",
    "what_would_change",
]
