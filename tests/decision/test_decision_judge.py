"""Go, wait and no-go: what each kind of check does to the answer, in which order, in which words."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime

import pytest

from decision.decision_cases import (
    ALL_LIMITS,
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
from pappus.decision import LIMIT_REASONS, Answer, Check, Decision, Fact, Facts, GoLimits, judge, missing
from pappus.errors import BadInput, OutOfRange
from pappus.landing import Share, share
from pappus.rules import PackageFact, RuleFacts, RuleProfile, Verdict, check_rules

TIME_MENDS = ("surface_wind_m_s", "gust_m_s", "cloud_fraction", "visibility_m", "rain", "sun_elevation_deg")
DATA_MENDS = ("forecast_age_s", "unknown_share")


def the(decision: Decision, name: str) -> Check:
    (check,) = (check for check in decision.checks if check.name == name)
    return check


def broken(name: str) -> Fact:
    if name in LEAST:
        return counted(20)
    if name in SELDOM or name == "unknown_share":
        return counted(1980)
    worse = {"visibility_m": 100.0, "sun_elevation_deg": -20.0, "cloud_fraction": 1.0, "drift_m": 900e3}
    return of_forecast(worse.get(name, 1e6))


def test_everything_known_and_met_is_go() -> None:
    decision = judge(go_facts(), ALL_LIMITS)
    assert decision.answer is Answer.GO
    assert len(decision.checks) == len(QUESTIONS) + 1
    assert decision.headline == "Go: all 23 checks are met."
    assert {check.why + check.mend for check in decision.checks} == {""}


def test_each_question_has_one_limit_and_one_reason() -> None:
    assert set(fact_names()) == set(QUESTIONS)
    limits = {field.name for field in fields(GoLimits)}
    assert limits == set(QUESTIONS.values()) == set(LIMIT_REASONS)


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_broken_limit_is_not_go_and_says_so_first(name: str) -> None:
    decision = judge(go_facts(**{name: broken(name)}), ALL_LIMITS)
    first = decision.checks[0]
    assert (first.name, first.verdict) == (name, Verdict.NOT_MET)
    assert first.why.endswith("the limit")
    assert first.mend
    waits = name in TIME_MENDS + DATA_MENDS
    assert decision.answer is (Answer.WAIT if waits else Answer.NO_GO)
    assert first.mends == ("waiting" if name in TIME_MENDS else "more data" if waits else "changing the plan")
    assert first.question[1:] in decision.headline
    assert first.number in decision.headline


@pytest.mark.parametrize("name", QUESTIONS)
def test_what_the_plan_does_not_ask_is_left_out(name: str) -> None:
    decision = judge(go_facts(**{name: broken(name)}), replace(ALL_LIMITS, **{QUESTIONS[name]: None}))
    assert name not in [check.name for check in decision.checks]
    # flights that do not land count against every chance, also when their own number is not asked
    assert decision.answer is (Answer.WAIT if name == "unknown_share" else Answer.GO)


@pytest.mark.parametrize("name", NUMBERS)
def test_a_number_on_its_limit_meets_it_and_beside_it_reads_apart(name: str) -> None:
    limit = getattr(ALL_LIMITS, QUESTIONS[name])
    step = 1e-6 * max(abs(limit), 1e-6)
    worse = limit - step if name in WORSE_WHEN_LESS else limit + step
    at = the(judge(go_facts(**{name: of_forecast(limit)}), ALL_LIMITS), name)
    beyond = the(judge(go_facts(**{name: of_forecast(worse)}), ALL_LIMITS), name)
    assert (at.verdict, beyond.verdict) == (Verdict.MET, Verdict.NOT_MET)
    assert at.limit_text.endswith(at.number_text)
    assert beyond.number_text == f"just {'under' if name in WORSE_WHEN_LESS else 'over'} {at.number_text}"


def test_what_hurts_people_stands_before_what_disappoints() -> None:
    facts = go_facts(
        reaches_wanted=counted(20), water=counted(900), built_up=counted(900), surface_wind_m_s=of_forecast(9.0),
        airspace=missing("no airspace file"), rules=(rule(Verdict.NOT_MET),),
    )  # fmt: skip
    decision = judge(facts, ALL_LIMITS)
    names = [check.name for check in decision.checks[:6]]
    assert names == ["built_up", "example.1", "water", "reaches_wanted", "surface_wind_m_s", "airspace"]
    assert decision.answer is Answer.NO_GO
    assert decision.headline == (
        "No-go: chance to land among buildings 45 % (43 to 47 %), limit at most 1 %. And 5 more."
    )


def test_the_line_for_wind() -> None:
    decision = judge(go_facts(surface_wind_m_s=of_forecast(7.4)), ALL_LIMITS)
    assert decision.headline == "Wait: surface wind 7.4 m/s (14.4 kt), limit at most 6.0 m/s (11.7 kt)."
    check = decision.checks[0]
    assert (check.why, check.mends) == ("by 1.4 m/s (2.7 kt) above the limit", "waiting")


def test_source_age_place_and_interval_are_kept() -> None:
    fact = Fact(share(3, 2000), source="map of 2026-11", age_s=60.0, place_deg=(46.9, -113.9))
    check = the(judge(go_facts(water=fact), ALL_LIMITS), "water")
    assert (check.source, check.age_s, check.place_deg) == ("map of 2026-11", 60.0, (46.9, -113.9))
    assert (check.value, check.low, check.high) == fact.value[:3]
    assert check.limit_source == LIMIT_REASONS["water_most"]
    other = the(judge(go_facts(water=fact), replace(ALL_LIMITS, water_most=0.2)), "water")
    assert other.limit_source == "set by the plan"


def test_a_spread_that_reaches_over_the_limit_cannot_be_told() -> None:
    def verdict(low: float, high: float) -> Verdict:
        return the(judge(go_facts(gust_m_s=of_forecast(9.0, low=low, high=high)), ALL_LIMITS), "gust_m_s").verdict

    assert verdict(7.0, 10.0) is Verdict.MET
    assert verdict(7.0, 10.1) is Verdict.CANNOT_TELL
    over = judge(go_facts(gust_m_s=of_forecast(12.0, low=10.1, high=14.0)), ALL_LIMITS)
    assert over.checks[0].verdict is Verdict.NOT_MET
    assert over.checks[0].number == "12.0 m/s (23.3 kt) (10.1 m/s (19.6 kt) to 14.0 m/s (27.2 kt))"


@pytest.mark.parametrize(
    ("verdict", "answer"),
    [(Verdict.MET, Answer.GO), (Verdict.CANNOT_TELL, Answer.WAIT), (Verdict.NOT_MET, Answer.NO_GO)],
)
def test_a_rule_weighs_as_a_check(verdict: Verdict, answer: Answer) -> None:
    decision = judge(go_facts(rules=(rule(verdict, why="as found"),)), ALL_LIMITS)
    assert decision.answer is answer
    check = the(decision, "example.1")
    assert (check.verdict, check.number_text, check.limit_text) == (verdict, "2", "at most 3")
    assert check.limit_source == "Example 1, 2026, common practice"


def test_weather_that_a_rule_forbids_is_waited_for() -> None:
    """The rules on cloud and visibility of both sets: 14 CFR 101.33(b), (c) and ICAO Annex 2, free balloons, 3.1."""
    now = datetime(2026, 6, 1, 6, tzinfo=UTC)
    for base, ids in (("us", {"us.101.33.b", "us.101.33.c"}), ("icao", {"icao.3.1"})):
        profile = RuleProfile(base, base, base, "from memory", "2026", "test")  # type: ignore[arg-type]  # str in a loop
        heavy = (PackageFact("box", 7.0, 0.04),)
        facts = RuleFacts(packages=heavy, cloud_fraction=0.9, visibility_m=900.0)
        verdicts = [verdict for verdict in check_rules(profile, facts, now) if verdict.rule_id in ids]
        assert {verdict.rule_id for verdict in verdicts} == ids
        assert {verdict.verdict for verdict in verdicts} == {Verdict.NOT_MET}
        decision = judge(go_facts(rules=tuple(verdicts)), ALL_LIMITS)
        assert decision.answer is Answer.WAIT
        assert decision.checks[0].mends == "waiting"


def test_yes_and_no_are_chances_of_one_and_nought() -> None:
    assert the(judge(go_facts(airspace=of_forecast(False)), ALL_LIMITS), "airspace").verdict is Verdict.MET
    entered = judge(go_facts(airspace=of_forecast(True)), ALL_LIMITS)
    assert entered.answer is Answer.NO_GO
    assert entered.headline.startswith("No-go: chance to enter airspace without a permission 100 %")


def test_a_fact_of_the_wrong_kind_or_range_is_refused() -> None:
    with pytest.raises(BadInput, match="surface_wind_m_s"):
        judge(go_facts(surface_wind_m_s=counted(3)), ALL_LIMITS)
    with pytest.raises(BadInput, match="drift_m"):
        judge(go_facts(drift_m=of_forecast(True)), ALL_LIMITS)
    with pytest.raises(OutOfRange, match="gust_m_s"):
        judge(go_facts(gust_m_s=of_forecast(-1.0)), ALL_LIMITS)
    with pytest.raises(OutOfRange, match="water"):
        judge(go_facts(water=of_forecast(1.2)), ALL_LIMITS)
    with pytest.raises(OutOfRange, match="unknown_share"):
        judge(go_facts(unknown_share=of_forecast(-0.1)), replace(ALL_LIMITS, unknown_share_most=None))
    with pytest.raises(OutOfRange):
        Fact(Share(0.5, 0.6, 0.7))
    with pytest.raises(OutOfRange):
        Fact(0.5, low=0.6, high=0.7)
    with pytest.raises(OutOfRange, match="age_s"):
        Fact(0.5, age_s=-1.0)


@pytest.mark.parametrize(
    ("name", "value"),
    [("water_most", 1.1), ("gust_most_m_s", -1.0), ("sun_elevation_least_deg", 91.0), ("drift_most_m", float("inf"))],
)
def test_a_limit_that_is_none_is_refused(name: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=name):
        GoLimits(**{name: value})


def test_defaults_are_those_of_the_design() -> None:
    """As agreed for the plan file; rain 0.1 mm/h is 0.1 / 3600 kg m-2 s-1 (1 mm of water is 1 kg/m2)."""
    limits = GoLimits()
    assert limits.rain_most == pytest.approx(2.78e-5, rel=1e-3)
    assert limits.forecast_age_most_s == 24 * HOUR_S
    assert [name for name in QUESTIONS.values() if getattr(limits, name) is None] == [
        "sun_elevation_least_deg", "drive_time_most_s", "drift_most_m",
    ]  # fmt: skip


def test_nothing_known_is_a_wait_that_names_every_gap() -> None:
    decision = judge(Facts(), GoLimits())
    assert decision.answer is Answer.WAIT
    assert {check.verdict for check in decision.checks} == {Verdict.CANNOT_TELL}
    assert decision.headline.startswith("Wait: cannot tell flights that do not land in the data: it was not looked at.")
