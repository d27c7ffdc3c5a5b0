"""Three verdicts, how sure a text is, and comparisons that keep their boundary through a change of units."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from pappus.landing import Share

Certainty = Literal["text seen", "restated by others", "from memory", "common practice"]

_ROUNDING = 1e-9
"""Relative; a weight given in pounds and held in kilograms misses its own boundary by 1e-16, no scale sees 1e-9."""


class Verdict(StrEnum):
    """What a check says. Something that is not known is never ``MET``."""

    MET = "met"
    NOT_MET = "not met"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class RuleVerdict:
    """One paragraph of a law held against the plan. A planning aid, not legal advice."""

    rule_id: str
    """What a permission names, such as ``icao.2.2``."""
    paragraph: str
    title: str
    verdict: Verdict
    number_text: str
    limit_text: str
    certainty: Certainty
    """How the text of the paragraph is known to the people who wrote it down here."""
    text_date: str
    """Date or edition of the text, or that none was noted."""
    why: str
    mend: str
    """What to do about it; empty when met."""
    applies: bool | None = True
    """False: the paragraph does not hold for this flight, and counts as met. None: not known whether it does."""
    permission: str = ""
    """Reference of the permission that covers it."""


def more_than(value: float, limit: float) -> bool:
    """``value > limit``; equal to the limit, but for rounding, is not more."""
    return value > limit * (1.0 + _ROUNDING)


def at_least(value: float, limit: float) -> bool:
    """``value >= limit``; equal to the limit, but for rounding, is at least."""
    return value >= limit * (1.0 - _ROUNDING)


def every(*answers: bool | None) -> bool | None:
    """True when all are; False when one is; else not known."""
    if False in answers:
        return False
    return None if None in answers else True


def either(*answers: bool | None) -> bool | None:
    """True when one is; False when all are; else not known."""
    if True in answers:
        return True
    return None if None in answers else False


def negated(answer: bool | None) -> bool | None:
    """The other way round; not known stays not known."""
    return None if answer is None else not answer


def seldom(share: Share | None, most: float) -> bool | None:
    """Whether a chance is at most ``most``: told only where the whole interval of the share says the same."""
    if share is None or share.high != share.high or share.low != share.low:
        return None
    if share.high <= most:
        return True
    return False if share.low > most else None
