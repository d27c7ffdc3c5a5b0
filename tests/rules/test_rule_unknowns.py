"""What is not known is never met: every subset of missing facts, and no verdict gets better by forgetting."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.landing import Share
from pappus.rules import Equipment, PackageFact, RuleFacts, RuleProfile, Verdict, check_rules
from rules.rule_cases import FEW_FLIGHTS, GOOD, GOOD_ICAO, ICAO, NEVER, NOW, OFTEN, RELEASE, US

_NEVER_BLANK = ("equipment", "permissions", "lowest_pressure_altitude_m")
_FACTS = [entry.name for entry in fields(RuleFacts) if entry.name not in _NEVER_BLANK]
_EQUIPMENT = [entry.name for entry in fields(Equipment)]
_ALL = [*_FACTS, *(f"equipment.{name}" for name in _EQUIPMENT)]
_CLASS = {"packages", "rest_mass_kg", "separation_force_n"}

# what each paragraph asks for, read from the texts; the case is a heavy balloon at night and by day
NEEDS: dict[str, set[str]] = {
    "us.101.1": {"packages"},
    "us.101.5": {"restricted_area"},
    "us.101.7.a": {"casualty_expectation"},
    "us.101.7.b": {"drops_object"},
    "us.101.33.a": {"surface_area_low"},
    "us.101.33.b": {"cloud_fraction"},
    "us.101.33.c": {"visibility_m"},
    "us.101.33.d": {"congested_area_low", "assembly_low"},
    "us.101.33.e": {"casualty_expectation"},
    "us.101.35.a.1": {"equipment.payload_cut_downs"},
    "us.101.35.a.2": {"equipment.envelope_terminators"},
    "us.101.35.a.3": {"equipment.radar_reflector"},
    "us.101.35.b": {"equipment.light_visible_m", "equipment.light_flashes_per_min"},
    "us.101.35.c": {"equipment.antenna_pennant_spacing_m"},
    "us.101.35.d": {"equipment.suspension_marked"},
    "us.101.37.a": {"release_utc", "notice_given_utc"},
    "us.101.37.a.2": {"release_utc", "notified_release_utc"},
    "us.101.39.a": {"position_interval_s"},
    "icao.1.1": {"packages"},
    "icao.2.1": set(),
    "icao.2.2": {"abroad"},
    "icao.2.5": {"casualty_expectation"},
    "icao.2.6": {"high_seas"},
    "icao.3.1": {"cloud_fraction", "visibility_m"},
    "icao.3.2": {"congested_area_low", "assembly_low"},
    "icao.3.3.a": {"equipment.payload_cut_downs"},
    "icao.3.3.b": set(),  # two ways are there, and the envelope is latex: either is enough
    "icao.3.3.c": set(),  # reflector or tracking
    "icao.3.4.a": {"equipment.transponder"},
    "icao.3.4.b": {"equipment.ads_b"},
    "icao.3.5": {"equipment.antenna_pennant_spacing_m"},
    "icao.3.6": {"equipment.light_visible_m"},
    "icao.3.7": {"equipment.suspension_marked"},
    "icao.5.1.1": {"release_utc", "notice_given_utc"},
    "icao.5.1.3": {"release_utc", "notified_release_utc"},
    "icao.6.1": {"position_interval_s"},
}
# where one of several facts is enough, forgetting all of them is what has to tell
JOINTLY: dict[str, set[str]] = {
    "icao.3.3.b": {"zero_pressure_polyethylene", "equipment.envelope_terminators"},
    "icao.3.3.c": {"equipment.radar_reflector", "equipment.continuous_tracking"},
}


def forgotten(facts: RuleFacts, names: frozenset[str]) -> RuleFacts:
    equipment = {name.removeprefix("equipment."): None for name in names if name.startswith("equipment.")}
    plain = {name: None for name in names if not name.startswith("equipment.")}
    return replace(facts, equipment=replace(facts.equipment, **equipment), **plain)


def verdicts(profile: RuleProfile, facts: RuleFacts) -> dict[str, Verdict]:
    return {entry.rule_id: entry.verdict for entry in check_rules(profile, facts, NOW)}


def test_the_table_names_every_paragraph() -> None:
    assert set(verdicts(US, GOOD)) | set(verdicts(ICAO, GOOD)) == set(NEEDS)


@settings(max_examples=300)
@given(st.sets(st.sampled_from(_ALL)).map(frozenset))
def test_a_verdict_whose_fact_is_missing_is_never_met(names: frozenset[str]) -> None:
    for profile, facts in ((US, GOOD), (ICAO, GOOD_ICAO)):
        for rule_id, verdict in verdicts(profile, forgotten(facts, names)).items():
            if names & NEEDS[rule_id] or JOINTLY.get(rule_id, {"?"}) <= names:
                assert verdict is not Verdict.MET, (rule_id, sorted(names))


@pytest.mark.parametrize("name", _ALL)
def test_one_missing_fact_changes_only_what_needs_it(name: str) -> None:
    """So that the table above is whole: what is not in it does not depend on the fact."""
    for profile, facts in ((US, GOOD), (ICAO, GOOD_ICAO)):
        before, after = verdicts(profile, facts), verdicts(profile, forgotten(facts, frozenset({name})))
        changed = {rule_id for rule_id in before if before[rule_id] is not after[rule_id]}
        assert changed == {rule_id for rule_id in before if name in NEEDS[rule_id]}, name


def test_nothing_known_meets_nothing() -> None:
    for profile in (US, ICAO, replace(ICAO, base="australia")):
        assert Verdict.MET not in verdicts(profile, RuleFacts()).values()


_SHARES = st.sampled_from([NEVER, OFTEN, FEW_FLIGHTS, Share(0.02, 0.015, 0.03), None])
_FLAGS = st.sampled_from([True, False, None])
_TIMES = st.none() | st.integers(-400, 100).map(lambda hours: RELEASE + timedelta(hours=hours))
_BOX = st.builds(PackageFact, st.just("box"), st.none() | st.floats(0.1, 7.0), st.none() | st.floats(0.01, 0.2))


def _number(low: float, high: float) -> st.SearchStrategy[float | None]:
    return st.none() | st.floats(low, high)


_ANY_EQUIPMENT = st.builds(
    Equipment,
    payload_cut_downs=st.none() | st.integers(0, 3), envelope_terminators=st.none() | st.integers(0, 3),
    radar_reflector=_FLAGS, continuous_tracking=_FLAGS, transponder=_FLAGS, ads_b=_FLAGS,
    light_visible_m=_number(0, 12_000), light_flashes_per_min=_number(0, 150), suspension_marked=_FLAGS,
    antenna_breaking_force_n=_number(0, 400), antenna_pennant_spacing_m=_number(0, 30), owner_marked=_FLAGS,
)  # fmt: skip
_ANY_FACTS = st.builds(
    RuleFacts,
    packages=st.none() | st.lists(_BOX, max_size=3).map(tuple), rest_mass_kg=_number(0, 2),
    separation_force_n=_number(0, 400), suspension_length_m=_number(0, 40), zero_pressure_polyethylene=_FLAGS,
    equipment=_ANY_EQUIPMENT, cloud_fraction=_number(0, 1), visibility_m=_number(0, 20_000),
    night_as_corrected=_FLAGS, night=_FLAGS, day=_FLAGS, casualty_expectation=_number(0, 1e-3), drops_object=_FLAGS,
    restricted_area=_SHARES, surface_area_low=_SHARES, congested_area_low=_SHARES, assembly_low=_FLAGS, abroad=_SHARES,
    high_seas=_SHARES, meteorological_only=_FLAGS, controlled_release=_FLAGS, ssr_in_use=_FLAGS, ads_b_in_use=_FLAGS,
    position_interval_s=_number(0, 10_000), release_utc=st.none() | st.just(RELEASE), notice_given_utc=_TIMES,
    notified_release_utc=_TIMES, application_sent_utc=_TIMES, launch_mass_kg=_number(0, 10),
    envelope_mass_kg=_number(0, 3), envelope_diameter_m=_number(0.5, 4),
)  # fmt: skip


@settings(max_examples=300)
@given(_ANY_FACTS, st.sets(st.sampled_from(_ALL)).map(frozenset))
def test_forgetting_never_makes_a_verdict_better(facts: RuleFacts, names: frozenset[str]) -> None:
    for profile in (US, ICAO, replace(ICAO, base="australia")):
        before, after = verdicts(profile, facts), verdicts(profile, forgotten(facts, names))
        for rule_id, verdict in after.items():
            if verdict is Verdict.MET:
                assert before[rule_id] is Verdict.MET, (rule_id, sorted(names))


@settings(max_examples=200)
@given(_ANY_FACTS, st.sets(st.sampled_from(sorted(_CLASS)), min_size=1).map(frozenset))
def test_a_class_that_is_not_known_breaks_no_rule_of_that_class(facts: RuleFacts, names: frozenset[str]) -> None:
    for entry in check_rules(ICAO, forgotten(facts, names), NOW):
        if entry.applies is None:
            assert entry.verdict is not Verdict.NOT_MET, entry.rule_id
