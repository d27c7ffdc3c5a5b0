"""The calendar of deadlines: read back with icalendar, and byte by byte against RFC 5545."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from icalendar import Calendar

from pappus.errors import BadInput
from pappus.export import deadlines_calendar
from pappus.rules import Deadline, deadlines
from rules.rule_cases import ICAO, US

RELEASE = datetime(2026, 6, 14, 9, 0, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 8, 0, 30, 250_000, tzinfo=UTC)


PLAN = "Østervang 7"


def found(release: datetime = RELEASE) -> tuple[Deadline, ...]:
    return deadlines(US, release, release + timedelta(minutes=112), release + timedelta(minutes=145))


def written(
    given: tuple[Deadline, ...], release: datetime = RELEASE, now: datetime = NOW, name: str = "Østervang 7"
) -> bytes:
    return deadlines_calendar(given, plan_name=name, release_utc=release, now=now, note="Invented example")


def test_it_is_read_back() -> None:
    given = found()
    calendar = Calendar.from_ical(written(given))
    assert (calendar["version"], calendar["method"]) == ("2.0", "PUBLISH")
    assert calendar["prodid"]
    events = calendar.walk("VEVENT")
    assert len(events) == len(given) == 5
    for event, entry in zip(events, given, strict=True):
        assert event.decoded("dtstart") == entry.due_utc
        assert event.decoded("dtstamp") == datetime(2026, 6, 1, 8, 0, 30, tzinfo=UTC)
        assert str(event["summary"]) == f"{entry.title} (Østervang 7)"
        words = str(event["description"]).split("\n")
        assert words[0] == "Invented example"
        assert {f"Whom: {entry.who}", entry.why, f"{entry.paragraph} ({entry.certainty})"} <= set(words)
        assert "not legal advice" in words[-1]
        assert not event.errors
    notice = events[0]
    assert "Not before 2026-06-13 09:00Z" in str(notice["description"])


def test_every_event_has_one_alarm_before_it() -> None:
    """RFC 5545, 3.6.6: ACTION, TRIGGER and DESCRIPTION; a trigger with a minus rings before the start."""
    alarms = {}
    for event in Calendar.from_ical(written(found())).walk("VEVENT"):
        (alarm,) = event.walk("VALARM")
        assert str(alarm["action"]) == "DISPLAY"
        assert str(event["summary"]) in str(alarm["description"])
        alarms[str(event["summary"]).split(" (")[0]] = alarm.decoded("trigger")
    assert alarms["Give notice of the launch"] == timedelta(hours=-6)
    assert alarms["Report the descent"] == timedelta(minutes=-10)
    assert alarms["Report the launch"] == timedelta(minutes=-10)


def test_the_bytes() -> None:
    """RFC 5545: 3.1 CRLF and 75 octets, 3.3.5 UTC with Z, 3.3.6 durations, 3.3.11 escapes."""
    entry = replace(found()[0], title="Ä" * 60 + "; one, two \\ three", why="first\nsecond")
    raw = written((entry,))
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert b"\r" not in b"".join(lines)
    assert all(len(line) <= 75 for line in lines)
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")  # a fold never cuts a letter
    unfolded = raw.replace(b"\r\n ", b"").decode("utf-8")
    assert "DTSTART:20260614T030000Z\r\n" in unfolded
    assert "DTSTAMP:20260601T080030Z\r\n" in unfolded
    assert "TRIGGER:-PT6H\r\n" in unfolded
    assert "\\; one\\, two \\\\ three" in unfolded
    assert "first\\nsecond" in unfolded
    for name in ("BEGIN:VCALENDAR", "VERSION:2.0", "BEGIN:VEVENT", "BEGIN:VALARM", "END:VALARM", "END:VEVENT"):
        assert f"{name}\r\n" in unfolded, name
    assert "DTSTART;" not in unfolded


def uids(raw: bytes) -> list[str]:
    return [str(event["uid"]) for event in Calendar.from_ical(raw).walk("VEVENT")]


def test_events_keep_their_uid_when_the_plan_moves_and_their_sequence_grows() -> None:
    """RFC 5545, 3.8.7.4: a change of the time of an event raises its sequence."""
    later = RELEASE + timedelta(hours=5)
    before, after = written(found()), written(found(later), later, NOW + timedelta(minutes=1))
    assert uids(before) == uids(after)
    assert len(set(uids(before))) == 5
    old, new = (Calendar.from_ical(raw).walk("VEVENT") for raw in (before, after))
    for one, two in zip(old, new, strict=True):
        assert two.decoded("dtstart") - one.decoded("dtstart") == timedelta(hours=5)
        assert two.decoded("sequence") == one.decoded("sequence") + 1
        # an integer of RFC 5545, 3.3.8, has 31 bits
        assert 0 <= two.decoded("sequence") < 2**31
    assert not set(uids(before)) & set(uids(written(found(), name="another plan")))


def test_the_same_input_gives_the_same_bytes() -> None:
    assert written(found()) == written(found())


def test_other_zones_are_written_in_utc() -> None:
    east = timezone(timedelta(hours=9))
    given = tuple(replace(entry, due_utc=entry.due_utc.astimezone(east)) for entry in found())
    assert written(given, RELEASE.astimezone(east), NOW.astimezone(east)) == written(found())


def test_a_part_of_a_second_never_makes_a_deadline_later() -> None:
    late = replace(found()[0], due_utc=RELEASE + timedelta(microseconds=999_999))
    (event,) = Calendar.from_ical(written((late,))).walk("VEVENT")
    assert event.decoded("dtstart") == RELEASE


def test_countries_with_a_permit_have_an_alarm_for_it() -> None:
    profile = replace(ICAO, key="x", name="X", lead_time_days=14, lead_source="invented")
    given = deadlines(profile, RELEASE, None)
    first = Calendar.from_ical(written(given)).walk("VEVENT")[0]
    assert first.decoded("dtstart") == RELEASE - timedelta(days=14)


@pytest.mark.parametrize(
    "wrong",
    [{"plan_name": " "}, {"now": datetime(2026, 6, 1)}, {"release_utc": datetime(2026, 6, 1)}],  # noqa: DTZ001
)
def test_what_cannot_be_used_is_refused(wrong: dict[str, object]) -> None:
    given = {"plan_name": "plan", "now": NOW, "release_utc": RELEASE, **wrong}
    with pytest.raises(BadInput, match=next(iter(wrong))):
        deadlines_calendar(found(), **given)


def test_a_line_cannot_break_out_of_its_field() -> None:
    """A name with line breaks stays inside its property."""
    raw = written(found(), name="pl\x00an\r\nBEGIN:VEVENT\r\nUID:evil")
    assert len(Calendar.from_ical(raw).walk("VEVENT")) == 5
    assert not re.search(rb"^UID:evil", raw, re.MULTILINE)
