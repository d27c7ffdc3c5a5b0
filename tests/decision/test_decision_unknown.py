"""Unknown is never green: no set of missing facts gives go, and nothing that gets worse makes the answer better."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decision.decision_cases import (
    ALL_LIMITS,
    FLIGHTS,
    HOUR_S,
    LEAST,
    NUMBERS,
    QUESTIONS,
    SELDOM,
    WORSE_WHEN_LESS,
    counted,
    fact_names,
    go_facts,
    of_forecast,
    rule,
)
from pappus.decision import Answer, Fact, Facts, GoLimits, judge, missing
from pappus.rules import Verdict

ORDER = list(Answer)
GROUPS = (
    ("reaches_wanted",), ("lands_acceptably", "water"), ("built_up", "road", "rail", "power_line"),
    ("keep_out", "leaves_permit_area", "abroad"), ("airspace",), ("casualty_expectation",),
    ("surface_wind_m_s", "gust_m_s"), ("cloud_fraction", "visibility_m", "rain"), ("sun_elevation_deg",),
    ("forecast_age_s",), ("drive_time_s", "drift_m"), ("unknown_share",),
)  # fmt: skip
SPANS = {
    "casualty_expectation": 3e-4, "surface_wind_m_s": 15.0, "gust_m_s": 25.0, "cloud_fraction": 1.0,
    "visibility_m": 30e3, "rain": 1e-3, "sun_elevation_deg": 80.0, "forecast_age_s": 72 * HOUR_S,
    "drive_time_s": 5 * HOUR_S, "drift_m": 300e3,
}  # fmt: skip


def without(facts: Facts, names: tuple[str, ...] | set[str]) -> Facts:
    return replace(facts, **{name: missing(f"no {name}") for name in names})


def test_no_subset_of_groups_with_a_missing_fact_is_go() -> None:
    """All 4096 subsets of the twelve groups."""
    assert sorted(name for group in GROUPS for name in group) == sorted(fact_names())
    answers = {}
    for kept in product((True, False), repeat=len(GROUPS)):
        gone = {name for group, keep in zip(GROUPS, kept, strict=True) if not keep for name in group}
        decision = judge(without(go_facts(), gone), ALL_LIMITS)
        unknown = {check.name for check in decision.checks if check.verdict is Verdict.CANNOT_TELL}
        assert gone <= unknown
        answers[kept] = decision.answer
    assert [kept for kept, answer in answers.items() if answer is Answer.GO] == [(True,) * len(GROUPS)]


def test_one_and_two_missing_facts_are_named_and_not_go() -> None:
    names = fact_names()
    for gone in [*combinations(names, 1), *combinations(names, 2)]:
        decision = judge(without(go_facts(), gone), ALL_LIMITS)
        assert decision.answer is Answer.WAIT, gone
        said = {check.name: check for check in decision.checks}
        for name in gone:
            check = said[name]
            assert (check.verdict, check.why, check.number_text) == (Verdict.CANNOT_TELL, f"no {name}", "–")
            assert check.mends == "more data"


@given(data=st.data())
@settings(max_examples=150)
def test_no_values_with_a_missing_fact_give_go(data: st.DataObject) -> None:
    facts = data.draw(any_facts())
    gone = data.draw(st.sets(st.sampled_from(fact_names()), min_size=1))
    assert judge(without(facts, gone), ALL_LIMITS).answer is not Answer.GO
    # a plan that asks only about what is missing does not become go by asking less
    asked = {limit: getattr(ALL_LIMITS, limit) if name in gone else None for name, limit in QUESTIONS.items()}
    assert judge(without(facts, gone), GoLimits(**asked)).answer is not Answer.GO


def test_no_rule_checked_and_nothing_asked_is_not_go() -> None:
    nothing = GoLimits(**{field.name: None for field in fields(GoLimits)})
    assert judge(go_facts(rules=()), nothing).answer is Answer.WAIT
    assert judge(Facts(), nothing).headline == "Wait: cannot tell rules: no rule was checked."
    assert judge(go_facts(), nothing).answer is Answer.GO


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("name", NUMBERS)
def test_a_number_that_is_not_finite_is_not_known(name: str, value: float) -> None:
    decision = judge(go_facts(**{name: of_forecast(value)}), ALL_LIMITS)
    assert decision.answer is Answer.WAIT
    assert decision.checks[0].why == "the number is not finite"


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("airspace", "no airspace file is packed"),
        ("cloud_fraction", "the forecast has no cloud cover"),
        ("lands_acceptably", "no terrain: the landing height is not known"),
        ("forecast_age_s", "the winds do not say when they were issued"),
    ],
)
def test_a_gap_is_a_cannot_tell_with_its_reason_in_the_headline(name: str, why: str) -> None:
    decision = judge(go_facts(**{name: missing(why)}), ALL_LIMITS)
    assert decision.answer is Answer.WAIT
    assert decision.headline.startswith("Wait: cannot tell ")
    assert decision.headline.endswith(f": {why}.")


def test_a_stale_forecast_makes_what_rests_on_it_unknown() -> None:
    """Met checks only: what is broken with old winds stays broken. A wind measured at the site is not old."""
    old = 31 * HOUR_S
    facts = go_facts(
        forecast_age_s=Fact(old), surface_wind_m_s=Fact(3.0, source="anemometer at the site", age_s=60.0),
        gust_m_s=Fact(5.0), water=counted(1900), cloud_fraction=Fact(0.2, age_s=old),
    )  # fmt: skip
    checks = {check.name: check for check in judge(facts, ALL_LIMITS).checks}
    assert checks["forecast_age_s"].verdict is Verdict.NOT_MET
    assert checks["surface_wind_m_s"].verdict is Verdict.MET
    assert checks["sun_elevation_deg"].verdict is Verdict.MET
    assert checks["water"].verdict is Verdict.NOT_MET
    for name in ("gust_m_s", "cloud_fraction"):
        assert checks[name].verdict is Verdict.CANNOT_TELL
        assert checks[name].why == "it rests on data 31 h 00 min old, limit 24 h 00 min"
        assert checks[name].mend == "Fetch a newer run"
    fresh = judge(facts, replace(ALL_LIMITS, forecast_age_most_s=None))
    assert {check.name for check in fresh.checks if check.verdict is not Verdict.MET} == {"water"}


@st.composite
def any_facts(draw: st.DrawFn) -> Facts:
    """Chances around and on both sides of their limits, numbers from none to far over."""
    unknown = draw(st.sampled_from((0, 1, 20, 120)))
    values: dict[str, Fact] = {name: counted(draw(st.integers(1400, FLIGHTS - unknown))) for name in LEAST}
    values |= {name: counted(draw(st.sampled_from((0, 1, 5, 9, 20, 39, 180, 400)))) for name in SELDOM}
    for name, span in SPANS.items():
        values[name] = of_forecast(draw(st.floats(0.0, span)))
    verdicts = draw(st.lists(st.sampled_from(list(Verdict)), min_size=1, max_size=3))
    rules = tuple(rule(verdict, f"example.{number}") for number, verdict in enumerate(verdicts))
    return go_facts(**values, unknown_share=counted(unknown), rules=rules)


def events(fact: Fact) -> int:
    assert isinstance(fact.value, tuple)
    return round(fact.value.p * FLIGHTS)


@st.composite
def worse_pair(draw: st.DrawFn) -> tuple[Facts, Facts]:
    """Facts, and the same with one thing worse."""
    facts = draw(any_facts())
    name = draw(st.sampled_from([*fact_names(), "rules", "age"]))
    if name == "rules":
        first, *others = facts.rules
        order = [Verdict.MET, Verdict.CANNOT_TELL, Verdict.NOT_MET]
        later = draw(st.sampled_from(order[order.index(first.verdict) :]))
        return facts, replace(facts, rules=(replace(first, verdict=later), *others))
    if name == "age":
        one = draw(st.sampled_from([*SELDOM, "gust_m_s"]))
        fact: Fact = getattr(facts, one)
        return facts, replace(facts, **{one: replace(fact, age_s=draw(st.floats(3.0 * HOUR_S, 90.0 * HOUR_S)))})
    fact = getattr(facts, name)
    if name == "unknown_share":
        # the flights that are lost from view come from those that did well
        most = min(FLIGHTS - 400 - events(fact), *(events(getattr(facts, one)) for one in LEAST))
        lost = draw(st.integers(0, most))
        fewer = {one: counted(events(getattr(facts, one)) - lost) for one in LEAST}
        return facts, replace(facts, unknown_share=counted(events(fact) + lost), **fewer)
    if name in LEAST:
        return facts, replace(facts, **{name: counted(draw(st.integers(0, events(fact))))})
    if name in SELDOM:
        most = FLIGHTS - events(facts.unknown_share)
        return facts, replace(facts, **{name: counted(draw(st.integers(events(fact), most)))})
    now = float(fact.value)
    low, high = (0.0, now) if name in WORSE_WHEN_LESS else (now, 1.0 if name == "cloud_fraction" else 2 * SPANS[name])
    return facts, replace(facts, **{name: replace(fact, value=draw(st.floats(low, high)))})


@given(pair=worse_pair())
@settings(max_examples=400)
def test_nothing_that_gets_worse_makes_the_answer_better(pair: tuple[Facts, Facts]) -> None:
    before, after = (judge(facts, ALL_LIMITS).answer for facts in pair)
    assert ORDER.index(after) <= ORDER.index(before)


@given(facts=any_facts(), name=st.sampled_from(list(QUESTIONS)), share=st.floats(0.0, 1.0))
@settings(max_examples=150)
def test_a_stricter_limit_makes_no_answer_better(facts: Facts, name: str, share: float) -> None:
    limit = QUESTIONS[name]
    asked = getattr(ALL_LIMITS, limit)
    stricter = asked + share * (0.2 if name in LEAST else 60.0) if "_least" in limit else asked * share
    before, after = judge(facts, ALL_LIMITS), judge(facts, replace(ALL_LIMITS, **{limit: stricter}))
    assert ORDER.index(after.answer) <= ORDER.index(before.answer)
    assert judge(facts, replace(ALL_LIMITS, **{limit: None})).answer in ORDER[ORDER.index(before.answer) :]
