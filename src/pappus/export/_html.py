"""A page as one HTML file: no script, no network, readable on a phone, in the dark and on paper."""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping

from pappus.export._handout import clean
from pappus.export._page import Grid, Page, Rows, Section
from pappus.export._stylesheet import STYLESHEET

_PNG_MAGIC = b"\x89PNG\r\n\x1a\n"
# the browser itself then refuses every script and every request
_NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def briefing_html(page: Page, *, title: str, pictures: Mapping[str, bytes]) -> str:
    """The page with its pictures in one text, to be written as UTF-8.

    :param title: of the browser window and above the lead.
    :param pictures: PNG by caption, in the order in which they stand; a caption is unique and says what is to be seen,
        since it also is what a screen reader says in place of the picture.
    :raises ValueError: a picture is not PNG.
    """
    sections = [section_html(section, f"section-{number}") for number, section in enumerate(page.sections, 1)]
    figures = "".join(
        figure_html(caption, png, f"picture-{number}") for number, (caption, png) in enumerate(pictures.items(), 1)
    )
    pictured = f"<div>\n{figures}</div>\n" if figures else ""
    leads = "\n".join(f'<p class="lead">{text_html(line)}</p>' for line in page.lead)
    note = f'<p class="note" role="note">{text_html(page.note)}</p>' if page.note else ""
    foot = f"<footer><p>{text_html(page.foot)}</p></footer>" if page.foot else ""
    return html_file(
        title,
        STYLESHEET,
        f"""<header>
<h1>{text_html(title)}</h1>
{leads}
{note}
{_contents(page, pictures)}
</header>
<main{' class="pictured"' if figures else ""}>
<div>
{"".join(sections)}</div>
{pictured}</main>
{foot}
""",
    )


def html_file(title: str, style: str, body: str) -> str:
    """The whole file around what stands in it; ``body`` is markup."""
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_NOTHING_FROM_OUTSIDE}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="data:,">
<title>{text_html(title)}</title>
<style>{style}</style>
</head>
<body>
{body}</body>
</html>
"""


def text_html(text: str) -> str:
    """Text that stays text."""
    return html.escape(clean(text))


def _contents(page: Page, pictures: Mapping[str, bytes]) -> str:
    """Shown on a phone only, where all stands in one long column."""
    links = [(f"section-{number}", section.title) for number, section in enumerate(page.sections, 1) if section.title]
    links = [(f"picture-{number}", caption) for number, caption in enumerate(pictures, 1)] + links
    if not links:
        return ""
    items = "".join(f'<li><a href="#{target}">{text_html(words)}</a></li>' for target, words in links)
    return f'<nav aria-label="On this page"><details><summary>On this page</summary><ul>{items}</ul></details></nav>'


def section_html(section: Section, name: str, level: int = 2) -> str:
    """One section; ``name`` is its anchor and ``level`` that of its heading."""
    if isinstance(section, Rows):
        body = "".join(
            f"<div><dt>{text_html(key)}</dt><dd>{text_html(value)}</dd></div>\n" for key, value in section.rows
        )
        body = f"<dl>\n{body}</dl>"
    elif isinstance(section, Grid):
        body = _table(section)
    else:
        body = "".join(f"<li>{text_html(line)}</li>\n" for line in section.lines)
        body = f"<ul>\n{body}</ul>"
    if not section.title:
        return f'<section id="{name}">\n{body}\n</section>\n'
    heading = f'<h{level} id="{name}-title">{text_html(section.title)}</h{level}>'
    return f'<section id="{name}" aria-labelledby="{name}-title">\n{heading}\n{body}\n</section>\n'


def _table(grid: Grid) -> str:
    head = "".join(f'<th scope="col">{text_html(column)}</th>' for column in grid.columns)
    rows = []
    for number, (first, *others) in enumerate(grid.rows):
        marked = ' class="marked"' if number == grid.marked else ""
        cells = "".join(f"<td>{text_html(cell)}</td>" for cell in others)
        rows.append(f'<tr{marked}><th scope="row">{text_html(first)}</th>{cells}</tr>\n')
    note = f'\n<p class="small">{text_html(grid.note)}</p>' if grid.note else ""
    table = f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{''.join(rows)}</tbody>\n</table>"
    return f"{_scrolling(table, grid.title or 'Table')}{note}"


def _scrolling(content: str, words: str) -> str:
    """What is wider than a phone scrolls by itself, by finger or by key."""
    return f'<div class="wide" role="region" tabindex="0" aria-label="{text_html(words)}">\n{content}\n</div>'


def figure_html(caption: str, png: bytes, name: str) -> str:
    """One picture with its caption; ``name`` is its anchor."""
    # letters in a picture as wide as a phone are small: a tick makes it larger, without a script
    larger = f'<input type="checkbox" id="{name}-larger"><label for="{name}-larger">Larger, scrolls sideways</label>'
    picture = _scrolling(image_html(png, caption), caption)
    return f'<figure id="{name}">\n<figcaption>{text_html(caption)}</figcaption>\n{larger}\n{picture}\n</figure>\n'


def image_html(png: bytes, words: str) -> str:
    """The picture in the page itself: the folder draws each picture once, and the page takes that file as it is."""
    # PNG (W3C, third edition), 5.2 and 11.2.1: after the signature the header chunk, which begins with the size
    if png[:8] != _PNG_MAGIC or png[12:16] != b"IHDR" or len(png) < 24:
        raise ValueError(f"the picture {words!r} is not PNG")
    width, height = (int.from_bytes(png[start : start + 4], "big") for start in (16, 20))
    data = base64.b64encode(png).decode("ascii")
    size = f'width="{width}" height="{height}"'  # said beforehand, so that nothing jumps while it loads
    return f'<img {size} alt="{text_html(words)}" src="data:image/png;base64,{data}">'
