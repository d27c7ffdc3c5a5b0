"""What would make it go, what changed since, and a decision kept as JSON."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decision.decision_cases import (
    ALL_LIMITS,
    HOUR_S,
    LEAST,
    NUMBERS,
    QUESTIONS,
    SELDOM,
    counted,
    go_facts,
    of_forecast,
    rule,
)
from pappus.decision import (
    Answer,
    Decision,
    Difference,
    Fact,
    Facts,
    differences,
    from_json,
    judge,
    missing,
    to_json,
    what_would_change,
)
from pappus.errors import BadFile
from pappus.rules import Verdict


def judged(**other: Any) -> Decision:
    return judge(go_facts(**other), ALL_LIMITS)


def words(before: Decision, now: Decision) -> list[str]:
    return [difference.words for difference in differences(before, now)]


def test_nothing_would_change_a_go() -> None:
    assert what_would_change(judged()) == ()


def test_each_mend_says_number_limit_gap_and_way() -> None:
    decision = judged(
        reaches_wanted=counted(1240, hint="30.1 km is reached with 80 %"), surface_wind_m_s=of_forecast(7.4),
        airspace=missing("no airspace file"),
    )  # fmt: skip
    assert [(mend.name, mend.mends, mend.leads_to, mend.words) for mend in what_would_change(decision)] == [
        (
            "reaches_wanted", "changing the plan", Answer.WAIT,
            "Chance to reach the wanted height 62 % (60 to 64 %), at least 80 %: by 16 points below the limit. A "
            "lighter train, a larger envelope or less gas; less gas climbs slower and drifts farther; 30.1 km is "
            "reached with 80 %.",
        ),
        (
            "surface_wind_m_s", "waiting", Answer.WAIT,
            "Surface wind 7.4 m/s (14.4 kt), at most 6.0 m/s (11.7 kt): by 1.4 m/s (2.7 kt) above the limit. Wait "
            "until it drops; the crew's own limit and local rules may be lower.",
        ),
        (
            "airspace", "more data", Answer.GO,
            "Chance to enter airspace without a permission cannot tell, at most 1 %: no airspace file. Bring the "
            "airspace of the area, of today.",
        ),
    ]  # fmt: skip


@given(data=st.data())
@settings(max_examples=60)
def test_the_mends_lead_where_they_say(data: st.DataObject) -> None:
    """Mended one after the other, the answer is the one that was said."""
    bad = {
        **{name: counted(1000) for name in (*LEAST, *SELDOM)},
        **{name: missing("gone") for name in NUMBERS},
        "sun_elevation_deg": of_forecast(-20.0), "visibility_m": of_forecast(100.0), "gust_m_s": of_forecast(30.0),
    }  # fmt: skip
    names = data.draw(st.lists(st.sampled_from(sorted(bad)), unique=True, min_size=1))
    facts = go_facts(**{name: bad[name] for name in names})
    good = go_facts()
    for mend in what_would_change(judge(facts, ALL_LIMITS)):
        facts = replace(facts, **{mend.name: getattr(good, mend.name)})
        assert judge(facts, ALL_LIMITS).answer is mend.leads_to
    assert judge(facts, ALL_LIMITS).answer is Answer.GO


def test_the_gap_closes_the_limit() -> None:
    """A number moved by the gap that the words name meets its limit."""
    decision = judged(surface_wind_m_s=of_forecast(7.4))
    assert decision.checks[0].why == "by 1.4 m/s (2.7 kt) above the limit"
    assert judged(surface_wind_m_s=of_forecast(7.4 - 1.4)).answer is Answer.GO


def test_no_difference_to_itself() -> None:
    assert differences(judged(), judged()) == ()


def test_a_changed_answer_comes_first_then_what_got_worse() -> None:
    before = judged(airspace=missing("no airspace file"), gust_m_s=of_forecast(5.0))
    now = judged(surface_wind_m_s=of_forecast(7.4), built_up=counted(900), gust_m_s=of_forecast(6.0))
    found = differences(before, now)
    assert [(one.name, one.better) for one in found] == [
        ("answer", False), ("built_up", False), ("surface_wind_m_s", False), ("airspace", True), ("gust_m_s", False),
    ]  # fmt: skip
    assert found[0].words.startswith("No-go, was wait: chance to land among buildings 45 %")
    assert found[2].words == (
        "Surface wind not met, was met; 7.4 m/s (14.4 kt), was 3.0 m/s (5.8 kt): by 1.4 m/s (2.7 kt) above the limit."
    )
    assert (
        found[3].words
        == "Chance to enter airspace without a permission met, was cannot tell; 0 % (0 to 0.18 %), was not known."
    )
    assert found[4].words == "Gusts 6.0 m/s (11.7 kt), was 5.0 m/s (9.7 kt)."


def test_what_reads_the_same_is_no_difference() -> None:
    before = judged(gust_m_s=of_forecast(5.01), drift_m=of_forecast(60_010.0), water=counted(100))
    assert words(before, judged(gust_m_s=of_forecast(5.04), drift_m=of_forecast(60_040.0), water=counted(100))) == []
    assert words(before, judged(gust_m_s=of_forecast(5.06), drift_m=of_forecast(60_010.0), water=counted(100))) == [
        "Gusts 5.1 m/s (9.8 kt), was 5.0 m/s (9.7 kt)."
    ]


def test_a_change_within_the_spread_says_so_and_stands_last() -> None:
    before, now = judged(water=counted(100), drive_time_s=of_forecast(3000.0)), judged(water=counted(108))
    assert [one.name for one in differences(before, now)] == ["drive_time_s", "water"]
    last = differences(before, now)[-1]
    assert last.better is None
    assert last.words == "Chance to land in water 5.4 % (4.5 to 6.5 %), was 5 % (4.1 to 6 %): no more than the spread."
    far = differences(judged(water=counted(40)), judged(water=counted(100)))
    assert far == (Difference("water", False, "Chance to land in water 5 % (4.1 to 6 %), was 2 % (1.4 to 2.7 %)."),)


def test_more_of_what_is_asked_for_is_better() -> None:
    (one,) = differences(judged(visibility_m=of_forecast(9e3)), judged(visibility_m=of_forecast(20e3)))
    assert one.better is True
    (one,) = differences(judged(reaches_wanted=counted(1990)), judged(reaches_wanted=counted(1800)))
    assert one.better is False


def test_the_forecast_grows_older_without_being_news() -> None:
    def of_run(run: str, hours: float) -> Decision:
        return judged(forecast_age_s=Fact(hours * HOUR_S, source=run))

    assert words(of_run("run 00Z", 5.0), of_run("run 00Z", 7.0)) == []
    assert words(of_run("run 00Z", 11.0), of_run("run 06Z", 6.0)) == ["The forecast is run 06Z, was run 00Z."]
    assert words(of_run("run 00Z", 11.0), of_run("run 00Z", 30.0))[0].startswith("Wait, was go: age of the forecast")


def test_limits_rules_and_questions_that_came_or_went_are_named() -> None:
    before = judge(go_facts(), replace(ALL_LIMITS, drift_most_m=None, water_most=0.2))
    now = judge(go_facts(rules=(rule(Verdict.MET, "example.2"),)), replace(ALL_LIMITS, drive_time_most_s=None))
    assert sorted(words(before, now)) == [
        "A rule: asked now, met (2).",
        "A rule: no longer asked, was met.",
        "Chance to land in water: limit at most 10 %, was at most 20 %.",
        "Drift from release to landing: asked now, met (60.0 km (37.3 mi)).",
        "Drive to the landing: no longer asked, was met.",
    ]


def test_another_reason_for_not_knowing_is_named() -> None:
    before, now = judged(airspace=missing("no file")), judged(airspace=missing("the file could not be read"))
    assert words(before, now) == [
        "Chance to enter airspace without a permission still cannot be told: the file could not be read."
    ]


CASES = [
    judged(), judge(Facts(), ALL_LIMITS), judged(water=counted(900, place_deg=(46.5, -114.25))),
    judged(rules=(rule(Verdict.NOT_MET, why="as found"),), gust_m_s=missing("no gusts")),
]  # fmt: skip


@pytest.mark.parametrize("decision", CASES)
def test_a_decision_comes_back_from_json(decision: Decision) -> None:
    text = json.dumps(to_json(decision), allow_nan=False)
    assert from_json(json.loads(text)) == decision
    assert differences(from_json(json.loads(text)), decision) == ()


@pytest.mark.parametrize("version", [0, 2, "1", None, True])
def test_another_form_is_refused_by_name(version: object) -> None:
    values = {**to_json(judged()), "version": version}
    with pytest.raises(BadFile, match=r"decision\.version = .*: this program reads version 1"):
        from_json(values)


@pytest.mark.parametrize(
    ("key", "value", "field"),
    [
        ("verdict", "green", "verdict"), ("value", "3", "value"), ("high", float("nan"), "high"),
        ("mends", "luck", "mends"), ("place_deg", [1.0], "place_deg"), ("place_deg", [None, 2.0], "place_deg"),
        ("question", None, "question"),
    ],
)  # fmt: skip
def test_a_damaged_check_names_its_key(key: str, value: object, field: str) -> None:
    values = json.loads(json.dumps(to_json(judged())))
    values["checks"][3][key] = value
    with pytest.raises(BadFile, match=rf"decision\.checks\[3\]\.{field}"):
        from_json(values)


@pytest.mark.parametrize("key", ["version", "answer", "headline", "checks"])
def test_a_missing_key_is_named(key: str) -> None:
    values = to_json(judged())
    del values[key]
    with pytest.raises(BadFile, match=rf"decision\.{key}"):
        from_json(values)
    assert set(QUESTIONS) < {check.name for check in judged().checks}
