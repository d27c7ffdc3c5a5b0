"""Drafts for air traffic services: every item that a paragraph names is there, known or as a blank."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime

import pytest

from pappus.earth import geodesic_inverse
from pappus.errors import BadInput
from pappus.rules import (
    Draft,
    FlightNotice,
    Operator,
    RuleSet,
    TrackPoint,
    cancellation,
    descent_report,
    end_report,
    launch_notice,
    launch_report,
    lost_position_report,
    position_report,
)
from rules.notices import BURST, FULL, LANDING, at

NOWHERE = FlightNotice()


def all_drafts(notice: FlightNotice, rule_set: RuleSet, point: TrackPoint | None) -> list[Draft]:
    return [
        launch_notice(notice, rule_set),
        launch_report(notice, rule_set, point.time_utc if point else None),
        position_report(notice, rule_set, point),
        lost_position_report(notice, rule_set, point),
        descent_report(notice, rule_set, point),
        cancellation(notice, rule_set),
        end_report(notice, rule_set, point),
    ]


@pytest.mark.parametrize("rule_set", ["us", "icao"])
@pytest.mark.parametrize("notice", [FULL, NOWHERE])
def test_every_draft_says_that_it_is_one(notice: FlightNotice, rule_set: RuleSet) -> None:
    for draft in all_drafts(notice, rule_set, BURST if notice is FULL else None):
        assert "DRAFT, NOT FILED" in draft.text.splitlines()[0]
        assert "Planning aid, not legal advice" in draft.text
        assert ("14 CFR 101.3" if rule_set == "us" else "ICAO Annex 2 App. 5") in draft.text
        assert "confirm" in draft.text
        assert "None" not in draft.text
        assert "nan" not in draft.text


@pytest.mark.parametrize("rule_set", ["us", "icao"])
def test_an_unknown_item_is_a_blank_and_not_dropped(rule_set: RuleSet) -> None:
    for known, unknown in zip(all_drafts(FULL, rule_set, BURST), all_drafts(NOWHERE, rule_set, None), strict=True):
        names = [line.split(":")[0] for line in known.text.splitlines()]
        assert [line.split(":")[0] for line in unknown.text.splitlines()] == names
        assert unknown.blanks
        for name in unknown.blanks:
            (line,) = (line for line in unknown.text.splitlines() if line.startswith(f"{name}:"))
            assert "____" in line
        assert set(known.blanks) <= {"Changes to what was told", "NOTAM that was asked for"}


def test_items_of_101_37_a() -> None:
    """Items 1 to 8 of 14 CFR 101.37(a), from memory."""
    text = launch_notice(FULL, "us").text
    for part in (
        "1 Balloon identification: INVENTED 7",
        "2 Estimated date and time of launch: 2026-06-14 09:00 UTC, latest 2026-06-14 09:30 UTC",
        "3 Site of the launch: Østervang field, 453020N0071540E",
        "4 Cruising altitude: pressure altitude 107,000 ft; height above mean sea level 32.9 km (108,100 ft)",
        "5 Forecast trajectory: 2026-06-14 09:30 UTC at 453000N0071800E",
        "2026-06-14 09:58 UTC at 452848N0072400E",
        "6 Length of the balloon: 2.6 m",
        "6 Diameter of the balloon: 2.1 m",
        "6 Length of the suspension: 14.0 m",
        "6 Weight of the payload: 2.40 kg (5.29 lb)",
        "6 Length of the trailing antenna: 0.0 m",
        "7 Duration of the flight: 2.4 h",
        "8 Forecast time and place of impact: 2026-06-14 11:25 UTC at 452500N0073400E",
    ):
        assert part in text, part


def test_items_a_to_l_of_5_1_2() -> None:
    """ICAO Annex 2 App. 5, 5.1.2: a to g restated by others, h to l from memory."""
    text = launch_notice(FULL, "icao").text
    for letter in "abcdefghijkl":
        assert f"\n{letter} " in text, letter
    for part in ("868.300 MHz", "Invented Crew, telephone +00 000 0000", "drifts towards 112 degrees true",
                 "Elapsed time to it: 58 min", "b Classification: light"):  # fmt: skip
        assert part in text, part
    several = launch_notice(replace(FULL, balloons=3, interval_s=1800.0), "icao").text
    assert "g Number of balloons: 3, every 30 min" in several
    assert "3, every ____ min" in launch_notice(replace(FULL, balloons=3), "icao").text


def test_the_descent_is_told_an_hour_before_the_predicted_burst() -> None:
    """14 CFR 101.39(b), seen: due 09:52 for a burst at 10:52."""
    draft = descent_report(FULL, "us", LANDING)
    assert "Due by: 2026-06-14 09:52 UTC" in draft.text
    assert "Begin of the descent, predicted: 2026-06-14 10:52 UTC" in draft.text
    assert "through" not in draft.text
    # the trajectory of the rest leaves out what lies before the burst
    assert "09:30" not in draft.text
    assert "Due by: ____" in descent_report(replace(FULL, burst=None), "us", LANDING).text


def test_the_landing_area_is_told_as_a_circle_that_covers_it() -> None:
    text = descent_report(FULL, "us", None).text
    match = re.search(r"90% of predicted landings inside (\d+) NM of (\d{2})(\d{2})00N(\d{3})(\d{2})00E", text)
    assert match
    radius, north, north_min, east, east_min = map(int, match.groups())
    for place in FULL.landing_area_deg:
        assert geodesic_inverse(north + north_min / 60, east + east_min / 60, *place)[0] <= radius * 1852.0


def test_a_lost_position_names_the_last_one() -> None:
    text = lost_position_report(FULL, "us", BURST).text
    assert "No position since: 2026-06-14 10:52 UTC" in text
    assert "pressure altitude 107,000 ft" in text


def test_half_an_operator_leaves_half_a_blank() -> None:
    draft = cancellation(replace(FULL, operator=Operator("Invented Crew")), "us")
    assert "Operator: Invented Crew, telephone ____" in draft.text
    assert "Operator" in draft.blanks


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("release_utc", datetime(2026, 6, 14, 9), "no zone"),  # noqa: DTZ001
        ("burst", TrackPoint(datetime(2026, 6, 14, 9), 45.0, 7.0), "no zone"),  # noqa: DTZ001
        ("payload_mass_kg", float("nan"), "not a finite number"),
        ("landing", TrackPoint(at(9, 0), 45.0, float("inf")), "not a finite number"),
        ("landing", TrackPoint(at(9, 0), 117.0, 7.0), "from -90 to 90"),
        ("site_latitude_deg", -91.0, "from -90 to 90"),
        ("site_longitude_deg", 181.0, "from -180 to 180"),
        ("landing_area_deg", ((45.0, 7.0), (7.0, 200.0)), "from -180 to 180"),
        ("trajectory", (TrackPoint(at(9, 0), 45.0, 7.0, float("nan")),), "not a finite number"),
    ],
)
def test_a_notice_refuses_what_cannot_be(name: str, value: object, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        replace(FULL, **{name: value})
