"""The crew page on one sheet of paper: letters and map as large as all of it allows."""

from __future__ import annotations

from typing import Any

from pappus.export._document import AID, BriefingDocument, CrewPage, more_lines, said_clock, said_clock_day
from pappus.export._look import INK
from pappus.export._pdf_parts import (
    BOLD,
    REGULAR,
    draw_pdf_sign,
    image,
    pdf_text,
    picture_size,
    piece,
    signed_words,
    with_small,
    words,
)

_SIZES_PT = (9.5, 9.0, 8.5, 8.0, 7.5, 7.0)
_GAP_PT, _COLUMN_GAP_PT = 8.0, 18.0
_MAP_LEAST_PT, _MAP_MOST_PT = 150.0, 260.0
_TIME_SHARE, _NAME_SHARE, _CALL_LEAST_SHARE = 0.36, 0.37, 0.55
_NO_NUMBER = "no number"
_MM = 72.0 / 25.4


def crew_sheet(document: BriefingDocument, whole: CrewPage, width: float, height: float) -> Any:
    """All of the crew page as one piece of the given size [points], for the first sheet.

    :raises ValueError: it does not fit, even with the smallest letters.
    """
    layout = _Layout(document.crew, whole, width, height)
    return piece(lambda _: (width, height), lambda canvas, _: layout.draw(canvas))


