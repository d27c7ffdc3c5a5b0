"""The evidence as pieces that flow over sheets of paper."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pappus.export._document import DRAFT_MARK, Block, Chapter, DraftNotice, JudgedTable, Picture
from pappus.export._look import INK, QUIET
from pappus.export._page import Grid, Rows, Sentences
from pappus.export._pdf_parts import BOLD, REGULAR, image, pdf_text, picture_size, piece, signed_words, style, words

_TEXT_PT, _TABLE_PT, _TABLE_LEAST_PT, _HEADING_PT, _CHAPTER_PT = 9.0, 8.0, 6.0, 11.0, 14.0
_NAME_SHARE = 0.28
_JUDGED_SHARES = (0.17, 0.39, 0.22, 0.22)
_PICTURE_MOST_SHARE = 0.86
"""Of the height of a sheet: a caption stands above it."""
_PAD_PT = 8.0
_CELL_SIDE_PT, _ROW_MOST_PT, _ENDLESS_PT = 6.0, 600.0, 1e6
_CHAPTER_START_PT, _BLOCK_START_PT, _HEADING_ROOM_PT = 40.0, 80.0, 30.0


def chapter_pieces(chapter: Chapter, number: int, width: float, height: float) -> Iterator[Any]:
    """Heading and blocks of a chapter for a sheet of that room [points]; the heading is in the outline of the file."""
    from reportlab.platypus import CondPageBreak, HRFlowable, Spacer

    # a heading never stands alone at the foot of a sheet
    first = _start_pt(chapter.blocks[0], width, height) if chapter.blocks else 0.0
    yield CondPageBreak(min(height, _CHAPTER_START_PT + first))
    yield Spacer(0, 10)
    yield HRFlowable("100%", 1.5, color=INK, spaceBefore=0, spaceAfter=2)
    yield _marked(chapter.title, f"chapter-{number}")
    yield Spacer(0, 4)
    for count, block in enumerate(chapter.blocks):
        if count:
            yield CondPageBreak(_start_pt(block, width, height))
        yield from _block(block, width, height)


def _start_pt(block: Block, width: float, height: float) -> float:
    """What a block needs below it to begin on this sheet."""
    if isinstance(block, Picture):
        return _HEADING_ROOM_PT + picture_size(block, width, _PICTURE_MOST_SHARE * height)[1]
    return _BLOCK_START_PT


def _marked(title: str, anchor: str) -> Any:
    from reportlab.platypus import Paragraph

    class Marked(Paragraph):  # type: ignore[misc]  # reportlab has no types
        def draw(self) -> None:
            self.canv.bookmarkPage(anchor)
            self.canv.addOutlineEntry(title, anchor, 0)
            super().draw()

    return Marked(pdf_text(title), style(_CHAPTER_PT, bold=True))


def _block(block: Block, width: float, height: float) -> Iterator[Any]:
    if isinstance(block, Picture):
        yield _heading(block.caption)
        yield _picture(block, width, _PICTURE_MOST_SHARE * height)
    elif isinstance(block, JudgedTable):
        yield from _judged(block, width)
    elif isinstance(block, DraftNotice):
        yield from _draft(block)
    else:
        if block.title:
            yield _heading(block.title)
        if isinstance(block, Rows):
            rows = [[words(key, _TEXT_PT, quiet=True), words(value, _TEXT_PT)] for key, value in block.rows]
            yield _table(rows, (_NAME_SHARE * width, (1.0 - _NAME_SHARE) * width))
        elif isinstance(block, Grid):
            yield _grid(block, width)
            if block.note:
                yield words(block.note, _TABLE_PT, quiet=True)
        elif isinstance(block, Sentences):
            yield from (
                words(f"• {line}", _TEXT_PT, leftIndent=9, firstLineIndent=-9, spaceAfter=2) for line in block.lines
            )


def _heading(title: str) -> Any:
    return words(title, _HEADING_PT, bold=True, spaceBefore=_PAD_PT, spaceAfter=3)


def _picture(picture: Picture, width: float, height: float) -> Any:
    wide, high = picture_size(picture, width, height)
    return piece(lambda _: (wide, high), lambda canvas, _: canvas.drawImage(image(picture), 0, 0, wide, high))


def _table(rows: list[list[Any]], widths: tuple[float, ...], *, head: bool = False, more: Any = ()) -> Any:
    from reportlab.platypus import Table

    if not rows:
        return words("-", _TEXT_PT)
    rules = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("LINEABOVE", (0, 1 if head else 0), (-1, -1), 0.4, QUIET), ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-2, -1), 6),
        ("RIGHTPADDING", (-1, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5), *more,
    ]  # fmt: skip
    # a row is cut only where no sheet would hold it
    high = max(_cell_pt(cell, width - _CELL_SIDE_PT) for row in rows for cell, width in zip(row, widths, strict=True))
    return Table(
        rows, widths, style=rules, repeatRows=1 if head else 0, splitInRow=int(high > _ROW_MOST_PT), hAlign="LEFT"
    )


def _cell_pt(cell: Any, width: float) -> float:
    pieces = cell if isinstance(cell, list) else [cell]
    return float(sum(one.wrap(width, _ENDLESS_PT)[1] for one in pieces))


def _grid(grid: Grid, width: float) -> Any:
    """Columns as wide as their words where the sheet is, otherwise in that proportion, with lines that break."""
    size = _TABLE_PT
    needs = _needs(grid, size)
    if sum(needs) > width:
        size = max(_TABLE_LEAST_PT, size * width / sum(needs))
        needs = _needs(grid, size)
    if (total := sum(needs)) > width:
        needs = tuple(need * width / total for need in needs)
    head = [words(grid.columns[0], size, quiet=True)]
    head += [words(name, size, quiet=True, alignment=2) for name in grid.columns[1:]]
    rows = [head]
    for number, (first, *others) in enumerate(grid.rows):
        strong = number == grid.marked
        row = [words(f"▸ {first}" if strong else first, size, bold=True)]
        rows.append(row + [words(cell, size, bold=strong, alignment=2) for cell in others])
    more = []
    if grid.marked is not None:
        at = grid.marked + 1
        more = [("LINEABOVE", (0, at), (-1, at), 1.4, INK), ("LINEBELOW", (0, at), (-1, at), 1.4, INK)]
    return _table(rows, needs, head=True, more=more)


def _needs(grid: Grid, size: float) -> tuple[float, ...]:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    widths = []
    for column, name in enumerate(grid.columns):
        font = BOLD if column == 0 or grid.marked is not None else REGULAR
        cells = [stringWidth(row[column], font, size) for row in grid.rows]
        # the head of a column may break between its words
        longest = max((stringWidth(word, REGULAR, size) for word in name.split()), default=0.0)
        widths.append(max([*cells, longest]) + 10.0 + (10.0 if column == 0 and grid.marked is not None else 0.0))
    return tuple(widths)


def _judged(table: JudgedTable, width: float) -> Iterator[Any]:
    if table.title:
        yield _heading(table.title)
    rows = [[words(name, _TABLE_PT, quiet=True) for name in ("answer", "question", "number", "limit")]]
    for one in table.rows:
        said = [words(one.title, _TABLE_PT, bold=True)]
        said += [words(one.why, _TABLE_PT)] if one.why else []
        said += [words(f"Mend: {one.mend}", _TABLE_PT)] if one.mend else []
        said += [words(one.source, 0.88 * _TABLE_PT, quiet=True)] if one.source else []
        rows.append([
            signed_words(one.state, one.word, _TABLE_PT), said, words(one.number or "-", _TABLE_PT),
            words(one.limit or "-", _TABLE_PT),
        ])  # fmt: skip
    yield _table(rows, tuple(share * width for share in _JUDGED_SHARES), head=True)
    if table.note:
        yield words(table.note, _TABLE_PT, quiet=True)


def _draft(draft: DraftNotice) -> Iterator[Any]:
    """The mark stands above and below, so that no sheet of it is taken for a notice that was sent."""
    from reportlab.platypus import HRFlowable

    yield HRFlowable("100%", 0.8, color=INK, dash=(4, 3), spaceBefore=_PAD_PT, spaceAfter=3)
    yield words(f"{DRAFT_MARK.upper()}: {draft.title}", _HEADING_PT, bold=True, spaceAfter=3)
    if draft.to:
        yield words(f"To: {draft.to}", _TEXT_PT, spaceAfter=4)
    yield from (words(line, _TEXT_PT, spaceAfter=2) for line in draft.text.splitlines())
    yield words(DRAFT_MARK.upper(), _TEXT_PT, bold=True, spaceBefore=3)
    yield HRFlowable("100%", 0.8, color=INK, dash=(4, 3), spaceBefore=3, spaceAfter=_PAD_PT)
