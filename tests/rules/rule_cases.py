"""Flights for the tests of rules: one of each class with everything known and in order (invented)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from pappus.landing import Share
from pappus.rules import Equipment, PackageFact, RuleFacts, RuleProfile, RuleVerdict, Verdict, check_rules

RELEASE = datetime(2026, 6, 14, 9, 0, tzinfo=UTC)
NOW = RELEASE - timedelta(hours=5)
NEVER = Share(0.0, 0.0, 0.004)
OFTEN = Share(0.5, 0.4, 0.6)
FEW_FLIGHTS = Share(0.0, 0.0, 0.07)

US = RuleProfile("us", "United States", "us", "text seen", "2024", "14 CFR 101", lead_time_days=0)
ICAO = RuleProfile("icao", "ICAO", "icao", "text seen", "not noted", "ICAO Annex 2", lead_time_days=0)

GOOD = RuleFacts(
    packages=(PackageFact("camera", 3.2, 0.09), PackageFact("tracker", 3.0, 0.04)),
    rest_mass_kg=0.9,
    separation_force_n=180.0,
    suspension_length_m=20.0,
    zero_pressure_polyethylene=False,
    gas_capacity_m3=8.0,
    envelope_diameter_m=2.5,
    launch_mass_kg=9.1,
    envelope_mass_kg=2.0,
    equipment=Equipment(
        payload_cut_downs=2, envelope_terminators=2, radar_reflector=True, continuous_tracking=True, transponder=True,
        ads_b=True, light_visible_m=9000.0, light_flashes_per_min=60.0, suspension_marked=True,
        antenna_breaking_force_n=300.0, antenna_pennant_spacing_m=10.0, owner_marked=True,
    ),
    cloud_fraction=0.3,
    visibility_m=20_000.0,
    night_as_corrected=True,
    night=True,
    day=True,
    casualty_expectation=1e-6,
    drops_object=False,
    restricted_area=NEVER,
    surface_area_low=NEVER,
    congested_area_low=NEVER,
    assembly_low=False,
    abroad=NEVER,
    high_seas=NEVER,
    meteorological_only=False,
    controlled_release=False,
    ssr_in_use=True,
    ads_b_in_use=True,
    position_interval_s=60.0,
    release_utc=RELEASE,
    notice_given_utc=RELEASE - timedelta(hours=12),
    notified_release_utc=RELEASE,
    application_sent_utc=RELEASE - timedelta(days=40),
)  # fmt: skip
"""Heavy under ICAO and inside Part 101; its notice is in time for the US, not for ICAO."""
GOOD_ICAO = replace(GOOD, notice_given_utc=RELEASE - timedelta(days=8))


def verdict(profile: RuleProfile, facts: RuleFacts, rule_id: str, now: datetime = NOW) -> RuleVerdict:
    """The verdict on one paragraph."""
    (found,) = (entry for entry in check_rules(profile, facts, now) if entry.rule_id == rule_id)
    return found


def said(profile: RuleProfile, facts: RuleFacts, rule_id: str, now: datetime = NOW) -> Verdict:
    """Its word alone."""
    return verdict(profile, facts, rule_id, now).verdict
