"""An invented page with every kind of section, and two pictures that use the same names inside."""

from __future__ import annotations

import io

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


def square(side: int, hue: str) -> str:
    """A hue cut to a square in the middle by a clip path; the same identifiers in every such picture."""
    return (
        '<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        ' width="100pt" height="100pt" viewBox="0 0 100 100"><metadata>secret</metadata><defs>'
        f'<clipPath id="c"><rect x="{50 - side / 2}" y="{50 - side / 2}" width="{side}" height="{side}"/></clipPath>'
        f'<rect id="r" width="100" height="100"/></defs><style>g {{ fill: {hue} }}</style>'
        '<g clip-path="url(#c)"><use xlink:href="#r"/></g></svg>'
    )


def matplotlib_svg() -> str:
    """A chart as the picture files make them."""
    from matplotlib.figure import Figure

    figure = Figure((10.0, 6.0))
    figure.add_subplot().plot([0.0, 1.0, 2.0], [0.0, 3.0, 1.0], marker="o")
    text = io.StringIO()
    figure.savefig(text, format="svg")
    return text.getvalue()
