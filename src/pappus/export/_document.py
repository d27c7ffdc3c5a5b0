"""The briefing document: one page that a crew works from, then the evidence behind it. It has no look yet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from itertools import accumulate
from typing import TypeVar

from pappus.export._page import Grid, Rows, Section, Sentences
from pappus.export._signs import State, require_state
from pappus.units import say_time

_Entry = TypeVar("_Entry")

AID = (
    "Planning aid, not legal advice. It replaces no permission, no training and no judgement: "
    "local rules and licensed practice decide."
)
DRAFT_MARK = "draft, not filed"
SHORT_DIGEST = 16
"""Signs of a digest that a footer shows; the evidence has all 64."""
_HEADLINE, _REASON, _CAUTION, _NAME, _PHONE, _TITLE = 90, 135, 180, 60, 22, 90
"""Signs of one entry of the first sheet."""
_REASONS, _CLOCK, _NUMBERS, _CALLS, _CAUTIONS = 3, 20, 18, 16, 18
"""Reasons; then lines of the first sheet, at no more signs a line than a broad typeface needs: what finds no room moves
to the evidence, and the sheet says so."""
_LINE, _NAME_LINE, _CLOCK_LINE, _CAUTION_LINE = 28, 20, 32, 50


@dataclass(frozen=True)
class Picture:
    """A picture and what it shows."""

    caption: str
    png: bytes


@dataclass(frozen=True)
class Judged:
    """One question with its answer, its numbers and what to do about it."""

    state: State
    """Which shape stands beside it."""
    word: str
    """The verdict as its source says it, such as ``met`` or ``not met``."""
    title: str
    number: str
    limit: str
    source: str
    """Where the number comes from and how old it is, or the paragraph and its date."""
    why: str
    mend: str = ""


@dataclass(frozen=True)
class JudgedTable:
    """Questions with their answers, those that matter most first."""

    title: str
    rows: tuple[Judged, ...]
    note: str = ""


@dataclass(frozen=True)
class DraftNotice:
    """A notice for somebody to read, correct and send: nothing in pappus sends it."""

    title: str
    to: str
    """Empty where the text itself says it."""
    text: str


Block = Section | Picture | JudgedTable | DraftNotice


@dataclass(frozen=True)
class Chapter:
    """A part of the evidence."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class ClockTime:
    """A time of the day of the flight."""

    what: str
    time_utc: datetime | None
    """None when it is not known; ``note`` then says why."""
    note: str = ""
    """Such as a spread, who is to act, or where it comes from."""
    stays: bool = False
    """On the first sheet, when others have to go to the evidence."""


@dataclass(frozen=True)
class KeyNumber:
    """A value with its unit, and its spread."""

    what: str
    value: str
    spread: str = ""


@dataclass(frozen=True)
class PhoneCall:
    """Who calls whom, and when."""

    when: str
    whom: str
    phone: str


