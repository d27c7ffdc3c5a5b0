"""Bytes to a JSON object within limits: a tracker's packet is small, flat and finite."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from typing import Any

from pappus.sources.receivers._refused import Refused

LARGEST_PACKET = 16_384
"""Bytes."""
DEEPEST = 6
MOST_KEYS = 256
_LONGEST_TEXT = 512


def read_object(raw: bytes) -> dict[str, Any]:
    """The object in the packet. Raises Refused for anything else and for what goes over a limit."""
    if len(raw) > LARGEST_PACKET:
        raise Refused(f"more than {LARGEST_PACKET} bytes")
    try:
        found = json.loads(raw.decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_once)
    except Refused:
        raise
    except RecursionError as error:
        raise Refused(f"deeper than {DEEPEST} levels") from error
    except ValueError as error:  # bytes that are no UTF-8, text that is no JSON, a number of thousands of digits
        raise Refused("not JSON in UTF-8") from error
    if not isinstance(found, dict):
        raise Refused("not a JSON object")
    if _size(found, 1) > MOST_KEYS:
        raise Refused(f"more than {MOST_KEYS} values")
    return found


def number(value: object, name: str) -> float | None:
    """A finite number; None for null. A text or a truth value is refused, not guessed at."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refused(f"{name} is not a number")
    try:
        found = float(value)
    except OverflowError as error:
        raise Refused(f"{name} is too large") from error
    if not math.isfinite(found):
        raise Refused(f"{name} is not finite")
    return found


def iso_time(value: object, name: str) -> datetime | None:
    """An ISO 8601 time with its zone, as UTC; None for null."""
    if value is None:
        return None
    if not isinstance(value, str) or len(value) > 40:
        raise Refused(f"{name} is not an ISO 8601 time")
    try:
        found = datetime.fromisoformat(value)
        if found.tzinfo is None:
            raise Refused(f"{name} has no zone; write Z or +00:00 at its end")
        return found.astimezone(UTC)
    except Refused:
        raise
    except (ValueError, OverflowError) as error:
        raise Refused(f"{name} is not an ISO 8601 time") from error


def plain_text(value: object, name: str) -> str:
    """A short text without control characters."""
    if not isinstance(value, str) or len(value) > _LONGEST_TEXT or not value.isprintable():
        raise Refused(f"{name} is not a short text")
    return value


def _no_constant(name: str) -> float:
    raise Refused(f"{name} is not a number of JSON")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Refused("a key stands twice in one object")
    return found


def _size(value: object, depth: int) -> int:
    members = list(value.values()) if isinstance(value, dict) else value if isinstance(value, list) else None
    if members is None:
        return 1
    if depth > DEEPEST:
        raise Refused(f"deeper than {DEEPEST} levels")
    return sum(_size(member, depth + 1) for member in members) + 1
