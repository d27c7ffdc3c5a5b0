"""Rule profiles: those that come with pappus say what was found, and wrong files are refused with the field."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.errors import BadFile, Finding
from pappus.rules import Equipment, PackageFact, Permission, RuleFacts, RuleProfile, Verdict, check_rules
from pappus.sources import read_rule_profile, rule_profile_names
from references.rules_checks import load_rule
from rules.rule_cases import GOOD, NOW, RELEASE, said, verdict

LIGHT = replace(GOOD, packages=(PackageFact("camera", 1.5, 0.03),), rest_mass_kg=0.3)


@pytest.mark.parametrize("name", rule_profile_names())
def test_every_profile_is_read_and_every_line_has_its_source(name: str) -> None:
    profile = read_rule_profile(name)
    assert profile.key == name
    verdicts = check_rules(profile, RuleFacts(), NOW)
    assert [entry.rule_id for entry in verdicts if entry.verdict is Verdict.MET] == []
    assert len({entry.rule_id for entry in verdicts}) == len(verdicts)
    for entry in verdicts:
        assert all((entry.paragraph, entry.title, entry.limit_text, entry.certainty, entry.text_date, entry.mend))


def test_the_countries_that_come_with_pappus() -> None:
    assert set(rule_profile_names()) == {
        "argentina", "australia", "canada", "croatia", "germany", "icao", "spain", "united_kingdom", "us",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "days", "working"),
    [
        # as restated by others: about 14, about 20 and 7 working days; UK 28, from memory; Australia up to 28
        ("germany", 14, False),
        ("spain", 20, False),
        ("croatia", 7, True),
        ("united_kingdom", 28, False),
        ("australia", 28, False),
        ("us", 0, False),
    ],
)
def test_lead_times(name: str, days: int, working: bool) -> None:
    profile = read_rule_profile(name)
    assert (profile.lead_time_days, profile.lead_in_working_days) == (days, working)
    assert profile.lead_source


def test_a_lead_time_is_held_against_the_clock() -> None:
    germany = read_rule_profile("germany")
    for days, expected in ((14, Verdict.MET), (13, Verdict.NOT_MET)):
        sent = replace(GOOD, application_sent_utc=RELEASE - timedelta(days=days))
        assert said(germany, sent, "germany.lead_time") is expected
    none = replace(GOOD, application_sent_utc=None)
    assert said(germany, none, "germany.lead_time", RELEASE - timedelta(days=20)) is Verdict.CANNOT_TELL
    assert said(germany, none, "germany.lead_time", RELEASE - timedelta(days=13)) is Verdict.NOT_MET


@pytest.mark.parametrize(
    ("name", "covers"),
    [
        ("germany", "icao.2.1"),
        ("germany", "germany.permit"),
        ("argentina", "icao.2.1"),
        ("australia", "australia.permit"),
    ],
)
def test_a_permit_that_is_held_was_asked_for_in_time(name: str, covers: str) -> None:
    profile = read_rule_profile(name)
    late = replace(GOOD, application_sent_utc=None)
    held = replace(late, permissions=(Permission((covers,), "R 8"),))
    assert said(profile, late, f"{name}.lead_time") is not Verdict.MET
    assert said(profile, held, f"{name}.lead_time") is Verdict.MET
    assert "R 8" in verdict(profile, held, f"{name}.lead_time").why
    blank = replace(
        late, permissions=(Permission((covers,), ""), Permission((f"{name}.insurance", "germany.clearance"), "R 9"))
    )
    assert said(profile, blank, f"{name}.lead_time") is not Verdict.MET


@pytest.mark.parametrize("name", ["argentina", "icao", "canada"])
def test_where_no_lead_time_is_known_the_authority_is_asked(name: str) -> None:
    lead = verdict(read_rule_profile(name), GOOD, f"{name}.lead_time")
    assert lead.verdict is Verdict.CANNOT_TELL
    assert "Ask the authority" in lead.mend


def test_nothing_national_is_known_of_argentina() -> None:
    national = [
        entry
        for entry in check_rules(read_rule_profile("argentina"), GOOD, NOW)
        if entry.rule_id.startswith("argentina.")
    ]
    assert len(national) >= 3
    assert {entry.verdict for entry in national} == {Verdict.CANNOT_TELL}


def test_germany_asks_a_clearance_by_class_zone_and_mass() -> None:
    """LuftVO 21, restated by others: medium and heavy, or light in a control zone over 500 g."""
    germany = read_rule_profile("germany")
    assert said(germany, GOOD, "germany.clearance") is Verdict.NOT_MET
    assert verdict(germany, LIGHT, "germany.clearance").applies is False
    zone = replace(LIGHT, controlled_release=True)
    assert said(germany, zone, "germany.control_zone") is Verdict.NOT_MET
    assert said(germany, replace(zone, envelope_mass_kg=0.5), "germany.control_zone") is Verdict.MET
    assert said(germany, replace(zone, envelope_mass_kg=0.501), "germany.control_zone") is Verdict.NOT_MET
    assert said(germany, replace(zone, envelope_mass_kg=None), "germany.control_zone") is Verdict.CANNOT_TELL
    assert said(germany, replace(zone, controlled_release=False), "germany.control_zone") is Verdict.MET
    assert said(germany, replace(zone, controlled_release=None), "germany.control_zone") is Verdict.CANNOT_TELL


def test_germany_asks_the_name_of_the_owner_over_5_kg() -> None:
    """LuftVZO 19(3), restated by others."""
    germany = read_rule_profile("germany")
    bare = replace(GOOD, equipment=Equipment(owner_marked=False))
    assert said(germany, replace(bare, launch_mass_kg=5.0), "germany.owner_name") is Verdict.MET
    assert said(germany, replace(bare, launch_mass_kg=5.1), "germany.owner_name") is Verdict.CANNOT_TELL
    assert said(germany, replace(GOOD, launch_mass_kg=5.1), "germany.owner_name") is Verdict.MET


def test_canada_counts_capacity() -> None:
    """CAR 602.42, from memory: more than 115 cubic feet."""
    canada = read_rule_profile("canada")
    limit = load_rule("ca_size")["expected"]["m3"]
    assert said(canada, replace(GOOD, gas_capacity_m3=limit * 0.9999), "canada.permit") is Verdict.MET
    assert said(canada, replace(GOOD, gas_capacity_m3=limit * 1.0001), "canada.permit") is Verdict.NOT_MET
    assert said(canada, replace(GOOD, gas_capacity_m3=None), "canada.permit") is Verdict.CANNOT_TELL
    assert "115 ft3" in verdict(canada, GOOD, "canada.permit").limit_text


def test_australia_leaves_a_small_balloon_alone() -> None:
    australia = read_rule_profile("australia")
    small = replace(LIGHT, packages=(PackageFact("box", 0.04, 0.002),), rest_mass_kg=0.005, envelope_diameter_m=1.5)
    assert verdict(australia, small, "australia.permit").applies is False
    assert said(australia, LIGHT, "australia.permit") is Verdict.NOT_MET


def test_a_noted_reference_answers_a_line() -> None:
    profile = read_rule_profile("united_kingdom")
    held = replace(GOOD, permissions=(Permission(("united_kingdom.notam", "united_kingdom.insurance"), "R 7"),))
    for rule_id in ("united_kingdom.notam", "united_kingdom.insurance"):
        assert verdict(profile, held, rule_id).permission == "R 7"
    assert said(profile, held, "united_kingdom.airborne_radio") is Verdict.CANNOT_TELL


OWN = """
name = "Invented country"
base = "icao"
certainty = "from memory"
text_date = "2026-05-01"
source = "invented"
[lead]
days = 3
certainty = "from memory"
source = "invented"
[limits]
casualty_expectation_most = 1e-5
[[requirement]]
name = "heavy_load"
paragraph = "7"
title = "Loads over ten pounds"
kind = "authorisation"
who = "the office"
when = "before"
certainty = "from memory"
text_date = "2026-05-01"
over_fact = "payload_mass_kg"
over = "10 lb"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "invented.toml"
    path.write_text(text, "utf-8")
    return path


