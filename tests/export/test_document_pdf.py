"""The briefing document as a PDF: sheets, words, typeface, and the same bytes every time."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from documents import DIGEST, LONG, crew, document, full, judged, overfull
from pages import NOTE, TITLE, chart, square

from pappus.export import AID, Chapter, DraftNotice, Grid, JudgedTable, Picture, Rows, Sentences, document_pdf

pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")
SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""ISO 216 and ANSI/ASME Y14.1."""


def sheets(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(content)).pages]


@pytest.mark.parametrize("make", [document, full, overfull])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_crew_page_is_one_sheet(make: Any, paper: Any) -> None:
    whole = make()
    said = sheets(document_pdf(whole, paper=paper))
    for text in (AID, "Clock", "Who calls whom", "Numbers", "Cautions", whole.crew.answer):
        assert text in said[0]
    first = "First sheet, in full" if make is overfull else "Checks, worst first"
    assert first not in said[0]
    assert first in said[1]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_sheet_has_its_size_number_plan_and_time(paper: Any) -> None:
    content = document_pdf(document(), paper=paper)
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    said = sheets(content)
    assert len(said) == 3
    for number, (page, text) in enumerate(zip(pages, said, strict=True), 1):
        size = [float(side) * 25.4 / 72.0 for side in page.mediabox[2:]]
        assert size == pytest.approx(SIZES_MM[paper], abs=0.1)
        assert f"{number} / 3" in text
        assert f"plan {DIGEST[:16]} · made 2027-02-13 14:20Z" in text
        assert NOTE in text
        assert TITLE in text


def test_all_words_can_be_read_back() -> None:
    said = " ".join(sheets(document_pdf(document())))
    for text in ("Wind at the site 7.8 m/s", "20:00Z\N{NO-BREAK SPACE}(17:00)", "2027-02-12", "412 km²", "Macachín",
                 "+54 9 0000 0002", "no number", "Built-up ground", "not met", "at most 1.0 %", "Mend: fly more",
                 "3.1 %", "Nothing about & < > \" '.", "Whether Øyer/Čačak is open."):  # fmt: skip
        assert " ".join(text.split()) in said, text


def test_every_notice_is_marked_as_a_draft_above_and_below() -> None:
    said = " ".join(sheets(document_pdf(document())))
    above, below = "DRAFT, NOT FILED: Notice of a flight", "b. light DRAFT, NOT FILED"
    assert above in said
    assert below in said


def test_the_typeface_is_embedded_and_nothing_else_is_used() -> None:
    """ISO 32000-1, 9.9: an embedded TrueType program stands in FontFile2 of the descriptor."""
    names = set()
    for page in pypdf.PdfReader(io.BytesIO(document_pdf(document()))).pages:
        for font in page["/Resources"]["/Font"].values():
            font = font.get_object()
            names.add(font["/BaseFont"].split("+")[-1])
            assert "/FontFile2" in font["/FontDescriptor"].get_object()
    assert names == {"DejaVuSans", "DejaVuSans-Bold"}


def test_the_same_document_gives_the_same_bytes_in_another_process() -> None:
    script = "import hashlib; from documents import document; from pappus.export import document_pdf; "
    script += "print(hashlib.sha256(document_pdf(document(), paper='Letter')).hexdigest())"
    paths = os.pathsep.join([str(Path(__file__).parent), str(Path(__file__).parents[2] / "src")])
    digests = {hashlib.sha256(document_pdf(document(), paper="Letter")).hexdigest()}
    for seed in ("1", "2"):
        environment = os.environ | {"PYTHONPATH": paths, "PYTHONHASHSEED": seed, "TZ": f"UTC{seed}"}
        result = subprocess.run(
            [sys.executable, "-c", script], env=environment, capture_output=True, text=True, timeout=120, check=True
        )
        digests.add(result.stdout.strip())
    assert len(digests) == 1


