"""How hard, how fast and how much to download, and the one error that a download ends with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pappus.earth import require_range
from pappus.errors import BadInput, Finding

Step = Callable[[str], None]
"""Is told, in a line, what happens."""
Sleep = Callable[[float], None]


class NotFetched(BadInput):
    """Something could not be fetched from outside; what was fetched before is kept, so a later try goes on."""


class Again(Exception):
    """A failure that may pass: try again, after ``pause_s`` where the server asked for that."""

    def __init__(self, reason: str, pause_s: float | None = None) -> None:
        self.reason, self.pause_s = reason, pause_s
        super().__init__(reason)


class NotPublished(Exception):
    """The server has no such file, or not a whole one: not yet, or no longer; says which in a sentence."""


class Changed(Exception):
    """The file is another one than the index, or an earlier answer, told of."""


@dataclass(frozen=True)
class DownloadRules:
    """Bounds of every download. The defaults are polite to a public server (own choice, no source)."""

    connections: int = 3
    """At a time, 1 to 8."""
    stall_s: float = 20.0
    """Longest silence of a server, 0.05 to 600 s."""
    slowest_bytes_s: float = 5_000.0
    """A request may take ``grace_s`` and its octets at this rate, 1 to 1e9 bytes/s."""
    grace_s: float = 30.0
    """0.05 to 3600 s."""
    attempts: int = 5
    """Of each request, 1 to 20."""
    first_pause_s: float = 1.0
    """Before the second attempt; it doubles from one to the next. 0 to 600 s."""
    longest_pause_s: float = 120.0
    """A server that asks for a longer pause is left. 0 to 3600 s."""
    merge_gap_bytes: int = 65_536
    """Records with less between them are got in one request, 0 to 1e9."""
    largest_range_bytes: int = 8_000_000
    """Of one request, unless a single record is larger; it bounds the memory. 1000 to 1e9."""
    largest_skip_bytes: int = 30_000_000
    """Read past, where a server sends a whole file for a part of it; 0 to 1e10."""
    largest_text_bytes: int = 40_000_000
    """Of an index, unpacked; 1000 to 1e9."""
    allowed_hosts: frozenset[str] = frozenset()
    """Hosts beside that of the address to which a server may redirect, as ``"name"`` or ``"name:port"``."""
    reread_share: float | None = None
    """Part of the requests that are made twice and compared, 0 to 1. None: all over plain http, none over https, which
    has a check of its own: values have no checksum, and one changed bit would pass for weather."""

    def __post_init__(self) -> None:
        for name, low, high, unit in (
            ("connections", 1, 8, ""),
            ("stall_s", 0.05, 600.0, "s"),
            ("slowest_bytes_s", 1.0, 1e9, "bytes/s"),
            ("grace_s", 0.05, 3600.0, "s"),
            ("attempts", 1, 20, ""),
            ("first_pause_s", 0.0, 600.0, "s"),
            ("longest_pause_s", 0.0, 3600.0, "s"),
            ("merge_gap_bytes", 0, 1e9, "bytes"),
            ("largest_range_bytes", 1000, 1e9, "bytes"),
            ("largest_skip_bytes", 0, 1e10, "bytes"),
            ("largest_text_bytes", 1000, 1e9, "bytes"),
            ("reread_share", 0.0, 1.0, ""),
        ):
            if getattr(self, name) is None:
                continue
            require_range(f"download: {name}", getattr(self, name), low, high, unit)


def not_fetched(what: str, reason: str, fix: str, *, value: str = "") -> NotFetched:
    """One finding about a download."""
    return NotFetched(Finding(what, value, reason, fix))
