"""A cell that is opened: flown often enough for its limits, with the area of the brief, and with what would mend it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from columns import EPOCH, PRIOR
from pappus.decision import Answer, GoLimits
from pappus.flight_train import FillWish
from pappus.landing import Share
from pappus.preflight import Around, LaunchWindow, better_neighbours, flights_wanted, open_cell
from pappus.rules import Verdict
from preflight.windows import NOW, at_hours, choices, example_plan, flown, forecast

A, B = example_plan().sites
NOTHING_ASKED = GoLimits(**dict.fromkeys(vars(GoLimits()), None))
DRAWN = Around(zones_given=True)


def few(flights: int) -> object:
    return replace(example_plan(), ensemble=replace(example_plan().ensemble, flights=flights))


def one_cell(limits: GoLimits, *climbs: float, flights: int = 60) -> LaunchWindow:
    fills = tuple((f"{climb:g} m/s", FillWish("climb", climb)) for climb in climbs or (5.0,))
    return flown(choices(2.0, sites=(A,), fills=fills), limits=limits, flights=flights, around=DRAWN)


class TestEnoughFlights:
    """A limit below 3/n is never met by n flights."""

    def test_none_of_a_few_flights_does_not_meet_a_small_limit(self) -> None:
        limits = replace(NOTHING_ASKED, unknown_share_most=0.01)
        window = one_cell(limits)
        cell = window.cells[0]
        assert cell.unknown == 0
        check = next(one for one in cell.decision.checks if one.name == "unknown_share")
        assert check.verdict is Verdict.CANNOT_TELL
        assert check.mends == "more flights"
        # 1 - (1 - p)^n = 0.975 at p = 0.01: n = 368 (Clopper & Pearson 1934, k = 0)
        assert 368 <= flights_wanted(cell, limits) <= 410

    def test_the_opened_cell_has_as_many_as_it_takes(self) -> None:
        limits = replace(NOTHING_ASKED, unknown_share_most=0.01)
        window = one_cell(limits)
        opened = open_cell(
            window, window.cells[0], few(60), [forecast()], PRIOR, now=NOW, around=DRAWN, most_flights=2_000
        )
        check = next(one for one in opened.cell.decision.checks if one.name == "unknown_share")
        assert check.verdict is Verdict.MET
        assert opened.cell.flights >= 368
        assert flights_wanted(opened.cell, limits) == 0
        assert opened.briefing is not None
        # the areas are those of the very flights that were judged
        assert opened.briefing.reaches_wanted == opened.cell.facts.reaches_wanted.value
        assert opened.briefing.area.flights == opened.cell.flights
        assert opened.briefing.drift_m == opened.cell.drift_m

    def test_no_more_than_allowed(self) -> None:
        limits = replace(NOTHING_ASKED, unknown_share_most=0.0005)
        window = one_cell(limits)
        assert flights_wanted(window.cells[0], limits) > 7_000
        opened = open_cell(window, window.cells[0], few(60), [forecast()], PRIOR, now=NOW, most_flights=100)
        assert opened.cell.flights == 100
        assert opened.cell.decision.answer is not Answer.GO

    def test_members_cannot_be_made_up_for_by_flights(self) -> None:
        limits = replace(NOTHING_ASKED, reach_wanted_least=0.8)
        cells = flown(choices(2.0, sites=(A,)), winds=[forecast(3)], limits=limits, flights=60).cells
        for cell in cells:
            share = cell.facts.reaches_wanted.value
            assert isinstance(share, Share)
            if share.limit == "members":
                assert flights_wanted(cell, limits) == 0


class TestMends:
    """From no-go to a better answer."""

    def test_the_window_knows_a_fill_that_is_better(self) -> None:
        # little gas reaches high and drifts far; with much gas the wanted 31 km are out of reach
        limits = replace(NOTHING_ASKED, reach_wanted_least=0.6)
        window = one_cell(limits, 4.0, 9.0)
        slow, fast = window.cells
        assert fast.decision.answer is Answer.NO_GO
        assert better_neighbours(window, fast) == (slow,)
        assert better_neighbours(window, slow) == ()
        opened = open_cell(window, fast, few(60), [forecast()], PRIOR, now=NOW, most_flights=60)
        assert opened.others == (slow,)
        assert opened.mends[0].name == "reaches_wanted"
        assert opened.mends[0].mends == "changing the plan"

    def test_the_fewest_choices_and_the_nearest_time_come_first(self) -> None:
        limits = replace(NOTHING_ASKED, reach_wanted_least=0.6)
        fills = (("4 m/s", FillWish("climb", 4.0)), ("9 m/s", FillWish("climb", 9.0)))
        window = flown(choices(1.0, 2.0, 4.0, sites=(A, B), fills=fills), limits=limits, flights=60)
        fast = window.cell("A", at_hours(2.0)[0], "9 m/s", "own")
        assert fast.decision.answer is Answer.NO_GO
        told = [
            (other.option.site.name, (other.option.release - EPOCH).total_seconds() / 3600.0)
            for other in better_neighbours(window, fast)
        ]
        # first the fill alone, then the fill and the time, then the fill and the site, then all three
        assert told == [("A", 2.0), ("A", 1.0), ("A", 4.0), ("B", 2.0), ("B", 1.0), ("B", 4.0)]

    def test_no_answer_is_better_than_waiting_where_no_rule_was_checked(self) -> None:
        limits = replace(NOTHING_ASKED, surface_wind_most_m_s=4.0)
        # the wind is 1 m/s more than the hour: it breaks the limit at 5 h
        window = flown(choices(1.0, 2.0, 5.0, sites=(A,)), limits=limits, flights=20)
        assert {cell.decision.answer for cell in window.cells} == {Answer.WAIT}
        assert better_neighbours(window, window.cells[-1]) == ()

    def test_a_cell_that_was_not_flown_is_opened_too(self) -> None:
        window = flown(choices(200.0, sites=(A,)), flights=20)
        opened = open_cell(window, window.cells[0], example_plan(), [forecast()], PRIOR, now=NOW)
        assert opened.briefing is None
        assert opened.mends
        assert opened.cell is window.cells[0]


@pytest.mark.parametrize("balloon_m", [8.0, 9.5])
def test_a_balloon_option_is_the_balloon_of_the_brief(balloon_m: float) -> None:
    plan = example_plan()
    balloon = replace(plan.flight_train.envelope, burst_diameter_m=balloon_m)
    options = replace(choices(2.0, sites=(A,), fills=(("five", FillWish("climb", 5.0)),)), balloons=(("it", balloon),))
    window = flown(options, flights=60, limits=NOTHING_ASKED)
    opened = open_cell(window, window.cells[0], few(60), [forecast()], PRIOR, now=NOW, most_flights=60)
    assert opened.briefing is not None
    assert opened.briefing.top_msl_m == window.cells[0].top_msl_m
    assert opened.briefing.plan.flight_train.envelope.burst_diameter_m == balloon_m
