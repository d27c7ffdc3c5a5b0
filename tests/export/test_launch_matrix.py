"""The launch matrix: four states by word and shape, nothing on top of anything, every size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from documents import at, matrix
from pictures import words

from pappus.export import STATES, MatrixCell, draw_launch_matrix, matrix_grid

SIZES = [(1, 1), (2, 5), (3, 7), (12, 24)]


@pytest.fixture
def figure_of(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """The figure that would be written."""

    def drawn(**keys: Any) -> Any:
        kept: list[Any] = []
        monkeypatch.setattr("pappus.export._matrix.save", lambda figure, path: kept.append(figure))
        draw_launch_matrix("unused.png", title="Launch matrix", footer="Invented.", **keys)
        return kept[0]

    return drawn


@pytest.mark.parametrize(("rows", "columns"), SIZES)
def test_no_words_touch_and_none_leave_the_sheet(figure_of: Callable[..., Any], rows: int, columns: int) -> None:
    figure = figure_of(matrix=matrix(rows, columns))
    renderer = figure.canvas.get_renderer()
    (axes,) = figure.axes
    texts = [text for text in (*axes.texts, *figure.texts) if text.get_text()]
    boxes = np.array([text.get_window_extent(renderer).extents for text in texts])
    assert len(boxes) >= 3 * rows * columns * 0.8
    west, south, east, north = boxes.T
    apart = (east[:, None] <= west[None] + 1) | (north[:, None] <= south[None] + 1)
    touching = np.argwhere(~(apart | apart.T) & ~np.eye(len(boxes), dtype=bool))
    assert [(texts[a].get_text(), texts[b].get_text()) for a, b in touching] == []
    assert (boxes[:, :2] >= 0.0).all()
    assert (boxes[:, 2:] <= figure.bbox.extents[2:]).all()


@pytest.mark.parametrize(("rows", "columns"), SIZES)
def test_every_cell_stays_in_its_column(figure_of: Callable[..., Any], rows: int, columns: int) -> None:
    """The words of a cell end before the line to the next."""
    figure = figure_of(matrix=matrix(rows, columns))
    renderer = figure.canvas.get_renderer()
    (axes,) = figure.axes
    edges = sorted({round(float(line.get_xdata()[0]), 6) for line in axes.lines if np.ptp(line.get_xdata()) == 0.0})
    to_data = axes.transData.inverted()
    checked = 0
    for text in axes.texts:
        # below the cells stands the key
        if text.get_text() not in (*STATES, "not flown") or text.get_position()[1] < 0.4:
            continue
        box = text.get_window_extent(renderer).transformed(to_data)
        assert any(low <= box.x0 and box.x1 <= high for low, high in pairwise(edges)), text
        checked += 1
    assert checked == rows * columns


def test_state_reason_chance_and_both_clocks_are_said(tmp_path: Path) -> None:
    cells = (
        MatrixCell(0, 0, "no-go", "airspace", 0.914),
        MatrixCell(0, 1, "go", "", None),
    )
    path = tmp_path / "m.svg"
    draw_launch_matrix(path, matrix(1, 3, cells=cells, chosen=(0, 0)), title="Launch matrix", footer="Invented.")
    said = words(path)
    for text in ("no-go", "airspace", "91 %", "chance -", "not flown", "18:00Z 13 Feb", "15:00 13 Feb", "19:00Z"):
        assert text in said
    assert "31.0 km (101,700 ft)" in said.replace("\n", " ")
    assert "3 choices: 1 go, 1 no-go, 1 not flown" in said
    assert "heavy frame" in said


def test_a_new_day_is_said_on_each_clock_by_itself(tmp_path: Path) -> None:
    """23:00Z is 20:00 there: UTC turns three hours before the wall clock (UTC-3, tz database)."""
    path = tmp_path / "m.svg"
    draw_launch_matrix(path, matrix(1, 6, times=tuple(at(23, k) for k in range(6))), title="a", footer="b")
    assert "14 Feb" not in words(path)
    times = (at(22), at(23), at(0, 0, 14), at(1, 0, 14), at(2, 0, 14), at(3, 0, 14))
    draw_launch_matrix(path, matrix(1, 6, times=times), title="a", footer="b")
    lines = words(path).splitlines()
    assert "00:00Z 14 Feb" in lines
    assert "00:00 14 Feb" in lines


def test_sheets_hold_every_cell_once_and_none_is_large() -> None:
    whole = matrix(25, 24, chosen=(13, 20))
    parts = whole.sheets()
    assert sum(len(part.cells) for part in parts) == len(whole.cells)
    assert all(len(part.rows) <= 10 and len(part.times) <= 6 for part in parts)
    assert [part.chosen for part in parts if part.chosen] != []
    found = set()
    for part in parts:
        for cell in part.cells:
            found.add((part.rows[cell.row], part.times[cell.column], cell.answer, cell.short_reason, cell.chance))
        if part.chosen is not None:
            assert part.rows[part.chosen[0]] == whole.rows[13]
            assert part.times[part.chosen[1]] == whole.times[20]
    assert found == {
        (whole.rows[cell.row], whole.times[cell.column], cell.answer, cell.short_reason, cell.chance)
        for cell in whole.cells
    }


def test_the_table_says_the_same_and_marks_the_choice() -> None:
    whole = matrix(2, 3, chosen=(1, 2))
    grid = matrix_grid(whole)
    assert len(grid.rows) == 6
    assert all(len(row) == len(grid.columns) for row in grid.rows)
    assert grid.marked is not None
    assert grid.rows[grid.marked][0] == f"02-13 20:00Z (17:00 local) {whole.rows[1]}"
    answers = [row[1] for row in grid.rows]
    assert [answers.count(state) for state in STATES] == [
        sum(cell.answer == state for cell in whole.cells) for state in STATES
    ]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"rows": ()}, "needs a row"),
        ({"times": (datetime(2027, 2, 13, 18), at(19))}, "no offset"),  # noqa: DTZ001  # that is the mistake
        ({"cells": (MatrixCell(0, 9, "go", "", 0.5),)}, "outside"),
        ({"cells": (MatrixCell(0, 0, "go", "", 0.5),) * 2}, "twice"),
        ({"cells": (MatrixCell(0, 0, "maybe", "", 0.5),)}, "must be one of go, wait"),  # type: ignore[arg-type]  # wrong on purpose
        ({"cells": (MatrixCell(0, 0, "go", "", 50.0),)}, "from 0 to 1"),
    ],
)
def test_what_cannot_be_drawn_is_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        replace(matrix(1, 2), **change)
