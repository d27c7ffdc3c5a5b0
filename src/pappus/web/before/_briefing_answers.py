"""The page Briefing as values: the decision with its reasons, the rules, what is due, drafts, and the papers."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Literal

from pappus.export import AID, DRAFT_MARK, Grid, Rows, Section
from pappus.preflight import decision_reasons, papers_of, say_near, three_lines
from pappus.rules import Deadline, RuleVerdict, Verdict
from pappus.web.before._decision_answers import DecisionAnswer, State, decision_answer
from pappus.web.before._release_work import JudgedRelease
from pappus.web.desk import Answer, JobAnswer

PaperName = Literal[
    "document.html", "document-a4.pdf", "document-letter.pdf", "flight.kml", "flight.gpx", "landing.geojson",
    "deadlines.ics", "draft-notices.txt", "map.png", "height-time.png", "wind-profile.png", "decision.json",
]  # fmt: skip
PAPERS: dict[PaperName, tuple[str, str]] = {
    "document.html": ("Briefing, for a browser", "text/html"),
    "document-a4.pdf": ("Briefing, PDF on A4", "application/pdf"),
    "document-letter.pdf": ("Briefing, PDF on Letter", "application/pdf"),
    "flight.kml": ("Flight, KML", "application/vnd.google-earth.kml+xml"),
    "flight.gpx": ("Flight, GPX", "application/gpx+xml"),
    "landing.geojson": ("Landing, GeoJSON", "application/geo+json"),
    "deadlines.ics": ("Deadlines, iCalendar", "text/calendar"),
    "draft-notices.txt": ("Draft notices, text; not filed", "text/plain"),
    "map.png": ("Map, picture", "image/png"),
    "height-time.png": ("Height against time, picture", "image/png"),
    "wind-profile.png": ("Wind profile, picture", "image/png"),
    "decision.json": ("Decision, JSON", "application/json"),
}
"""What is handed out: words for people, and the media type."""
_STATES: dict[Verdict, State] = {Verdict.MET: "go", Verdict.NOT_MET: "no-go", Verdict.CANNOT_TELL: "cannot tell"}


class ReasonAnswer(Answer):
    """One thing that is not met."""

    state: State
    words: str


class RuleAnswer(Answer):
    """One paragraph held against the plan."""

    id: str
    title: str
    paragraph: str
    state: State
    verdict: str
    number: str
    limit: str
    certainty: str
    text_date: str
    why: str
    mend: str
    permission: str


class DueAnswer(Answer):
    """One call or message that is due."""

    title: str
    due_utc: datetime
    earliest_utc: datetime | None
    who: str
    why: str
    paragraph: str
    certainty: str


class DraftAnswer(Answer):
    """A text that nobody has sent."""

    title: str
    text: str
    blanks: list[str]


class TableAnswer(Answer):
    """A table of the briefing: what lies under the flights, and the airspace that they enter."""

    title: str
    columns: list[str]
    rows: list[list[str]]
    note: str


class BriefedAnswer(Answer):
    """One release as it is briefed."""

    made_utc: datetime
    site: str
    release_utc: datetime
    fill: str
    balloon: str
    words: list[str]
    near: str | None
    decision: DecisionAnswer
    reasons: list[ReasonAnswer]
    rules: list[RuleAnswer]
    aid: str
    due: list[DueAnswer]
    drafts: list[DraftAnswer]
    draft_mark: str
    ground: list[TableAnswer]
    cannot_tell: list[str]
    holds_until_utc: datetime
    holds_because: str


class BriefingAnswer(Answer):
    """How far it is, and the briefing once it is there."""

    job: JobAnswer
    briefing: BriefedAnswer | None


class PaperAnswer(Answer):
    """One file that can be taken."""

    name: PaperName
    words: str


class PapersAnswer(Answer):
    """How far the papers are, and which there are."""

    job: JobAnswer
    papers: list[PaperAnswer]


def briefed_answer(release: JudgedRelease) -> BriefedAnswer:
    """Everything that the page says."""
    judged, choice = release.judged, release.choice
    briefing = judged.briefing
    papers = papers_of(judged, release.known.around)
    return BriefedAnswer(
        made_utc=release.made_utc,
        site=choice.site,
        release_utc=choice.release,
        fill=choice.fill,
        balloon=choice.balloon,
        words=list(three_lines(briefing)),
        near=None if briefing.near is None else say_near(briefing.near),
        decision=decision_answer(judged.decision),
        reasons=[ReasonAnswer(state=state, words=words) for state, words in decision_reasons(judged.decision)],
        rules=[_rule(one) for one in papers.verdicts],
        aid=AID,
        due=[_due(one) for one in sorted(papers.due, key=lambda one: one.due_utc)],
        drafts=[DraftAnswer(title=one.title, text=one.text, blanks=list(one.blanks)) for one in papers.drafts],
        draft_mark=DRAFT_MARK,
        ground=[_table(one) for one in papers.ground],
        cannot_tell=list(briefing.cannot_tell),
        holds_until_utc=briefing.holds_until,
        holds_because=briefing.holds_because,
    )


def paper_answers(folder: Path) -> list[PaperAnswer]:
    """What the folder holds."""
    return [PaperAnswer(name=name, words=words) for name, (words, _) in PAPERS.items() if (folder / name).is_file()]


def _rule(one: RuleVerdict) -> RuleAnswer:
    return RuleAnswer(
        id=one.rule_id, title=one.title, paragraph=one.paragraph, state=_STATES[one.verdict],
        verdict="does not apply" if one.applies is False else str(one.verdict), number=one.number_text,
        limit=one.limit_text, certainty=one.certainty, text_date=one.text_date, why=one.why, mend=one.mend,
        permission=one.permission,
    )  # fmt: skip


def _due(one: Deadline) -> DueAnswer:
    return DueAnswer(
        title=one.title, due_utc=one.due_utc, earliest_utc=one.earliest_utc, who=one.who, why=one.why,
        paragraph=one.paragraph, certainty=one.certainty,
    )  # fmt: skip


def _table(section: Section) -> TableAnswer:
    if isinstance(section, Grid):
        return TableAnswer(
            title=section.title, columns=list(section.columns), rows=[list(row) for row in section.rows],
            note=section.note,
        )  # fmt: skip
    rows = [list(row) for row in section.rows] if isinstance(section, Rows) else [[line] for line in section.lines]
    return TableAnswer(title=section.title, columns=[], rows=rows, note="")
