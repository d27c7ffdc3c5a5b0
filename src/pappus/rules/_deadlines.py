"""When somebody has to be told something; every time moves with the release and the burst."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from pappus.errors import BadInput, Finding
from pappus.rules._check import possible_classes
from pappus.rules._facts import RuleFacts
from pappus.rules._icao import EARLY_NOTICE, HEAVY, LATEST_CHANGE, MEDIUM_UP
from pappus.rules._limits import position_every_s
from pappus.rules._national import lead_due_utc, lead_text
from pappus.rules._profile import RuleProfile
from pappus.rules._us import NOTICE_EARLIEST, NOTICE_LATEST
from pappus.rules._verdict import Certainty

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
    certainty: Certainty
    """How the text of the paragraph is known."""


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
    if profile.base == "icao":
        found += _icao(flight, possible)
    if profile.base == "australia":
        found += _australia(flight, possible)
    return tuple(sorted(found, key=lambda entry: (entry.due_utc, entry.deadline_id)))


def position_gap_alarm_utc(last_fix_utc: datetime) -> datetime:
    """When two hours have passed without a recorded position: ATC is told at once (14 CFR 101.39(c))."""
    return last_fix_utc + timedelta(seconds=position_every_s)


@dataclass(frozen=True)
class _Flight:
    release: datetime
    burst: datetime | None
    landing: datetime | None

    def launch(self, paragraph: str, who: str) -> Deadline:
        why = "at once after it"
        return Deadline(
            "launch-report", "Report the launch", self.release, self.release, paragraph, who, why, "from memory"
        )

    def descent(self, paragraph: str, who: str, certainty: Certainty) -> list[Deadline]:
        if self.burst is None:
            return []
        why = "one hour before the descent begins; a burst begins it, so this moves with the predicted burst"
        due = self.burst - _HOUR
        if due < self.release:
            why += ". It lies before the release: give it with the launch notice"
        return [Deadline("descent-report", "Report the descent", due, None, paragraph, who, why, certainty)]

    def end(self, paragraph: str, who: str, certainty: Certainty) -> list[Deadline]:
        if self.landing is None:
            return []
        why = "the end of the operation is reported; the time is the predicted landing"
        title = "Report the end of the operation"
        return [Deadline("end-report", title, self.landing, None, paragraph, who, why, certainty)]

    def gap(self, paragraph: str, who: str, certainty: Certainty) -> Deadline:
        why = "counted from the release; from then on from the last recorded position"
        due = position_gap_alarm_utc(self.release)
        title = "No position for two hours: report at once"
        return Deadline("position-gap", title, due, None, paragraph, who, why, certainty)


def _national(profile: RuleProfile, release: datetime) -> list[Deadline]:
    due = lead_due_utc(profile, release)
    if due is None:
        return []
    title = f"Ask for the permit, {profile.name}"
    why = f"{lead_text(profile)} ({profile.lead_source})"
    source, certainty = profile.lead_source, profile.lead_certainty
    return [Deadline("permit-request", title, due, None, source, "the authority", why, certainty)]


def _us(flight: _Flight) -> list[Deadline]:
    release = flight.release
    why = "6 to 24 hours before the release, which stays within 30 minutes of it"
    opens, closes = release - NOTICE_EARLIEST, release - NOTICE_LATEST
    title = "Give notice of the launch"
    return [
        Deadline("launch-notice", title, closes, opens, "14 CFR 101.37(a)", _ATC, why, "text seen"),
        flight.launch("14 CFR 101.37(d)", _ATC),
        flight.gap("14 CFR 101.39(c)", _ATC, "text seen"),
        *flight.descent("14 CFR 101.39(b)", _ATC, "text seen"),
        *flight.end("14 CFR 101.39(d)", _ATC, "text seen"),
    ]


def _icao(flight: _Flight, possible: frozenset[str] | None) -> list[Deadline]:
    where, release = "ICAO Annex 2 App. 5 / SERA App. 2,", flight.release
    found: list[Deadline] = []
    if possible is None or possible & MEDIUM_UP:
        early, change = release - EARLY_NOTICE, release - LATEST_CHANGE
        why = "seven days before the release"
        found += [
            Deadline(
                "early-notice", "Give early notice", early, None, f"{where} 5.1.1", _ATS, why, "restated by others"
            ),
            Deadline(
                "last-change",
                "Tell changes",
                change,
                None,
                f"{where} 5.1.3",
                _ATS,
                "six hours before it",
                "from memory",
            ),
            flight.launch(f"{where} 5.2", _ATS),
            *flight.end(f"{where} 6.5", _ATS, "from memory"),
        ]
    if possible is None or possible & HEAVY:
        found.append(flight.gap(f"{where} 6.3", _ATS, "from memory"))
        found += flight.descent(f"{where} 6.4", _ATS, "from memory")
    return found


def _australia(flight: _Flight, possible: frozenset[str] | None) -> list[Deadline]:
    if possible is not None and not possible & MEDIUM_UP:
        return []
    return flight.end("CASR 101.225, 101.230", _ATC, "restated by others")
