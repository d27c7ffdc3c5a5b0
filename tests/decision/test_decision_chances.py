"""Chances against their limits: exact binomial intervals, unknown flights, few members, and how many flights decide."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from decision.decision_cases import ALL_LIMITS, FLIGHTS, counted, go_facts, of_forecast
from pappus.decision import MOST_FLIGHTS, Check, Fact, GoLimits, flights_needed, judge, missing
from pappus.errors import OutOfRange
from pappus.landing import Share, samples_for_zero_events, share
from pappus.rules import Verdict


def water(events: int, flights: int, limit: float, unknown: int = 0) -> Check:
    """Of ``flights``, so many land in water and so many nobody knows where."""
    facts = go_facts(
        water=counted(events, flights), unknown_share=counted(unknown, flights), flights=flights,
        lands_acceptably=counted(flights - unknown, flights),
    )  # fmt: skip
    checks = judge(facts, replace(ALL_LIMITS, water_most=limit)).checks
    return next(check for check in checks if check.name == "water")


@pytest.mark.parametrize(
    ("events", "flights", "low", "high"),
    [(0, 30, 0.0, 0.1157), (1, 100, 0.000253, 0.05446), (5, 100, 0.01643, 0.11283)],
)
def test_the_far_and_the_near_end_decide(events: int, flights: int, low: float, high: float) -> None:
    """Clopper & Pearson, Biometrika 26 (1934) 404-413; values computed with scipy 1.17.1."""
    step = 1e-4
    assert water(events, flights, high + step).verdict is Verdict.MET
    assert water(events, flights, high - step).verdict is Verdict.CANNOT_TELL
    if events:
        assert water(events, flights, low + step).verdict is Verdict.CANNOT_TELL
        assert water(events, flights, max(low - step, 0.0)).verdict is Verdict.NOT_MET


@pytest.mark.parametrize(("successes", "flights", "low", "high"), [(19, 20, 0.7513, 0.9987), (28, 30, 0.7793, 0.9918)])
def test_the_least_that_is_asked_looks_at_the_low_end(successes: int, flights: int, low: float, high: float) -> None:
    """The same source; with 20 flights 76 % is not told apart from 99 %."""

    def verdict(limit: float) -> Verdict:
        facts = go_facts(reaches_wanted=counted(successes, flights), flights=flights, unknown_share=counted(0, flights))
        checks = judge(facts, replace(ALL_LIMITS, reach_wanted_least=limit)).checks
        return next(check.verdict for check in checks if check.name == "reaches_wanted")

    assert verdict(low - 1e-3) is Verdict.MET
    assert verdict(low + 1e-3) is verdict(high - 1e-4) is Verdict.CANNOT_TELL
    assert verdict(high + 1e-4) is Verdict.NOT_MET


@pytest.mark.parametrize(("limit", "rule_of_three"), [(0.01, 299), (0.001, 2995), (1e-4, 29_956)])
def test_a_limit_below_three_over_n_is_never_met(limit: float, rule_of_three: int) -> None:
    """n >= ln 0.05 / ln(1 - p); 3/n: Hanley & Lippman-Hand, JAMA 249 (1983) 1743-1745, from memory.

    The interval leaves 2.5 % on a side and not 5 %, so it asks for 3.7/n.
    """
    assert samples_for_zero_events(limit) == rule_of_three
    assert water(0, rule_of_three - 1, limit).verdict is Verdict.CANNOT_TELL
    needed = flights_needed(limit)
    assert needed is not None
    assert needed > rule_of_three
    assert scipy.stats.binom.pmf(0, needed, limit) <= 0.025 < scipy.stats.binom.pmf(0, needed - 1, limit)
    assert needed * limit == pytest.approx(3.69, rel=0.01)


@pytest.mark.parametrize("limit", [0.1, 0.02, 0.01])
def test_the_flights_that_are_asked_for_decide(limit: float) -> None:
    needed = flights_needed(limit)
    assert needed is not None
    assert water(0, needed, limit).verdict is Verdict.MET
    short = water(0, needed - 1, limit)
    assert (short.verdict, short.mends) == (Verdict.CANNOT_TELL, "more flights")


def test_the_number_in_the_words_is_rounded_up() -> None:
    check = water(0, 250, 0.01)
    assert check.why == "250 flights leave it open"
    assert check.mend == "Fly about 370 flights, which decide if the share stays as it is"  # 368


@given(
    events=st.integers(0, 60), unknown=st.integers(0, 30), flights=st.sampled_from((60, 200, 1000)),
    limit=st.floats(0.001, 0.6),
)  # fmt: skip
@settings(max_examples=120)
def test_flights_needed_decide_by_the_exact_interval(events: int, unknown: int, flights: int, limit: float) -> None:
    """At the number found, and whole flights rounded against it, the interval of ``scipy.stats`` clears the limit."""
    unknown = min(unknown, flights - events)
    seen, unseen = events / flights, unknown / flights
    needed = flights_needed(limit, seen, unseen)
    if needed is None:
        return
    assert needed <= MOST_FLIGHTS
    if seen > limit:
        shown = scipy.stats.binomtest(math.floor(seen * needed + 1e-9), needed).proportion_ci(0.95, method="exact")
        assert shown.low > limit
    else:
        count = math.ceil((seen + unseen) * needed - 1e-9)
        assert scipy.stats.binomtest(count, needed).proportion_ci(0.95, method="exact").high <= limit + 1e-9


@pytest.mark.parametrize(("limit", "seen", "unknown"), [(0.75, 0.875, 0.0), (0.75, 0.5, 0.125), (0.75, 1.0, 0.0)])
def test_the_least_that_is_asked_is_a_question_about_the_others(limit: float, seen: float, unknown: float) -> None:
    needed = flights_needed(limit, seen, unknown, least=True)
    assert needed is not None
    assert needed == flights_needed(1.0 - limit, 1.0 - seen - unknown, unknown)


def test_no_number_of_flights_decides_what_lies_on_its_limit() -> None:
    assert flights_needed(0.01, 0.01) is None
    assert flights_needed(0.01, 0.0099) is None  # over a hundred thousand
    assert flights_needed(0.01, 0.005, 0.006) is None  # the unknown ones may be those
    assert flights_needed(0.0) is None  # never can not be shown
    check = water(200, 2000, 0.1)
    assert (check.verdict, check.mends) == (Verdict.CANNOT_TELL, "changing the plan")
    assert check.why == "it lies too near to the limit for 100,000 flights to decide"


@pytest.mark.parametrize("arguments", [(1.1,), (0.1, -0.1), (0.1, 0.5, 0.6)])
def test_shares_outside_their_range_are_refused(arguments: tuple[float, ...]) -> None:
    with pytest.raises(OutOfRange):
        flights_needed(*arguments)


@pytest.mark.parametrize(("events", "unknown"), [(0, 10), (4, 6), (20, 30)])
def test_unknown_flights_count_against_a_chance(events: int, unknown: int) -> None:
    """The far end is that of all of them as events (``scipy.stats.binomtest``)."""
    all_bad = scipy.stats.binomtest(events + unknown, FLIGHTS).proportion_ci(0.95, method="exact").high
    check = water(events, FLIGHTS, 0.5, unknown)
    assert check.high == pytest.approx(all_bad, abs=1e-9)
    assert check.low == share(events, FLIGHTS).low
    assert water(events, FLIGHTS, all_bad + 1e-6, unknown).verdict is Verdict.MET
    open_check = water(events, FLIGHTS, all_bad - 1e-6, unknown)
    assert open_check.verdict is Verdict.CANNOT_TELL


def test_what_the_unknown_flights_alone_leave_open_asks_for_data() -> None:
    check = water(0, FLIGHTS, 0.01, unknown=40)
    assert (check.verdict, check.mends) == (Verdict.CANNOT_TELL, "more data")
    assert check.why == "2 % of the flights are unknown and count against it"


def test_unknown_flights_may_all_have_landed_well() -> None:
    """1500 of 2000 land well and 200 nobody knows: 85 % is possible, so 80 % is not broken; without them it is."""

    def verdict(unknown: int) -> Check:
        facts = go_facts(lands_acceptably=counted(1500), unknown_share=counted(unknown))
        return next(check for check in judge(facts, ALL_LIMITS).checks if check.name == "lands_acceptably")

    assert verdict(0).verdict is Verdict.NOT_MET
    assert (verdict(200).verdict, verdict(200).mends) == (Verdict.CANNOT_TELL, "more data")


def test_unknown_flights_of_one_question_stand_for_that_question() -> None:
    facts = go_facts(airspace=counted(0, unknown=share(400, FLIGHTS)), unknown_share=counted(0))
    checks = {check.name: check for check in judge(facts, ALL_LIMITS).checks}
    assert checks["airspace"].verdict is Verdict.CANNOT_TELL
    assert checks["keep_out"].verdict is Verdict.MET


def test_without_the_number_of_unknown_flights_no_chance_is_met() -> None:
    limits = replace(ALL_LIMITS, unknown_share_most=None)
    checks = {check.name: check for check in judge(go_facts(unknown_share=missing("not counted")), limits).checks}
    assert checks["water"].verdict is Verdict.CANNOT_TELL
    assert checks["water"].high == 1.0
    assert checks["surface_wind_m_s"].verdict is Verdict.MET


def test_few_members_ask_for_data_and_not_for_flights() -> None:
    few = Share(0.005, 0.0, 0.02, "members")
    decision = judge(go_facts(built_up=of_forecast(few)), ALL_LIMITS)
    check = decision.checks[0]
    assert (check.name, check.verdict, check.mends) == ("built_up", Verdict.CANNOT_TELL, "more data")
    assert "members" in check.why
    # the same interval out of flights alone is a matter of flights
    many = judge(go_facts(built_up=of_forecast(few._replace(limit="draws"))), ALL_LIMITS).checks[0]
    assert many.mends == "more flights"


def test_members_and_unknown_flights_add_up() -> None:
    facts = go_facts(built_up=of_forecast(Share(0.005, 0.0, 0.02, "members")), unknown_share=counted(20))
    check = next(check for check in judge(facts, ALL_LIMITS).checks if check.name == "built_up")
    assert check.high == pytest.approx(0.02 + share(20, FLIGHTS).high)


def test_a_chance_that_is_only_a_number_is_judged_by_its_interval() -> None:
    def verdict(fact: Fact) -> Verdict:
        checks = judge(go_facts(water=fact), GoLimits()).checks
        return next(check.verdict for check in checks if check.name == "water")

    assert verdict(of_forecast(0.09)) is Verdict.MET
    assert verdict(of_forecast(0.09, low=0.05, high=0.12)) is Verdict.CANNOT_TELL
    assert verdict(of_forecast(0.12, low=0.11, high=0.14)) is Verdict.NOT_MET
