"""Warnings from a picture of the flight. The sentence of the slow climb is the one that the look of the tool asks for;
two hours without a position and the descent report are those of 14 CFR 101.39 (b) and (c). All flights are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from pappus.inflight import Ahead, ChanceAhead, FlightPicture, Past, PlannedFlight, Warned, WarningKind, looked, warn
from pappus.landing import share
from pappus.tracking import Estimate, Estimator, Fix, LaunchPlace, Phase, received

START = datetime(2026, 5, 1, 9, tzinfo=UTC)
GROUND_M = 300.0
TOP_M = 30_000.0
NOTHING = Ahead((), (), (), ())


def planned() -> PlannedFlight:
    """Up at 5 m/s; down at 5 m/s near the ground, faster above."""
    up = np.linspace(GROUND_M, TOP_M, 200)
    speed = 5.0 * np.exp((up - GROUND_M) / 16_000.0)
    down_s = np.concatenate([[0.0], np.cumsum(np.diff(up) / speed[:-1])])
    return PlannedFlight(START, GROUND_M, up, (up - GROUND_M) / 5.0, up, down_s, TOP_M, 27_000.0)


class Flown:
    """A balloon that is looked at twice a minute."""

    def __init__(self) -> None:
        self.estimator = Estimator(LaunchPlace(48.0, 11.0, GROUND_M))
        self.now, self.height, self.count = START - timedelta(seconds=120), GROUND_M, 0
        self.history: tuple[Past, ...] = ()
        self.warned = Warned()
        self.ahead, self.due, self.extra = NOTHING, None, {}
        self.lag_s = 0.0
        self.plan = planned()

    def fly(self, rate_m_s: float, for_s: float, *, heard: bool = True, every_s: int = 10) -> Flown:
        for _ in range(int(for_s / every_s)):
            self.now += timedelta(seconds=every_s)
            self.height += rate_m_s * every_s
            self.count += 1
            if heard:
                self.take()
            if self.count % 3 == 0:
                self.look()
        return self

    def take(self, **changes: object) -> None:
        told = {"tracker": "BALLOON-1", "time_utc": self.now - timedelta(seconds=self.lag_s), "time_quality": "full",
                "latitude_deg": 48.0, "longitude_deg": 11.0 + 2e-5 * self.count, "height_msl_m": self.height,
                "height_ellipsoid_m": None, "fix_quality": "three-dimensional", "checked": True, **self.extra,
                **changes}  # fmt: skip
        fix = Fix(**told)  # type: ignore[arg-type]  # of many types
        self.estimator.take(received("hill", self.count, self.now, "json", str(self.count).encode()), (fix,))

    def picture(self) -> FlightPicture:
        estimate = self.estimator.estimate()
        if estimate is not None:
            self.history = looked(self.history, estimate, self.now)
        return FlightPicture(self.now, self.plan, estimate, None, self.ahead, self.history, self.due)

    def look(self) -> None:
        self.warned = warn(self.picture(), self.warned)

    @property
    def estimate(self) -> Estimate:
        found = self.estimator.estimate()
        assert found is not None
        return found

    def kinds(self) -> set[WarningKind]:
        return {one.kind for one in self.warned.standing}

    def line(self, kind: WarningKind) -> str:
        return next(one.line for one in self.warned.standing if one.kind is kind)


def ascended(rate_m_s: float = 5.0, for_s: float = 1200.0) -> Flown:
    return Flown().fly(0.0, 120.0).fly(rate_m_s, for_s)


def test_a_flight_as_planned_warns_of_nothing() -> None:
    flown = ascended()
    assert flown.estimate.phase is Phase.ASCENT
    assert not flown.warned.standing


def test_slow_climb_says_what_since_when_and_what_to_do() -> None:
    flown = ascended().fly(3.1, 480.0)
    line = flown.line(WarningKind.SLOW_CLIMB)
    assert line.startswith("Climb 3.1 m/s, plan 5.0, since ")
    assert line.endswith("Expect a long flight: check the 90 % area, call the chase.")
    found = next(one for one in flown.warned.standing if one.kind is WarningKind.SLOW_CLIMB)
    assert found.number == pytest.approx(3.1, abs=0.1)
    assert found.against == pytest.approx(5.0, abs=0.05)
    assert found.why


@pytest.mark.parametrize("rate", [4.4, 5.0, 6.0])
def test_a_climb_near_the_plan_is_no_slow_climb(rate: float) -> None:
    assert WarningKind.SLOW_CLIMB not in ascended(rate).kinds()


def test_slow_climb_goes_when_it_climbs_again() -> None:
    flown = ascended().fly(3.0, 480.0)
    assert WarningKind.SLOW_CLIMB in flown.kinds()
    assert WarningKind.SLOW_CLIMB not in flown.fly(5.0, 700.0).kinds()


def test_a_floater_is_named() -> None:
    flown = ascended()
    for step in range(60):
        flown.fly(0.6 if step % 2 else -0.5, 10.0)
    assert WarningKind.FLOATER in flown.kinds()
    assert "cut-down" in flown.line(WarningKind.FLOATER)


def test_the_very_same_height_again_and_again_is_a_height_in_doubt_and_no_float() -> None:
    kinds = ascended().fly(0.0, 600.0).kinds()
    assert WarningKind.HEIGHT in kinds
    assert WarningKind.FLOATER not in kinds


def test_early_burst_against_the_plan_and_not_at_its_top() -> None:
    early = ascended(5.0, 2400.0).fly(-15.0, 240.0)
    assert WarningKind.EARLY_BURST in early.kinds()
    late = ascended(5.0, 5580.0).fly(-25.0, 240.0)
    assert late.estimate.highest_msl_m == pytest.approx(28_200.0, abs=200.0)
    assert WarningKind.EARLY_BURST not in late.kinds()


def falling(factor: float) -> Flown:
    """Down from the planned top at so many times the planned speed."""
    flown = ascended(5.0, 5940.0)
    for _ in range(240):
        rate = -factor * 5.0 * float(np.exp((flown.height - GROUND_M) / 16_000.0))
        flown.fly(rate, 10.0)
        if flown.height < 4_000.0:
            break
    return flown


def test_a_canopy_with_a_quarter_of_its_area_falls_twice_as_fast_and_is_told() -> None:
    """Terminal speed goes with the root of one over the drag area (textbook)."""
    flown = falling(float(np.sqrt(1.0 / 0.25)))
    assert WarningKind.FAST_DESCENT in flown.kinds()
    found = next(one for one in flown.warned.standing if one.kind is WarningKind.FAST_DESCENT)
    assert found.number is not None
    assert found.against is not None
    assert found.number / found.against == pytest.approx(2.0, rel=0.05)


def test_a_sound_canopy_is_not_told() -> None:
    assert WarningKind.FAST_DESCENT not in falling(1.05).kinds()


def test_a_canopy_that_is_fouled_by_the_whole_fall_is_told_by_its_chance() -> None:
    """The rate of now is that of the plan: a line that names it alone would contradict itself."""
    picture = falling(1.0).picture()
    fouled = SimpleNamespace(fouled=share(800, 1000), phase=Phase.DESCENT)
    picture = replace(picture, prediction=fouled)  # type: ignore[arg-type]  # what is asked of it
    first = warn(picture)
    warned = warn(replace(picture, now=picture.now + timedelta(seconds=30)), first)
    line = next(one.line for one in warned.standing if one.kind is WarningKind.FAST_DESCENT)
    assert line.startswith("Canopy fouled with a chance of 80% by its fall so far; now ")


def test_silence_aloft_after_five_minutes_and_two_hours_a_quarter_before() -> None:
    flown = ascended()
    flown.fly(0.0, 270.0, heard=False)
    assert WarningKind.NO_POSITION not in flown.kinds()
    flown.fly(0.0, 90.0, heard=False)
    assert WarningKind.NO_POSITION in flown.kinds()
    last = flown.estimate.position
    assert last is not None
    flown.now = last.time_utc + timedelta(hours=2) - timedelta(minutes=16)
    flown.look()
    assert WarningKind.TWO_HOURS not in flown.kinds()
    flown.now += timedelta(minutes=2)
    flown.look()
    assert WarningKind.TWO_HOURS in flown.kinds()
    assert f"{last.time_utc + timedelta(hours=2):%H:%M}Z" in flown.line(WarningKind.TWO_HOURS)


def test_descent_report_a_quarter_of_an_hour_before_it_is_due() -> None:
    flown = ascended(5.0, 600.0)
    flown.due = flown.now + timedelta(minutes=18)  # type: ignore[assignment]  # begins as None
    flown.look()
    assert WarningKind.DESCENT_REPORT not in flown.kinds()
    flown.fly(5.0, 300.0)
    assert WarningKind.DESCENT_REPORT in flown.kinds()


def test_clock_one_late_stamp_is_none_and_many_are() -> None:
    flown = ascended()
    flown.lag_s = 70.0
    flown.fly(5.0, 10.0)
    flown.lag_s = 0.0
    assert WarningKind.CLOCK not in flown.fly(5.0, 200.0).kinds()
    flown.lag_s = 1500.0
    assert WarningKind.CLOCK in flown.fly(5.0, 300.0).kinds()


def test_heights_off_by_an_undulation_are_seen_on_the_ground() -> None:
    """45 m is the geoid's undulation over southern Germany, about (from memory)."""
    flown = Flown()
    flown.height += 45.0
    flown.fly(0.0, 180.0)
    assert WarningKind.HEIGHT in flown.kinds()
    assert "+45 m" in flown.line(WarningKind.HEIGHT)


