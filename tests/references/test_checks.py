"""The comparison itself must be able to fail: it is what all reference tests stand on."""

from __future__ import annotations

import math

import pytest

from references.checks import assert_within


def entry(expected: object, **tolerance: object) -> dict[str, object]:
    return {"id": "case", "expected": expected, "tolerance": tolerance, "source": "made up"}


AGREE = [
    (1.01, entry(1.0, type="absolute", value=0.011)),
    (202.0, entry(200.0, type="relative", value=0.01)),
    (-202.0, entry(-200.0, type="relative", value=0.01)),
    (299, entry(299, type="exact", value=0)),
    ("06:12", entry("06:12", type="exact", value=0)),
    ([1.0, 2.0], entry([1.001, 2.001], type="absolute", value=0.01)),
    (
        {"a": 1.0, "n": 3},
        entry({"a": 1.001, "n": 3}, type="per_key", values={"a": {"type": "absolute", "value": 0.01}}),
    ),
    ({"a": 101.0, "b": 202.0}, entry({"a": 100.0, "b": 200.0}, type="relative", value=0.01)),
]
DIFFER = [
    (1.02, entry(1.0, type="absolute", value=0.011)),
    (203.0, entry(200.0, type="relative", value=0.01)),
    (math.nan, entry(1.0, type="absolute", value=1e9)),
    (300, entry(299, type="exact", value=0)),
    ([1.0, 2.0], entry([1.001, 2.02], type="absolute", value=0.01)),
    ([1.0], entry([1.0, 2.0], type="absolute", value=0.01)),
    ({"a": 1.0, "n": 4}, entry({"a": 1.0, "n": 3}, type="per_key", values={"a": {"type": "absolute", "value": 9.0}})),
    ({"a": 2.0}, entry({"a": 1.0}, type="per_key", values={"a": {"type": "absolute", "value": 0.5}})),
    ({"a": 1.0}, entry({"a": 1.0, "b": 2.0}, type="relative", value=0.01)),
    ({"a": 101.0, "b": 203.0}, entry({"a": 100.0, "b": 200.0}, type="relative", value=0.01)),
]


@pytest.mark.parametrize(("actual", "case"), AGREE)
def test_values_within_the_tolerance_pass(actual: object, case: dict[str, object]) -> None:
    assert_within(actual, case)


@pytest.mark.parametrize(("actual", "case"), DIFFER)
def test_values_outside_the_tolerance_fail(actual: object, case: dict[str, object]) -> None:
    with pytest.raises(AssertionError, match="case"):
        assert_within(actual, case)


def test_an_unknown_kind_of_tolerance_is_not_passed_over() -> None:
    with pytest.raises(KeyError, match="roughly"):
        assert_within(1.0, entry(1.0, type="roughly", value=9))
