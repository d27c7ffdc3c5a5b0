"""How a page looks in a terminal."""

from __future__ import annotations

from rich import box
from rich.console import RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from pappus.export import Grid, Page, Rows, Section

_COLUMN_GAP = 3
_NAME_WIDTH = 22
_NARROW = 50  # columns under which a value stands below its name, so that a long one folds unbroken by its neighbour


def rendered(page: Page, width: int) -> list[RenderableType]:
    """The parts of a page, top to bottom; a table too wide for the terminal becomes lines, so that no digit is lost."""
    lead = [Text(line, style="bold") for line in page.lead]
    note = [Text(page.note, style="italic")] if page.note else []
    return [*lead, *note, *(_section(section, width) for section in page.sections), *([page.foot] if page.foot else [])]


def _section(section: Section, width: int) -> RenderableType:
    if isinstance(section, Grid) and _narrowest(section) > width:
        section = _as_rows(section)
    table = _grid(section) if isinstance(section, Grid) else Table.grid(padding=(0, 2, 0, 0))
    table.title, table.title_justify, table.title_style = section.title or None, "left", "bold"
    if isinstance(section, Rows) and width < _NARROW:
        table.add_column(overflow="fold")
        for name, value in section.rows:
            table.add_row(Text(name, style="dim"))
            table.add_row(Padding(escape(value), (0, 0, 0, 2)))
    elif isinstance(section, Rows):
        table.add_column(min_width=_NAME_WIDTH, style="dim", overflow="fold")
        table.add_column(overflow="fold")
        for name, value in section.rows:
            table.add_row(escape(name), escape(value))
    elif not isinstance(section, Grid):
        for line in section.lines:
            table.add_row("-", escape(line))
    return Padding(table, (1, 0, 0, 0))


def _narrowest(grid: Grid) -> int:
    """Columns of the terminal that a table takes when only its heads are broken, between words."""
    heads = [max(map(len, column.split()), default=0) for column in grid.columns]
    cells = [max((len(row[index]) for row in grid.rows), default=0) for index in range(len(grid.columns))]
    return sum(max(pair) + _COLUMN_GAP for pair in zip(heads, cells, strict=True))


def _as_rows(grid: Grid) -> Rows:
    """The same table, a row of it as one line of words."""
    first, *heads = grid.columns
    rows = [
        (f"{first} {row[0]}", ", ".join(f"{head} {cell}" for head, cell in zip(heads, row[1:], strict=True) if cell))
        for row in grid.rows
    ]
    return Rows(grid.title, (*rows, *((("", grid.note),) if grid.note else ())))


def _grid(grid: Grid) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, caption=grid.note or None, caption_justify="left")
    for index, column in enumerate(grid.columns):
        table.add_column(column, justify="left" if index == 0 else "right")
    for index, row in enumerate(grid.rows):
        table.add_row(*map(escape, row), style="bold" if index == grid.marked else "")
    return table
