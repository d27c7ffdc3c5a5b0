"""``docs/receivers.md`` says what the code does: every key, kind, role and limit; its examples work."""

from __future__ import annotations

import re
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path
from typing import get_args

import pytest

from pappus.sources.receivers import NotUnderstood, ReceiverSetting, parse, parse_address, read_senders
from pappus.sources.receivers._json_packet import FIX_WORDS, KEYS, NUMBER_RANGES
from pappus.sources.receivers._json_text import LARGEST_PACKET, MOST_KEYS
from pappus.sources.receivers._senders import _OWN_UNITS, _TIME_UNITS
from pappus.sources.receivers._streams import SILENCE_S
from pappus.tracking import PacketKind, Role

TEXT = (Path(__file__).parents[2] / "docs" / "receivers.md").read_text(encoding="utf-8")
HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)


@pytest.mark.parametrize(
    "word",
    [
        *KEYS, *FIX_WORDS, *get_args(PacketKind), *get_args(Role),
        *(field.name for field in fields(ReceiverSetting) if field.name != "password"),
    ],
)  # fmt: skip
def test_every_key_and_word_is_explained(word: str) -> None:
    assert f"`{word}`" in TEXT


@pytest.mark.parametrize("unit", [*_TIME_UNITS, *sorted({unit for units in _OWN_UNITS.values() for unit in units})])
def test_every_unit_is_named(unit: str) -> None:
    assert f'"{unit}"' in TEXT or f"`{unit}`" in TEXT


def test_the_limits_are_those_of_the_code() -> None:
    assert f"at most {LARGEST_PACKET} bytes" in TEXT
    assert f"{MOST_KEYS} values" in TEXT
    assert f"Silent for {SILENCE_S:g} s" in TEXT
    for name, (low, high) in NUMBER_RANGES.items():
        (row,) = (line for line in TEXT.splitlines() if line.startswith("|") and f"`{name}`" in line)
        assert f"{low:.0f} to {high:.0f}" in row, name


def test_the_addresses_are_addresses() -> None:
    rows = re.findall(r"^\| (`\w+:.*?) \|", TEXT, re.MULTILINE)
    addresses = [text.replace("port", "8000") for row in rows for text in re.findall(r"`([^`]+)`", row)]
    assert len(addresses) == 9
    for address in addresses:
        parse_address(address)


def test_the_example_packet_is_understood() -> None:
    (example,) = re.findall(r"```json\n(.*?)```", TEXT, re.DOTALL)
    found = parse("json", example.encode(), HEARD_UTC)
    assert not isinstance(found, NotUnderstood), found.why
    assert found[0].height_msl_m == 31245.6


def test_the_example_mapping_is_read(tmp_path: Path) -> None:
    (example,) = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    path = tmp_path / "senders.toml"
    path.write_text(example, encoding="utf-8")
    senders = read_senders(path)
    packet = b'{"type": "position", "t": 1781432100, "gps": {"lat": 455000000, "lon": 72583000, "alt": 100, "fix": 3}}'
    found = parse("json", packet, HEARD_UTC, senders)
    assert not isinstance(found, NotUnderstood), found.why
    assert found[0].height_msl_m == pytest.approx(30.48)