def test_power_and_cold_and_what_no_packet_tells() -> None:
    flown = ascended()
    lacking = {one.kind for one in flown.warned.warnings if not one.known}
    assert {WarningKind.POWER, WarningKind.COLD} <= lacking
    flown.extra = {"battery_v": 4.1, "temperature_k": {"inside": 283.0, "outside": 220.0}}
    flown.fly(5.0, 120.0)
    assert not flown.warned.warnings
    flown.extra = {"battery_v": 3.3, "temperature_k": {"inside": 250.0, "outside": 220.0}}
    assert {WarningKind.POWER, WarningKind.COLD} <= flown.fly(5.0, 180.0).kinds()


def chance(p: float, of: int = 1000) -> Ahead:
    return replace(NOTHING, airspace=(ChanceAhead("R-1", share(round(p * of), of), START + timedelta(hours=1)),))


def test_a_chance_that_swings_about_its_limit_is_raised_once_and_goes_late() -> None:
    flown, raised = ascended(), 0
    for step in range(40):
        before = WarningKind.AIRSPACE in flown.kinds()
        flown.ahead = chance(0.06 if step % 2 else 0.03)
        flown.fly(5.0, 30.0)
        raised += WarningKind.AIRSPACE in flown.kinds() and not before
    assert raised == 1
    assert "R-1 6%" in flown.line(WarningKind.AIRSPACE) or "R-1 3%" in flown.line(WarningKind.AIRSPACE)
    flown.ahead = chance(0.0)
    assert WarningKind.AIRSPACE in flown.fly(5.0, 60.0).kinds()
    assert WarningKind.AIRSPACE not in flown.fly(5.0, 180.0).kinds()


