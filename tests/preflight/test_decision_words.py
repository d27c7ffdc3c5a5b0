"""A decision on a page: every state has word and shape, every check its number, limit, source and age."""

from __future__ import annotations

import pytest

from decision.decision_cases import ALL_LIMITS, FORECAST, QUESTIONS, counted, go_facts, of_forecast, rule
from pappus.cli._tables import rendered
from pappus.decision import Decision, Fact, Facts, judge, missing, what_would_change
from pappus.export import Page, Rows, Sentences, briefing_html
from pappus.preflight import (
    answer_state,
    decision_page,
    decision_reasons,
    decision_sections,
    judged_table,
    short_reason,
    state_of,
)
from pappus.preflight.papers._decision_words import SIGNS
from pappus.rules import Verdict

GO = judge(go_facts(), ALL_LIMITS)
WAIT = judge(go_facts(surface_wind_m_s=of_forecast(7.4), airspace=missing("no airspace file")), ALL_LIMITS)
NO_GO = judge(go_facts(built_up=counted(900), rules=(rule(Verdict.CANNOT_TELL, why="not stated"),)), ALL_LIMITS)
NOTHING = judge(Facts(), ALL_LIMITS)


def test_the_four_states_differ_by_word_and_by_shape() -> None:
    assert set(SIGNS) == {"go", "wait", "no-go", "cannot tell"}
    assert len(set(SIGNS.values())) == 4
    assert [answer_state(decision) for decision in (GO, WAIT, NO_GO, NOTHING)] == ["go", "wait", "no-go", "wait"]
    assert {check.name: state_of(check) for check in WAIT.checks[:2]} == {
        "surface_wind_m_s": "wait", "airspace": "cannot tell",
    }  # fmt: skip
    assert state_of(NO_GO.checks[0]) == "no-go"
    assert {state_of(check) for check in GO.checks} == {"go"}
    assert {state_of(check) for check in NOTHING.checks} == {"cannot tell"}


@pytest.mark.parametrize("decision", [GO, WAIT, NO_GO, NOTHING])
def test_the_first_line_has_shape_and_word(decision: Decision) -> None:
    page = decision_page(decision, note="Invented example")
    state = answer_state(decision)
    assert page.lead == (f"{SIGNS[state]} {decision.headline}",)
    assert decision.headline.lower().startswith(f"{state}: ")
    assert page.note == "Invented example"
    assert "not legal advice" in page.foot


@pytest.mark.parametrize("decision", [GO, WAIT, NO_GO, NOTHING])
def test_every_check_is_a_row_with_number_limit_source_and_age(decision: Decision) -> None:
    rows = judged_table(decision).rows
    assert len(rows) == len(decision.checks) > len(QUESTIONS)
    for row, check in zip(rows, decision.checks, strict=True):
        assert row.state == state_of(check)
        assert (row.word, row.number, row.limit) == (str(check.verdict), check.number, check.limit_text)
        assert row.source.startswith(f"{FORECAST}, 3 h 00 min old" if check.source else "limit: ") or not row.source


def test_a_number_of_unknown_age_tells_none() -> None:
    decision = judge(go_facts(gust_m_s=Fact(5.0, source="anemometer")), ALL_LIMITS)
    (row,) = (row for row in judged_table(decision).rows if row.title == "Gusts")
    assert row.source.startswith("anemometer; limit: ")


@pytest.mark.parametrize(("decision", "met"), [(GO, 23), (WAIT, 21), (NOTHING, 0)])
def test_the_page_counts_what_is_met(decision: Decision, met: int) -> None:
    said = [line for section in decision_page(decision, note="").sections for line in section.lines]
    assert said[-1].startswith(f"{met} of {len(decision.checks)} checks are met")


def test_what_mends_stands_once_for_what_it_mends() -> None:
    """Two ground questions that the same unknown flights leave open are one sentence; a go has none."""
    lost = go_facts(unknown_share=counted(40), lands_acceptably=counted(1860))
    decision = judge(lost, ALL_LIMITS)
    (sentences,) = (section for section in decision_sections(decision) if isinstance(section, Sentences))
    assert len(what_would_change(decision)) > len(sentences.lines) == 1
    (line,) = sentences.lines
    assert line.count("2 % of the flights are unknown and count against it") == 1
    assert "; chance to land on a railway 0 % (0 to 2.7 %), at most 1 %" in line
    assert line.endswith("Then go.")
    assert not [section for section in decision_sections(GO) if isinstance(section, Sentences)]


