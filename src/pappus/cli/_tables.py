"""The few shapes that every page of the terminal is made of."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.console import RenderableType
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table


def grid_table(title: str, *columns: str) -> Table:
    """A table with a head; the first column to the left, numbers to the right."""
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False)
    for index, column in enumerate(columns):
        table.add_column(column, justify="left" if index == 0 else "right")
    return table


def rows_table(title: str, rows: Sequence[tuple[str, str]]) -> RenderableType:
    """Name and value, line by line."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.title, table.title_justify, table.title_style = title or None, "left", "bold"
    table.add_column(min_width=22, style="dim")
    table.add_column()
    for name, value in rows:
        table.add_row(escape(name), escape(value))
    return Padding(table, (1 if title else 0, 0, 0, 0))


def list_of(title: str, lines: Sequence[str]) -> RenderableType:
    """Sentences, one a line."""
    table = Table.grid(padding=(0, 1, 0, 0))
    table.title, table.title_justify, table.title_style = title, "left", "bold"
    for line in lines:
        table.add_row("-", escape(line))
    return Padding(table, (1, 0, 1, 0))
