"""A date for packets that tell only a part of their time, from when they were heard."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from pappus.sources.receivers._refused import Refused


def time_of_day(hour: int, minute: int, second: float, heard_utc: datetime) -> datetime:
    """The time of day on that date which brings it nearest to the hearing, so midnight is crossed both ways.

    A packet more than 12 h old gets the wrong date. Raises Refused for a time that no clock shows.
    """
    return _nearest((_on(heard_utc + timedelta(days=day), hour, minute, second) for day in (-1, 0, 1)), heard_utc)


def day_of_month(day: int, hour: int, minute: int, heard_utc: datetime) -> datetime:
    """Day, hour and minute in that month which brings it nearest to the hearing. Raises Refused as above."""
    first = heard_utc.replace(day=1)
    months = (first - timedelta(days=1), first, first + timedelta(days=31))
    candidates = []
    for month in months:
        try:
            on_day = month.replace(day=day)
        except ValueError:  # this month has no such day
            continue
        candidates.append(_on(on_day, hour, minute, 0.0))
    if not candidates:
        raise Refused(f"day {day} is in no month near the hearing")
    return _nearest(candidates, heard_utc)


def full_time(year: int, month: int, day: int, hour: int, minute: int, second: float) -> datetime:
    """A whole UTC time; second 60 (a leap second) is the next minute. Raises Refused for an impossible one."""
    try:
        return _on(datetime(year, month, day, tzinfo=UTC), hour, minute, second)
    except (ValueError, OverflowError) as error:
        raise Refused(f"{year}-{month}-{day} is not a date") from error


def _on(day: datetime, hour: int, minute: int, second: float) -> datetime:
    if not (0 <= hour <= 23 and 0 <= minute <= 59 and 0.0 <= second < 61.0):
        raise Refused(f"{hour}:{minute}:{second:g} is not a time of day")
    midnight = day.replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight + timedelta(hours=hour, minutes=minute, microseconds=round(second * 1e6))


def _nearest(candidates: Iterable[datetime], heard_utc: datetime) -> datetime:
    return min(candidates, key=lambda candidate: abs(candidate - heard_utc))
