"""The briefing document: everything that is known about one release, the crew page first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from pappus.decision import Decision
from pappus.export import (
    AID,
    Block,
    BriefingDocument,
    Chapter,
    DraftNotice,
    Judged,
    JudgedTable,
    MapLayers,
    Picture,
    Rows,
    Section,
    Sentences,
    State,
    matrix_grid,
)
from pappus.ground import MapLines, PlaceIndex
from pappus.plan import Plan
from pappus.preflight.briefing import Briefing, briefing_page
from pappus.preflight.papers._crew import crew_page
from pappus.preflight.papers._decision_words import decision_sections, judged_table
from pappus.preflight.papers._pictures import crew_map, delay_picture, launch_matrix, lift_picture, matrix_pictures
from pappus.preflight.window import AgainstDelay, AgainstLift, LaunchCell, LaunchWindow
from pappus.rules import Deadline, Draft, RuleVerdict, Verdict
from pappus.units import say_duration, say_time

_RULE_STATES: Mapping[Verdict, State] = {
    Verdict.MET: "go", Verdict.NOT_MET: "no-go", Verdict.CANNOT_TELL: "cannot tell",
}  # fmt: skip
_SAID_ELSEWHERE = {"What this does not know", "Winds not used"}


@dataclass(frozen=True, eq=False)
class Papers:
    """What a document is made of beside the briefing; what is not there was not made, and the document says so."""

    decision: Decision | None = None
    before: Decision | None = None
    """Of the last briefing, to say what changed."""
    verdicts: tuple[RuleVerdict, ...] = ()
    due: tuple[Deadline, ...] = ()
    drafts: tuple[Draft, ...] = ()
    ground: tuple[Section, ...] = ()
    """What lies under the flight, and the airspace that it enters."""
    window: LaunchWindow | None = None
    cell: LaunchCell | None = None
    """The one of the window that the document is about."""
    delay: AgainstDelay | None = None
    lift: AgainstLift | None = None


def briefing_document(
    briefing: Briefing,
    papers: Papers,
    *,
    made_utc: datetime,
    pictures: Mapping[str, bytes],
    lines: MapLines | None,
    places: PlaceIndex | None,
    layers: MapLayers | None = None,
) -> BriefingDocument:
    """The document of one release; ``document_html`` and ``document_pdf`` write it.

    :param pictures: PNG by caption, those of the briefing page.
    :param lines: for the map of the crew page, as ``places`` and ``layers``.
    """
    plan, site = briefing.plan, briefing.site
    crew = crew_page(briefing, papers.decision, papers.due, crew_map(briefing, lines, places, layers))
    evidence = (
        Chapter("Checks", tuple(_checks(papers))),
        Chapter("Rules", tuple(_rules(papers))),
        Chapter("Ground and airspace", papers.ground or _not_made("Ground and airspace under the flight")),
        Chapter("Launch matrix", _window(papers, plan)),
        Chapter("Another release, another lift", tuple(_curves(papers, plan))),
        Chapter("The flight", tuple(_flight(briefing, pictures))),
        Chapter("What this does not know", tuple(_unknown(briefing, papers))),
        Chapter("Data, ages and digests", (_data(briefing, made_utc),)),
        Chapter("Draft notices", tuple(_drafts(papers))),
    )
    release = say_time(briefing.release, plan.mission.time_zone, date=True)
    return BriefingDocument(
        title=f"{plan.mission.name} - site {site.name}, release {release}",
        note=plan.mission.about or "", crew=crew, evidence=evidence, made_utc=made_utc,
        plan_sha256=plan.source_sha256,
    )  # fmt: skip


def _window(papers: Papers, plan: Plan) -> tuple[Block, ...]:
    if papers.window is None:
        return _not_made("A launch matrix")
    matrix = launch_matrix(papers.window, plan, papers.cell)
    return (*matrix_pictures(matrix, plan), matrix_grid(matrix))


def _curves(papers: Papers, plan: Plan) -> Iterator[Block]:
    if papers.delay is None:
        yield from _not_made("Landing against delay")
    else:
        yield delay_picture(papers.delay.curve, plan)
    if papers.lift is None:
        yield from _not_made("Landing against lift")
    else:
        yield lift_picture(papers.lift.curve, plan)


def _checks(papers: Papers) -> Iterator[Block]:
    if papers.decision is None:
        yield from _not_made("A decision")
        return
    yield judged_table(papers.decision)
    yield from decision_sections(papers.decision, papers.before)


def _rules(papers: Papers) -> Iterator[Block]:
    if not papers.verdicts:
        yield from _not_made("A check against the rules")
        return
    rows = tuple(
        Judged(
            _RULE_STATES[one.verdict], "does not apply" if one.applies is False else str(one.verdict), one.title,
            one.number_text, one.limit_text, f"{one.paragraph}; {one.certainty}; {one.text_date}",
            f"{one.why} Covered by {one.permission}." if one.permission else one.why, one.mend,
        )
        for one in papers.verdicts
    )  # fmt: skip
    yield JudgedTable("Held against this plan", rows, AID)
    if papers.due:
        due = tuple((f"{one.due_utc:%Y-%m-%d %H:%M}Z {one.title}", _say_due(one)) for one in papers.due)
        yield Rows("Deadlines", due)


def _say_due(one: Deadline) -> str:
    opens = "" if one.earliest_utc is None else f"not before {one.earliest_utc:%Y-%m-%d %H:%M}Z; "
    return f"{one.who}; {opens}{one.why} ({one.paragraph}; {one.certainty})"


def _flight(briefing: Briefing, pictures: Mapping[str, bytes]) -> Iterator[Block]:
    yield from (Picture(caption, png) for caption, png in pictures.items())
    yield from (one for one in briefing_page(briefing).sections if one.title not in _SAID_ELSEWHERE)


def _unknown(briefing: Briefing, papers: Papers) -> Iterator[Block]:
    yield Sentences("", briefing.cannot_tell)
    if papers.window is not None and papers.window.notes:
        yield Sentences("In no cell of the launch matrix", papers.window.notes)
    if briefing.winds_not_used:
        yield Sentences("Winds not used", briefing.winds_not_used)


def _data(briefing: Briefing, made_utc: datetime) -> Rows:
    rows = [
        ("Made", f"{made_utc:%Y-%m-%d %H:%M}Z, for the release at {briefing.release:%Y-%m-%d %H:%M}Z"),
        ("Plan", f"sha256 {briefing.plan.source_sha256}"),
        ("Ground", briefing.ground.name),
        ("Flights", f"{len(briefing.flights.outcome):,}, seed {briefing.plan.ensemble.seed}"),
    ]
    for field in briefing.known:
        seconds = (made_utc - field.issued).total_seconds()
        age = f"{say_duration(abs(seconds))} {'old' if seconds >= 0 else 'before its time'} when this was made"
        valid = f"valid {field.coverage.first_valid:%m-%d %H:%M}Z to {field.coverage.last_valid:%m-%d %H:%M}Z"
        rows.append((field.name, f"issued {field.issued:%Y-%m-%d %H:%M}Z, {age}; {valid}; {field.members} members"))
        rows += [(f"{field.name}: {one.name}", f"{one.description}; sha256 {one.sha256}") for one in field.sources]
    return Rows("", tuple(rows))


def _drafts(papers: Papers) -> Iterator[Block]:
    if not papers.drafts:
        yield from _not_made("A draft of a notice")
    for one in papers.drafts:
        yield DraftNotice(one.title, "", one.text)
        if one.blanks:
            yield Sentences("", (f"To fill in by hand: {'; '.join(one.blanks)}",))


def _not_made(what: str) -> tuple[Block, ...]:
    return (Sentences("", (f"{what} was not made for this document: it cannot tell.",)),)
