"""Reference values of airspace rules and formats; each entry of the raw files names its source."""

from __future__ import annotations

import json

from references.checks import AUTHORITIES, Entry

_FILES = ("rules_airspace.json", "rules_law.json")


def load_rule(name: str) -> Entry:
    """The one entry with this id."""
    (found,) = (entry for entry in _all() if entry["id"] == name)
    return found


def load_rules(start: str) -> list[Entry]:
    """Every entry whose id begins so, in the order of the files."""
    found = [entry for entry in _all() if entry["id"].startswith(start)]
    assert found, start
    return found


def _all() -> list[Entry]:
    return [entry for name in _FILES for entry in json.loads((AUTHORITIES / name).read_text(encoding="utf-8"))]
