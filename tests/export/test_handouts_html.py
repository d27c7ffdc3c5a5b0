"""The HTML page as text: what is in it, that nothing in it runs or asks, and that its names are its own."""

from __future__ import annotations

import re
from base64 import b64decode
from html.parser import HTMLParser

import pytest
from pages import NOTE, TITLE, chart, page, square

from pappus.export import Grid, Page, Rows, Sentences, briefing_html
from pappus.export._stylesheet import STYLESHEET

VOID = {"img", "input", "link", "meta"}
"""Of these no closing tag is written (HTML Living Standard, 13.1.2)."""


class Read(HTMLParser):
    """Every tag with its attributes and all text; refuses what is not closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert not self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {key: value or "" for key, value in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {key: value or "" for key, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self._open or self._open[-1] != "style":
            self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        """Attributes of every element of that name."""
        return [attributes for name, attributes in self.tags if name == tag]

    def values(self, key: str) -> list[str]:
        """Every value of an attribute."""
        return [attributes[key] for _, attributes in self.tags if key in attributes]


def written(**keys: object) -> str:
    pictures = {"Map": square("#ff0000"), "Height": square("#0000ff"), "Winds": chart()}
    usual = {"page": page(), "title": TITLE, "pictures": pictures} | keys
    return briefing_html(usual.pop("page"), **usual)  # type: ignore[arg-type]  # mixed arguments by name


def test_all_words_are_there_in_order() -> None:
    words = "".join(Read(written()).words)
    wanted = [*page().lead, NOTE, "Mission", "Climb by layer", "coldest °C", "98,424", "* wind extrapolated"]
    wanted += ["What this does not know", "Nothing about & < > \" '.", "Map", "Height", "Winds", "A planning aid."]
    places = [words.rindex(text) for text in wanted]
    assert places == sorted(places)
    assert "secret" not in words


def test_language_landmarks_headings_and_table_heads_are_said() -> None:
    """WCAG 2.2 success criteria 1.1.1, 1.3.1, 2.4.2 and 3.1.1."""
    read = Read(written())
    assert read.all("html") == [{"lang": "en"}]
    assert [len(read.all(tag)) for tag in ("title", "header", "main", "footer", "nav", "h1")] == [1] * 6
    scopes = [attributes["scope"] for attributes in read.all("th")]
    assert (scopes.count("col"), scopes.count("row")) == (11, 7)
    sizes = (("Map", "100", "100"), ("Height", "100", "100"), ("Winds", "1200", "800"))
    for picture, said in zip(read.all("img"), sizes, strict=True):
        assert (picture["alt"], picture["width"], picture["height"]) == said
    assert read.all("tr").count({"class": "marked"}) == 1


def test_every_name_is_unique_and_every_reference_finds_its_own() -> None:
    text = written()
    read = Read(text)
    names = read.values("id")
    assert len(names) == len(set(names))
    references = [value[1:] for value in read.values("href") if value.startswith("#")]
    references += re.findall(r"url\(['\"]?#([^)'\"]+)", text) + read.values("for") + read.values("aria-labelledby")
    assert len(references) >= 10
    assert set(references) <= set(names)


def test_a_picture_stands_in_the_page_as_it_is() -> None:
    """RFC 2397 writes data into an address, RFC 4648 as base64."""
    (picture,) = Read(written(pictures={"Winds": chart()})).all("img")
    kind, data = picture["src"].split(",")
    assert kind == "data:image/png;base64"
    assert b64decode(data, validate=True) == chart()


def test_nothing_runs_and_nothing_is_fetched() -> None:
    text = written()
    read = Read(text)
    assert not read.all("script")
    outside = [value for value in read.values("href") + read.values("src") if not value.startswith("#")]
    assert [value.split(",")[0] for value in outside] == ["data:", *["data:image/png;base64"] * 3]
    assert not [key for _, attributes in read.tags for key in attributes if key.startswith("on")]
    assert "@import" not in text
    policy = next(meta["content"] for meta in read.all("meta") if "http-equiv" in meta)
    assert "default-src 'none'" in policy


def test_markup_stays_text_wherever_it_comes_in() -> None:
    bad = '<script>alert("1")</script>\'&\x07'
    hostile = Page(
        (bad,), bad,
        (Rows(bad, ((bad, bad),)), Grid(bad, (bad, bad), ((bad, bad),), bad), Sentences(bad, (bad,))), bad,
    )  # fmt: skip
    text = briefing_html(hostile, title=bad, pictures={bad: square("#ff0000")})
    read = Read(text)
    assert not read.all("script")
    assert "\x07" not in text
    said = bad.replace("\x07", "\N{REPLACEMENT CHARACTER}")
    # title, heading, lead, note, 4 links, 3 titles, 2 in the rows, 5 in the table, sentence, caption, foot
    assert "".join(read.words).count(said) == 21
    assert read.all("img")[0]["alt"] == said


def test_a_page_without_note_titles_and_pictures_has_no_empty_places() -> None:
    bare = Page(("One line.",), "", (Rows("", (("a", "b"),)),), "")
    read = Read(briefing_html(bare, title="Bare", pictures={}))
    classes = read.values("class")
    assert "note" not in classes
    assert "pictured" not in classes
    assert not read.all("h2")
    assert not read.all("footer")
    assert not read.all("nav")


@pytest.mark.parametrize("picture", [b"", b"no picture", b"\x89PNG\r\n\x1a\n no header", chart()[:20], b"<svg/>"])
def test_what_is_not_png_is_refused(picture: bytes) -> None:
    with pytest.raises(ValueError, match="'Map' is not"):
        written(pictures={"Map": picture})


def test_contrast_is_high_by_day_and_by_night() -> None:
    """WCAG 2.2: relative luminance and contrast ratio; 7 for text (AAA)."""
    looks = re.findall(r":root \{([^}]*)\}", STYLESHEET)
    assert len(looks) == 3
    for look in looks:
        hue = dict(re.findall(r"--(\w+): (#\w{6})", look))
        for front, back in (("ink", "paper"), ("quiet", "paper"), ("ink", "band")):
            light, dark = sorted((_luminance(hue[front]), _luminance(hue[back])), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 7.0


def _luminance(hue: str) -> float:
    parts = [int(hue[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