def test_hazard_needs_to_have_risen() -> None:
    flown = ascended()
    flown.ahead = replace(NOTHING, hazard=(ChanceAhead("a town", share(150, 1000), before=0.14),))
    assert WarningKind.HAZARD not in flown.fly(5.0, 60.0).kinds()
    flown.ahead = replace(NOTHING, hazard=(ChanceAhead("a town", share(400, 1000), before=0.14),))
    assert WarningKind.HAZARD in flown.fly(5.0, 60.0).kinds()
    assert "termination" in flown.line(WarningKind.HAZARD)


def test_what_is_not_given_is_a_line_and_does_not_call_off_a_warning() -> None:
    flown = ascended()
    flown.ahead = Ahead.not_known("no data were given")
    flown.fly(5.0, 30.0)
    lacking = [one for one in flown.warned.warnings if not one.known]
    assert {one.kind for one in lacking} >= {
        WarningKind.AIRSPACE, WarningKind.BORDER, WarningKind.PERMIT_AREA, WarningKind.HAZARD,
    }  # fmt: skip
    assert all("cannot be told" in one.words for one in lacking if one.kind is not WarningKind.POWER
               and one.kind is not WarningKind.COLD)  # fmt: skip
    flown.ahead = replace(NOTHING, airspace=(ChanceAhead("R-1", share(500, 1000)),))
    flown.fly(5.0, 30.0)
    flown.ahead = replace(NOTHING, airspace=(ChanceAhead("R-1", None, why_not="flight levels cannot be told"),))
    flown.fly(5.0, 300.0)
    assert WarningKind.AIRSPACE in flown.kinds()