@dataclass(frozen=True)
class CrewPage:
    """What stands on the first sheet."""

    answer: State
    headline: str
    reasons: tuple[tuple[State, str], ...]
    """Those that matter most first; three stand on the sheet."""
    clock: tuple[ClockTime, ...]
    zone: str
    """IANA name of the local time."""
    map: Picture | None
    numbers: tuple[KeyNumber, ...]
    calls: tuple[PhoneCall, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class BriefingDocument:
    """Everything that a page, or a file for paper, is made from."""

    title: str
    note: str
    """Such as "Invented example"; empty for none. It stands on every sheet."""
    crew: CrewPage
    evidence: tuple[Chapter, ...]
    made_utc: datetime
    plan_sha256: str

    def __post_init__(self) -> None:
        if self.made_utc.utcoffset() is None:
            raise ValueError(f"made_utc {self.made_utc.isoformat()} has no offset from UTC")
        require_state("answer", self.crew.answer)
        for state, text in self.crew.reasons:
            require_state(f"state of the reason {text!r}", state)
        for line in self.crew.clock:
            if line.time_utc is not None and line.time_utc.utcoffset() is None:
                raise ValueError(f"time of {line.what!r}, {line.time_utc.isoformat()}, has no offset from UTC")

    @property
    def foot(self) -> str:
        """For the foot of every sheet."""
        return f"plan {self.plan_sha256[:SHORT_DIGEST]} · made {self.made_utc:%Y-%m-%d %H:%M}Z"


def clock_day(crew: CrewPage) -> date | None:
    """The UTC day of most of the times; None when no time is known."""
    days = [line.time_utc.astimezone(UTC).date() for line in crew.clock if line.time_utc is not None]
    return max(sorted(set(days)), key=days.count) if days else None


def said_clock(line: ClockTime, crew: CrewPage) -> str:
    """The time in UTC and on the wall, with its day where that is not the usual one; a dash where it is not known."""
    if line.time_utc is None:
        return "-"
    said = say_time(line.time_utc, crew.zone, date=line.time_utc.astimezone(UTC).date() != clock_day(crew))
    day, clock = ("", said) if said[4:5] != "-" else (said[:11], said[11:])
    # the heading says once that the second clock is the local one; the two stay on one line
    return day + clock.replace(" local", "").replace("Z (", "Z\N{NO-BREAK SPACE}(")


def said_clock_day(crew: CrewPage) -> str:
    """``2027-02-13, UTC (local: America/Argentina/Buenos_Aires)``."""
    day = clock_day(crew)
    return f"{'day not known' if day is None else day.isoformat()}, UTC (local: {crew.zone})"


def on_two_parts(document: BriefingDocument) -> tuple[BriefingDocument, CrewPage]:
    """A document whose first sheet holds no more than a sheet does, and the crew page as it was.

    What did not find room is the first chapter of the evidence.
    """
    crew = document.crew
    clock = [replace(line, what=_short(line.what, _NAME), note=_short(line.note, _NAME)) for line in crew.clock]
    numbers = [
        KeyNumber(_short(one.what, _NAME), _short(one.value, _NAME), _short(one.spread, _NAME)) for one in crew.numbers
    ]
    calls = [PhoneCall(_short(one.when, _NAME), _short(one.whom, _NAME), one.phone) for one in crew.calls]
    cautions = [_short(line, _CAUTION) for line in crew.cautions]
    short = replace(
        crew,
        headline=_short(crew.headline, _HEADLINE),
        reasons=tuple((state, _short(text, _REASON)) for state, text in crew.reasons[:_REASONS]),
        clock=_first(
            clock,
            [max(_lines(f"{one.what} {one.note}", _CLOCK_LINE), 1 + said_clock(one, crew).count(" ")) for one in clock],
            _CLOCK,
        ),
        numbers=_first(
            numbers,
            [max(_lines(f"{one.value} {one.spread}"), _lines(one.what, _NAME_LINE)) for one in numbers],
            _NUMBERS,
        ),
        calls=_first(
            calls, [max(_lines(f"{one.whom} {one.when}"), _lines(one.phone, _PHONE)) for one in calls], _CALLS
        ),
        cautions=_first(cautions, [_lines(line, _CAUTION_LINE) for line in cautions], _CAUTIONS),
    )
    title, note = _short(document.title, _TITLE), _short(document.note, _TITLE)
    more = [*_more(crew, short)]
    if (title, note) != (document.title, document.note):
        more.insert(0, Sentences("Title and note", (document.title, document.note)))
    evidence = (Chapter("First sheet, in full", tuple(more)), *document.evidence) if more else document.evidence
    return replace(document, title=title, note=note, crew=short, evidence=evidence), crew


def more_lines(whole: Sequence[object], shown: Sequence[object]) -> str:
    """``and 2 more in the evidence``, or nothing."""
    left = len(whole) - len(shown)  # its lines, not its letters: a line that was cut ends with a sign that says so
    return f"and {left} more in the evidence" if left else ""


def _more(crew: CrewPage, short: CrewPage) -> Iterator[Block]:
    if (crew.headline, crew.reasons) != (short.headline, short.reasons):
        headline = (crew.headline,) if crew.headline != short.headline else ()
        reasons = (f"{state}: {text}" for state, text in crew.reasons if (state, text) not in short.reasons)
        yield Sentences("More reasons", (*headline, *reasons))
    if crew.clock != short.clock:
        rows = tuple((line.what, f"{said_clock(line, crew)} {line.note}".strip()) for line in crew.clock)
        yield Rows("All times", rows)
    if crew.numbers != short.numbers:
        yield Rows("All numbers", tuple((one.what, f"{one.value} {one.spread}".strip()) for one in crew.numbers))
    if crew.calls != short.calls:
        yield Grid("All calls", ("when", "whom", "phone"), tuple((c.when, c.whom, c.phone) for c in crew.calls))
    if crew.cautions != short.cautions:
        yield Sentences("All cautions", crew.cautions)


def _lines(text: str, signs: int = _LINE) -> int:
    return max(1, -(-len(text.strip()) // signs))


def _first(entries: Sequence[_Entry], lines: Sequence[int], most: int) -> tuple[_Entry, ...]:
    """As many as fit into so many lines: those that stay, then from the first on, in the order in which they came."""
    order = sorted(range(len(entries)), key=lambda index: not getattr(entries[index], "stays", False))
    ends = accumulate(lines[index] for index in order)
    kept = sorted(index for index, end in zip(order, ends, strict=True) if end <= most)
    return tuple(entries[index] for index in kept)


def _short(text: str, most: int) -> str:
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0].rstrip(" ,;:") + "…"
