"""The briefing document as one HTML file: a crew page first, in one column on a phone and on one sheet of paper."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pappus.export._document import (
    AID,
    DRAFT_MARK,
    Block,
    BriefingDocument,
    Chapter,
    CrewPage,
    DraftNotice,
    JudgedTable,
    PhoneCall,
    Picture,
    more_lines,
    on_two_parts,
    said_clock,
    said_clock_day,
)
from pappus.export._document_style import DOCUMENT_STYLE
from pappus.export._html import figure_html, html_file, section_html, text_html
from pappus.export._signs import svg_sign
from pappus.export._stylesheet import STYLESHEET

_NOT_DIALLED = re.compile(r"[^0-9+*#]")
_LEAST_DIGITS = 3
_CREW_PARTS = (("clock", "Clock"), ("map", "Map"), ("calls", "Who calls whom"), ("numbers", "Numbers"))


def document_html(document: BriefingDocument) -> str:
    """The document in one text, to be written as UTF-8: no script, no network.

    The same document gives the same text. Printed, its first sheet is the crew page, on A4 and on Letter.

    :raises ValueError: a picture is not PNG.
    :raises zoneinfo.ZoneInfoNotFoundError: this machine does not know the zone of the crew page.
    """
    shown, whole = on_two_parts(document)
    note = f'<p class="note" role="note">{text_html(shown.note)}</p>' if shown.note else ""
    evidence = "".join(_chapter(chapter, f"chapter-{number}") for number, chapter in enumerate(shown.evidence, 1))
    body = f"""<div class="document">
<header>
<h1>{text_html(shown.title)}</h1>
{note}
{_contents(shown.evidence)}
</header>
<main>
{_crew(shown.crew, whole)}
{evidence}</main>
<footer>
<p>{text_html(document.foot)}</p>
<p>{text_html(AID)}</p>
</footer>
</div>
"""
    # figures, letters and a dot: nothing of it can end the string
    foot = f'@page {{ @bottom-left {{ content: "{document.foot}"; font-size: 8pt }} }}\n'
    return html_file(document.title, STYLESHEET + DOCUMENT_STYLE + foot, body)


def _contents(chapters: tuple[Chapter, ...]) -> str:
    links = [(name, words) for name, words in _CREW_PARTS]
    links += [(f"chapter-{number}", chapter.title) for number, chapter in enumerate(chapters, 1)]
    items = "".join(f'<li><a href="#{target}">{text_html(words)}</a></li>' for target, words in links)
    return f'<nav aria-label="On this page"><details><summary>On this page</summary><ul>{items}</ul></details></nav>'


def _crew(crew: CrewPage, whole: CrewPage) -> str:
    reasons = "".join(
        f"<li>{svg_sign(state)}<b>{text_html(state)}</b>: {text_html(text)}</li>\n" for state, text in crew.reasons
    )
    reasons += _more(more_lines(whole.reasons, crew.reasons))
    parts = {
        "clock": _lines(
            (_line(said_clock(line, crew), line.what, line.note) for line in crew.clock),
            more_lines(whole.clock, crew.clock),
        ),
        "calls": _lines((_call(call) for call in crew.calls), more_lines(whole.calls, crew.calls)),
        "numbers": _lines(
            (_line(one.what, one.value, one.spread, key_is_name=True) for one in crew.numbers),
            more_lines(whole.numbers, crew.numbers),
        ),
    }
    cautions = "".join(f"<li>{text_html(line)}</li>\n" for line in crew.cautions)
    cautions += _more(more_lines(whole.cautions, crew.cautions))
    if crew.map is None:
        picture = '<section class="map" id="map"><h2>Map</h2><p>- no map: see what this does not know</p></section>'
    else:
        picture = figure_html(crew.map.caption, crew.map.png, "map").replace("<figure ", '<figure class="map" ', 1)
    day = f" <small>{text_html(said_clock_day(crew))}</small>"
    return f"""<section class="crew" aria-label="Crew page">
