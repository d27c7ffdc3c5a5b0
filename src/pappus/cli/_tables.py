"""How a page looks in a terminal."""

from __future__ import annotations

from rich import box
from rich.console import RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from pappus.export import Grid, Page, Rows, Section


def rendered(page: Page) -> list[RenderableType]:
    """The parts of a page, top to bottom."""
    lead = [Text(line, style="bold") for line in page.lead]
    note = [Text(page.note, style="italic")] if page.note else []
    return [*lead, *note, *(_section(section) for section in page.sections), *([page.foot] if page.foot else [])]


def _section(section: Section) -> RenderableType:
    table = _grid(section) if isinstance(section, Grid) else Table.grid(padding=(0, 2, 0, 0))
    table.title, table.title_justify, table.title_style = section.title or None, "left", "bold"
    if isinstance(section, Rows):
        table.add_column(min_width=22, style="dim")
        for name, value in section.rows:
            table.add_row(escape(name), escape(value))
    elif not isinstance(section, Grid):
        for line in section.lines:
            table.add_row("-", escape(line))
    return Padding(table, (1, 0, 0, 0))


def _grid(grid: Grid) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, caption=grid.note or None, caption_justify="left")
    for index, column in enumerate(grid.columns):
        table.add_column(column, justify="left" if index == 0 else "right")
    for index, row in enumerate(grid.rows):
        table.add_row(*map(escape, row), style="bold" if index == grid.marked else "")
    return table
