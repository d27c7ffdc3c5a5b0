"""Where and when to launch, as a matrix: a row for each site, fill and balloon, a column for each time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pappus.export._look import (
    INK,
    MARGIN_IN,
    PRINT_DPI,
    QUIET,
    RULE,
    TEXT_PT,
    add_axes,
    new_sheet,
    save,
    width_of_in,
    wrap,
)
from pappus.export._page import Grid
from pappus.export._signs import STATES, State, draw_sign, require_state
from pappus.units import say_height

MOST_COLUMNS, MOST_ROWS = 6, 10
"""Of one sheet; a wider matrix goes on below, so that a word stays as large as in the other pictures."""
_WIDTH_IN = 11.0
_LABEL_IN, _CELL_MOST_IN, _ROW_IN, _HEAD_IN, _GAP_IN, _KEY_IN = 1.9, 1.6, 0.76, 0.62, 0.25, 0.45
_SIGN_IN, _PAD_IN, _LINE_IN = 0.085, 0.09, 0.225
_LABEL_LINES, _REASON_LINES = 3, 2
_NOT_FLOWN = "not flown"


@dataclass(frozen=True)
class MatrixCell:
    """The answer for one choice."""

    row: int
    column: int
    answer: State
    short_reason: str
    """A word or two, such as ``airspace`` or ``wind 8 m/s``: what decides; empty when nothing speaks against it."""
    chance: float | None
    """Of the wanted height, 0 to 1; None when it is not known."""


@dataclass(frozen=True)
class LaunchMatrix:
    """Rows by their names, columns by their times; a cell that is not there was not flown."""

    rows: tuple[str, ...]
    """Site, fill and balloon in the words that tell the rows apart."""
    times: tuple[datetime, ...]
    """Release, UTC-aware, in order."""
    cells: tuple[MatrixCell, ...]
    zone: str
    """IANA name of the local time."""
    wanted_height_msl_m: float
    chosen: tuple[int, int] | None = None
    """Row and column of the cell that the rest of a document is about."""

    def __post_init__(self) -> None:
        if not self.rows or not self.times:
            raise ValueError("a launch matrix needs a row and a time")
        for time in self.times:
            if time.utcoffset() is None:
                raise ValueError(f"launch time {time.isoformat()} has no offset from UTC")
        seen: set[tuple[int, int]] = set()
        for cell in self.cells:
            place = (cell.row, cell.column)
            if not (0 <= cell.row < len(self.rows) and 0 <= cell.column < len(self.times)):
                raise ValueError(f"cell {place} lies outside {len(self.rows)} rows and {len(self.times)} times")
            if place in seen:
                raise ValueError(f"cell {place} is there twice")
            seen.add(place)
            require_state(f"answer of cell {place}", cell.answer)
            if cell.chance is not None and not 0.0 <= cell.chance <= 1.0:
                raise ValueError(f"chance of cell {place} is {cell.chance}; it must lie from 0 to 1")

    def sheets(self) -> tuple[LaunchMatrix, ...]:
        """The same matrix in parts that each fit on one page, rows first."""
        return tuple(
            self._part(rows, columns)
            for rows in _bands(len(self.rows), MOST_ROWS)
            for columns in _bands(len(self.times), MOST_COLUMNS)
        )

    def _part(self, rows: range, columns: range) -> LaunchMatrix:
        cells = tuple(
            replace(cell, row=cell.row - rows.start, column=cell.column - columns.start)
            for cell in self.cells
            if cell.row in rows and cell.column in columns
        )
        chosen = None
        if self.chosen is not None and self.chosen[0] in rows and self.chosen[1] in columns:
            chosen = (self.chosen[0] - rows.start, self.chosen[1] - columns.start)
        times = self.times[columns.start : columns.stop]
        return replace(self, rows=self.rows[rows.start : rows.stop], times=times, cells=cells, chosen=chosen)


def matrix_grid(matrix: LaunchMatrix) -> Grid:
    """The same in words: a row for each time and choice."""
    found = {(cell.row, cell.column): cell for cell in matrix.cells}
    rows = []
    for column, time in enumerate(matrix.times):
        clock = f"{_utc(time):%m-%d %H:%M}Z ({_local(time, matrix.zone):%H:%M} local)"
        for row, name in enumerate(matrix.rows):
            cell = found.get((row, column))
            said = (_NOT_FLOWN, "-", "-") if cell is None else (cell.answer, _percent(cell), cell.short_reason or "-")
            rows.append((f"{clock} {name}", *said))
    marked = None if matrix.chosen is None else matrix.chosen[1] * len(matrix.rows) + matrix.chosen[0]
    columns = ("release and choice", "answer", f"chance of {matrix.wanted_height_msl_m / 1000:.1f} km", "first reason")
    return Grid("Launch matrix, in words", columns, tuple(rows), "", marked)


def draw_launch_matrix(path: str | Path, matrix: LaunchMatrix, *, title: str, footer: str) -> None:
    """Write the matrix as a picture; the suffix of ``path`` says in which format.

    More than ``MOST_COLUMNS`` times go on in a further band below; ``LaunchMatrix.sheets`` cuts a large matrix into
    parts for pages.

    :raises zoneinfo.ZoneInfoNotFoundError: this machine does not know the zone of the matrix.
    """
    bands, room = _bands(len(matrix.times), MOST_COLUMNS), _WIDTH_IN - 2 * MARGIN_IN
    # the same size in every band, so that the eye finds a cell again
    cell_in = min(_CELL_MOST_IN, (room - _LABEL_IN) / max(len(band) for band in bands))
    lines = [len(_reason(cell, cell_in)) for cell in matrix.cells]
    size = cell_in, _ROW_IN + _LINE_IN * (max(lines, default=1) - 1)
    band_in = _HEAD_IN + size[1] * len(matrix.rows)
    body_in = _KEY_IN + len(bands) * band_in + (len(bands) - 1) * _GAP_IN
    figure, bottom = new_sheet(
        _WIDTH_IN, body_in, title=title, under_title=_head(matrix), notes=_notes(matrix), footer=footer, dpi=PRINT_DPI
    )
    axes = add_axes(figure, MARGIN_IN, bottom, room, body_in)
    axes.set(xlim=(0.0, room), ylim=(0.0, body_in))
    axes.axis("off")
    _draw_key(axes)
    top = body_in
    for band in bands:
        _draw_band(axes, matrix, band, top, size)
        top -= band_in + _GAP_IN
    save(figure, path)


def _bands(count: int, most: int) -> list[range]:
    """Equal parts of no more than ``most``, as far as they go."""
    parts = -(-count // most)
    edges = [round(part * count / parts) for part in range(parts + 1)]
    return [range(start, stop) for start, stop in pairwise(edges)]


def _utc(time: datetime) -> datetime:
    return time.astimezone(UTC)


def _local(time: datetime, zone: str) -> datetime:
    return time.astimezone(ZoneInfo(zone))


def _percent(cell: MatrixCell) -> str:
    return "chance -" if cell.chance is None else f"{100 * cell.chance:.0f} %"


def _head(matrix: LaunchMatrix) -> str:
    first, last = _utc(matrix.times[0]), _utc(matrix.times[-1])
    days = f"{first:%Y-%m-%d}" if first.date() == last.date() else f"{first:%Y-%m-%d} to {last:%Y-%m-%d}"
    high = say_height(matrix.wanted_height_msl_m)
    return (
        f"Release {days} UTC; local time is {matrix.zone}. "
        f"In each cell: the answer, the chance of {high}, the first reason."
    )


def _notes(matrix: LaunchMatrix) -> list[str]:
    counts = [
        f"{number:,} {state}" for state in STATES if (number := sum(cell.answer == state for cell in matrix.cells))
    ]
    missing = len(matrix.rows) * len(matrix.times) - len(matrix.cells)
    counts += [f"{missing:,} {_NOT_FLOWN}"] if missing else []
    total = len(matrix.rows) * len(matrix.times)
    notes = [f"{total:,} {'choice' if total == 1 else 'choices'}: {', '.join(counts)}"]
    if matrix.chosen is not None:
        notes.append("heavy frame: the choice that this briefing is about")
    return notes


def _draw_key(axes: Any) -> None:
    left = 0.0
    for state in STATES:
        draw_sign(axes, state, left + _SIGN_IN + 0.02, 0.17, _SIGN_IN)
        axes.text(left + 0.27, 0.17, state, fontsize=TEXT_PT, color=INK, va="center_baseline")
        left += 0.27 + width_of_in(state, TEXT_PT) + 0.35


def _draw_band(axes: Any, matrix: LaunchMatrix, band: range, top: float, size: tuple[float, float]) -> None:
    from matplotlib.patches import Rectangle

    cell_in, row_in = size
    right = _LABEL_IN + cell_in * len(band)
    under_head = top - _HEAD_IN
    style: dict[str, Any] = {"fontsize": TEXT_PT, "va": "baseline"}
    for name, y in (("UTC", 0.23), ("local", 0.48)):
        axes.text(_LABEL_IN - _PAD_IN, top - y, name, color=QUIET, ha="right", **style)
    for place, column in enumerate(band):
        left = _LABEL_IN + cell_in * place + _PAD_IN
        for said, y in zip(_clocks(matrix, column, band), (0.23, 0.48), strict=True):
            axes.text(left, top - y, said, color=INK, **style)
    for row, name in enumerate(matrix.rows):
        y = under_head - row_in * (row + 0.5)
        lines = _cut(wrap(name, TEXT_PT, _LABEL_IN - _PAD_IN), _LABEL_LINES)
        axes.text(0.0, y, "\n".join(lines), fontsize=TEXT_PT, color=INK, va="center", linespacing=1.2)
    for row in range(len(matrix.rows) + 1):
        axes.plot((0.0, right), (under_head - row_in * row,) * 2, color=RULE, linewidth=0.9)
    for place in range(len(band) + 1):
        x = _LABEL_IN + cell_in * place
        axes.plot((x, x), (under_head, under_head - row_in * len(matrix.rows)), color=RULE, linewidth=0.9)
    found = {(cell.row, cell.column): cell for cell in matrix.cells}
    for row in range(len(matrix.rows)):
        for place, column in enumerate(band):
            corner = _LABEL_IN + cell_in * place, under_head - row_in * (row + 1)
            _draw_cell(axes, found.get((row, column)), *corner, size)
            if matrix.chosen == (row, column):
                frame = Rectangle(corner, cell_in, row_in, facecolor="none", edgecolor=INK, linewidth=2.8, zorder=7)
                axes.add_patch(frame)


def _clocks(matrix: LaunchMatrix, column: int, band: range) -> Iterator[str]:
    """Hours; the day is said at the first column and where it changes."""
    for clock, mark in ((_utc, "Z"), (lambda time: _local(time, matrix.zone), "")):
        time = clock(matrix.times[column])
        new_day = column == band.start or clock(matrix.times[column - 1]).date() != time.date()
        yield f"{time:%H:%M}{mark}" + (f" {time:%d %b}" if new_day else "")


def _draw_cell(axes: Any, cell: MatrixCell | None, left: float, bottom: float, size: tuple[float, float]) -> None:
    style: dict[str, Any] = {"fontsize": TEXT_PT, "va": "center_baseline"}
    y = bottom + size[1] - 0.16
    if cell is None:
        axes.text(left + _PAD_IN, y, _NOT_FLOWN, color=QUIET, **style)
        return
    draw_sign(axes, cell.answer, left + _PAD_IN + _SIGN_IN, y, _SIGN_IN)
    axes.text(left + _PAD_IN + 0.24, y, cell.answer, color=INK, fontweight="bold", **style)
    for said in (_percent(cell), *_reason(cell, size[0])):
        y -= _LINE_IN
        axes.text(left + _PAD_IN, y, said, color=INK, **style)


def _reason(cell: MatrixCell, cell_in: float) -> list[str]:
    """The reason in one line or two; what was cut says so."""
    room = cell_in - 2 * _PAD_IN
    lines = _cut(wrap(cell.short_reason, TEXT_PT, room), _REASON_LINES)
    return [_fitting(line, room) for line in lines]


def _fitting(text: str, room_in: float) -> str:
    """A printable line cut to its room."""
    if width_of_in(text, TEXT_PT) <= room_in:
        return text
    while text and width_of_in(f"{text}…", TEXT_PT) > room_in:
        text = text[:-1].rstrip()
    return f"{text}…"


def _cut(lines: Sequence[str], most: int) -> list[str]:
    return list(lines) if len(lines) <= most else [*lines[: most - 1], f"{lines[most - 1]}…"]
