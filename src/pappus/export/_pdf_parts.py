"""What the sheets of a PDF are made of: the typeface, paragraphs, signs, pictures."""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from pappus.export._document import Picture
from pappus.export._handout import clean
from pappus.export._look import INK, PAPER, QUIET, drawable
from pappus.export._signs import BAR, DIAMOND, SQUARE, STATE_HUES, State

REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"
_LEAD = 1.25


@lru_cache(maxsize=1)
def register_typeface() -> None:
    """DejaVu Sans, which comes with matplotlib (Bitstream Vera licence: free to embed), for every PDF of this process.

    The fourteen typefaces that a PDF reader brings have Latin letters only, and cannot be embedded.
    """
    import matplotlib
    from reportlab.lib.fonts import addMapping
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for bold, name in ((0, REGULAR), (1, BOLD)):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
        addMapping(REGULAR, bold, 0, name)


def pdf_text(text: str) -> str:
    """Text that stays text, with a question mark for every sign that the typeface lacks."""
    return escape(drawable(clean(text))).replace("\n", "<br/>")


def style(size_pt: float, *, bold: bool = False, quiet: bool = False, **keys: Any) -> Any:
    """How a paragraph looks."""
    from reportlab.lib.styles import ParagraphStyle

    usual = {
        "fontName": BOLD if bold else REGULAR, "fontSize": size_pt, "leading": size_pt * _LEAD,
        "textColor": QUIET if quiet else INK, "splitLongWords": 1,
    }  # fmt: skip
    return ParagraphStyle("", **(usual | keys))


def words(text: str, size_pt: float, *, markup: bool = False, **keys: Any) -> Any:
    """A paragraph; ``markup`` says that the text is made with ``pdf_text`` already."""
    from reportlab.platypus import Paragraph

    return Paragraph(text if markup else pdf_text(text), style(size_pt, **keys))


def with_small(text: str, small: str, size_pt: float, *, bold: bool) -> Any:
    """Text with what qualifies it, smaller, behind it."""
    said = f"<b>{pdf_text(text)}</b>" if bold else pdf_text(text)
    if small:
        said += f' <font size="{0.88 * size_pt:.2f}" color="{QUIET}">{pdf_text(small)}</font>'
    return words(said, size_pt, markup=True)


def draw_pdf_sign(canvas: Any, state: State, x: float, y: float, radius: float) -> None:
    """One of the four shapes about a point of the sheet [points]."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(max(0.6, 0.13 * radius))
    canvas.setFillColor(STATE_HUES[state])
    if state == "go":
        canvas.circle(x, y, radius, stroke=1, fill=1)
    elif state == "wait":
        canvas.setFillColor(PAPER)
        canvas.circle(x, y, radius, stroke=1, fill=1)
        canvas.setFillColor(STATE_HUES[state])
        half = canvas.beginPath()
        half.arc(x - radius, y - radius, x + radius, y + radius, 90, 180)
        half.close()
        canvas.drawPath(half, stroke=1, fill=1)
    elif state == "no-go":
        side, wide, high = SQUARE * radius, BAR[0] * radius, BAR[1] * radius
        canvas.rect(x - side, y - side, 2 * side, 2 * side, stroke=1, fill=1)
        canvas.setFillColor(PAPER)
        canvas.rect(x - wide, y - high, 2 * wide, 2 * high, stroke=0, fill=1)
    else:
        reach = DIAMOND * radius
        canvas.setLineWidth(max(0.9, 0.2 * radius))
        diamond = canvas.beginPath()
        diamond.moveTo(x - reach, y)
        for dx, dy in ((0.0, reach), (reach, 0.0), (0.0, -reach)):
            diamond.lineTo(x + dx, y + dy)
        diamond.close()
        canvas.drawPath(diamond, stroke=1, fill=0)
    canvas.restoreState()


def piece(size: Callable[[float], tuple[float, float]], draw: Callable[[Any, float], None]) -> Any:
    """Something to stand between paragraphs: ``size`` says width and height in a room so wide, ``draw`` gets the canvas
    with its origin at the lower left corner, and the height."""
    from reportlab.platypus import Flowable

    class Piece(Flowable):  # type: ignore[misc]  # reportlab has no types
        def wrap(self, width: float, _height: float) -> tuple[float, float]:
            self.width, self.height = size(width)
            return self.width, self.height

        def draw(self) -> None:
            draw(self.canv, self.height)

    return Piece()


def signed_words(state: State, word: str, size_pt: float, more: str = "") -> Any:
    """A shape with its word beside it, and what more there is to say."""
    said = words(f"<b>{pdf_text(word)}</b>{pdf_text(more)}", size_pt, markup=True)
    left = 1.6 * size_pt

    def draw(canvas: Any, height: float) -> None:
        draw_pdf_sign(canvas, state, 0.6 * size_pt, height - 0.66 * size_pt, 0.46 * size_pt)
        said.drawOn(canvas, left, 0.0)

    return piece(lambda width: (width, said.wrap(width - left, 1e6)[1]), draw)


def picture_size(picture: Picture, most_width: float, most_height: float) -> tuple[float, float]:
    """Width and height [points] that fill the room in true proportions."""
    width, height = image(picture).getSize()
    scale = min(most_width / width, most_height / height)
    return width * scale, height * scale


@lru_cache(maxsize=4)
def image(picture: Picture) -> Any:
    """The pixels without transparency, which some printers cannot do."""
    from PIL import Image
    from reportlab.lib.utils import ImageReader

    with Image.open(io.BytesIO(picture.png)) as read:
        flat = Image.new("RGB", read.size, PAPER)
        with_alpha = read.convert("RGBA")
        flat.paste(with_alpha, mask=with_alpha.getchannel("A"))
    return ImageReader(flat)