class _Layout:
    def __init__(self, crew: CrewPage, whole: CrewPage, width: float, height: float) -> None:
        self.crew, self.width, self.height = crew, width, height
        self.column = 0.5 * (width - _COLUMN_GAP_PT)
        for size in _SIZES_PT:
            self.size = size
            self.answer = _answer(crew, whole, width, size)
            self.clock = _heading(f"<b>Clock</b> {_small(said_clock_day(crew), size)}", size) + _lines(
                [(words(said_clock(line, crew), size, bold=True), with_small(line.what, line.note, size, bold=False))
                 for line in crew.clock],
                more_lines(whole.clock, crew.clock), self.column, _TIME_SHARE, size,
            )  # fmt: skip
            self.calls = _heading("<b>Who calls whom</b>", size) + _lines(
                [(with_small(one.whom, one.when, size, bold=True), words(one.phone or _NO_NUMBER, size, alignment=2))
                 for one in crew.calls],
                more_lines(whole.calls, crew.calls), self.column, _call_share(crew, self.column, size), size,
            )  # fmt: skip
            self.numbers = _heading("<b>Numbers</b>", size) + _lines(
                [(words(one.what, size), with_small(one.value, one.spread, size, bold=True)) for one in crew.numbers],
                more_lines(whole.numbers, crew.numbers), self.column, _NAME_SHARE, size,
            )  # fmt: skip
            self.cautions = _cautions(crew, whole, size)
            self.map_height = self._room_for_map()
            if self.map_height is not None:
                return
        raise ValueError(f"the crew page does not fit on a sheet of {width / _MM:.0f} by {height / _MM:.0f} mm")

    def _room_for_map(self) -> float | None:
        """Height of the map with these letters; None when they leave it too little."""
        bottom = max(_high(self.numbers, self.column), _high(self.calls, self.column))
        halves = (self.cautions[: (len(self.cautions) + 1) // 2], self.cautions[(len(self.cautions) + 1) // 2 :])
        self.halves = halves
        foot = max(_high(half, self.column) for half in halves)
        self.title = _heading("<b>Cautions</b>", self.size)
        self.aid = [words(AID, 0.85 * self.size, quiet=True)]
        fixed = _high(self.answer, self.width) + bottom + foot + _high(self.title, self.width)
        fixed += _high(self.aid, self.width) + 4.0 * _GAP_PT
        left = self.height - fixed
        self.caption = _heading(
            f"<b>{pdf_text('Map' if self.crew.map is None else self.crew.map.caption)}</b>", self.size
        )
        self.middle = min(left, max(_MAP_MOST_PT, _high(self.clock, self.column)))
        enough = left >= _high(self.clock, self.column) and left >= _MAP_LEAST_PT
        return self.middle - _high(self.caption, self.column) if enough else None

    def draw(self, canvas: Any) -> None:
        top = self.height
        right = self.column + _COLUMN_GAP_PT
        top = _put(canvas, self.answer, 0.0, top, self.width) - _GAP_PT
        _put(canvas, self.clock, right, top, self.column)
        under = _put(canvas, self.caption, 0.0, top, self.column)
        assert self.map_height is not None
        if self.crew.map is None:
            _put(canvas, [words("- no map: see what this does not know", self.size)], 0.0, under, self.column)
        else:
            wide, high = picture_size(self.crew.map, self.column, self.map_height)
            canvas.drawImage(image(self.crew.map), 0.0, under - high, wide, high)
        top -= self.middle + _GAP_PT
        lists = ((self.numbers, 0.0), (self.calls, right))
        top = min(_put(canvas, part, x, top, self.column) for part, x in lists) - _GAP_PT
        top = _put(canvas, self.title, 0.0, top, self.width)
        bottoms = tuple(
            _put(canvas, half, x, top, self.column) for half, x in zip(self.halves, (0.0, right), strict=True)
        )
        _put(canvas, self.aid, 0.0, min(bottoms) - _GAP_PT, self.width)


def _call_share(crew: CrewPage, width: float, size: float) -> float:
    """What the phone numbers leave, so that none of them breaks where that can be helped."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    widest = max((stringWidth(call.phone or _NO_NUMBER, REGULAR, size) for call in crew.calls), default=0.0)
    return max(_CALL_LEAST_SHARE, 1.0 - (widest + 2.0) / width)


def _high(parts: list[Any], width: float) -> float:
    return float(sum(part.wrap(width, 1e6)[1] for part in parts))


def _put(canvas: Any, parts: list[Any], x: float, top: float, width: float) -> float:
    """Draw downwards from ``top``; the bottom of the last."""
    for part in parts:
        top -= part.wrap(width, 1e6)[1]
        part.drawOn(canvas, x, top)
    return top


def _small(text: str, size: float) -> str:
    return f'<font size="{0.85 * size:.2f}">{pdf_text(text)}</font>'


def _heading(markup: str, size: float) -> list[Any]:
    from reportlab.platypus import Spacer

    return [words(markup, 1.15 * size, markup=True), Spacer(0, 2.0)]


def _lines(pairs: list[tuple[Any, Any]], more: str, width: float, share: float, size: float) -> list[Any]:
    from reportlab.platypus import Table

    rows = [list(pair) for pair in pairs]
    rules = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("LINEABOVE", (0, 0), (-1, -1), 0.5, INK), ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (0, -1), 5),
        ("RIGHTPADDING", (1, 0), (1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.0), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
    ]  # fmt: skip
    table = [Table(rows, (share * width, (1.0 - share) * width), style=rules)] if rows else []
    return table + ([words(more, size)] if more else [] if rows else [words("-", size)])


def _cautions(crew: CrewPage, whole: CrewPage, size: float) -> list[Any]:
    lines = [
        words(f"• {line}", 0.88 * size, leftIndent=7, firstLineIndent=-7, spaceAfter=1.5) for line in crew.cautions
    ]
    more = more_lines(whole.cautions, crew.cautions)
    return lines + ([words(more, 0.88 * size)] if more else [])


def _answer(crew: CrewPage, whole: CrewPage, width: float, size: float) -> list[Any]:
    """The answer in a heavy frame: sign and word, then what it rests on."""
    from reportlab.pdfbase.pdfmetrics import stringWidth
    from reportlab.platypus import Table

    large = 2.6 * size
    said: list[Any] = [words(crew.headline, 1.3 * size, bold=True, spaceAfter=3)]
    said += [signed_words(state, state, size, f": {text}") for state, text in crew.reasons]
    more = more_lines(whole.reasons, crew.reasons)
    said += [words(more, size)] if more else []

    def draw(canvas: Any, _: float) -> None:
        draw_pdf_sign(canvas, crew.answer, 0.5 * large, 0.55 * large, 0.46 * large)
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, large)
        canvas.drawString(1.3 * large, 0.2 * large, crew.answer)

    left = 1.3 * large + stringWidth(crew.answer, BOLD, large) + 14.0
    rules = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("BOX", (0, 0), (-1, -1), 1.8, INK), ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 7), ("RIGHTPADDING", (0, 0), (-1, -1), 7),
        ("TOPPADDING", (0, 0), (-1, -1), 5), ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]  # fmt: skip
    return [
        Table([[piece(lambda room: (room, 1.3 * large), draw), said]], (left + 7.0, width - left - 7.0), style=rules)
    ]