def test_of_a_balloon_that_is_lost_nothing_ahead_is_ruled_out() -> None:
    """2 % is no all-clear once nobody knows where it is; 3 %, above the lower limit of airspace, is a warning."""
    flown = ascended()
    flown.ahead = Ahead(
        (ChanceAhead("R-1", share(20, 1000)), ChanceAhead("R-2", share(0, 1000))),
        (ChanceAhead("There", share(30, 1000)),),
        (ChanceAhead("", share(0, 1000)),),
        (ChanceAhead("a town", share(30, 1000), before=0.02),),
    )
    assert not flown.fly(5.0, 60.0).kinds()
    assert not [one for one in flown.warned.warnings if one.kind is WarningKind.AIRSPACE]
    flown.fly(5.0, 420.0, heard=False)
    assert flown.kinds() == {WarningKind.NO_POSITION, WarningKind.BORDER}
    assert "no position for" in flown.line(WarningKind.BORDER)
    lacking = {one.kind: one for one in flown.warned.warnings if not one.known}
    assert {WarningKind.AIRSPACE, WarningKind.PERMIT_AREA, WarningKind.HAZARD} <= set(lacking)
    assert "2% as reckoned from there" in lacking[WarningKind.AIRSPACE].words
    assert sum(one.kind is WarningKind.AIRSPACE for one in flown.warned.warnings) == 1
    # heard again, it is known again
    flown.fly(5.0, 120.0)
    assert not [one for one in flown.warned.warnings if one.kind is WarningKind.AIRSPACE]


def test_silence_does_not_call_off_what_was_warned_of() -> None:
    flown = ascended()
    flown.ahead = chance(0.5)
    assert WarningKind.AIRSPACE in flown.fly(5.0, 60.0).kinds()
    flown.ahead = chance(0.0)
    assert WarningKind.AIRSPACE in flown.fly(5.0, 30.0).kinds()
    assert WarningKind.AIRSPACE not in flown.fly(5.0, 300.0).kinds()
    flown.ahead = chance(0.5)
    flown.fly(5.0, 60.0).fly(5.0, 400.0, heard=False)
    flown.ahead = chance(0.0)
    assert WarningKind.AIRSPACE in flown.fly(5.0, 300.0, heard=False).kinds()


def test_the_most_pressing_comes_first_and_a_picture_warns_alike_again() -> None:
    flown = ascended().fly(3.0, 480.0)
    flown.ahead = chance(0.5)
    flown.fly(3.0, 60.0)
    ranks = [one.rank for one in flown.warned.warnings]
    assert ranks == sorted(ranks)
    assert flown.warned.warnings[0].kind is WarningKind.AIRSPACE
    picture = flown.picture()
    assert warn(picture, flown.warned) == warn(picture, flown.warned)
