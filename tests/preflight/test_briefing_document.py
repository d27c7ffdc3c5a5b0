"""The briefing document of one cell of a launch window: everything that was made is in it, what was not is said."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from windows import NOW, choices, example_plan, flown, forecast

from columns import PRIOR
from pappus.export import BriefingDocument, Chapter, DraftNotice, JudgedTable, Picture, Rows, Sentences, document_html
from pappus.flight_train import FillWish
from pappus.landing import Share
from pappus.plan import Plan
from pappus.preflight import (
    Briefing,
    LaunchWindow,
    Papers,
    brief,
    briefing_document,
    delay_curve,
    launch_matrix,
    lift_curve,
    require_folder,
    write_folder,
)
from pappus.rules import Deadline, Draft, RuleVerdict, Verdict

MADE = NOW
DUE = Deadline(
    "icao.notice", "Give notice", datetime(2027, 2, 6, 9, tzinfo=UTC), None, "5.1.1", "air traffic services unit",
    "seven days", "restated by others",
)  # fmt: skip
RULE = RuleVerdict(
    "icao.2.2", "2.2", "Clouds", Verdict.NOT_MET, "5 oktas", "4 oktas", "text seen", "2024-11", "more cloud", "wait"
)


@cache
def window() -> LaunchWindow:
    return flown(choices(2, 3))


@cache
def briefing() -> Briefing:
    option = window().cells[1].option
    plan = replace(example_plan(), sites=(option.site,))
    plan = replace(plan, ensemble=replace(plan.ensemble, flights=120))
    return brief(plan, [forecast()], None, PRIOR, release=option.release, fill_wish=option.fill)


def made(papers: Papers | None = None, **changes: Any) -> BriefingDocument:
    answer = replace(briefing(), **changes) if changes else briefing()
    return briefing_document(
        answer, Papers() if papers is None else papers, made_utc=MADE, pictures={}, lines=None, places=None
    )


def chapter(document: BriefingDocument, title: str) -> Chapter:
    return next(one for one in document.evidence if one.title == title)


def words(document: BriefingDocument) -> str:
    return re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", "", document_html(document), flags=re.S))


def test_what_was_not_made_is_said_and_is_not_green() -> None:
    document = made()
    assert document.crew.answer == "cannot tell"
    assert "not held against limits" in document.crew.headline
    for title, what in (
        ("Checks", "A decision"), ("Rules", "A check against the rules"), ("Ground and airspace", "Ground and air"),
        ("Launch matrix", "A launch matrix"), ("Draft notices", "A draft of a notice"),
    ):  # fmt: skip
        (block,) = chapter(document, title).blocks
        assert isinstance(block, Sentences)
        assert block.lines[0].startswith(what)
        assert block.lines[0].endswith("cannot tell.")
    assert len(chapter(document, "Another release, another lift").blocks) == 2


def test_decision_and_window_are_in_it() -> None:
    cell = window().cells[1]
    document = made(Papers(decision=cell.decision, window=window(), cell=cell))
    assert document.crew.answer == cell.decision.answer.value
    assert document.crew.headline == cell.decision.headline
    assert len(document.crew.reasons) == sum(check.verdict is not Verdict.MET for check in cell.decision.checks)
    (table,) = (block for block in chapter(document, "Checks").blocks if isinstance(block, JudgedTable))
    assert len(table.rows) == len(cell.decision.checks)
    pictures = [block for block in chapter(document, "Launch matrix").blocks if isinstance(block, Picture)]
    assert [picture.caption for picture in pictures] == ["Launch matrix"]


def test_the_matrix_has_every_cell_where_it_belongs() -> None:
    cell = window().cells[2]
    matrix = launch_matrix(window(), example_plan(), cell)
    assert len(matrix.cells) == len(window().cells)
    assert matrix.times == window().options.releases
    # two sites and two fills, one balloon that needs no name
    assert matrix.rows == ("site A, fill slow", "site A, fill fast", "site B, fill slow", "site B, fill fast")
    assert matrix.chosen is not None
    for one in window().cells:
        row = matrix.rows.index(f"site {one.option.site.name}, fill {one.option.fill_name}")
        column = matrix.times.index(one.option.release)
        (found,) = (drawn for drawn in matrix.cells if (drawn.row, drawn.column) == (row, column))
        assert found.answer == one.decision.answer.value
        share = one.facts.reaches_wanted.value
        assert isinstance(share, Share)
        assert found.chance == share.p
        assert ((row, column) == matrix.chosen) == (one is cell)


def test_a_matrix_of_one_choice_names_its_site() -> None:
    plan = example_plan()
    one = flown(choices(2, sites=plan.sites[:1], fills=(("slow", FillWish("climb", 4.5)),)))
    assert launch_matrix(one, plan).rows == ("site A",)


def test_curves_are_pictures() -> None:
    cell, plan = window().cells[1], example_plan()
    delay = delay_curve(plan, [forecast()], PRIOR, cell, window().limits, now=NOW, delays_s=(0.0, 1800.0), flights=60)
    lift = lift_curve(plan, [forecast()], PRIOR, cell, window().limits, now=NOW, flights=60)
    blocks = chapter(made(Papers(delay=delay, lift=lift)), "Another release, another lift").blocks
    assert [type(block) for block in blocks] == [Picture, Picture]


def test_the_clock_runs_and_has_deadlines_and_the_flight() -> None:
    document = made(Papers(due=(DUE,)))
    clock = {line.what: line for line in document.crew.clock}
    release, answer = briefing().release, briefing()
    assert clock["Give notice"].time_utc == DUE.due_utc
    assert clock["Fill starts"].time_utc == release - timedelta(hours=1)
    assert clock["Release"].time_utc == release
    assert clock["This holds for a release until"].time_utc == answer.holds_until
    assert answer.arrival_s is not None
    assert clock["Touchdown"].time_utc == release + timedelta(seconds=answer.arrival_s.values[1])
    times = [line.time_utc for line in document.crew.clock if line.time_utc is not None]
    assert times == sorted(times)
    order = ("Release", "Reaches 31.0 km", "Burst or cut-down", "Touchdown")
    assert [line.what for line in document.crew.clock if line.what in order] == list(order)


def test_times_of_the_flight_stay_on_the_sheet_when_there_are_many_deadlines() -> None:
    many = tuple(replace(DUE, title=f"Call {k}", due_utc=DUE.due_utc + timedelta(hours=k)) for k in range(30))
    first = document_html(made(Papers(due=many))).split('<section class="chapter"')[0]
    for what in ("Fill starts", "Release", "Burst or cut-down", "Touchdown", "This holds for a release until"):
        assert what in first
    assert "Call 29" not in first
    assert "more in the evidence" in first


def test_rules_say_paragraph_certainty_and_what_does_not_apply() -> None:
    other = replace(RULE, rule_id="x", verdict=Verdict.MET, applies=False, permission="NT-7")
    rules = chapter(made(Papers(verdicts=(RULE, other), due=(DUE,))), "Rules")
    (table,) = (block for block in rules.blocks if isinstance(block, JudgedTable))
    assert [(row.state, row.word) for row in table.rows] == [("no-go", "not met"), ("go", "does not apply")]
    assert table.rows[0].source == "2.2; text seen; 2024-11"
    assert table.rows[1].why.endswith("Covered by NT-7.")
    assert "not legal advice" in table.note
    (due,) = (block for block in rules.blocks if isinstance(block, Rows))
    assert due.rows[0][0] == "2027-02-06 09:00Z Give notice"


def test_drafts_are_marked_and_their_blanks_are_listed() -> None:
    blocks = chapter(made(Papers(drafts=(Draft("Notice", "a text ____", ("b Class",)),))), "Draft notices").blocks
    assert blocks[0] == DraftNotice("Notice", "", "a text ____")
    assert isinstance(blocks[1], Sentences)
    assert blocks[1].lines == ("To fill in by hand: b Class",)


def test_calls_follow_the_flight_and_the_crew_comes_after() -> None:
    plan: Plan = example_plan()
    calls = made().crew.calls
    assert len(calls) == len(plan.calls) + len(plan.crew) + (plan.operator is not None)
    order = ["before release", "release", "descent", "no position", "end", "emergency"]
    when = [order.index(call.when) for call in calls[: len(plan.calls)]]
    assert when == sorted(when)
    assert [call.phone for call in calls[-len(plan.crew) :]] == [member.phone or "" for member in plan.crew]


@pytest.mark.parametrize(("gas", "said"), [("helium", "displaces the air"), ("hydrogen", "burns unseen")])
def test_cautions_are_those_of_the_gas_and_defer(gas: Any, said: str) -> None:
    plan = briefing().plan
    train = replace(plan.flight_train, gas=replace(plan.flight_train.gas, kind=gas))
    cautions = made(plan=replace(plan, flight_train=train)).crew.cautions
    assert said in cautions[0]
    for topic in ("Lifting", "Landing", "Airspace", "Driving", "Local rules"):
        assert any(line.startswith(topic) for line in cautions)


def test_data_have_age_and_digest() -> None:
    said = words(made())
    assert briefing().plan.source_sha256 in said
    for field in briefing().known:
        for source in field.sources:
            assert source.sha256 in said
    assert "old when this was made" in said


def test_the_note_of_an_invented_plan_is_on_it() -> None:
    about = example_plan().mission.about
    assert about is not None
    assert "Invented" in about
    assert about in words(made())


def test_the_folder_has_it_for_screen_and_paper_and_may_be_written_again(tmp_path: Path) -> None:
    cell = window().cells[1]
    folder = tmp_path / "briefing"
    papers = Papers(decision=cell.decision)
    for _ in range(2):
        write_folder(briefing(), folder, "text", None, None, papers=papers, made_utc=MADE)
    require_folder(folder)
    assert (folder / "document-a4.pdf").read_bytes().startswith(b"%PDF-")
    assert (folder / "document-letter.pdf").read_bytes().startswith(b"%PDF-")
    text = (folder / "document.html").read_text("utf-8")
    assert text.count("<figure") == 4
    assert json.loads((folder / "briefing.json").read_text("utf-8"))["plan_sha256"] in text
    write_folder(briefing(), folder, "text", None, None)
    assert not (folder / "document.html").exists()
