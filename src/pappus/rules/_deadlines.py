"""When somebody has to be told something; every time moves with the release and the burst."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from pappus.errors import BadInput, Finding
from pappus.rules._check import possible_classes
from pappus.rules._facts import RuleFacts
from pappus.rules._icao import EARLY_NOTICE, LATEST_CHANGE
from pappus.rules._limits import position_every_s
from pappus.rules._national import lead_due_utc, lead_text
from pappus.rules._profile import RuleProfile
from pappus.rules._us import NOTICE_EARLIEST, NOTICE_LATEST

_HOUR = timedelta(hours=1)
_ATC, _ATS = "nearest air traffic control facility", "air traffic services unit"


@dataclass(frozen=True)
class Deadline:
    """One call or message that is due."""

    deadline_id: str
    """Stays the same when the plan moves."""
    title: str
    due_utc: datetime
    earliest_utc: datetime | None
    """Not before; None when there is no such limit."""
    paragraph: str
    who: str
    why: str


def deadlines(
    profile: RuleProfile,
    release_utc: datetime,
    burst_utc: datetime | None,
    landing_utc: datetime | None = None,
    facts: RuleFacts | None = None,
) -> tuple[Deadline, ...]:
    """What is due for a flight, in order of time.

    :param burst_utc: predicted; None when not known, and then the descent report has no time yet and is left to the
        draft, which says so.
    :param landing_utc: predicted; the report of the end is due with it.
    :param facts: leaves out what does not hold for this balloon; without them everything is kept.
    :raises BadInput: for a time without an offset from UTC, and for times that run backwards.
    """
    for name, time in (("release_utc", release_utc), ("burst_utc", burst_utc), ("landing_utc", landing_utc)):
        if time is not None and time.utcoffset() is None:
            raise BadInput(Finding(name, time.isoformat(), "the time has no zone", "Give it in UTC."))
        if time is not None and time < release_utc:
            raise BadInput(Finding(name, time.isoformat(), "before the release", "Give the time of the same flight."))
    possible = None if facts is None else possible_classes(profile, facts)
    flight = _Flight(release_utc, burst_utc, landing_utc)
    found = [*_national(profile, release_utc)]
    if profile.base == "us" and (possible is None or "part 101" in possible):
        found += _us(flight)
    if profile.base != "us":
        found += _icao(flight, possible)
    return tuple(sorted(found, key=lambda entry: (entry.due_utc, entry.deadline_id)))


def position_gap_alarm_utc(last_fix_utc: datetime) -> datetime:
    """When two hours have passed without a recorded position: ATC is told at once (14 CFR 101.39(c))."""
    return last_fix_utc + timedelta(seconds=position_every_s)


@dataclass(frozen=True)
class _Flight:
    release: datetime
    burst: datetime | None
    landing: datetime | None

    def descent(self, paragraph: str, who: str) -> list[Deadline]:
        if self.burst is None:
            return []
        why = "one hour before the descent begins; a burst begins it, so this moves with the predicted burst"
        due = self.burst - _HOUR
        if due < self.release:
            why += ". It lies before the release: give it with the launch notice"
        return [Deadline("descent-report", "Report the descent", due, None, paragraph, who, why)]

    def end(self, paragraph: str, who: str) -> list[Deadline]:
        if self.landing is None:
            return []
        why = "the end of the operation is reported; the time is the predicted landing"
        return [Deadline("end-report", "Report the end of the operation", self.landing, None, paragraph, who, why)]

    def gap(self, paragraph: str, who: str) -> Deadline:
        why = "counted from the release; from then on from the last recorded position"
        due = position_gap_alarm_utc(self.release)
        title = "No position for two hours: report at once"
        return Deadline("position-gap", title, due, None, paragraph, who, why)


def _national(profile: RuleProfile, release: datetime) -> list[Deadline]:
    due = lead_due_utc(profile, release)
    if due is None:
        return []
    title = f"Ask for the permit, {profile.name}"
    why = f"{lead_text(profile)} ({profile.lead_source or 'no source'})"
    return [Deadline("permit-request", title, due, None, profile.lead_source, "the authority", why)]


def _us(flight: _Flight) -> list[Deadline]:
    release = flight.release
    notice = Deadline(
        "launch-notice",
        "Give notice of the launch",
        release - NOTICE_LATEST,
        release - NOTICE_EARLIEST,
        "14 CFR 101.37(a)",
        _ATC,
        "6 to 24 hours before the release, which stays within 30 minutes of it",
    )
    launch = Deadline(
        "launch-report", "Report the launch", release, release, "14 CFR 101.37(d)", _ATC, "at once after it"
    )
    return [
        notice,
        launch,
        flight.gap("14 CFR 101.39(c)", _ATC),
        *flight.descent("14 CFR 101.39(b)", _ATC),
        *flight.end("14 CFR 101.39(d)", _ATC),
    ]


def _icao(flight: _Flight, possible: frozenset[str] | None) -> list[Deadline]:
    release = flight.release
    medium_up = possible is None or bool(possible & {"medium", "heavy"})
    heavy = possible is None or "heavy" in possible
    where = "ICAO Annex 2 App. 5 / SERA App. 2,"
    found: list[Deadline] = []
    if medium_up:
        found += [
            Deadline(
                "early-notice",
                "Give early notice of the flight",
                release - EARLY_NOTICE,
                None,
                f"{where} 5.1.1",
                _ATS,
                "seven days before the release",
            ),
            Deadline(
                "last-change",
                "Tell changes",
                release - LATEST_CHANGE,
                None,
                f"{where} 5.1.3",
                _ATS,
                "six hours before the release",
            ),
            Deadline("launch-report", "Report the launch", release, release, f"{where} 5.2", _ATS, "at once after it"),
            *flight.end(f"{where} 6.5", _ATS),
        ]
    if heavy:
        found += [flight.gap(f"{where} 6.3", _ATS), *flight.descent(f"{where} 6.4", _ATS)]
    return found
