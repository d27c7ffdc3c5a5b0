"""Deadlines, day and night; entries of rules_law.json and rules_airspace.json name their sources."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pappus.airspace import pressure_altitude_m
from pappus.atmosphere import standard_air_at_geopotential
from pappus.errors import BadInput
from pappus.rules import (
    Deadline,
    PackageFact,
    RuleFacts,
    RuleProfile,
    deadlines,
    light_on_the_way,
    position_gap_alarm_utc,
)
from pappus.rules._limits import sixty_thousand_ft_m
from pappus.rules._us import RELEASE_TOLERANCE
from pappus.sky import horizon_dip_deg, sun_elevation_deg
from references.checks import assert_within
from references.rules_checks import load_rule
from rules.rule_cases import GOOD, ICAO, US


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def told(time: datetime) -> str:
    return f"{time:%Y-%m-%dT%H:%MZ}"


def due(
    profile: RuleProfile, deadline_id: str, release: datetime, burst: datetime | None, facts: RuleFacts | None = None
) -> Deadline:
    (found,) = (entry for entry in deadlines(profile, release, burst, burst, facts) if entry.deadline_id == deadline_id)
    return found


def test_us_notice_window() -> None:
    entry = load_rule("us_notice_window")
    notice = due(US, "launch-notice", utc(entry["inputs"]["launch_utc"]), None)
    assert notice.earliest_utc is not None
    found = {
        "earliest": told(notice.earliest_utc),
        "latest": told(notice.due_utc),
        "launch_time_tolerance_min": RELEASE_TOLERANCE.total_seconds() / 60,
    }
    assert_within(found, entry)


def test_icao_notice_window() -> None:
    entry = load_rule("icao_notice_window")
    release = utc(entry["inputs"]["launch_utc"])
    found = {
        "latest_early_notice_date": f"{due(ICAO, 'early-notice', release, None).due_utc:%Y-%m-%d}",
        "latest_change": told(due(ICAO, "last-change", release, None).due_utc),
    }
    assert_within(found, entry)


def test_us_descent_report() -> None:
    entry = load_rule("us_descent_info")
    burst = utc(entry["inputs"]["forecast_burst_utc"])
    report = due(US, "descent-report", burst - timedelta(minutes=100), burst)
    assert_within({"due_by": told(report.due_utc)}, entry)


def test_us_position_gap() -> None:
    entry = load_rule("us_gap_alarm")
    alarm = position_gap_alarm_utc(utc(entry["inputs"]["last_fix_utc"]))
    assert_within({"notify_atc_at": f"{alarm:%Y-%m-%dT%H:%M:%SZ}"}, entry)


RELEASE = datetime(2026, 6, 14, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize("profile", [US, ICAO, replace(ICAO, key="x", base="australia", lead_time_days=28)])
def test_every_time_moves_with_the_flight_and_keeps_its_id(profile: RuleProfile) -> None:
    later = timedelta(hours=3, minutes=7)
    before = deadlines(profile, RELEASE, RELEASE + timedelta(hours=2), RELEASE + timedelta(hours=3))
    moved = deadlines(
        profile, RELEASE + later, RELEASE + later + timedelta(hours=2), RELEASE + later + timedelta(hours=3)
    )
    assert len(before) >= 2
    assert [entry.deadline_id for entry in before] == [entry.deadline_id for entry in moved]
    assert len({entry.deadline_id for entry in before}) == len(before)
    for old, new in zip(before, moved, strict=True):
        assert new.due_utc - old.due_utc == later
    assert list(before) == sorted(before, key=lambda entry: entry.due_utc)


def test_a_flight_shorter_than_an_hour_reports_its_descent_with_the_notice() -> None:
    report = due(US, "descent-report", RELEASE, RELEASE + timedelta(minutes=50))
    assert report.due_utc < RELEASE
    assert "before the release" in report.why
    assert "before the release" not in due(US, "descent-report", RELEASE, RELEASE + timedelta(minutes=60)).why


def test_only_what_holds_for_the_balloon_is_due() -> None:
    light = replace(GOOD, packages=(PackageFact("camera", 1.5, 0.03),), rest_mass_kg=0.3)
    medium = replace(light, packages=(PackageFact("a", 2.0, 0.04), PackageFact("b", 2.0, 0.04)))

    def ids(profile: RuleProfile, facts: RuleFacts | None) -> set[str]:
        end = RELEASE + timedelta(hours=2)
        return {entry.deadline_id for entry in deadlines(profile, RELEASE, end, end, facts)}

    assert ids(US, light) == set()
    assert ids(ICAO, light) == set()
    assert ids(ICAO, medium) == {"early-notice", "last-change", "launch-report", "end-report"}
    assert ids(ICAO, GOOD) == ids(ICAO, None) == ids(ICAO, medium) | {"position-gap", "descent-report"}
    # what may hold is kept
    assert ids(US, replace(light, separation_force_n=None)) == ids(US, None) == ids(US, GOOD)


def test_what_has_no_time_is_left_out() -> None:
    ids = {entry.deadline_id for entry in deadlines(US, RELEASE, None)}
    assert "descent-report" not in ids
    assert "end-report" not in ids


@pytest.mark.parametrize(("days", "working", "expected"), [
    # 14 June 2026 is a Sunday (calendar)
    (14, False, "2026-05-31T09:00Z"),
    (7, True, "2026-06-04T09:00Z"),
    (1, True, "2026-06-12T09:00Z"),
    (5, True, "2026-06-08T09:00Z"),
])  # fmt: skip
def test_lead_times_of_countries(days: int, working: bool, expected: str) -> None:
    profile = replace(ICAO, key="x", lead_time_days=days, lead_in_working_days=working)
    assert told(due(profile, "permit-request", RELEASE, None).due_utc) == expected


@pytest.mark.parametrize(
    ("release", "burst"),
    [(datetime(2026, 6, 14, 9), None), (RELEASE, RELEASE - timedelta(minutes=1)), (RELEASE, datetime(2026, 6, 14, 10))],  # noqa: DTZ001
)
def test_times_without_a_zone_or_backwards_are_refused(release: datetime, burst: datetime | None) -> None:
    with pytest.raises(BadInput):
        deadlines(US, release, burst)


def test_pressure_of_the_limits() -> None:
    entry = load_rule("isa_60000ft")
    limits = np.array([sixty_thousand_ft_m, 18_000.0])
    pressure = standard_air_at_geopotential(limits).pressure_pa
    assert_within({"hPa": (pressure / 100.0).tolist()}, entry)
    assert pressure_altitude_m(pressure) == pytest.approx(limits, abs=1e-6)


def _sunset(height_m: float) -> datetime:
    """When the night as corrected begins at that height above 0 N 0 E at the equinox, to a tenth of a second."""
    low, high = datetime(2026, 3, 20, 17, 0, tzinfo=UTC), datetime(2026, 3, 20, 20, 0, tzinfo=UTC)
    while high - low > timedelta(seconds=0.1):
        middle = low + (high - low) / 2
        dark = light_on_the_way([middle], 0.0, 0.0, height_m, 0.0).night_as_corrected
        low, high = (low, middle) if dark else (middle, high)
    return high


def test_sunset_at_a_height() -> None:
    entry = load_rule("sunset_at_alt")
    heights = entry["inputs"]["altitude_m"]
    dips = horizon_dip_deg(heights)
    found = {
        "dip_deg": dips.tolist(),
        # along the line of sight, which touches the sphere
        "horizon_distance_km": (entry["inputs"]["R_m"] * np.tan(np.radians(dips)) / 1000.0).tolist(),
        "sunset_delay_min_equator_equinox": [
            (_sunset(height) - _sunset(0.0)).total_seconds() / 60.0 for height in heights
        ],
    }
    assert_within(found, entry)


def _after_sunset_on_the_equator(minutes: float) -> datetime:
    """Minutes after the sea-level sunset at 0 N 0 E near the equinox of March 2026, found from the elevation itself."""
    noon = datetime(2026, 3, 20, 12, 0, tzinfo=UTC)
    times = [noon + timedelta(seconds=10 * step) for step in range(6 * 360 + 360)]
    low = sun_elevation_deg(times, 0.0, 0.0) < -50.0 / 60.0
    return times[int(np.argmax(low))] + timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("minutes", "height_m", "night_as_corrected"),
    [(1, 0.0, True), (-1, 0.0, False), (16, 18_000.0, False), (19, 18_000.0, True), (16, 5_000.0, True)],
)
def test_sunset_is_later_at_a_height(minutes: float, height_m: float, night_as_corrected: bool) -> None:
    """The sun sets 17.2 min later at 18 000 m and 9.1 min later at 5 000 m (equator, equinox, no refraction)."""
    seen = light_on_the_way([_after_sunset_on_the_equator(minutes)], 0.0, 0.0, height_m, height_m)
    assert seen.night_as_corrected is night_as_corrected
    # a marking by day is asked between sunrise and sunset, and night in the sense of ICAO begins with 6 degrees
    assert seen.day is (minutes < 0)
    assert seen.night is False


def test_night_of_civil_twilight() -> None:
    assert light_on_the_way([_after_sunset_on_the_equator(19)], 0.0, 0.0, 0.0, 0.0).night is False
    assert light_on_the_way([_after_sunset_on_the_equator(22)], 0.0, 0.0, 0.0, 0.0).night is True


def test_light_above_60000_ft_is_left_out() -> None:
    night = datetime(2026, 3, 20, 23, 0, tzinfo=UTC)
    high = light_on_the_way([night], 0.0, 0.0, 20_000.0, 18_288.0)
    assert (high.night_as_corrected, high.night, high.day) == (False, False, False)
    low = light_on_the_way([night, night], 0.0, 0.0, [20_000.0, 18_000.0], [18_300.0, 18_280.0])
    assert (low.night_as_corrected, low.night, low.day) == (True, True, False)


def test_an_unknown_point_leaves_open_what_is_not_seen() -> None:
    noon, night = datetime(2026, 3, 20, 12, 0, tzinfo=UTC), datetime(2026, 3, 20, 23, 0, tzinfo=UTC)
    for holes in ({"height_msl_m": [100.0, np.nan]}, {"pressure_altitude_m": [100.0, np.nan]}):
        given = {
            "latitude_deg": 0.0,
            "longitude_deg": 0.0,
            "height_msl_m": 100.0,
            "pressure_altitude_m": 100.0,
            **holes,
        }
        seen = light_on_the_way([noon, night], **given)
        assert (seen.night_as_corrected, seen.night, seen.day) == (None, None, True)
    nothing = light_on_the_way([], [], [], [], [])
    assert (nothing.night_as_corrected, nothing.night, nothing.day) == (None, None, None)