<div class="answer">
<p class="state">{svg_sign(crew.answer)} {text_html(crew.answer)}</p>
<div><p class="headline">{text_html(crew.headline)}</p>
<ul>
{reasons}</ul></div>
</div>
{_part("clock", "Clock", parts["clock"], day)}
{picture}
{_part("calls", "Who calls whom", parts["calls"])}
{_part("numbers", "Numbers", parts["numbers"])}
{_part("cautions", "Cautions", f"<ul>{cautions}</ul>")}
<p class="aid">{text_html(AID)}</p>
</section>"""


def _part(name: str, title: str, body: str, small: str = "") -> str:
    return f'<section class="{name}" id="{name}"><h2>{title}{small}</h2>\n{body}\n</section>'


def _lines(items: Iterator[str], more: str) -> str:
    return f'<ul class="lines">\n{"".join(items)}{_more(more)}</ul>'


def _more(words: str) -> str:
    return f'<li class="more">{text_html(words)}</li>' if words else ""


def _line(key: str, value: str, small: str, *, key_is_name: bool = False) -> str:
    note = f"<small>{text_html(small)}</small>" if small else ""
    strong, plain = ' class="key"', ""
    first, second = (plain, strong) if key_is_name else (strong, plain)
    return f"<li><span{first}>{text_html(key)}</span><span><span{second}>{text_html(value)}</span>{note}</span></li>\n"


def _call(call: PhoneCall) -> str:
    digits = _NOT_DIALLED.sub("", call.phone)
    phone = text_html(call.phone or "no number")
    said = (
        f'<span class="phone">{phone}</span>' if len(digits) < _LEAST_DIGITS else f'<a href="tel:{digits}">{phone}</a>'
    )
    whom = f'<span class="key">{text_html(call.whom)}</span><small>{text_html(call.when)}</small>'
    return f"<li><span>{whom}</span>{said}</li>\n"


def _chapter(chapter: Chapter, name: str) -> str:
    blocks = "\n".join(_block(block, f"{name}-{number}") for number, block in enumerate(chapter.blocks, 1))
    heading = f'<h2 id="{name}-title">{text_html(chapter.title)}</h2>'
    return f'<section class="chapter" id="{name}" aria-labelledby="{name}-title">\n{heading}\n{blocks}\n</section>\n'


def _block(block: Block, name: str) -> str:
    if isinstance(block, Picture):
        return figure_html(block.caption, block.png, name)
    if isinstance(block, JudgedTable):
        return _judged(block, name)
    if isinstance(block, DraftNotice):
        return _draft(block, name)
    return section_html(block, name, level=3)


def _judged(table: JudgedTable, name: str) -> str:
    rows = []
    for one in table.rows:
        mend = f" Mend: {text_html(one.mend)}" if one.mend else ""
        rows.append(
            f'<li><span class="word">{svg_sign(one.state)}{text_html(one.word)}</span>'
            f'<span class="title">{text_html(one.title)}</span>'
            f'<span><span class="label">number</span>{text_html(one.number or "-")}</span>'
            f'<span><span class="label">limit</span>{text_html(one.limit or "-")}</span>'
            f'<span class="why">{text_html(one.why)}{mend}'
            f' <span class="label">{text_html(one.source)}</span></span></li>\n'
        )
    heading = f'<h3 id="{name}-title">{text_html(table.title)}</h3>\n' if table.title else ""
    note = f'<p class="small">{text_html(table.note)}</p>' if table.note else ""
    return f'<div id="{name}">\n{heading}<ul class="judged">\n{"".join(rows)}</ul>\n{note}</div>'


def _draft(draft: DraftNotice, name: str) -> str:
    to = f"<p>To: {text_html(draft.to)}</p>\n" if draft.to else ""
    return (
        f'<article class="draft" id="{name}">\n<p class="mark">{DRAFT_MARK}</p>\n'
        f"<p><b>{text_html(draft.title)}</b></p>\n{to}"
        f'<pre>{text_html(draft.text)}</pre>\n<p class="mark">{DRAFT_MARK}</p>\n</article>'
    )
