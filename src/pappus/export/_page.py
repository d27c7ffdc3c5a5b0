"""A page of words and tables that has no look yet: a terminal, a browser and a text file each give it one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Rows:
    """Name and value, line by line."""

    title: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Grid:
    """A table with a head; the first column stands left, the others right. ``marked`` is the row to look at."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    marked: int | None = None


@dataclass(frozen=True)
class Sentences:
    """One sentence a line."""

    title: str
    lines: tuple[str, ...]


Section = Rows | Grid | Sentences


@dataclass(frozen=True)
class Page:
    """Lines that are read first, then sections."""

    lead: tuple[str, ...]
    note: str
    """Such as "Invented example"; stands under the lead; empty for none."""
    sections: tuple[Section, ...]
    foot: str
