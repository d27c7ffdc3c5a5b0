"""Cells of text tables: numbers where they are numbers, gaps where they are none, and said how many are neither."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile, Finding

Array = NDArray[np.float64]

MISSING = frozenset({"", "-", "nan", "na", "null", "none", "-9999", "-9999.0"})


def numbers(name: str, cells: Sequence[str], notes: list[str]) -> Array:
    """Numbers of a column; a cell that is none is missing, and said."""
    values = np.full(len(cells), np.nan)
    strange = []
    for index, cell in enumerate(cells):
        if (text := cell.strip()).lower() not in MISSING:
            try:
                values[index] = float(text)
            except ValueError:
                strange.append(text)
    if strange:
        first = strange[0][:20]
        notes.append(f"{len(strange)} cells of {name} are no numbers and taken as missing, the first is {first!r}")
    return values


def whole_rows(rows: Sequence[Sequence[str]], columns: int, notes: list[str]) -> list[tuple[str, ...]]:
    """The columns of the rows that have all of them; a row that is cut short may end inside a number."""
    whole = [row for row in rows if len(row) == columns]
    if len(whole) < len(rows):
        notes.append(f"lines left out that have more or fewer columns than the header: {len(rows) - len(whole)}")
    return list(zip(*whole, strict=True)) if whole else [()] * columns


def require_columns(file_name: str, found: Sequence[str], needed: Mapping[str, str]) -> None:
    """Refuse a table in one line that names every column it lacks, with what it means, and those it has."""
    missing = [f"{name} ({meaning})" for name, meaning in needed.items() if name not in found]
    if missing:
        reason = f"the table lacks {', '.join(missing)}; its columns are {', '.join(filter(None, found))}"
        raise BadFile(Finding(file_name, "", reason, "Give a table with these columns."))
    twice = sorted({name for name in needed if found.count(name) > 1})
    if twice:
        raise BadFile(Finding(file_name, ", ".join(twice), "the table has this column twice", "Keep one."))
