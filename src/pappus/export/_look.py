"""What all pictures share: paper, ink, hues, sizes, and labels that do not lie on each other.

Pictures are made through the object interface of matplotlib, which holds no state between two of them. It is imported
inside the functions, so that a command that draws nothing does not wait for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

PAPER, INK, QUIET, RULE = "#ffffff", "#1a1a1a", "#595959", "#dddddd"
GROUND, HATCH = "#d8d4cc", "#c4c4c4"
"""Neutral tones; QUIET on PAPER has a contrast of 7:1."""
BLUE, GREEN, VERMILLION = "#0072b2", "#009e73", "#d55e00"
"""Okabe & Ito 2008, "Color universal design": hues that colour-blind people can tell apart."""
AREA_FILLS = ("#66aad1", "#a6cee5", "#dcecf6")
"""Steps of BLUE towards PAPER, for 50, 90 and 95 %; they differ by lightness too, for print without colour."""
AREA_OUTLINES = ("solid", "dashed", "dotted")
TEXT_PT, TITLE_PT = 12, 20
HOLLOW: dict[str, Any] = {"markerfacecolor": PAPER, "markeredgecolor": INK, "linestyle": "none"}
NOT_LANDED: dict[str, Any] = {"marker": "D", "markersize": 4.5, "markeredgewidth": 0.8, "zorder": 4, **HOLLOW}
"""A hollow diamond is what cannot be told: here, where the flight ends."""
TOP: dict[str, Any] = {"marker": "o", "markersize": 7, "markeredgewidth": 1.6, "zorder": 8, **HOLLOW}
MOST_TRACKS = 150
"""More faint lines than this are one grey blot."""
MARGIN_IN = 0.3
_DPI = 120
PRINT_DPI = 200
"""For pictures that are read on paper first."""
_GAP_PT = 5
_LINE = 1.35
_UNKNOWN_GLYPH = "?"

Array = NDArray[np.float64]


def new_sheet(
    width_in: float,
    body_in: float,
    *,
    title: str,
    under_title: str,
    notes: Sequence[str],
    footer: str,
    dpi: int = _DPI,
) -> tuple[Any, float]:
    """A figure with its words above and below a free body ``body_in`` high; and the bottom of that body [in].

    The sheet is as high as its words need: a long note makes it longer and nothing narrower.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    room = width_in - 2 * MARGIN_IN
    above = [(wrap(title, TITLE_PT, room, "bold"), TITLE_PT, "bold", INK)]
    above.append((wrap(under_title, TEXT_PT, room), TEXT_PT, "normal", INK))
    below = [([line for note in notes for line in wrap(f"• {note}", TEXT_PT, room)], TEXT_PT, "normal", INK)]
    below.append((wrap(footer, TEXT_PT, room), TEXT_PT, "normal", QUIET))
    below_in = sum(_block_in(lines, size) for lines, size, _, _ in below)
    height = 2 * MARGIN_IN + sum(_block_in(lines, size) for lines, size, _, _ in above) + body_in + below_in

    figure = Figure((width_in, height), dpi=dpi, facecolor=PAPER)
    FigureCanvasAgg(figure)
    for top, blocks in ((height - MARGIN_IN, above), (MARGIN_IN + below_in, below)):
        for lines, size, weight, color in blocks:
            figure.text(
                MARGIN_IN / width_in, top / height, "\n".join(lines),
                fontsize=size, fontweight=weight, color=color, va="top", ha="left", linespacing=_LINE,
            )  # fmt: skip
            top -= _block_in(lines, size)
    return figure, MARGIN_IN + below_in


def _block_in(lines: list[str], size_pt: int) -> float:
    return (len(lines) * size_pt * _LINE + _GAP_PT) / 72.0 if lines else 0.0


def add_axes(figure: Any, left_in: float, bottom_in: float, width_in: float, height_in: float, **keys: Any) -> Any:
    """Axes at a place on the sheet."""
    page_width, page_height = figure.get_size_inches()
    box = (left_in / page_width, bottom_in / page_height, width_in / page_width, height_in / page_height)
    axes = figure.add_axes(box, **keys)
    quiet_frame(axes)
    return axes


