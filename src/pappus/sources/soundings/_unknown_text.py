"""What to say of a text that holds measured columns in a layout that nothing here knows."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pappus.errors import BadFile, Finding
from pappus.sources._files import FileBytes

READ = (
    "Give BUFR, netCDF with CF standard names, text of the global radiosonde archive, "
    "or a table with commas as docs/winds.md describes it."
)
_FEWEST_ROWS = 5
_FEWEST_COLUMNS = 3
# what must be there -> words that name it in the heads of tables
_WORDS = {
    "a height or a pressure": r"height|alt|hght|gph|geopot|press|\bp\b|hpa|mbar",
    "a temperature": r"temp|\bt\b|tdry|tmpc|°c|degc",
    "a wind speed": r"speed|wspd|spd|\bff\b|\bws\b|sknt|u_wind|\bu\b",
    "a wind direction": r"dir|wdir|\bdd\b|\bwd\b|drct|v_wind|\bv\b",
}
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?|[-+]?nan", re.IGNORECASE)


@dataclass(frozen=True)
class _Table:
    line: int
    columns: int
    rows: int
    head: str


def refuse_text(file: FileBytes) -> BadFile:
    """One line: that nothing is known, or how many columns were seen and which measurements no line names."""
    table = _longest_table(file)
    if table is None:
        reason = "this is neither BUFR, nor text of the global radiosonde archive, nor a table with commas"
        return BadFile(Finding(file.name, "", f"{reason} of a known layout", READ))
    missing = [what for what, words in _WORDS.items() if not re.search(words, table.head, re.IGNORECASE)]
    lacks = f"no line above it names {', '.join(missing)}" if missing else "the names above it are not known here"
    reason = f"a table of {table.columns} columns and {table.rows} rows starts there, but {lacks}"
    return BadFile(Finding(f"{file.name}, line {table.line}", "", reason, READ))


def _longest_table(file: FileBytes) -> _Table | None:
    """The longest run of lines with the same number of cells, most of them numbers; the two lines above name them."""
    text = file.content.decode("latin-1")
    if "\x00" in text[:4096]:
        return None
    lines = text.splitlines()
    widths = [_width(line) for line in lines]
    best = (0, 0)
    first = 0
    for index in range(1, len(lines) + 1):
        if index == len(lines) or widths[index] != widths[first]:
            if widths[first] >= _FEWEST_COLUMNS and index - first > best[1] - best[0]:
                best = (first, index)
            first = index
    if best[1] - best[0] < _FEWEST_ROWS:
        return None
    head = "\n".join(lines[max(0, best[0] - 3) : best[0]])
    return _Table(best[0] + 1, widths[best[0]], best[1] - best[0], head)


def _width(line: str) -> int:
    """Number of cells of a line of numbers, 0 for any other line."""
    cells = [cell for cell in re.split(r"[\t;,]|\s+", line.strip()) if cell]
    plain = sum(_NUMBER.fullmatch(cell) is not None for cell in cells)
    return len(cells) if cells and plain >= len(cells) - 2 and plain >= _FEWEST_COLUMNS else 0
