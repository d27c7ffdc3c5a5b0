"""A few thousand of the random and damaged packets whose full count stands in ``docs/verification.md``."""

from __future__ import annotations

import importlib.util
import sys
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.sources.receivers import NotUnderstood, parse
from pappus.tracking import PacketKind

KINDS = get_args(PacketKind)


@pytest.fixture(scope="module")
def packet_fuzz() -> ModuleType:
    path = Path(__file__).parents[2] / "benchmarks" / "packet_fuzz.py"
    spec = importlib.util.spec_from_file_location("packet_fuzz", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["packet_fuzz"] = module
    spec.loader.exec_module(module)
    return module


def test_no_packet_breaks_a_parser(packet_fuzz: ModuleType) -> None:
    counts = packet_fuzz.fuzz(5400, seed=7, processes=1)
    for form in packet_fuzz.FORMS:
        assert counts[form.name, "packets"] >= 599
        # the run reaches both ends
        assert counts[form.name, "accepted"] > 20
        assert counts[form.name, "refused"] > 100
        for fault in ("crashed", "check fails, accepted", "no position", "good ones refused"):
            assert counts[form.name, fault] == 0, (form.name, fault)


def test_the_same_seed_gives_the_same_counts(packet_fuzz: ModuleType) -> None:
    first, second = (packet_fuzz.fuzz(450, seed=3, processes=1) for _ in range(2))
    assert {key: value for key, value in first.items() if key[1] != "slow"} == {
        key: value for key, value in second.items() if key[1] != "slow"
    }


def test_a_kind_of_a_newer_computer_is_not_understood() -> None:
    found = parse("newer", b"", datetime(2026, 6, 14, tzinfo=UTC))  # type: ignore[arg-type]  # wrong on purpose
    assert isinstance(found, NotUnderstood)


@pytest.mark.parametrize("kind", KINDS)
@given(raw=st.binary(max_size=400))
def test_bytes_never_raise_and_always_give_the_same(kind: PacketKind, raw: bytes) -> None:
    heard_utc = datetime(2024, 2, 29, 23, 59, 59, tzinfo=UTC)
    found = parse(kind, raw, heard_utc)
    assert isinstance(found, NotUnderstood | tuple)
    assert parse(kind, raw, heard_utc) == found