def quiet_frame(axes: Any) -> None:
    """Thin frame, text in the one small size."""
    axes.tick_params(labelsize=TEXT_PT, color=QUIET, labelcolor=INK, width=0.8, length=4)
    for spine in axes.spines.values():
        spine.set(color=QUIET, linewidth=0.8, zorder=8)
    axes.set_axisbelow(True)


def save(figure: Any, path: str | Path) -> None:
    """Write the figure; the file name says in which format. The same figure gives the same file."""
    from matplotlib import rc_context

    keys: dict[str, dict[str, Any]] = {
        ".png": {"pil_kwargs": {"compress_level": 2}},
        ".svg": {"metadata": {"Date": None}},
    }
    # without a salt the names inside an SVG are drawn by lot
    with rc_context({"svg.hashsalt": "pappus"}):
        figure.savefig(path, facecolor=PAPER, **keys.get(Path(path).suffix.lower(), {}))


def printable(text: str) -> str:
    """The text without what the typeface cannot draw, and with dollar signs that do not start a formula."""
    return drawable(text).replace("$", r"\$")


def drawable(text: str) -> str:
    """The text with a question mark in place of every sign that the typeface cannot draw."""
    return "".join(sign if can_draw(sign) or sign == "\n" else _UNKNOWN_GLYPH for sign in text)


def can_draw(text: str) -> bool:
    """Whether the typeface has every letter of the text."""
    return all(ord(sign) in _glyphs() for sign in text)


def wrap(text: str, size_pt: int, width_in: float, weight: str = "normal") -> list[str]:
    """Printable lines no wider than ``width_in`` where words allow it; line breaks in the text stay."""
    lines: list[str] = []
    for paragraph in text.splitlines():
        line = ""
        for word in drawable(paragraph).split():
            longer = f"{line} {word}".strip()
            if line and width_of_in(longer, size_pt, weight) > width_in:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    return [printable(line) for line in lines]


def width_of_in(text: str, size_pt: int, weight: str = "normal") -> float:
    """Width of one line of text, kerning apart."""
    return size_pt / 72.0 * sum(_advance_em(sign, weight) for sign in text)


def _font(weight: str) -> Any:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return get_font(findfont(FontProperties(weight=weight)))


@lru_cache(maxsize=1024)
def _advance_em(sign: str, weight: str) -> float:
    font = _font(weight)
    font.set_size(100, 72)
    return float(font.load_char(ord(sign)).linearHoriAdvance) / 65536.0 / 100.0


@lru_cache(maxsize=1)
def _glyphs() -> frozenset[int]:
    return frozenset(_font("normal").get_charmap())


def boxed() -> dict[str, Any]:
    """Paper behind a label, where lines or hatching would run through it."""
    return {"boxstyle": "square,pad=0.15", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85}


