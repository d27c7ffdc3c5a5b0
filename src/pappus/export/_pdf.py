"""The briefing document as a PDF for A4 or Letter: one sheet for the crew, then the evidence."""

from __future__ import annotations

import io
from typing import Any, Literal

from pappus.export._document import BriefingDocument, on_two_parts
from pappus.export._handout import clean
from pappus.export._look import QUIET, drawable
from pappus.export._pdf_crew import crew_sheet
from pappus.export._pdf_evidence import chapter_pieces
from pappus.export._pdf_parts import BOLD, REGULAR, register_typeface

Paper = Literal["A4", "Letter"]
_MM = 72.0 / 25.4
_SIZES: dict[Paper, tuple[float, float]] = {"A4": (210.0 * _MM, 297.0 * _MM), "Letter": (612.0, 792.0)}
"""ISO 216 and ANSI Y14.1."""
_SIDE, _TOP, _BOTTOM = 14.0 * _MM, 17.0 * _MM, 15.0 * _MM
_HEAD_PT, _FOOT_PT = 9.0, 7.5


def document_pdf(document: BriefingDocument, *, paper: Paper = "A4") -> bytes:
    """The document as the bytes of a PDF; the same document gives the same bytes.

    Every sheet names the plan, when it was made and how many sheets there are. The typeface is embedded, as far as it
    is used.

    :raises ValueError: ``paper`` is neither A4 nor Letter, or the crew page does not fit on it.
    :raises zoneinfo.ZoneInfoNotFoundError: this machine does not know the zone of the crew page.
    """
    from reportlab.platypus import BaseDocTemplate, Frame, PageBreak, PageTemplate

    if paper not in _SIZES:
        raise ValueError(f"paper is {paper!r}; it must be one of {', '.join(_SIZES)}")
    register_typeface()
    shown, whole = on_two_parts(document)
    page = _SIZES[paper]
    width, height = page[0] - 2 * _SIDE, page[1] - _TOP - _BOTTOM
    frame = Frame(_SIDE, _BOTTOM, width, height, 0, 0, 0, 0)
    pieces = [crew_sheet(shown, whole, width, height - 0.01)]
    if shown.evidence:
        pieces.append(PageBreak())
    for number, chapter in enumerate(shown.evidence, 1):
        pieces += chapter_pieces(chapter, number, width, height)
    file = io.BytesIO()
    template = BaseDocTemplate(
        file, pagesize=page, invariant=1, title=document.title, subject=document.note, author="pappus",
        creator="pappus", lang="en", initialFontName=REGULAR,
    )  # fmt: skip
    template.addPageTemplates([PageTemplate(frames=[frame])])
    template.build(pieces, canvasmaker=_numbered(shown))
    return file.getvalue()


def _numbered(shown: BriefingDocument) -> Any:
    """Sheets that say their number of all sheets, which is known only when the last is drawn."""
    from reportlab.pdfgen.canvas import Canvas

    class Numbered(Canvas):  # type: ignore[misc]  # reportlab has no types
        def __init__(self, *args: Any, **keys: Any) -> None:
            super().__init__(*args, **keys)
            self._sheets: list[dict[str, Any]] = []

        def showPage(self) -> None:
            self._sheets.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, sheet in enumerate(self._sheets, 1):
                self.__dict__.update(sheet)
                _draw_edges(self, shown, f"{number} / {len(self._sheets)}")
                super().showPage()
            super().save()

    return Numbered


def _draw_edges(canvas: Any, shown: BriefingDocument, number: str) -> None:
    width, height = canvas._pagesize
    canvas.setFillColor(QUIET)
    canvas.setFont(BOLD, _HEAD_PT)
    canvas.drawString(_SIDE, height - 11.0 * _MM, _cut(shown.title, BOLD, _HEAD_PT, width - 2 * _SIDE))
    canvas.setFont(REGULAR, _FOOT_PT)
    if shown.note:
        canvas.drawString(_SIDE, height - 14.5 * _MM, _cut(shown.note, REGULAR, _FOOT_PT, width - 2 * _SIDE))
    canvas.drawString(_SIDE, 9.0 * _MM, shown.foot)
    canvas.drawRightString(width - _SIDE, 9.0 * _MM, number)


def _cut(text: str, font: str, size: float, room: float) -> str:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    text = drawable(clean(text))
    if stringWidth(text, font, size) <= room:
        return text
    while text and stringWidth(f"{text}…", font, size) > room:
        text = text[:-1]
    return f"{text}…"
