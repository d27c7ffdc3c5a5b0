"""A paragraph as a question to the facts, and how an answer becomes a verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import NamedTuple

from pappus.landing import Share
from pappus.rules._facts import Permission, RuleFacts
from pappus.rules._profile import RuleProfile
from pappus.rules._verdict import Certainty, RuleVerdict, Verdict, seldom

NOT_KNOWN = "not known"
EVERYONE = frozenset({"small", "light", "medium", "heavy", "part 101", "exempt"})
"""Classes of the rule sets together: a paragraph that holds for all of them holds always."""


class Judgement(NamedTuple):
    """True: satisfied; False: broken; None: cannot tell, and ``missing`` says what would tell."""

    ok: bool | None
    number: str
    why: str
    missing: str = ""


class Asked(NamedTuple):
    """What a paragraph is held against."""

    facts: RuleFacts
    profile: RuleProfile
    at_utc: datetime
    """The clock that the notices are held against."""


@dataclass(frozen=True)
class Rule:
    """One paragraph."""

    rule_id: str
    paragraph: str
    title: str
    limit_text: str
    certainty: Certainty
    text_date: str
    mend: str
    judge: Callable[[Asked], Judgement]
    holds_for: frozenset[str] = EVERYONE
    by_permission: bool = False
    """Whether the text says "unless authorised"."""

    def applies(self, possible: frozenset[str]) -> bool | None:
        """Whether the paragraph holds for a balloon that may be of these classes."""
        if possible <= self.holds_for:
            return True
        return None if possible & self.holds_for else False

    def verdict(self, asked: Asked, possible: frozenset[str]) -> RuleVerdict:
        """The verdict; where it is not known whether the paragraph holds, only an answer that satisfies it counts."""
        applies = self.applies(possible)
        if applies is False:
            return self._said(
                Verdict.MET, "-", f"does not hold for this balloon ({', '.join(sorted(possible))})", "", applies
            )
        judged = self.judge(asked)
        permission = self._permission(asked.facts)
        if permission is not None and judged.ok is not True:
            by = f" by {permission.issued_by}" if permission.issued_by else ""
            why = f"authorised{by}, reference {permission.reference}, for the crew to check. Without it: {judged.why}"
            reference = permission.reference.strip()
            return self._said(Verdict.MET, f"reference {reference}", why, "", applies, reference)
        if judged.ok is True:
            return self._said(Verdict.MET, judged.number, judged.why, "", applies)
        if judged.ok is False and applies is True:
            mend = self.mend + (_permission_mend(self.rule_id) if self.by_permission else "")
            return self._said(Verdict.NOT_MET, judged.number, judged.why, mend, applies)
        if judged.ok is False:
            why = f"{judged.why}; whether the paragraph holds for this balloon cannot be told"
            return self._said(
                Verdict.CANNOT_TELL, judged.number, why, "Give what the class needs: masses, faces, force.", None
            )
        return self._said(Verdict.CANNOT_TELL, judged.number, judged.why, judged.missing or self.mend, applies)

    def _permission(self, facts: RuleFacts) -> Permission | None:
        if not self.by_permission:
            return None
        held = (entry for entry in facts.permissions if entry.covers_rule(self.rule_id, facts.release_utc))
        return next(held, None)

    def _said(
        self, verdict: Verdict, number: str, why: str, mend: str, applies: bool | None, permission: str = ""
    ) -> RuleVerdict:
        return RuleVerdict(
            rule_id=self.rule_id,
            paragraph=self.paragraph,
            title=self.title,
            verdict=verdict,
            number_text=number,
            limit_text=self.limit_text,
            certainty=self.certainty,
            text_date=self.text_date,
            why=why,
            mend=mend,
            applies=applies,
            permission=permission,
        )


def _permission_mend(rule_id: str) -> str:
    return f" Or note the authorisation in the plan: a permission that covers {rule_id}, with its reference."


def chance(share: Share | None, most: float, what: str) -> Judgement:
    """A chance that has to be small."""
    ok = seldom(share, most)
    if share is None:
        return Judgement(
            None, NOT_KNOWN, f"the chance of {what} is not known", f"Give the map or the flights that tell: {what}."
        )
    number = f"{share.p:.2%} ({share.low:.2%} to {share.high:.2%})"
    if ok is None:
        why = f"the interval of the chance of {what} reaches over {most:.2%}"
        return Judgement(None, number, why, "Fly more flights, or give the data that the unknown ones lack.")
    return Judgement(ok, number, f"{what} is {'not to be expected' if ok else 'to be expected'}")


def count(number: int | None, least: int, what: str) -> Judgement:
    """A number of devices."""
    if number is None:
        return Judgement(None, NOT_KNOWN, f"the number of {what} is not stated", f"State the {what} in the equipment.")
    return Judgement(number >= least, str(number), f"{number} {what}, {least} asked")


def carried(flag: bool | None, what: str) -> Judgement:
    """Something that is there or is not."""
    if flag is None:
        return Judgement(None, NOT_KNOWN, f"not stated: {what}", f"State in the equipment: {what}.")
    return Judgement(flag, "yes" if flag else "no", f"{what}: {'carried' if flag else 'not carried'}")


def clock(time: datetime) -> str:
    """A time as this room writes it."""
    return f"{time.astimezone(UTC):%Y-%m-%d %H:%M}Z"
