"""Facts held against limits: go, wait or no-go, and never go with something that is not known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pappus.decision._chances import MOST_FLIGHTS, flights_needed, highest_share
from pappus.decision._check import DASH, Answer, Check, Decision, rank
from pappus.decision._facts import Fact, Facts
from pappus.decision._limits import GoLimits, limit_reason
from pappus.decision._numbers import say_beside, say_number, say_range
from pappus.decision._questions import QUESTIONS, WEATHER_RULES, Mends, Question
from pappus.errors import BadInput, Finding, OutOfRange
from pappus.landing import Share
from pappus.rules import RuleVerdict, Verdict

_NOT_COUNTED = "how many flights do not land in the data is not known"


@dataclass(frozen=True)
class _Finding:
    verdict: Verdict
    why: str = ""
    mends: Mends | None = None
    mend: str = ""


def judge(facts: Facts, limits: GoLimits) -> Decision:
    """Answer every question that the limits ask and every rule in the facts.

    No-go: a check is broken that only another plan mends. Go: every check is met, and there is one. Wait: else.

    A chance is met only when the far end of its 95 % interval meets the limit with every unknown flight counted
    against it, and broken only when the near end breaks it with every unknown flight counted for it; between them it
    cannot be told. A number that is missing, not finite, or older than the forecast may be, is never met.

    :raises OutOfRange: a fact lies where its quantity has no values.
    :raises BadInput: a fact is of another kind than its question (a chance given for a wind speed).
    """
    unknown = _unknown_flights(facts.unknown_share)
    checks = [_answered(question, facts, limits, unknown) for question in QUESTIONS if _asked(question, limits)]
    checks += [_rule(verdict) for verdict in facts.rules] or [_no_rules()]
    checks.sort(key=rank)
    return Decision(_answer(checks), tuple(checks), _headline(checks))


def _asked(question: Question, limits: GoLimits) -> bool:
    return getattr(limits, question.limit) is not None


def _answer(checks: list[Check]) -> Answer:
    if any(check.stops for check in checks):
        return Answer.NO_GO
    return Answer.GO if all(check.verdict is Verdict.MET for check in checks) else Answer.WAIT


def _headline(checks: list[Check]) -> str:
    answer, first = _answer(checks).capitalize(), checks[0]
    if first.verdict is Verdict.MET:
        return f"{answer}: all {len(checks)} checks are met."
    others = sum(check.verdict is not Verdict.MET for check in checks) - 1
    more = f" And {others} more." if others else ""
    if first.verdict is Verdict.CANNOT_TELL:
        return f"{answer}: cannot tell {_lower(first.question)}: {first.why}.{more}"
    number = "" if first.number_text == DASH else f" {first.number}"
    limit = f", limit {first.limit_text}" if first.limit_text else ""
    said = f"{_lower(first.question)}{number}{limit}" if number or limit else f"{_lower(first.question)}: {first.why}"
    return f"{answer}: {said}.{more}"


def _lower(words: str) -> str:
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]


def _answered(question: Question, facts: Facts, limits: GoLimits, unknown: Share | None) -> Check:
    fact: Fact = getattr(facts, question.name)
    limit: float = getattr(limits, question.limit)
    limit_words = f"{'at least' if question.least else 'at most'} {say_number(question.kind, limit)}"
    value = low = high = None
    number, spread = DASH, ""
    if fact.known:
        _check_kind(question, fact)
        measured = _interval(fact)
        value, low, high, _ = measured
        counted: Share | None = Share(0.0, 0.0, 0.0)
        if question.lands and question.kind == "chance":
            counted = unknown if fact.unknown is None else fact.unknown
            high = highest_share(measured, counted, facts.flights)
        found = _held_against(question, fact, limit, measured, high, counted, facts.flights)
        found = _fresh(question, fact, facts.forecast_age_s, limits.forecast_age_most_s, found)
        number = say_beside(question.kind, value, limit)
        spread = "" if low == high else say_range(question.kind, low, high)
    else:
        why = fact.why_not or ("it is not known" if fact.value is None else "the number is not finite")
        found = _Finding(Verdict.CANNOT_TELL, why, "more data", question.bring)
    return Check(
        question.name, question.words, found.verdict, number, spread, limit_words, limit_reason(question.limit, limit),
        value, low, high, fact.source, fact.age_s, found.why, found.mends, found.mend, fact.place_deg,
    )  # fmt: skip


def _check_kind(question: Question, fact: Fact) -> None:
    name, (low, high) = question.name, fact.bounds
    if question.kind != "chance" and isinstance(fact.value, Share | bool):
        given = "a chance" if isinstance(fact.value, Share) else "yes or no"
        raise BadInput(Finding(name, str(fact.value), f"{given}, where a number is asked", "Give the number in SI."))
    least, most = (0.0, 1.0) if question.kind == "chance" else (0.0, math.inf)
    if question.kind == "angle":
        least, most = -90.0, 90.0
    if low < least or high > most:
        raise OutOfRange(name, fact.value, least, most, fact.unit)


def _interval(fact: Fact) -> Share:
    """Number, low and high end of a fact that is known; one that was not counted is not limited by the draws."""
    if isinstance(fact.value, Share):
        return fact.value
    return Share(float(fact.value or 0.0), *fact.bounds, "members")


def _unknown_flights(fact: Fact) -> Share | None:
    """The flights that count against every chance; None when their number is not known."""
    if not fact.known:
        return None
    if not 0.0 <= fact.bounds[0] <= fact.bounds[1] <= 1.0:
        raise OutOfRange("unknown_share", fact.value, 0.0, 1.0, "(a share)")
    return _interval(fact)


def _held_against(
    question: Question, fact: Fact, limit: float, measured: Share, high: float, unknown: Share | None, flights: int
) -> _Finding:
    """The interval against the limit; ``high`` has the unknown flights in it."""
    verdict = _side(question, limit, measured.low, high)
    if verdict is Verdict.MET:
        return _Finding(verdict)
    if verdict is Verdict.NOT_MET:
        return _broken(question, fact, limit, high if question.least else measured.low)
    if unknown is None:
        return _Finding(verdict, _NOT_COUNTED, "more data", "Fly the ensemble")
    return _left_open(question, fact, limit, measured, unknown, flights)


def _left_open(question: Question, fact: Fact, limit: float, measured: Share, unknown: Share, flights: int) -> _Finding:
    """What would tell a number apart from its limit, when its interval holds the limit."""
    verdict, counted = Verdict.CANNOT_TELL, isinstance(fact.value, Share) and measured.limit == "draws"
    seen, unseen = round(measured.p, 6), round(min(unknown.p, 1.0 - measured.p), 6)
    needed = flights_needed(limit, seen, unseen, least=question.least) if counted else None
    if needed is not None:
        about = _rounded_up(max(needed, flights + 1))
        why = f"{flights:,} flights leave it open" if flights else "the flights leave it open"
        mend = f"Fly about {about:,} flights, which decide if the share stays as it is"
        return _Finding(verdict, why, "more flights", mend)
    if unknown.p > 0.0 and (
        _side(question, limit, measured.low, measured.high) is not verdict
        or _side(question, limit, seen, seen + unseen) is verdict
        or (counted and flights_needed(limit, seen, least=question.least) is not None)
    ):
        why = f"{say_number('chance', unknown.p)} of the flights are unknown and count against it"
        return _Finding(verdict, why, "more data", "Bring winds and maps that reach later, wider or higher")
    if counted:
        why = f"it lies too near to the limit for {MOST_FLIGHTS:,} flights to decide"
        return _Finding(verdict, why, "changing the plan", f"{question.mend}, away from the limit")
    if isinstance(fact.value, Share):
        mend = "Bring a forecast with more members; more flights do not help"
        return _Finding(verdict, "the few forecast members leave it open", "more data", mend)
    return _Finding(verdict, "its spread reaches over the limit", "more data", question.bring)


def _side(question: Question, limit: float, low: float, high: float) -> Verdict:
    """Met when the whole interval is on the right side of the limit, not met when none of it is."""
    if question.least:
        return Verdict.MET if low >= limit else Verdict.NOT_MET if high < limit else Verdict.CANNOT_TELL
    return Verdict.MET if high <= limit else Verdict.NOT_MET if low > limit else Verdict.CANNOT_TELL


def _broken(question: Question, fact: Fact, limit: float, near: float) -> _Finding:
    gap = abs(near - limit)
    side = "below" if question.least else "above"
    match question.kind:
        case "chance":
            why = f"by {100.0 * gap:.2g} points {side} the limit"
        case "expectation" if limit > 0.0:
            why = f"{near / limit:.2g} times the limit"
        case _:
            why = f"by {say_number(question.kind, gap)} {side} the limit"
    return _Finding(
        Verdict.NOT_MET, why, question.mends, f"{question.mend}; {fact.hint}" if fact.hint else question.mend
    )


def _rounded_up(number: int) -> int:
    """Two figures, never less."""
    step: int = 10 ** max(len(str(number)) - 2, 0)
    return -(-number // step) * step


def _fresh(question: Question, fact: Fact, age: Fact, most_s: float | None, found: _Finding) -> _Finding:
    """A met check that rests on a forecast older than the plan allows, and is no fresher itself, cannot be told."""
    if found.verdict is not Verdict.MET or most_s is None or not question.from_forecast:
        return found
    if fact.age_s is not None:
        age_s = fact.age_s
    elif age.known and not isinstance(age.value, Share):
        age_s = float(age.value or 0.0)
    else:
        return found
    if age_s <= most_s:
        return found
    why = f"it rests on data {say_number('duration', age_s)} old, limit {say_number('duration', most_s)}"
    return _Finding(Verdict.CANNOT_TELL, why, "more data", "Fetch a newer run")


def _rule(verdict: RuleVerdict) -> Check:
    mends: Mends | None = None
    if verdict.verdict is Verdict.CANNOT_TELL:
        mends = "more data"
    elif verdict.verdict is Verdict.NOT_MET:
        mends = "waiting" if verdict.rule_id in WEATHER_RULES else "changing the plan"
    return Check(
        verdict.rule_id, verdict.title, verdict.verdict, verdict.number_text or DASH, "", verdict.limit_text,
        f"{verdict.paragraph}, {verdict.text_date}, {verdict.certainty}", None, None, None, "", None,
        verdict.why, mends, verdict.mend, None,
    )  # fmt: skip


def _no_rules() -> Check:
    return Check(
        "rules", "Rules", Verdict.CANNOT_TELL, DASH, "", "", "", None, None, None, "", None,
        "no rule was checked", "more data", "Name the rules of the country in the plan", None,
    )  # fmt: skip