def test_what_changed_says_better_or_worse() -> None:
    def changed(before: Decision, now: Decision) -> tuple[str, ...]:
        return next(one.lines for one in decision_sections(now, before) if isinstance(one, Sentences))

    assert changed(GO, GO) == ("Nothing that reads differently.",)
    worse = changed(GO, WAIT)
    assert worse[0].startswith("Worse: Wait, was go: surface wind 7.4 m/s (14.4 kt), limit")
    assert worse[1].startswith("Worse: Surface wind not met, was met;")
    assert changed(WAIT, GO)[0].startswith("Better: Go, was wait: all 23 checks are met.")


def test_each_limit_says_where_it_comes_from() -> None:
    (rows,) = (section for section in decision_sections(GO) if isinstance(section, Rows))
    said = " ".join(name for name, _ in rows.rows)
    assert all(check.question in said for check in GO.checks)
    # not one default without a source, or the words that there is none
    sources = ("common practice", "own rule", "CFR", "ICAO", "NPRM", "set by the plan")
    assert all(any(word in reason for word in sources) for _, reason in rows.rows)


@pytest.mark.parametrize(
    ("decision", "short"),
    [
        (GO, ""), (WAIT, "wind 7.4 m/s"), (NO_GO, "buildings 45 %"), (NOTHING, "unknown flights not known"),
        (judge(go_facts(airspace=counted(20)), ALL_LIMITS), "airspace open"),
        (judge(go_facts(rules=(rule(Verdict.NOT_MET),)), ALL_LIMITS), "rule example.1"),
        (judge(go_facts(rules=()), ALL_LIMITS), "rules not known"),
    ],
)  # fmt: skip
def test_a_word_or_two_for_a_cell(decision: Decision, short: str) -> None:
    assert short_reason(decision) == short


@pytest.mark.parametrize("name", QUESTIONS)
def test_every_question_has_a_short_word(name: str) -> None:
    decision = judge(go_facts(**{name: missing("gone")}), ALL_LIMITS)
    assert short_reason(decision).endswith(" not known")
    assert name == decision.checks[0].name
    assert "_" not in short_reason(decision)
    assert not short_reason(decision).startswith("rule ")


def test_reasons_are_a_line_each_worst_first() -> None:
    assert decision_reasons(GO) == ()
    found = decision_reasons(WAIT)
    assert [state for state, _ in found] == ["wait", "cannot tell"]
    assert found[1][1] == (
        "Chance to enter airspace without a permission: cannot tell, limit at most 1 %; no airspace file"
    )


@pytest.mark.parametrize("decision", [GO, WAIT, NO_GO, NOTHING])
def test_the_document_shows_the_same_checks_with_their_shapes(decision: Decision) -> None:
    table_of_document = judged_table(decision)
    assert len(table_of_document.rows) == len(decision.checks)
    for one, check in zip(table_of_document.rows, decision.checks, strict=True):
        assert (one.state, one.word, one.title) == (state_of(check), str(check.verdict), check.question)
        assert (one.number, one.limit, one.why, one.mend) == (check.number, check.limit_text, check.why, check.mend)
        assert check.source in one.source
        assert check.limit_source in one.source
        assert ("3 h 00 min old" in one.source) is (check.age_s is not None)


@pytest.mark.parametrize("width", [96, 40])
def test_the_terminal_loses_no_word(width: int) -> None:
    from rich.console import Console

    console = Console(width=width, record=True, file=None, quiet=False, force_terminal=False, color_system=None)
    with console.capture() as captured:
        for part in rendered(decision_page(NO_GO, note="", before=GO), width):
            console.print(part, width=width)
    text = " ".join(captured.get().split())
    for check in NO_GO.checks:
        assert str(check.verdict) in text
    assert "45 %" in text


def test_the_page_in_a_browser_holds_words_and_shapes() -> None:
    html = briefing_html(decision_page(NO_GO, note="Invented example"), title="Decision", pictures={})
    assert f"{SIGNS['no-go']} No-go: chance to land among buildings 45 % (43 to 47 %)" in html
    assert "What would change the answer" in html
    assert isinstance(decision_page(GO, note=""), Page)
