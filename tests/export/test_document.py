"""The briefing document as text: what stands on the first sheet, what follows, and that nothing is lost or runs."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from documents import DIGEST, LONG, at, crew, document, full, overfull
from test_handouts_html import Read

from pappus.export import AID, Chapter, ClockTime, DraftNotice, Judged, JudgedTable, Picture, Sentences, document_html
from pappus.export._document_style import DOCUMENT_STYLE


def words(**keys: Any) -> str:
    return "".join(Read(document_html(document(**keys))).words)


def test_the_crew_page_comes_first_and_in_the_order_of_need() -> None:
    said = words()
    wanted = ["Wait: the wind at the site", "Wind at the site 7.8", "Clock", "Where it comes down", "Who calls whom",
              "Numbers", "Cautions", AID, "Checks, worst first", "Ground", "Landing against delay",
              "What this does not know", "draft, not filed"]  # fmt: skip
    # the list of contents, before all else, has some of the names too
    start = said.index("Wait: the wind at the site")
    places = [said.index(text, start) for text in wanted]
    assert places == sorted(places)


def test_times_stand_in_utc_and_local_and_other_days_are_named() -> None:
    """Buenos Aires keeps UTC-3 all year (tz database)."""
    said = words()
    assert "2027-02-13, UTC (local: America/Argentina/Buenos_Aires)" in said
    assert "20:00Z\N{NO-BREAK SPACE}(17:00)" in said
    assert "2027-02-12 12:00Z\N{NO-BREAK SPACE}(09:00)" in said
    assert "2027-02-13 20:00Z" not in said
    after_midnight = ClockTime("Late", at(1, 0, 14))
    said = words(crew=crew(clock=(ClockTime("a", at(20)), ClockTime("b", at(21)), after_midnight)))
    assert "2027-02-14 01:00Z\N{NO-BREAK SPACE}(22:00, the day before)" in said


def test_a_time_that_is_not_known_is_a_dash_with_a_why() -> None:
    (line,) = re.findall(r"<li>.*Sunset.*</li>", document_html(document()))
    assert '<span class="key">-</span>' in line
    assert "not computed" in line


def test_state_is_said_in_words_beside_every_shape() -> None:
    text = document_html(document())
    assert text.count("<svg") == 1 + 3 + 3
    assert text.count('aria-hidden="true"') == text.count("<svg")
    assert re.search(r'<p class="state"><svg.*</svg> wait</p>', text)
    for word in ("not met", "cannot tell", "met"):
        assert f"</svg>{word}</span>" in text


def test_phone_numbers_can_be_touched_and_a_missing_one_is_said() -> None:
    text = document_html(document())
    links = [value for value in Read(text).values("href") if value.startswith("tel:")]
    assert links == ["tel:+54900000001", "tel:+54900000002"]
    assert '<span class="phone">no number</span>' in text


def test_every_notice_is_marked_as_a_draft_above_and_below() -> None:
    text = document_html(document())
    (draft,) = re.findall(r"<article.*?</article>", text, re.S)
    assert draft.count("draft, not filed") == 2
    assert "a. kettle one\nb. light" in draft
    assert re.search(r"\b(we|been|was|is) filed\b", text) is None


def test_usual_amounts_fit_whole() -> None:
    text = document_html(full())
    assert "First sheet, in full" not in text
    assert "in the evidence" not in text


def test_what_does_not_fit_is_said_and_stands_in_the_evidence() -> None:
    whole = overfull()
    text = document_html(whole)
    first, evidence = text.split('<section class="chapter"', 1)
    for part, total in (("clock", 30), ("numbers", 30), ("calls", 30)):
        (section,) = re.findall(rf'<section class="{part}".*?</section>', first, re.S)
        shown = section.count("<li>")
        assert 1 <= shown < total
        assert f"and {total - shown} more in the evidence" in section
    assert "and 6 more in the evidence" in re.findall(r'<div class="answer">.*?</ul>', first, re.S)[0]
    assert evidence.index("First sheet, in full") < evidence.index("Checks, worst first")
    said = "".join(Read(text).words)
    for lost in (whole.title, whole.note, whole.crew.headline, whole.crew.cautions[19], whole.crew.calls[29].phone):
        assert lost.strip() in said
    assert said.count("01:29Z") == 1


@pytest.mark.parametrize("make", [document, full, overfull])
def test_names_are_unique_and_references_find_them(make: Any) -> None:
    read = Read(document_html(make()))
    names = read.values("id")
    assert len(names) == len(set(names))
    references = [value[1:] for value in read.values("href") if value.startswith("#")]
    references += read.values("for") + read.values("aria-labelledby")
    assert len(references) >= 10
    assert set(references) <= set(names)


def test_nothing_runs_and_nothing_is_fetched() -> None:
    text = document_html(document())
    read = Read(text)
    assert not read.all("script")
    outside = {value.split(":")[0] for value in read.values("href") + read.values("src") if not value.startswith("#")}
    assert outside == {"data", "tel"}
    assert not [key for _, attributes in read.tags for key in attributes if key.startswith("on")]
    assert "default-src 'none'" in next(meta["content"] for meta in read.all("meta") if "http-equiv" in meta)


def test_markup_stays_text_wherever_it_comes_in() -> None:
    bad = '</pre></style><script>alert("1")</script>\'&\x07'
    small = crew(
        headline=bad, reasons=(("go", bad),), clock=(ClockTime(bad, at(20), bad),), cautions=(bad,),
        map=Picture(bad, crew().map.png), calls=(), numbers=(),
    )  # fmt: skip
    judged = JudgedTable(bad, (Judged("go", bad, bad, bad, bad, bad, bad, bad),), bad)
    evidence = (Chapter(bad, (judged, DraftNotice(bad, bad, bad), Sentences(bad, (bad,)))),)
    text = document_html(document(title=bad, note=bad, crew=small, evidence=evidence))
    read = Read(text)
    assert not read.all("script")
    assert "\x07" not in text
    assert "".join(read.words).count(bad.replace("\x07", "\N{REPLACEMENT CHARACTER}")) >= 18


def test_the_foot_names_plan_and_time() -> None:
    text = document_html(document())
    foot = f"plan {DIGEST[:16]} · made 2027-02-13 14:20Z"
    assert f'content: "{foot}"' in text
    assert foot in "".join(Read(text).words)


def test_the_same_document_gives_the_same_text() -> None:
    assert document_html(document()) == document_html(document())


def test_a_document_without_map_calls_or_evidence_has_no_empty_places() -> None:
    bare = document(crew=crew(map=None, calls=(), numbers=(), cautions=(), clock=()), evidence=(), note="")
    read = Read(document_html(bare))
    assert "no map" in "".join(read.words)
    assert "day not known" in "".join(read.words)
    assert "note" not in read.values("class")


def test_hues_of_the_style_come_from_the_page() -> None:
    """Contrast is checked for the hues of the page; the document adds none of its own."""
    assert re.findall(r"#[0-9a-fA-F]{3,6}\b", DOCUMENT_STYLE) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"made_utc": datetime(2027, 2, 13)}, "made_utc"),  # noqa: DTZ001  # that is the mistake
        ({"crew": crew(answer="yes")}, "must be one of go"),
        ({"crew": crew(reasons=(("no", "why"),))}, "state of the reason 'why'"),
        ({"crew": crew(clock=(ClockTime("Release", datetime(2027, 2, 13)),))}, "'Release'"),  # noqa: DTZ001  # as above
    ],
)
def test_what_cannot_be_said_is_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        replace(document(), **change)


def test_a_long_line_is_cut_at_a_word_and_says_so() -> None:
    first = document_html(document(crew=crew(headline=LONG[:400])))
    (headline,) = re.findall(r'<p class="headline">(.*?)</p>', first)
    assert headline.endswith("…")
    assert len(headline) <= 90
    assert LONG.startswith(headline[:-1] + " ")
