"""Reference numbers kept as raw files under ``authorities/``, and the one comparison that tests use on them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

AUTHORITIES = Path(__file__).parent / "authorities"

Entry = dict[str, Any]


def load_entries(topic: str) -> list[Entry]:
    """Every entry of a topic, in the order of its file."""
    return json.loads((AUTHORITIES / f"physics_{topic}.json").read_text(encoding="utf-8"))


def case_id(entry: Entry) -> str:
    """Name of a test case: what it checks and who says so."""
    return f"{entry['id']} | {entry['source']}"


def assert_within(actual: Any, entry: Entry) -> None:
    """Fail unless ``actual`` agrees with the entry's expected value within its tolerance.

    ``absolute``, ``relative`` and ``exact`` hold for a number, and for each member of a list or a mapping of numbers.
    ``per_key`` gives a tolerance to each key of a mapping; a key without one compares exactly.
    """
    misses = list(_misses(actual, entry["expected"], entry["tolerance"], entry["id"]))
    assert not misses, "\n".join([*misses, f"source: {entry['source']}"])


def _misses(actual: Any, expected: Any, tolerance: Mapping[str, Any], where: str) -> list[str]:
    if isinstance(expected, Mapping):
        if set(actual) != set(expected):
            return [f"{where}: has the keys {sorted(actual)}, expected {sorted(expected)}"]
        return [
            miss
            for key in expected
            for miss in _misses(actual[key], expected[key], _tolerance_of(key, tolerance), f"{where}.{key}")
        ]
    if isinstance(expected, Sequence) and not isinstance(expected, str):
        if len(actual) != len(expected):
            return [f"{where}: has {len(actual)} members, expected {len(expected)}"]
        return [
            miss
            for index, pair in enumerate(zip(actual, expected, strict=True))
            for miss in _misses(*pair, tolerance, f"{where}[{index}]")
        ]
    if tolerance["type"] == "exact":
        return [] if actual == expected else [f"{where}: {actual!r}, expected exactly {expected!r}"]
    limit = {"absolute": 1.0, "relative": abs(expected)}[tolerance["type"]] * tolerance["value"]
    error = abs(float(actual) - expected)
    # written so that a missing value (NaN) is a miss
    if error <= limit:
        return []
    return [f"{where}: {float(actual)!r}, expected {expected!r}; error {error:.6g}, limit {limit:.6g}"]


def _tolerance_of(key: str, tolerance: Mapping[str, Any]) -> Mapping[str, Any]:
    if tolerance["type"] != "per_key":
        return tolerance
    return tolerance["values"].get(key, {"type": "exact"})
