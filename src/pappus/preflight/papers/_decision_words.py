"""A decision in words: the answer, every check with number, limit, source and age, what mends it, what changed."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from types import MappingProxyType

from pappus.decision import Answer, Check, Decision, differences, say_mend, what_would_change
from pappus.export import AID, Judged, JudgedTable, Page, Rows, Section, Sentences, State
from pappus.rules import Verdict
from pappus.units import say_duration

SIGNS: Mapping[State, str] = MappingProxyType({"go": "●", "wait": "◐", "no-go": "⊟", "cannot tell": "◇"})
"""Filled disc, half disc, barred square, hollow diamond: for text; a word always stands beside it."""
_ANSWERS: Mapping[Answer, State] = MappingProxyType({Answer.GO: "go", Answer.WAIT: "wait", Answer.NO_GO: "no-go"})
UNKNOWN = "–"
_SHORT = MappingProxyType(
    {
        "casualty_expectation": "people", "built_up": "buildings", "airspace": "airspace", "keep_out": "keep-out",
        "leaves_permit_area": "permit area", "abroad": "border", "rail": "railway", "road": "road",
        "power_line": "power line", "water": "water", "surface_wind_m_s": "wind", "gust_m_s": "gusts",
        "visibility_m": "visibility", "cloud_fraction": "cloud", "rain": "rain", "sun_elevation_deg": "sun",
        "forecast_age_s": "forecast age", "unknown_share": "unknown flights", "lands_acceptably": "landing",
        "reaches_wanted": "height", "drift_m": "drift", "drive_time_s": "drive",
    }
)  # fmt: skip


def state_of(check: Check) -> State:
    """Which of the four states a check shows: what is broken waits where waiting or data mend it."""
    if check.verdict is Verdict.CANNOT_TELL:
        return "cannot tell"
    if check.verdict is Verdict.MET:
        return "go"
    return "no-go" if check.stops else "wait"


def answer_state(decision: Decision) -> State:
    """The state of the whole."""
    return _ANSWERS[decision.answer]


def short_reason(decision: Decision) -> str:
    """A word or two on what decides, such as ``wind 7.4 m/s`` or ``airspace not known``; empty for go."""
    first = decision.checks[0]
    if first.verdict is Verdict.MET:
        return ""
    word = _short(first)
    if first.verdict is Verdict.CANNOT_TELL:
        return f"{word} {'not known' if first.value is None else 'open'}"
    return word if first.value is None else f"{word} {first.number_text.partition(' (')[0]}"


def _short(check: Check) -> str:
    return _SHORT.get(check.name, check.name if check.name == "rules" else f"rule {check.name}")


def decision_reasons(decision: Decision) -> tuple[tuple[State, str], ...]:
    """Everything that is not met, in a line each, worst first."""
    return tuple((state_of(check), _reason(check)) for check in decision.checks if check.verdict is not Verdict.MET)


def _reason(check: Check) -> str:
    number = "cannot tell" if check.value is None and check.verdict is Verdict.CANNOT_TELL else check.number
    return f"{check.question}: {number}{f', limit {check.limit_text}' if check.limit_text else ''}; {check.why}"


def decision_sections(decision: Decision, before: Decision | None = None) -> tuple[Section, ...]:
    """What would change the answer, with the decision before what changed since, and why the limits."""
    return (*_open_questions(decision, before), Rows("Where the limits come from", _limits(decision)))


def _open_questions(decision: Decision, before: Decision | None) -> tuple[Section, ...]:
    sections: list[Section] = []
    if before is not None:
        changed = tuple(_difference(one.better, one.words) for one in differences(before, decision))
        sections.append(Sentences("Changed since the last briefing", changed or ("Nothing that reads differently.",)))
    mends = _mends(decision)
    if mends:
        sections.append(Sentences("What would change the answer, one after the other", mends))
    return tuple(sections)


def _mends(decision: Decision) -> tuple[str, ...]:
    """What the same thing leaves open and mends is said once."""
    lines = []
    for (why, how), group in groupby(what_would_change(decision), key=lambda mend: (mend.why, mend.how)):
        mends = list(group)
        lines.append(f"{say_mend(tuple(mend.what for mend in mends), why, how)} Then {mends[-1].leads_to}.")
    return tuple(lines)


def _limits(decision: Decision) -> tuple[tuple[str, str], ...]:
    """Reason by reason, the questions that it holds for."""
    found: dict[str, list[str]] = {}
    for check in decision.checks:
        if check.limit_source:
            found.setdefault(check.limit_source, []).append(check.question)
    return tuple(("; ".join(questions), reason) for reason, questions in found.items())


def judged_table(decision: Decision) -> JudgedTable:
    """Every check with its shape in its hue, for the briefing document."""
    return JudgedTable("Checks", tuple(_judged(check) for check in decision.checks))


def _judged(check: Check) -> Judged:
    age = "" if check.age_s is None else f", {say_duration(check.age_s)} old"
    data = f"{check.source}{age}; " if check.source else ""
    source = f"{data}limit: {check.limit_source}" if check.limit_source else data.removesuffix("; ")
    state, word = state_of(check), str(check.verdict)
    return Judged(state, word, check.question, check.number, check.limit_text, source, check.why, check.mend)


def decision_page(decision: Decision, *, note: str, before: Decision | None = None) -> Page:
    """The page of a decision; ``note`` such as "Invented example", empty for none. The checks that are met are counted:
    the briefing document lists them all.
    """
    lead = f"{SIGNS[answer_state(decision)]} {decision.headline}"
    met = sum(check.verdict is Verdict.MET for check in decision.checks)
    rest = f"{met} of {len(decision.checks)} checks are met; the briefing document (--out) lists them all."
    return Page((lead,), note, (*_open_questions(decision, before), Sentences("", (rest,))), AID)


def _difference(better: bool | None, words: str) -> str:
    return words if better is None else f"{'Better' if better else 'Worse'}: {words}"
