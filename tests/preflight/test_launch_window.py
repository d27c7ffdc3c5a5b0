"""The launch window: equal choices give equal counts, chance does not tell neighbours apart, nothing missing is go."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest

from columns import PRIOR
from pappus.airspace import AirspaceVolume, VerticalLimit, circle_points
from pappus.decision import Answer, GoLimits
from pappus.errors import BadInput, BadPlan
from pappus.flight_train import FillWish
from pappus.ground import Outline, Zone
from pappus.hazard import Surroundings
from pappus.landing import Share
from pappus.preflight import Around, LaunchCell, LaunchWindow, brief, launch_options, to_json, window_json
from pappus.preflight.window import _fly as fly_module
from pappus.preflight.window import _window as window_module
from pappus.rules import Permission, Verdict
from preflight.windows import FLIGHTS, NOW, at_hours, choices, example_plan, flown, forecast, seeded

A, B = example_plan().sites


def numbers(cell: LaunchCell) -> tuple[object, ...]:
    """What must be the same where the same was chosen."""
    assert cell.fill is not None
    return (
        cell.fill.gas_mol, cell.landed, cell.facts.reaches_wanted.value, cell.facts.sun_elevation_deg.value,
        cell.top_msl_m, cell.drift_m, cell.arrival_s, cell.touchdown_m_s, cell.landing_deg,
    )  # fmt: skip


def drift(cell: LaunchCell) -> float:
    assert cell.drift_m is not None
    return cell.drift_m.values[1]


@pytest.fixture(scope="module")
def window() -> LaunchWindow:
    return flown(choices(2.0, 3.0, 4.0))


class TestCommonRandomNumbers:
    """Two cells differ by what was chosen, not by chance."""

    def test_equal_choices_give_equal_counts(self) -> None:
        same = tuple((name, FillWish("climb", 5.0)) for name in ("one", "other"))
        twins = flown(choices(2.0, sites=(A, replace(A, name="twin")), fills=same)).cells
        assert len(twins) == 4
        assert len({numbers(cell) for cell in twins}) == 1

    def test_neighbours_differ_less_than_with_draws_of_their_own(self) -> None:
        fills = (("five", FillWish("climb", 5.0)), ("a touch more", FillWish("climb", 5.02)))
        common, own = [], []
        for seed in range(6):
            five, more = flown(choices(2.0, sites=(A,), fills=fills), plan=seeded(seed)).cells
            other = flown(choices(2.0, sites=(A,), fills=fills[1:]), plan=seeded(seed + 100)).cells[0]
            common.append(drift(more) - drift(five))
            own.append(drift(other) - drift(five))
        # medians of 120 flights scatter by kilometres, the hundredth part of the climb moves them by some hundred m
        assert np.std(common) < 0.2 * np.std(own)


class TestSameAnswerAsTheBrief:
    """One flight model, one way to fly it."""

    @pytest.mark.parametrize("members", [1, 3])
    def test_alone_it_has_the_very_flights_of_the_brief(self, members: int) -> None:
        older = forecast(members, seed=7)
        late = replace(older, field=replace(older.field, issued=older.field.issued - timedelta(hours=6)))
        winds = [forecast(members), late]
        plan = replace(example_plan(), ensemble=replace(example_plan().ensemble, flights=FLIGHTS))
        wish, release = FillWish("climb", 5.0), at_hours(2.5)[0]
        cell = flown(choices(2.5, sites=(A,), fills=(("five", wish),)), winds=winds).cells[0]
        told = brief(plan, winds, None, PRIOR, site_name="A", release=release, fill_wish=wish)
        assert len(told.runs) == len(cell.winds) == 2
        assert cell.facts.reaches_wanted.value == told.reaches_wanted
        assert cell.facts.unknown_share.value == told.unknown
        assert cell.top_msl_m == told.top_msl_m
        assert cell.arrival_s == told.arrival_s
        assert cell.drift_m == told.drift_m
        assert cell.fill == told.fill

    def test_among_others_it_agrees_within_what_the_flights_can_tell(self) -> None:
        plan = replace(example_plan(), ensemble=replace(example_plan().ensemble, flights=400))
        many = flown(choices(0.0, 2.5, 5.0), flights=400)
        for cell in many.cells[2:4]:
            told = brief(
                plan, [forecast()], None, PRIOR, site_name="A", release=cell.option.release,
                fill_wish=cell.option.fill,
            )  # fmt: skip
            share = cell.facts.reaches_wanted.value
            assert isinstance(share, Share)
            assert share.low <= told.reaches_wanted.p <= share.high
            assert told.drift_m is not None
            assert cell.drift_m is not None
            low, middle, high = told.drift_m.values
            # the standard error of a median is 1.25 of that of a mean; 90 % of a normal span 3.3 deviations
            error = 1.25 * (high - low) / 3.3 / np.sqrt(400)
            assert abs(cell.drift_m.values[1] - middle) < 3.0 * error


class TestOrder:
    """The order of the axes is for the reader alone."""

    def test_permuted_axes_give_the_same_cells(self, window: LaunchWindow) -> None:
        straight = choices(2.0, 3.0, 4.0)
        turned = replace(
            straight, releases=straight.releases[::-1], sites=straight.sites[::-1], fills=straight.fills[::-1]
        )
        other = flown(turned)
        assert len(other.cells) == len(window.cells) == 12
        for cell in window.cells:
            option = cell.option
            same = other.cell(option.site.name, option.release, option.fill_name, option.balloon_name)
            assert numbers(cell) == numbers(same)
            assert cell.decision == same.decision

    def test_a_cell_that_is_not_there(self, window: LaunchWindow) -> None:
        with pytest.raises(BadInput, match="no such cell"):
            window.cell("A", at_hours(7.0)[0], "slow", "own")

    def test_progress_ends_at_the_last_cell(self) -> None:
        told: list[tuple[int, int]] = []
        flown(choices(2.0, 3.0), step=lambda done, total: told.append((done, total)), flights=20)
        assert told[-1] == (8, 8)
        assert all(before[0] < after[0] for before, after in pairwise(told))


class TestWhatCannotBeFlown:
    """Such a cell says why, and is never green."""

    def test_outside_the_winds_nobody_can_tell(self) -> None:
        far = replace(A, name="far", latitude_deg=A.latitude_deg + 20.0)
        cells = flown(choices(2.0, 200.0, sites=(A, far)), flights=20).cells
        flown_cells = [cell for cell in cells if cell.flights]
        lost = [cell for cell in cells if not cell.flights]
        assert len(flown_cells) == 2
        assert len(lost) == 6
        for cell in lost:
            assert cell.outside
            assert cell.why_not
            assert cell.fill is None
            assert cell.decision.answer is Answer.WAIT
            check = next(one for one in cell.decision.checks if one.name == "reaches_wanted")
            assert check.verdict is Verdict.CANNOT_TELL
            assert check.why == cell.why_not[0]

    def test_no_winds_at_all(self) -> None:
        assert all(cell.decision.answer is Answer.WAIT for cell in flown(choices(2.0), winds=[]).cells)

    def test_a_fill_that_lifts_nothing_is_no_go(self) -> None:
        cell = flown(choices(2.0, sites=(A,), fills=(("weak", FillWish("scale_lift", 5.0)),))).cells[0]
        assert not cell.outside
        assert "does not leave the ground" in cell.why_not[0]
        assert cell.decision.answer is Answer.NO_GO

    def test_flights_that_leave_the_winds_stay_unknown(self) -> None:
        # released 20 minutes before the end of the winds: all but a few early bursts are still on their way up
        short = forecast()
        ends = replace(short, field=replace(short.field, coverage=replace(
            short.field.coverage, last_valid=at_hours(2.0)[0] + timedelta(minutes=20))))  # fmt: skip
        cell = flown(choices(2.0, sites=(A,)), winds=[ends]).cells[0]
        assert cell.landed == 0
        assert cell.unknown == FLIGHTS
        assert cell.drift_m is None
        reach = cell.facts.reaches_wanted
        assert isinstance(reach.value, Share)
        assert reach.unknown is not None
        assert reach.value.p == 0.0
        assert reach.unknown.p > 0.9
        check = next(one for one in cell.decision.checks if one.name == "reaches_wanted")
        assert check.verdict is Verdict.CANNOT_TELL


class TestWeather:
    """Wind and gust while the balloon is filled, the sky at the release."""

    def test_the_wind_is_the_strongest_while_it_is_filled(self, window: LaunchWindow) -> None:
        # it freshens by 1 m/s an hour from 1 m/s, so the release has the strongest
        for cell in window.cells:
            hours = (cell.option.release - at_hours(0.0)[0]).total_seconds() / 3600.0
            assert cell.facts.surface_wind_m_s.value == pytest.approx(1.0 + hours)
            assert cell.facts.gust_m_s.value == pytest.approx(2.0 + hours)
            assert cell.facts.cloud_fraction.value == pytest.approx(0.05 * hours)
            assert cell.facts.rain.value == 0.0
            assert cell.facts.forecast_age_s.value == 3600.0

    def test_a_wind_that_drops_before_the_release_still_counts(self) -> None:
        calm = forecast()
        assert calm.surface is not None
        fields = dict(calm.surface.fields) | {"eastward_wind": calm.surface.fields["eastward_wind"][:, ::-1]}
        cell = flown(choices(4.0), winds=[replace(calm, surface=replace(calm.surface, fields=fields))]).cells[0]
        # 13 m/s less 1 an hour: 9 at the release, 9.75 when filling begins 45 minutes before
        assert cell.facts.surface_wind_m_s.value == pytest.approx(9.75)

    def test_members_give_the_interval(self) -> None:
        wind = flown(choices(2.0, sites=(A,)), winds=[forecast(3)], flights=30).cells[0].facts.surface_wind_m_s
        assert (wind.low, wind.value, wind.high) == pytest.approx((3.0, 3.3, 3.6))

    def test_what_the_forecast_lacks_is_named(self) -> None:
        dry = forecast()
        assert dry.surface is not None
        fields = {name: values for name, values in dry.surface.fields.items() if name != "wind_speed_of_gust"}
        for winds, why in (
            (replace(dry, surface=replace(dry.surface, fields=fields)), "holds no gusts"),
            (replace(dry, surface=None), "no weather near the ground"),
        ):
            cell = flown(choices(2.0, sites=(A,)), winds=[winds], flights=20).cells[0]
            assert cell.facts.gust_m_s.value is None
            assert why in cell.facts.gust_m_s.why_not

    def test_before_the_first_hour_nobody_knows_the_wind_of_the_filling(self) -> None:
        facts = flown(choices(0.0, sites=(A,)), flights=20).cells[0].facts
        assert facts.surface_wind_m_s.value is None
        assert facts.cloud_fraction.value == 0.0


def circle(radius_m: float) -> Outline:
    return Outline(((circle_points((A.latitude_deg, A.longitude_deg), radius_m),),))


class TestAround:
    """Airspace, zones and what was not given."""

    def test_airspace_over_the_site_is_entered_unless_it_is_permitted(self) -> None:
        volume = AirspaceVolume(
            "CTR INVENTED", "CTR", VerticalLimit("surface", 0.0, "SFC"), VerticalLimit("msl", 2000.0, "2000 m"),
            circle(20_000.0), "invented",
        )  # fmt: skip
        shares = []
        names, ended = ("CTR INVENTED",), at_hours(1.9)[0]
        for permissions in (
            (), (Permission(names, "invented 1"),), (Permission(names, ""),), (Permission(("CTR",), "invented 1"),),
            (Permission(names, "invented 1", until_utc=ended),),
        ):  # fmt: skip
            around = Around(volumes=(volume,), permissions=permissions)
            fact = flown(choices(2.0, sites=(A,)), around=around, flights=40).cells[0].facts.airspace
            assert isinstance(fact.value, Share)
            shares.append(fact.value.p)
        # without a reference, for another name or after its end a permission covers nothing
        assert shares == [1.0, 0.0, 1.0, 1.0, 1.0]
        assert flown(choices(2.0, sites=(A,)), flights=20).cells[0].facts.airspace.value is None

    def test_more_flights_than_a_block_meet_the_same_airspace(self, monkeypatch: pytest.MonkeyPatch) -> None:
        # a ring of airspace that some flights meet and others miss
        outline = Outline(((circle_points((A.latitude_deg, A.longitude_deg + 1.2), 12_000.0),),))
        volumes = tuple(
            AirspaceVolume(
                f"R {low:.0f}", "R", VerticalLimit("msl", low, ""), VerticalLimit("msl", low + 3000.0, ""), outline, ""
            )
            for low in (6000.0, 15_000.0)
        )
        permit = Zone("permit", "permit area", circle(120_000.0), "invented")
        around = Around(Surroundings(zones=(permit,)), volumes=volumes)
        winds = [forecast(3), replace(forecast(3, seed=7))]
        options = choices(2.0, sites=(A,), fills=(("five", FillWish("climb", 5.0)),))
        whole = flown(options, around=around, winds=winds).cells[0].facts
        for module in (window_module, fly_module):
            monkeypatch.setattr(module, "BLOCK", 50)
        parts = flown(options, around=around, winds=winds).cells[0].facts
        assert isinstance(whole.airspace.value, Share)
        assert 0.0 < whole.airspace.value.p < 1.0
        assert parts.airspace == whole.airspace
        assert isinstance(whole.leaves_permit_area.value, Share)
        assert 0.0 < whole.leaves_permit_area.value.p < 1.0
        assert parts.leaves_permit_area == whole.leaves_permit_area

    def test_zones_that_are_drawn_count_and_those_that_are_not_do_not_exist(self) -> None:
        everywhere = Zone("all", "keep-out", circle(400_000.0), "invented")
        inside = flown(choices(2.0, sites=(A,)), flights=40, around=Around(Surroundings(zones=(everywhere,))))
        fact = inside.cells[0].facts.keep_out
        assert isinstance(fact.value, Share)
        assert fact.value.p == inside.cells[0].landed / 40
        drawn = flown(choices(2.0, sites=(A,)), flights=20, around=Around(zones_given=True)).cells[0].facts
        assert drawn.keep_out.value == (0.0, 0.0, 0.0, "draws")
        assert flown(choices(2.0, sites=(A,)), flights=20).cells[0].facts.keep_out.value is None

    def test_without_map_airspace_and_rules_nothing_is_go(self, window: LaunchWindow) -> None:
        assert window.count(Answer.GO) == 0
        unasked = GoLimits(**dict.fromkeys(vars(GoLimits()), None))
        assert flown(choices(2.0), limits=unasked, flights=20).count(Answer.GO) == 0
        assert len(window.notes) == 6


class TestOptions:
    """The axes that a plan gives."""

    def test_the_window_in_steps_with_the_planned_release(self) -> None:
        plan = example_plan()
        options = launch_options(plan, step_s=3600.0, fills=(("more", FillWish("climb", 6.0)),))
        assert options.releases[0] == plan.window.opens
        assert options.releases[-1] == plan.window.closes
        assert plan.window.release in options.releases
        assert len(options.releases) == 7
        assert options.cells == 7 * 2 * 2 * 1

    def test_steps_that_make_no_sense_are_refused(self) -> None:
        for step_s in (0.0, 1.0):
            with pytest.raises(BadPlan, match=r"window\.step"):
                launch_options(example_plan(), step_s=step_s)
        with pytest.raises(BadPlan, match="twice"):
            launch_options(example_plan(), fills=(("as planned", FillWish("climb", 6.0)),))


def test_json_holds_every_cell_and_only_numbers(window: LaunchWindow) -> None:
    text = to_json(window_json(window))
    read = json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert len(read["cells"]) == 12
    first = read["cells"][0]
    assert first["landed"] == window.cells[0].landed
    assert first["facts"]["water"]["why_not"]
    assert {check["verdict"] for check in first["checks"]} <= {"met", "not met", "cannot tell"}


def test_now_before_the_issue_is_no_age(window: LaunchWindow) -> None:
    cell = flown(choices(2.0, sites=(A,)), flights=20, now=NOW - timedelta(hours=5)).cells[0]
    assert cell.facts.forecast_age_s.value == 0.0
