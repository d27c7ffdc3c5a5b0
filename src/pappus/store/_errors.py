"""What goes wrong with a store, each said loudly."""

from __future__ import annotations

from pathlib import Path

from pappus.errors import BadFile, Finding, PappusError


class NotSafe(PappusError):
    """Something is not on the disk: a packet must not be acknowledged. Says why and what was done instead."""


class DamagedStore(BadFile):
    """The file of a flight is damaged. Nothing was changed; ``rescue`` copies out what can be read."""


def bad_store(path: Path, reason: str, fix: str) -> BadFile:
    """An error about a whole file."""
    return BadFile(Finding(str(path), "", reason, fix))


def damaged(path: Path, reason: str) -> DamagedStore:
    """The error of a file that cannot be trusted any more."""
    fix = "Nothing was changed. Rescue it: the file is kept under another name and all that can be read is copied out."
    return DamagedStore(Finding(str(path), "", f"the store is damaged ({reason})", fix))
