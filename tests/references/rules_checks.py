"""Reference values of airspace rules and formats; each entry of the raw file names its source."""

from __future__ import annotations

import json

from references.checks import AUTHORITIES, Entry


def load_rule(name: str) -> Entry:
    """The one entry with this id."""
    entries: list[Entry] = json.loads((AUTHORITIES / "rules_airspace.json").read_text(encoding="utf-8"))
    (found,) = (entry for entry in entries if entry["id"] == name)
    return found
