"""How pages look in a terminal: nothing is cut off, however narrow it is."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console, Group

from pappus.cli._tables import rendered
from pappus.export import Grid, Page, Rows, Sentences

PAGE = Page(
    ("One line.",), "",
    (
        Rows("", (("Winds", "invented-forecast-with-a-name-longer-than-any-terminal.grib2"),)),
        Grid("Climb", ("up to km", "ft", "climb m/s", "coldest °C"), (("33.0", "108,242", "6.0", "-45"),), "* guessed"),
        Sentences("Unknown", ("No terrain.",)),
    ),
    "A planning aid.",
)  # fmt: skip


@pytest.mark.parametrize("width", [30, 40, 60, 80, 100])
def test_no_digit_and_no_letter_is_lost(width: int) -> None:
    console = Console(file=io.StringIO(), width=width, color_system=None)
    console.print(Group(*rendered(PAGE, width)))
    assert isinstance(console.file, io.StringIO)
    said = console.file.getvalue()
    assert "…" not in said
    assert max(len(line) for line in said.splitlines()) <= width
    together = re.sub(r"\s", "", said)
    for words in ("33.0", "108,242", "6.0", "-45", "*guessed", "longer-than-any-terminal.grib2", "Aplanningaid."):
        assert words in together