def halo() -> list[Any]:
    """A rim of paper around letters on a map."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=3, foreground=PAPER)]


class Labels:
    """Labels at points; one that finds no free place is left out.

    Greedy, first come first served: give the ones that matter first.
    """

    def __init__(self, axes: Any) -> None:
        self._axes = axes
        self._renderer = axes.figure.canvas.get_renderer()
        self._pixels_per_pt = axes.figure.dpi / 72.0
        self._frame = axes.get_window_extent(self._renderer).padded(-4.0 * self._pixels_per_pt)
        self._taken: list[Any] = []

    def keep_free(self, x: float, y: float, radius_pt: float) -> None:
        """No later label may cover this point."""
        self._keep(self._axes.transData.transform((x, y)), radius_pt)

    def keep_line_free(self, x: Array, y: Array) -> None:
        """No later label may cover this line, if it can be helped."""
        known = ~(np.isnan(x) | np.isnan(y))
        if not known.any():
            return
        points = self._axes.transData.transform(np.column_stack((x[known], y[known])))
        along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
        stops = np.arange(0.0, along[-1], 6.0 * self._pixels_per_pt)
        for centre in zip(np.interp(stops, along, points[:, 0]), np.interp(stops, along, points[:, 1]), strict=True):
            self._keep(centre, 1.5)

    def _keep(self, centre: ArrayLike, radius_pt: float) -> None:
        from matplotlib.transforms import Bbox

        radius = radius_pt * self._pixels_per_pt
        self._taken.append(Bbox([np.asarray(centre) - radius, np.asarray(centre) + radius]))

    def add(
        self,
        text: str,
        x: float,
        y: float,
        *,
        gap_pt: float = 6.0,
        must: bool = False,
        level: Literal["left", "right"] | None = None,
        **style: Any,
    ) -> bool:
        """Write beside the point, right first, or with ``level`` on a level line that starts or ends there.

        ``must`` writes even where it is crowded.
        """
        label = self._axes.annotate(
            printable(text), (x, y), (0.0, 0.0), textcoords="offset points", fontsize=TEXT_PT, zorder=9,
            **({"color": INK} | style),
        )  # fmt: skip
        frame = self._frame
        crowded = None
        for dx, dy, ha, va in _around(gap_pt) if level is None else _on_line(gap_pt, level):
            label.set(position=(dx, dy), ha=ha, va=va)
            box = label.get_window_extent(self._renderer)
            if not (frame.x0 < box.x0 and box.x1 < frame.x1 and frame.y0 < box.y0 and box.y1 < frame.y1):
                continue
            if not any(box.overlaps(other) for other in self._taken):
                self._taken.append(box.padded(2.0))
                return True
            crowded = crowded or (dx, dy, ha, va)
        if not must:
            label.remove()
            return False
        dx, dy, ha, va = crowded or (gap_pt, 0.0, "left", "center")
        label.set(position=(dx, dy), ha=ha, va=va)
        self._taken.append(label.get_window_extent(self._renderer))
        return True


def _around(gap: float) -> Iterator[tuple[float, float, str, str]]:
    """Offsets [points] and alignment: right, left, above, below, then the corners, then farther out."""
    for reach in (gap, 3.5 * gap):
        slant = 0.7 * reach
        yield reach, 0.0, "left", "center_baseline"
        yield -reach, 0.0, "right", "center_baseline"
        yield 0.0, reach, "center", "bottom"
        yield 0.0, -reach, "center", "top"
        yield slant, slant, "left", "bottom"
        yield slant, -slant, "left", "top"
        yield -slant, slant, "right", "bottom"
        yield -slant, -slant, "right", "top"


def _on_line(gap: float, side: str) -> Iterator[tuple[float, float, str, str]]:
    yield 0.0, gap, side, "bottom"
    yield 0.0, -gap, side, "top"


def drawn_tracks(flights: int) -> NDArray[np.intp]:
    """Which of so many flights are drawn as lines: all, or evenly spaced ones."""
    return np.unique(np.linspace(0, flights - 1, min(flights, MOST_TRACKS)).astype(np.intp))


def round_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 times a power of ten that cuts ``span`` into at most ``most`` parts."""
    least = span / most
    power = 10.0 ** np.floor(np.log10(least))
    return float(next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= least * (1.0 - 1e-9)))


def round_ticks(low: float, high: float, most: int) -> Array:
    """Multiples of a round step from ``low`` to ``high``, about ``most`` of them."""
    step = round_step(high - low, most)
    return np.asarray(np.arange(np.ceil(low / step), np.floor(high / step) + 1.0) * step)


def add_legend(axes: Any, columns_in: Sequence[float], columns: Sequence[Sequence[tuple[Any, str]]]) -> None:
    """One column of signs and words at each distance [in] from the left edge of ``axes``."""
    from matplotlib.legend import Legend

    axes.axis("off")
    for left_in, entries in zip(columns_in, columns, strict=True):
        # axes.legend() would draw the last column twice
        legend = Legend(
            axes,
            [handle for handle, _ in entries], [printable(words) for _, words in entries],
            loc="upper left", bbox_to_anchor=(left_in / (axes.get_position().width * axes.figure.get_figwidth()), 1.0),
            fontsize=TEXT_PT, frameon=False, borderaxespad=0.0, borderpad=0.0, handlelength=2.6, labelspacing=0.45,
            labelcolor=INK,
        )  # fmt: skip
        axes.add_artist(legend)
