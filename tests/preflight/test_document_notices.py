"""Numbers of the notice, deadlines and drafts of one briefing."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from windows import NOW, at_hours, example_plan, forecast

from columns import PRIOR
from pappus.preflight import Briefing, Papers, brief, briefing_document, due_and_drafts, flight_notice
from pappus.preflight.winds import site_air
from pappus.rules import RuleFacts, train_facts
from pappus.sources import read_rule_profile

PROFILES = ("icao", "us")


@cache
def briefing() -> Briefing:
    plan = example_plan()
    plan = replace(plan, sites=plan.sites[:1], ensemble=replace(plan.ensemble, flights=200))
    return brief(plan, [forecast()], None, PRIOR, release=at_hours(2)[0])


def test_sixty_thousand_feet_is_a_pressure() -> None:
    """ISO 2533:1975, standard atmosphere: 60 000 ft (18 288 m) geopotential is 71.716 hPa, by its layer equations."""
    notice, answer = flight_notice(briefing()), briefing()
    air = site_air(answer.known[0], answer.plan, answer.site, answer.release).profile
    for point in (notice.climb_limit, notice.descent_limit):
        assert point is not None
        assert point.pressure_altitude_m == pytest.approx(18_288.0, abs=30.0)
        assert float(air.pressure_pa_at(point.height_msl_m)) == pytest.approx(7171.6, rel=0.005)
    assert notice.climb_limit is not None
    assert notice.descent_limit is not None
    assert notice.burst is not None
    assert notice.landing is not None
    assert notice.climb_limit.time_utc < notice.burst.time_utc < notice.descent_limit.time_utc < notice.landing.time_utc


def test_the_way_is_that_of_the_nominal_flight() -> None:
    notice, nominal, site = flight_notice(briefing()), briefing().nominal, briefing().site
    assert notice.landing is not None
    assert (notice.landing.latitude_deg, notice.landing.longitude_deg) == pytest.approx(
        (float(nominal.end_latitude_deg[0]), float(nominal.end_longitude_deg[0])), abs=1e-6
    )
    aloft = timedelta(seconds=float(nominal.end_time_s[0]) - nominal.release_time_s)
    assert abs(notice.landing.time_utc - briefing().release - aloft) < timedelta(seconds=1)
    assert notice.top_height_msl_m == briefing().nominal_top_msl_m
    top = Geodesic.WGS84.Inverse(
        site.latitude_deg, site.longitude_deg, float(nominal.top_latitude_deg[0]), float(nominal.top_longitude_deg[0])
    )
    assert notice.drift_toward_deg == pytest.approx(top["azi1"] % 360.0, abs=0.01)
    times = [point.time_utc for point in notice.trajectory]
    assert times[0] == briefing().release
    assert {late - early for early, late in pairwise(times)} == {timedelta(minutes=15)}
    assert len(times) == int(np.ceil(aloft.total_seconds() / 900.0))


def test_what_the_train_says_is_told_and_what_nobody_said_stays_open() -> None:
    notice, plan = flight_notice(briefing()), briefing().plan
    assert notice.payload_mass_kg == plan.flight_train.train_mass_kg
    assert notice.operator == plan.operator
    assert notice.balloon_class is None
    assert flight_notice(briefing(), ("light",)).balloon_class == "light"
    assert flight_notice(briefing(), ("light", "medium")).balloon_class is None
    assert notice.transponder_code is None
    assert len(notice.landing_area_deg) > 3
    assert notice.landing_area_level == 0.9


@pytest.mark.parametrize("name", PROFILES)
def test_deadlines_move_with_the_release(name: str) -> None:
    profile = read_rule_profile(name)
    due, _ = due_and_drafts(briefing(), profile)
    later = replace(briefing(), release=briefing().release + timedelta(hours=1))
    assert due
    moved = {one.deadline_id: one.due_utc for one in due_and_drafts(later, profile)[0]}
    assert {moved[one.deadline_id] - one.due_utc for one in due} == {timedelta(hours=1)}
    assert [one.due_utc for one in due] == sorted(one.due_utc for one in due)


@pytest.mark.parametrize("name", PROFILES)
def test_every_draft_says_that_nobody_was_told(name: str) -> None:
    due, drafts = due_and_drafts(briefing(), read_rule_profile(name), train_facts(briefing().plan.flight_train))
    assert len(drafts) == 7
    for draft in drafts:
        assert "DRAFT, NOT FILED: nobody has been told" in draft.text.splitlines()[0]
        base = "14 CFR" if name == "us" else "ICAO Annex 2"
        assert base in draft.text or draft.title == "Request for a NOTAM"
    document = briefing_document(
        briefing(), Papers(due=due, drafts=drafts), made_utc=NOW, pictures={}, lines=None, places=None
    )
    (notices,) = (chapter for chapter in document.evidence if chapter.title == "Draft notices")
    assert len(notices.blocks) >= len(drafts)


def test_a_class_is_told_only_when_no_other_is_left_open() -> None:
    unknown, _ = due_and_drafts(briefing(), read_rule_profile("icao"), RuleFacts())[1][:2]
    assert "b Classification: ____" in unknown.text
