"""Deadlines as an iCalendar file (RFC 5545) for the calendars and phones of the crew."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from pappus.errors import BadInput, Finding
from pappus.rules import Deadline

_NOTICE_ALARM, _FLIGHT_ALARM = timedelta(hours=6), timedelta(minutes=10)
_FLIGHT_BEGINS_BEFORE_RELEASE = timedelta(hours=1)
_AID = "Planning aid, not legal advice. Nothing was filed or sent: somebody has to do it."


def deadlines_calendar(
    deadlines: Sequence[Deadline], *, plan_name: str, release_utc: datetime, now: datetime, note: str = ""
) -> bytes:
    """One event for each deadline, at the time it is due, with an alarm before it.

    Events keep their UID, which hangs on the name of the plan and the id of the deadline, so a calendar that takes the
    file again moves them; SEQUENCE counts the minutes since 1970 and so grows from file to file. A deadline that no
    longer holds is not taken back. Alarms ring 6 hours ahead for what is due before the day of the flight, 10 minutes
    ahead from an hour before the release on (common practice, no source).

    :param now: DTSTAMP; UTC-aware.
    :param note: such as "Invented example"; stands first in every description.
    :raises BadInput: for a time without an offset from UTC, and for a plan without a name.
    """
    # slow to load, and only this file needs it
    from icalendar import Alarm, Calendar, Event

    for name, time in (("release_utc", release_utc), ("now", now)):
        if time.utcoffset() is None:
            raise BadInput(Finding(name, time.isoformat(), "the time has no zone", "Give it in UTC."))
    # one line of letters, whatever the plan holds
    plan = "".join(letter for letter in " ".join(plan_name.split()) if letter.isprintable())
    if not plan:
        raise BadInput(Finding("plan_name", plan_name, "empty", "Give the plan a name: its events hang on it."))
    stamp = now.astimezone(UTC).replace(microsecond=0)
    calendar = Calendar()
    calendar.add("prodid", "-//pappus//deadlines of a flight//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"{plan}: deadlines")
    for entry in deadlines:
        due = _second(entry.due_utc)
        event = Event()
        event.add("uid", str(uuid5(NAMESPACE_URL, f"pappus/{plan}/{entry.deadline_id}")))
        event.add("dtstamp", stamp)
        event.add("sequence", int(stamp.timestamp()) // 60)
        event.add("dtstart", due)
        event.add("summary", f"{entry.title} ({plan})")
        event.add("description", _words(entry, note))
        event.add("status", "CONFIRMED")
        event.add("transp", "TRANSPARENT")
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", f"Due {due:%Y-%m-%d %H:%M}Z: {entry.title} ({plan})")
        alarm.add("trigger", -_alarm(due, release_utc))
        event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _alarm(due: datetime, release_utc: datetime) -> timedelta:
    return _FLIGHT_ALARM if due >= release_utc - _FLIGHT_BEGINS_BEFORE_RELEASE else _NOTICE_ALARM


def _second(time: datetime) -> datetime:
    # downwards: a deadline must not move later
    return time.astimezone(UTC).replace(microsecond=0)


def _words(entry: Deadline, note: str) -> str:
    opens = None if entry.earliest_utc is None else f"Not before {_second(entry.earliest_utc):%Y-%m-%d %H:%M}Z"
    source = f"{entry.paragraph} ({entry.certainty})"
    return "\n".join(line for line in (note, f"Whom: {entry.who}", entry.why, opens, source, _AID) if line)
