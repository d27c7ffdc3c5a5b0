"""The documents say what the program does: every command, option and wind column stands in them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pappus.cli._commands import app, plan_app
from pappus.sources.soundings._level_table import _COLUMNS, _HEADER_KEYS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [command.name or command.callback.__name__ for command in app.registered_commands if command.callback]


@pytest.mark.parametrize("command", [*COMMANDS, *(f"plan {command.name}" for command in plan_app.registered_commands)])
def test_every_command_is_in_the_readme(command: str) -> None:
    assert f"pappus {command}" in README


def test_readme_opens_with_the_job() -> None:
    first = README.split("\n\n")[1]
    for word in ("flight director", "balloon", "26-45 km", "parachute"):
        assert word in re.sub(r"\s+", " ", first)


def test_every_picture_and_document_that_is_named_exists() -> None:
    for document in ("README.md", "CONTRIBUTING.md", *(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md"))):
        text = (ROOT / document).read_text(encoding="utf-8")
        for name in re.findall(r"`(docs/[\w./-]+)`|\]\((docs/[\w./-]+)\)", text):
            assert (ROOT / (name[0] or name[1])).exists(), f"{document} names {name}"


def test_every_column_of_the_sounding_table_is_explained() -> None:
    text = (ROOT / "docs" / "winds.md").read_text(encoding="utf-8")
    for name in (*_COLUMNS, *_HEADER_KEYS):
        assert name in text, name


def test_nothing_names_a_package_index() -> None:
    """Lock files and documents hold no download address."""
    for path in [
        ROOT / "frontend" / "package-lock.json",
        ROOT / "pyproject.toml",
        ROOT / "README.md",
        ROOT / "build_data.py",
    ]:
        assert not re.search(r"https?://", path.read_text(encoding="utf-8")), path
