"""An invented page with every kind of section, and pictures to stand in it."""

from __future__ import annotations

import io
from typing import Any

from pappus.export import Grid, Page, Rows, Sentences

TITLE = "Where the steam goes - site A"
NOTE = "Invented example: a kettle looks for its steam."
COLUMNS = (
    "up to km", "ft", "climb m/s", "ft/min", "min", "wind m/s", "kt", "from", "coldest °C", "coldest °F", "gas m³",
)  # fmt: skip


def page() -> Page:
    """Wider and longer than any screen."""
    rows = tuple((f"{5 * n}.0", f"{16_404 * n:,}", *("1,234.5" for _ in COLUMNS[2:])) for n in range(1, 8))
    long_name = "Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch" * 2
    return Page(
        ("Reaches 31.0 km (101,700 ft) with 90 % (88 % to 92 %).", "Worst: the wind.", "Holds until 16:00Z."),
        NOTE,
        (
            Rows("", (("Mission", "Where the steam goes"), ("Site", long_name))),
            Grid("Climb by layer", COLUMNS, rows, "* wind extrapolated", marked=2),
            Sentences("What this does not know", ("No terrain.", "Nothing about & < > \" '.")),
        ),
        "A planning aid.",
    )


def square(hue: str) -> bytes:
    """One hue all over, 100 pixels a side."""
    figure = _figure(1.0, 1.0)
    figure.set_facecolor(hue)
    return _png(figure)


def chart() -> bytes:
    """A chart as wide as the picture files make them."""
    figure = _figure(12.0, 8.0)
    figure.add_subplot().plot([0.0, 1.0, 2.0], [0.0, 3.0, 1.0], marker="o")
    return _png(figure)


def _figure(width_in: float, height_in: float) -> Any:
    from matplotlib.figure import Figure

    return Figure((width_in, height_in), dpi=100)


def _png(figure: Any) -> bytes:
    content = io.BytesIO()
    figure.savefig(content, format="png")
    return content.getvalue()
