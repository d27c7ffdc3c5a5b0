"""What would make a release go, and what changed since the last time it was judged."""

from __future__ import annotations

from dataclasses import dataclass

from pappus.decision._check import DASH, Answer, Check, Decision, rank
from pappus.decision._questions import Mends
from pappus.rules import Verdict

_Place = tuple[int, int, float]
"""Kind of change, then the rank of its check."""
_ORDER = (Verdict.NOT_MET, Verdict.CANNOT_TELL, Verdict.MET)
_TICKS = "forecast_age_s"
"""Grows by itself: only a new run or a crossed limit is news."""


@dataclass(frozen=True)
class Mend:
    """One thing that would have to change, and the answer once it and everything before it in the list has."""

    name: str
    mends: Mends
    leads_to: Answer
    what: str
    """The question with its number and limit."""
    why: str
    """By how much it misses, or what is not known."""
    how: str
    """What mends it."""

    @property
    def words(self) -> str:
        """All of it, as sentences."""
        return say_mend((self.what,), self.why, self.how)


def say_mend(what: tuple[str, ...], why: str, how: str) -> str:
    """Sentences on one or more questions that the same thing leaves open and the same thing mends."""
    others = [f"{one[:1].lower()}{one[1:]}" for one in what[1:]]
    said = "; ".join([*what[:1], *others]) + (f": {why}" if why else "")
    return " ".join(f"{part.removesuffix('.')}." for part in (said, how) if part)


def what_would_change(decision: Decision) -> tuple[Mend, ...]:
    """Every check that is not met, the worst first: by how much it misses its limit, and what mends it.

    Empty when all are met.
    """
    open_checks = [check for check in decision.checks if check.verdict is not Verdict.MET]
    found = []
    for place, check in enumerate(open_checks, 1):
        left = open_checks[place:]
        leads_to = Answer.NO_GO if any(one.stops for one in left) else Answer.WAIT if left else Answer.GO
        assert check.mends is not None  # only a met check has nothing that mends it
        number = "cannot tell" if check.number_text == DASH else check.number
        what = f"{check.question} {number}{f', {check.limit_text}' if check.limit_text else ''}"
        found.append(Mend(check.name, check.mends, leads_to, what, check.why, check.mend))
    return tuple(found)


@dataclass(frozen=True)
class Difference:
    """One thing that is not as it was."""

    name: str
    """``"answer"``, or the name of the check."""
    better: bool | None
    """None: neither, or not to be said."""
    words: str


def differences(before: Decision, now: Decision) -> tuple[Difference, ...]:
    """What changed between two decisions: the answer, then verdicts, then numbers, each worse before better.

    A number counts as changed only when it reads differently. Where both intervals hold both numbers, the change is no
    larger than what the flights can tell apart: it says so and stands last. Limits and questions that came or went are
    named.
    """
    found: list[tuple[_Place, Difference]] = []
    if before.answer is not now.answer:
        order = list(Answer)
        better = order.index(now.answer) > order.index(before.answer)
        words = f"{now.answer.capitalize()}, was {before.answer}: {now.headline.partition(': ')[2]}"
        found.append(((0, 0, 0.0), Difference("answer", better, words)))
    old = {check.name: check for check in before.checks}
    new = {check.name: check for check in now.checks}
    for name, check in new.items():
        was = old.get(name)
        if was is None:
            words = f"{check.question}: asked now, {check.verdict} ({check.number})."
            found.append(((1, *rank(check)), Difference(name, None, words)))
        elif (one := _changed(was, check)) is not None:
            found.append(one)
    for name in old.keys() - new.keys():
        gone = old[name]
        words = f"{gone.question}: no longer asked, was {gone.verdict}."
        found.append(((1, *rank(gone)), Difference(name, None, words)))
    return tuple(difference for _, difference in sorted(found, key=lambda pair: pair[0]))


def _changed(was: Check, check: Check) -> tuple[_Place, Difference] | None:
    place = rank(check)
    if was.verdict is not check.verdict:
        better = _ORDER.index(check.verdict) > _ORDER.index(was.verdict)
        why = f": {check.why}" if check.why else ""
        numbers = "" if check.number == was.number else f"; {_said(check)}, was {_said(was)}"
        words = f"{check.question} {check.verdict}, was {was.verdict}{numbers}{why}."
        return (3 if better else 2, *place), Difference(check.name, better, words)
    if was.limit_text != check.limit_text:
        words = f"{check.question}: limit {check.limit_text}, was {was.limit_text}."
        return (4, *place), Difference(check.name, None, words)
    if check.name == _TICKS:
        if was.source == check.source:
            return None
        words = f"The forecast is {check.source or 'of a source not named'}, was {was.source or 'not named'}."
        return (4, *place), Difference(check.name, None, words)
    if _read(was) == _read(check):
        if check.verdict is Verdict.CANNOT_TELL and was.why != check.why:
            return (6, *place), Difference(check.name, None, f"{check.question} still cannot be told: {check.why}.")
        return None
    if was.value is None or check.value is None:
        words = f"{check.question} {_said(check)}, was {_said(was)}."
        return (5, *place), Difference(check.name, None, words)
    better = (check.value > was.value) is check.limit_text.startswith("at least")
    words = f"{check.question} {check.number}, was {was.number}"
    if _within(was, check):
        return (6, *place), Difference(check.name, None, f"{words}: no more than the spread.")
    return (5, *place), Difference(check.name, better, f"{words}.")


def _read(check: Check) -> str:
    """The number without the other system behind it, whose last figure turns at other values."""
    return check.number_text.partition(" (")[0]


def _said(check: Check) -> str:
    return "not known" if check.number_text == DASH else check.number


def _within(was: Check, check: Check) -> bool:
    return all(
        a.low is not None
        and a.high is not None
        and b.value is not None
        and a.low <= b.value <= a.high
        and a.low < a.high
        for a, b in ((was, check), (check, was))
    )
