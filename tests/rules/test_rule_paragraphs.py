"""Verdicts paragraph by paragraph, at and beside each boundary; the entries of rules_law.json name their text."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from typing import Any

import pytest

from pappus.errors import BadInput
from pappus.landing import Share
from pappus.rules import Equipment, PackageFact, Permission, RuleFacts, RuleProfile, Verdict, check_rules
from pappus.units import foot_m, mile_m
from references.checks import Entry, case_id
from references.rules_checks import load_rules
from rules.rule_cases import FEW_FLIGHTS, GOOD, GOOD_ICAO, ICAO, NOW, OFTEN, RELEASE, US, said, verdict

MET, NOT_MET, CANNOT_TELL = Verdict.MET, Verdict.NOT_MET, Verdict.CANNOT_TELL


def geared(facts: RuleFacts, **equipment: Any) -> RuleFacts:
    return replace(facts, equipment=replace(facts.equipment, **equipment))


def test_a_flight_in_order_meets_everything_but_the_authorisation_of_its_state() -> None:
    us = check_rules(US, GOOD, NOW)
    assert [entry.rule_id for entry in us if entry.verdict is not MET] == []
    assert all(entry.applies for entry in us)
    icao = check_rules(ICAO, GOOD_ICAO, NOW)
    assert [entry.rule_id for entry in icao if entry.verdict is not MET] == ["icao.2.1"]
    assert all(entry.applies for entry in icao)


def test_every_verdict_says_where_its_text_is_from() -> None:
    for profile in (US, ICAO, replace(ICAO, base="australia")):
        for entry in check_rules(profile, RuleFacts(), NOW):
            words = (entry.paragraph, entry.title, entry.limit_text, entry.text_date, entry.why, entry.number_text)
            assert all(words), entry
            assert entry.mend or entry.verdict is MET, entry


@pytest.mark.parametrize("entry", load_rules("wx_"), ids=case_id)
def test_weather(entry: Entry) -> None:
    facts = replace(
        GOOD,
        cloud_fraction=entry["inputs"]["cloud_fraction"],
        visibility_m=1000.0 * entry["inputs"]["visibility_km"],
        lowest_pressure_altitude_m=entry["inputs"]["level_pressure_altitude_ft"] * foot_m,
    )
    us_ok = {said(US, facts, "us.101.33.b"), said(US, facts, "us.101.33.c")} == {MET}
    assert us_ok is entry["expected"]["us_ok"]
    icao_ok = said(ICAO, facts, "icao.3.1") is MET
    assert icao_ok is entry["expected"]["icao_heavy_ok_without_ANSP_authorisation"]


def test_five_statute_miles_are_enough_and_eight_kilometres_are_not() -> None:
    """14 CFR 101.33(c): less than 5 miles is the limit, so 5 miles themselves do."""
    assert said(US, replace(GOOD, visibility_m=5.0 * mile_m), "us.101.33.c") is MET
    assert said(US, replace(GOOD, visibility_m=8000.0), "us.101.33.c") is NOT_MET
    assert said(ICAO, replace(GOOD, visibility_m=8000.0), "icao.3.1") is MET


def test_limits_of_height_are_pressure_altitudes_and_end_at_60000_ft() -> None:
    poor = replace(GOOD, visibility_m=1000.0)
    at, below = 60_000.0 * foot_m, 59_999.0 * foot_m
    assert said(US, replace(poor, lowest_pressure_altitude_m=at), "us.101.33.c") is MET
    assert said(US, replace(poor, lowest_pressure_altitude_m=below), "us.101.33.c") is NOT_MET


@pytest.mark.parametrize(
    ("profile", "rule_id", "change", "expected"),
    [
        # 101.35(d): longer than 50 ft = 15.24 m; 3.7: more than 15 m; only by day
        (US, "us.101.35.d", {"suspension_length_m": 15.24}, MET),
        (US, "us.101.35.d", {"suspension_length_m": 15.25}, NOT_MET),
        (US, "us.101.35.d", {"suspension_length_m": 15.25, "day": False}, MET),
        (ICAO, "icao.3.7", {"suspension_length_m": 15.0}, MET),
        (ICAO, "icao.3.7", {"suspension_length_m": 15.1}, NOT_MET),
        # 101.39(a) and 6.1: at least every two hours
        (US, "us.101.39.a", {"position_interval_s": 7200.0}, MET),
        (US, "us.101.39.a", {"position_interval_s": 7201.0}, NOT_MET),
        (ICAO, "icao.6.1", {"position_interval_s": 7201.0}, NOT_MET),
        # 101.33(d), 3.2
        (US, "us.101.33.d", {"congested_area_low": OFTEN}, NOT_MET),
        (US, "us.101.33.d", {"assembly_low": True}, NOT_MET),
        (US, "us.101.33.d", {"assembly_low": None}, CANNOT_TELL),
        (ICAO, "icao.3.2", {"congested_area_low": OFTEN}, NOT_MET),
        # a chance is told by its whole interval
        (US, "us.101.33.a", {"surface_area_low": FEW_FLIGHTS}, CANNOT_TELL),
        (US, "us.101.33.a", {"surface_area_low": Share(0.01, 0.002, 0.01)}, MET),
        (US, "us.101.33.a", {"surface_area_low": Share(0.03, 0.011, 0.05)}, NOT_MET),
        (US, "us.101.33.a", {"surface_area_low": Share(float("nan"), float("nan"), float("nan"))}, CANNOT_TELL),
        (US, "us.101.5", {"restricted_area": OFTEN}, NOT_MET),
        (ICAO, "icao.2.2", {"abroad": OFTEN}, NOT_MET),
        (ICAO, "icao.2.6", {"high_seas": OFTEN}, NOT_MET),
        # hazards: 1e-4 is common practice, no source
        (US, "us.101.7.a", {"casualty_expectation": 1e-4}, MET),
        (US, "us.101.7.a", {"casualty_expectation": 1.1e-4}, NOT_MET),
        (US, "us.101.33.e", {"casualty_expectation": 1.1e-4}, NOT_MET),
        (ICAO, "icao.2.5", {"casualty_expectation": 1.1e-4}, NOT_MET),
        (US, "us.101.7.b", {"drops_object": True}, CANNOT_TELL),
    ],
)  # fmt: skip
def test_boundaries(profile: RuleProfile, rule_id: str, change: dict[str, Any], expected: Verdict) -> None:
    base = geared(GOOD, suspension_marked=False)
    assert said(profile, replace(base, **change), rule_id) is expected


@pytest.mark.parametrize(
    ("profile", "rule_id", "change", "expected"),
    [
        (US, "us.101.35.a.1", {"payload_cut_downs": 1}, NOT_MET),
        (US, "us.101.35.a.2", {"envelope_terminators": 1}, NOT_MET),
        (US, "us.101.35.a.3", {"radar_reflector": False}, NOT_MET),
        (ICAO, "icao.3.3.a", {"payload_cut_downs": 1}, NOT_MET),
        # 3.3(c): a reflector or another device to track
        (ICAO, "icao.3.3.c", {"radar_reflector": False}, MET),
        (ICAO, "icao.3.3.c", {"radar_reflector": False, "continuous_tracking": False}, NOT_MET),
        (ICAO, "icao.3.3.c", {"radar_reflector": False, "continuous_tracking": None}, CANNOT_TELL),
        (ICAO, "icao.3.4.a", {"transponder": False}, NOT_MET),
        (ICAO, "icao.3.4.b", {"ads_b": None}, CANNOT_TELL),
        # 101.35(b): 5 miles = 8046.72 m, 40 to 100 flashes a minute, both ends inside
        (US, "us.101.35.b", {"light_visible_m": 8046.72}, MET),
        (US, "us.101.35.b", {"light_visible_m": 8046.0}, NOT_MET),
        (US, "us.101.35.b", {"light_flashes_per_min": 40.0}, MET),
        (US, "us.101.35.b", {"light_flashes_per_min": 39.0}, NOT_MET),
        (US, "us.101.35.b", {"light_flashes_per_min": 100.0}, MET),
        (US, "us.101.35.b", {"light_flashes_per_min": 101.0}, NOT_MET),
        (US, "us.101.35.b", {"light_flashes_per_min": None}, CANNOT_TELL),
        (ICAO, "icao.3.6", {"light_visible_m": 0.0}, NOT_MET),
        # 101.35(c): more than 50 lbf = 222.41 N, pennants every 50 ft; 3.5: more than 230 N, every 15 m
        (US, "us.101.35.c", {"antenna_breaking_force_n": 222.4, "antenna_pennant_spacing_m": None}, MET),
        (US, "us.101.35.c", {"antenna_breaking_force_n": 222.5, "antenna_pennant_spacing_m": None}, CANNOT_TELL),
        (US, "us.101.35.c", {"antenna_breaking_force_n": 225.0, "antenna_pennant_spacing_m": 15.3}, NOT_MET),
        (ICAO, "icao.3.5", {"antenna_breaking_force_n": 230.0, "antenna_pennant_spacing_m": 20.0}, MET),
        (ICAO, "icao.3.5", {"antenna_breaking_force_n": 231.0, "antenna_pennant_spacing_m": 15.1}, NOT_MET),
        (ICAO, "icao.3.5", {"antenna_breaking_force_n": 0.0, "antenna_pennant_spacing_m": None}, MET),
    ],
)  # fmt: skip
def test_equipment(profile: RuleProfile, rule_id: str, change: dict[str, Any], expected: Verdict) -> None:
    assert said(profile, geared(GOOD, **change), rule_id) is expected


def test_no_lights_are_asked_of_a_flight_by_day() -> None:
    dark = geared(GOOD, light_visible_m=0.0)
    assert said(US, replace(dark, night_as_corrected=False), "us.101.35.b") is MET
    assert said(ICAO, replace(dark, night=False), "icao.3.6") is MET


def test_a_zero_pressure_envelope_needs_two_ways_to_end_its_flight() -> None:
    """SERA Appendix 2, 3.3(b), text seen."""
    one = geared(GOOD, envelope_terminators=1)
    assert said(ICAO, one, "icao.3.3.b") is MET
    assert said(ICAO, replace(one, zero_pressure_polyethylene=True), "icao.3.3.b") is NOT_MET
    assert said(ICAO, replace(one, zero_pressure_polyethylene=None), "icao.3.3.b") is CANNOT_TELL


LIGHT = replace(GOOD, packages=(PackageFact("camera", 1.5, 0.03),), rest_mass_kg=0.3)


def test_a_light_balloon_is_not_free_of_rules() -> None:
    bare = replace(LIGHT, equipment=Equipment(antenna_breaking_force_n=0.0), cloud_fraction=1.0)
    us = {entry.rule_id: entry for entry in check_rules(US, bare, NOW)}
    assert us["us.101.33.b"].applies is False
    assert us["us.101.7.a"].applies is True
    assert said(US, replace(bare, casualty_expectation=1e-3), "us.101.7.a") is NOT_MET
    icao = {entry.rule_id: entry for entry in check_rules(ICAO, bare, NOW)}
    assert icao["icao.3.1"].applies is False
    assert icao["icao.2.1"].verdict is NOT_MET


def test_where_the_class_is_not_known_a_broken_rule_cannot_be_told() -> None:
    open_class = replace(LIGHT, separation_force_n=None, cloud_fraction=0.9)
    assert said(US, open_class, "us.101.1") is CANNOT_TELL
    broken = verdict(US, open_class, "us.101.33.b")
    assert (broken.verdict, broken.applies) == (CANNOT_TELL, None)
    # and one that is satisfied is satisfied either way
    assert said(US, replace(open_class, cloud_fraction=0.1), "us.101.33.b") is MET
    assert said(ICAO, replace(open_class, cloud_fraction=0.1), "icao.1.1") is CANNOT_TELL


def test_meteorology_alone_crosses_borders_without_that_state_only_when_light() -> None:
    """SERA Appendix 2, 2.2, text seen; 2.1 stays."""
    abroad = replace(LIGHT, abroad=OFTEN, meteorological_only=True)
    assert said(ICAO, abroad, "icao.2.2") is MET
    assert said(ICAO, abroad, "icao.2.1") is NOT_MET
    assert said(ICAO, replace(GOOD, abroad=OFTEN, meteorological_only=True), "icao.2.2") is NOT_MET
    assert said(ICAO, replace(abroad, meteorological_only=None), "icao.2.2") is NOT_MET


def test_a_permission_covers_what_it_names_and_shows_its_reference() -> None:
    held = Permission(("icao.2.1", "icao.2.2"), "AB 123/26", "the authority")
    facts = replace(GOOD, abroad=OFTEN, permissions=(held,))
    state = verdict(ICAO, facts, "icao.2.1")
    assert (state.verdict, state.permission) == (MET, "AB 123/26")
    assert "AB 123/26" in state.why
    assert "the authority" in state.why
    assert said(ICAO, facts, "icao.2.2") is MET
    assert said(ICAO, replace(facts, high_seas=OFTEN), "icao.2.6") is NOT_MET


def test_what_is_met_anyway_leans_on_no_permission() -> None:
    facts = replace(GOOD, permissions=(Permission(("icao.2.2",), "X 1"),))
    assert verdict(ICAO, facts, "icao.2.2").permission == ""
    assert verdict(ICAO, replace(facts, abroad=None), "icao.2.2").permission == "X 1"


def test_a_permission_without_a_reference_covers_nothing() -> None:
    facts = replace(GOOD, permissions=(Permission(("icao.2.1",), "  "),))
    assert said(ICAO, facts, "icao.2.1") is NOT_MET
    assert "icao.2.1" in verdict(ICAO, facts, "icao.2.1").mend


def test_a_permission_that_has_run_out_covers_nothing() -> None:
    for until, expected in ((RELEASE, MET), (RELEASE - timedelta(seconds=1), NOT_MET)):
        facts = replace(GOOD, permissions=(Permission(("icao.2.1",), "X 1", until_utc=until),))
        assert said(ICAO, facts, "icao.2.1") is expected
    assert said(ICAO, replace(facts, release_utc=None), "icao.2.1") is NOT_MET
    with pytest.raises(BadInput, match="until_utc"):
        Permission(("icao.2.1",), "X 1", until_utc=datetime(2026, 6, 14))  # noqa: DTZ001


def test_no_permission_covers_a_hazard_or_equipment() -> None:
    """101.7, 2.5: the text has no "unless authorised"."""
    paper = (Permission(("us.101.7.a", "icao.2.5", "us.101.33.b", "us.101.35.a.1"), "X 1"),)
    facts = geared(replace(GOOD, permissions=paper, casualty_expectation=1.0, cloud_fraction=1.0), payload_cut_downs=0)
    for profile, rule_id in (
        (US, "us.101.7.a"), (ICAO, "icao.2.5"), (US, "us.101.33.b"), (US, "us.101.35.a.1"),
    ):  # fmt: skip
        assert said(profile, facts, rule_id) is NOT_MET


def test_a_permission_of_an_authorised_level_of_weather_is_for_icao_only() -> None:
    """3.1 says "without authorisation"; 101.33(b) has no such words."""
    facts = replace(GOOD, cloud_fraction=0.9, permissions=(Permission(("icao.3.1", "us.101.33.b"), "X 1"),))
    assert said(ICAO, facts, "icao.3.1") is MET
    assert said(US, facts, "us.101.33.b") is NOT_MET


@pytest.mark.parametrize(
    "wrong",
    [
        {"cloud_fraction": 4.0},
        {"visibility_m": -1.0},
        {"suspension_length_m": float("inf")},
        {"release_utc": datetime(2026, 6, 14, 9, 0)},  # noqa: DTZ001
        {"packages": (PackageFact("box", 0.0, 0.1),)},
        {"packages": (PackageFact("box", 1.0, float("nan")),)},
    ],
)
def test_what_cannot_be_a_measure_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(BadInput) as caught:
        RuleFacts(**wrong)
    (finding,) = caught.value.findings
    assert next(iter(wrong)) in finding.field or "box" in finding.field
    assert finding.fix


def test_not_a_number_is_not_known() -> None:
    facts = replace(GOOD, cloud_fraction=float("nan"))
    assert facts.cloud_fraction is None
    assert said(US, facts, "us.101.33.b") is CANNOT_TELL
    assert Equipment(light_visible_m=float("nan")).light_visible_m is None


def test_the_clock_has_to_have_a_zone() -> None:
    with pytest.raises(BadInput, match="now"):
        check_rules(US, GOOD, datetime(2026, 6, 14))  # noqa: DTZ001


def test_notice_in_its_window() -> None:
    """101.37(a): 6 and 24 hours themselves are inside."""
    for hours, expected in ((24.0, MET), (24.1, NOT_MET), (6.0, MET), (5.9, NOT_MET), (12.0, MET)):
        facts = replace(GOOD, notice_given_utc=RELEASE - timedelta(hours=hours))
        assert said(US, facts, "us.101.37.a", RELEASE - timedelta(hours=5)) is expected, hours


def test_no_notice_is_open_until_its_time_has_passed() -> None:
    none = replace(GOOD, notice_given_utc=None)
    for hours, expected in ((30.0, CANNOT_TELL), (12.0, CANNOT_TELL), (6.0, CANNOT_TELL), (5.9, NOT_MET)):
        assert said(US, none, "us.101.37.a", RELEASE - timedelta(hours=hours)) is expected, hours
    for days, expected in ((8.0, CANNOT_TELL), (7.0, CANNOT_TELL), (6.9, NOT_MET)):
        assert said(ICAO, none, "icao.5.1.1", RELEASE - timedelta(days=days)) is expected, days


def test_a_notice_noted_for_the_future_is_not_given() -> None:
    facts = replace(GOOD, notice_given_utc=RELEASE - timedelta(hours=12))
    assert said(US, facts, "us.101.37.a", RELEASE - timedelta(hours=20)) is CANNOT_TELL


def test_a_release_that_slips_more_than_half_an_hour_is_told_again() -> None:
    """101.37(a)(2), from memory."""
    for minutes, expected in ((30, MET), (-30, MET), (31, NOT_MET), (-31, NOT_MET)):
        facts = replace(GOOD, notified_release_utc=RELEASE + timedelta(minutes=minutes))
        assert said(US, facts, "us.101.37.a.2") is expected


def test_early_notice_and_changes() -> None:
    """SERA Appendix 2, 5.1.1 (seven days) and 5.1.3 (six hours, from memory)."""
    assert said(ICAO, replace(GOOD, notice_given_utc=RELEASE - timedelta(days=7)), "icao.5.1.1") is MET
    assert said(ICAO, replace(GOOD, notice_given_utc=RELEASE - timedelta(days=6)), "icao.5.1.1") is NOT_MET
    moved = replace(GOOD, notified_release_utc=RELEASE - timedelta(hours=1))
    assert said(ICAO, moved, "icao.5.1.3", RELEASE - timedelta(hours=6)) is CANNOT_TELL
    assert said(ICAO, moved, "icao.5.1.3", RELEASE - timedelta(hours=5)) is NOT_MET


def test_times_may_be_in_any_zone() -> None:
    east = timezone(timedelta(hours=9))
    moved = replace(GOOD, release_utc=RELEASE.astimezone(east))
    told = [entry.verdict for entry in check_rules(US, moved, NOW.astimezone(east))]
    assert told == [entry.verdict for entry in check_rules(US, GOOD, NOW)]
    assert verdict(US, replace(moved, notice_given_utc=None), "us.101.37.a").why.endswith("2026-06-14 03:00Z")