def test_a_file_of_the_crew(tmp_path: Path) -> None:
    path = write(tmp_path, OWN)
    profile = read_rule_profile(path)
    assert profile == read_rule_profile(str(path))
    assert isinstance(profile, RuleProfile)
    assert (profile.key, profile.lead_time_days, profile.casualty_expectation_most) == ("invented", 3, 1e-5)
    ten_pounds = replace(GOOD, packages=(PackageFact("box", 4.0, 0.1),), rest_mass_kg=0.5359237)
    assert said(profile, ten_pounds, "invented.heavy_load") is Verdict.MET
    assert said(profile, replace(ten_pounds, rest_mass_kg=0.54), "invented.heavy_load") is Verdict.NOT_MET
    assert said(profile, replace(GOOD, casualty_expectation=5e-5), "icao.2.5") is Verdict.NOT_MET


@pytest.mark.parametrize(
    ("old", "new", "field", "says"),
    [
        ('base = "icao"', 'base = "mars"', "base", "icao"),
        ('base = "icao"', "", "base", "icao"),
        ('name = "Invented country"', 'name = ""', "name", "not known"),
        ("days = 3", "days = -1", "lead.days", "0 to 366"),
        ("days = 3", "days = true", "lead.days", "0 to 366"),
        ("days = 3", "dayz = 3", "lead.dayz", "slip"),
        ('certainty = "from memory"', 'certainty = "sure"', "certainty", "text seen"),
        ("= 1e-5", "= 2", "limits.casualty_expectation_most", "0.0001"),
        ("= 1e-5", "= nan", "limits.casualty_expectation_most", "0.0001"),
        ('kind = "authorisation"', 'kind = "wish"', "requirement[0].kind", "question"),
        ('over = "10 lb"', "over = 10", "requirement[0].over", "kg"),
        ('over = "10 lb"', 'over = "10"', "requirement[0].over", "Write"),
        ('over = "10 lb"', 'over = "10 ft"', "requirement[0].over", "mass"),
        ('over = "10 lb"', "", "requirement[0].over", "both"),
        ('over_fact = "payload_mass_kg"', 'over_fact = "colour"', "requirement[0].over_fact", "gas_capacity_m3"),
        ('over_fact = "payload_mass_kg"', "", "requirement[0].over", "both"),
        ('name = "heavy_load"', 'name = "heavy.load"', "requirement[0].name", "underscores"),
        ("[[requirement]]", "[requirement]", "requirement", "[[requirement]]"),
        ('name = "heavy_load"', 'name = "heavy_load"\nclasses = ["huge"]', "requirement[0].classes", "heavy"),
        ('name = "heavy_load"', 'name = "heavy_load"\nonly_if = "rainy"', "requirement[0].only_if", "night"),
        ("[lead]", "[lead", "rule profile invented", "Start from"),
    ],
)  # fmt: skip
def test_a_wrong_file_is_refused_with_its_field(tmp_path: Path, old: str, new: str, field: str, says: str) -> None:
    assert old in OWN
    with pytest.raises(BadFile) as caught:
        read_rule_profile(write(tmp_path, OWN.replace(old, new, 1)))
    findings = [finding for finding in caught.value.findings if finding.field.endswith(field)]
    assert findings, caught.value
    assert any(says in f"{finding.reason} {finding.fix}" for finding in findings), findings


