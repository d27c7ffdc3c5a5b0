"""A decision as the pages show it: state, words, numbers and what would mend it."""

from __future__ import annotations

from typing import Literal

from pappus.decision import Check, Decision
from pappus.export import Sentences
from pappus.preflight import answer_state, decision_sections, short_reason, state_of
from pappus.web.desk import Answer

State = Literal["go", "wait", "no-go", "cannot tell"]


class CheckAnswer(Answer):
    """One question, how it was answered and from what."""

    name: str
    question: str
    state: State
    verdict: str
    number: str
    limit: str
    limit_source: str
    source: str
    age_s: float | None
    why: str
    mend: str
    place_deg: tuple[float, float] | None


class DecisionAnswer(Answer):
    """Go, wait or no-go, and everything that it is made of, the worst first."""

    state: State
    headline: str
    reason: str
    """A word or two; empty for go."""
    checks: list[CheckAnswer]
    would_change: list[str]


def decision_answer(decision: Decision) -> DecisionAnswer:
    """All of it."""
    changes = [one for one in decision_sections(decision) if isinstance(one, Sentences)]
    return DecisionAnswer(
        state=answer_state(decision),
        headline=decision.headline,
        reason=short_reason(decision),
        checks=[_check(one) for one in decision.checks],
        would_change=[line for section in changes for line in section.lines],
    )


def first_reason(decision: Decision) -> str:
    """The worst thing about it in a line; empty for go."""
    if not short_reason(decision):
        return ""
    worst = decision.checks[0]
    return ": ".join(
        part for part in (worst.question, worst.number if worst.value is not None else "", worst.why) if part
    )


def _check(check: Check) -> CheckAnswer:
    return CheckAnswer(
        name=check.name, question=check.question, state=state_of(check), verdict=str(check.verdict),
        number=check.number, limit=check.limit_text, limit_source=check.limit_source, source=check.source,
        age_s=check.age_s, why=check.why, mend=check.mend, place_deg=check.place_deg,
    )  # fmt: skip
