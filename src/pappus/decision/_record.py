"""A decision as plain values that JSON holds, and back: with the number of its form, so that a reader can refuse."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any, get_args

from pappus.decision._check import Answer, Check, Decision
from pappus.decision._questions import Mends
from pappus.errors import BadFile, Finding
from pappus.rules import Verdict

VERSION = 1
"""Of the form; goes up when a key changes its meaning or is taken away."""


def to_json(decision: Decision) -> dict[str, object]:
    """Version, answer, headline and checks as dicts, lists, strings, numbers and None."""
    checks = []
    for check in decision.checks:
        place = None if check.place_deg is None else list(check.place_deg)
        checks.append({**asdict(check), "verdict": str(check.verdict), "place_deg": place})
    return {
        "version": VERSION, "answer": str(decision.answer), "headline": decision.headline, "checks": checks,
    }  # fmt: skip


def from_json(values: Mapping[str, object]) -> Decision:
    """The decision that ``to_json`` wrote. Raises ``BadFile`` that names the key when it cannot be read."""
    version = values.get("version")
    if version != VERSION or isinstance(version, bool):
        raise BadFile(
            Finding(
                "decision.version", repr(version), f"this program reads version {VERSION}",
                "Judge the flight again, or read it with the program that wrote it.",
            )
        )  # fmt: skip
    checks = values.get("checks")
    if not isinstance(checks, Sequence) or isinstance(checks, str):
        raise _unreadable("decision.checks", checks, "not a list")
    return Decision(
        _take(values, "answer", "decision", Answer),
        tuple(_check(check, f"decision.checks[{number}]") for number, check in enumerate(checks)),
        _take(values, "headline", "decision", _text),
    )


def _check(values: object, where: str) -> Check:
    if not isinstance(values, Mapping):
        raise _unreadable(where, values, "not a table of keys")
    return Check(**{key: _take(values, key, where, read) for key, read in _READERS.items()})


def _take(values: Mapping[str, object], key: str, where: str, read: Callable[[Any], Any]) -> Any:
    if key not in values:
        raise _unreadable(f"{where}.{key}", None, "the key is missing")
    try:
        return read(values[key])
    except (TypeError, ValueError) as error:
        raise _unreadable(f"{where}.{key}", values[key], str(error)) from error


def _unreadable(field: str, value: object, reason: str) -> BadFile:
    return BadFile(Finding(field, repr(value), reason, "Judge the flight again to write the file anew."))


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError("not a text")
    return value


def _number(value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError("not a finite number")
    return float(value)


def _mends(value: object) -> Mends | None:
    kinds: tuple[Mends, ...] = get_args(Mends)
    if value is None:
        return None
    for kind in kinds:
        if value == kind:
            return kind
    raise ValueError(f"none of {', '.join(kinds)}")


def _place(value: object) -> tuple[float, float] | None:
    if value is None:
        return None
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 2:
        raise TypeError("not a latitude and a longitude")
    latitude, longitude = (_number(part) for part in value)
    if latitude is None or longitude is None:
        raise TypeError("not a latitude and a longitude")
    return latitude, longitude


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "name": _text, "question": _text, "verdict": Verdict, "number_text": _text, "spread_text": _text,
    "limit_text": _text, "limit_source": _text, "value": _number, "low": _number, "high": _number, "source": _text,
    "age_s": _number, "why": _text, "mends": _mends, "mend": _text, "place_deg": _place,
}  # fmt: skip