def test_two_requirements_of_one_name_are_refused(tmp_path: Path) -> None:
    twice = OWN + OWN[OWN.index("[[requirement]]") :]
    with pytest.raises(BadFile, match="stands twice"):
        read_rule_profile(write(tmp_path, twice))


def test_an_unknown_name_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="argentina"):
        read_rule_profile("atlantis")
    with pytest.raises(BadFile, match="cannot be read"):
        read_rule_profile(tmp_path / "none.toml")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadFile, match="cannot be read"):
        read_rule_profile(binary)


_VALUES = st.sampled_from(
    ["3", "-1", "1e400", "nan", "true", '""', '"x"', "[]", '["heavy"]', "[[1]]", "{}", "{ a = 1 }", "2026-05-01"]
)


@given(st.sampled_from([line for line in OWN.splitlines() if " = " in line]), _VALUES)
def test_any_value_is_read_or_refused_with_findings(line: str, value: str) -> None:
    name = line.split(" = ")[0]
    findings: tuple[Finding, ...] = ()
    with TemporaryDirectory() as folder:
        try:
            read_rule_profile(write(Path(folder), OWN.replace(line, f"{name} = {value}", 1)))
        except BadFile as refused:
            findings = refused.findings
    assert all(finding.field.startswith("rule profile invented") and finding.fix for finding in findings)