def test_another_document_gives_other_bytes() -> None:
    assert document_pdf(document()) != document_pdf(document(note="Another."))


def test_chapters_are_in_the_outline() -> None:
    outline = pypdf.PdfReader(io.BytesIO(document_pdf(document()))).outline
    assert [entry.title for entry in outline] == [chapter.title for chapter in document().evidence]


def test_long_tables_words_and_notices_run_on_over_sheets() -> None:
    wide = tuple(f"column {k}" for k in range(14))
    evidence = (
        Chapter("Checks", (JudgedTable("All", tuple(judged("go", "met", f"Question {k}") for k in range(60))),)),
        Chapter("Tables", (
            Grid("Wide", wide, tuple(tuple(f"{row},{k} 1,234.5" for k in range(14)) for row in range(90)), "note", 3),
            Rows("Long", (("Name", LONG * 3), ("x" * 400, "y" * 4000))),
        )),
        Chapter("Notices", (DraftNotice("Long", "Area control", "\n".join(LONG for _ in range(20))),)),
        Chapter("Empty", ()),
        Chapter("No rows", (Grid("None", ("a", "b"), ()), JudgedTable("None", ()), Rows("None", ()))),
    )  # fmt: skip
    said = sheets(document_pdf(document(evidence=evidence)))
    together = " ".join(said)
    assert len(said) > 6
    for text in ("Question 0", "Question 59", "0,0", "89,13", "DRAFT, NOT FILED: Long", "Empty", "No rows"):
        assert text in together
    # the head of a table stands on each of its sheets
    assert sum("question number limit" in text for text in said) >= 2


def test_markup_stays_text_and_what_cannot_be_drawn_is_marked() -> None:
    bad = "<b>x</b> & <font size=99> 気球 \x07"
    said = " ".join(sheets(document_pdf(document(title=bad, crew=crew(headline=bad, cautions=(bad,))))))
    assert said.count("<b>x</b> & <font size=99> ??") >= 3


def test_no_map_no_calls_no_evidence() -> None:
    bare = document(crew=crew(map=None, calls=(), numbers=(), cautions=(), clock=()), evidence=())
    said = sheets(document_pdf(bare))
    assert len(said) == 1
    assert "no map" in said[0]


def test_pictures_keep_their_proportions() -> None:
    """A square of one hue: as wide as high on the sheet, in points of the current matrix."""
    seen: list[tuple[float, float]] = []

    def visit(operator: bytes, operands: Any, matrix: Any, text_matrix: Any) -> None:
        if operator == b"Do":
            seen.append((matrix[0], matrix[3]))

    whole = document(evidence=(Chapter("One", (Picture("Square", square("#ff0000")),)),))
    for page in pypdf.PdfReader(io.BytesIO(document_pdf(whole))).pages:
        page.extract_text(visitor_operand_before=visit)
    assert len(seen) == 2
    for wide, high in seen:
        assert wide == pytest.approx(high)
        assert wide > 100.0


def test_another_paper_is_refused() -> None:
    with pytest.raises(ValueError, match="must be one of A4, Letter"):
        document_pdf(document(), paper="A5")  # type: ignore[arg-type]  # wrong on purpose


def test_no_heading_stands_alone_at_the_foot_of_a_sheet() -> None:
    """Chapters of every length before one that begins with a table, or with a picture as high as a sheet."""
    table = JudgedTable("Table under it", tuple(judged("go", "met", f"Question {k}") for k in range(30)))
    tall = Picture("Picture under it", chart())
    for lines in range(5, 60, 9):
        for block, first in ((table, "Question 0"), (tall, "Picture under it")):
            before = Chapter("Before", (Sentences("", tuple(f"line {k}" for k in range(lines))),))
            said = sheets(document_pdf(document(evidence=(before, Chapter("Chapter head", (block,))))))
            (at,) = (number for number, text in enumerate(said) if "Chapter head" in text)
            assert first in said[at], lines
