"""The mapping file: other people's keys and units become our packet."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from pappus.errors import BadFile
from pappus.sources.receivers import NotUnderstood, Sender, parse, read_senders
from pappus.tracking import Fix

HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)
MAPPING = """
[[sender]]
name = "logger"
when = { type = "position", "head.version" = 2 }

[sender.keys]
tracker = { key = "head.id" }
time_utc = { key = "t", unit = "unix ms" }
latitude_deg = { key = "gps.lat", unit = "deg", times = 1e-7 }
longitude_deg = { key = "gps.lon", unit = "deg", times = 1e-7 }
height_msl_m = { key = "gps.alt", unit = "ft" }
speed_m_s = { key = "gps.speed", unit = "km/h" }
course_deg = { key = "gps.track", unit = "deg" }
satellites = { key = "gps.sats", unit = "count" }
battery_v = { key = "adc.0", unit = "mV" }
fix = { key = "gps.fix", none = [0, "no"], two = [2], three = [3] }

[sender.keys.temperature_k]
inside = { key = "temp.in", unit = "°C" }
outside = { key = "temp.out", unit = "°F", times = 0.1 }
"""
PACKET: dict[str, Any] = {
    "type": "position",
    "head": {"id": 17, "version": 2},
    "t": 1781432100000,
    "gps": {"lat": 455000000, "lon": 72583333, "alt": 102512, "speed": 36, "track": 92, "sats": 9, "fix": 3},
    "adc": [3912, 0],
    "temp": {"in": -4.5, "out": -400},
}


def mapping(tmp_path: Path, text: str = MAPPING) -> tuple[Sender, ...]:
    path = tmp_path / "senders.toml"
    path.write_text(text, encoding="utf-8")
    return read_senders(path)


def read(senders: tuple[Sender, ...], packet: dict[str, object]) -> Fix:
    found = parse("json", json.dumps(packet).encode(), HEARD_UTC, senders)
    assert not isinstance(found, NotUnderstood), found.why
    return found[0]


def test_keys_and_units_are_converted(tmp_path: Path) -> None:
    fix = read(mapping(tmp_path), PACKET)
    assert fix.tracker == "17"
    assert fix.time_utc == datetime(2026, 6, 14, 10, 15, tzinfo=UTC)
    assert fix.latitude_deg == pytest.approx(45.5)
    assert fix.longitude_deg == pytest.approx(7.2583333)
    assert fix.height_msl_m == pytest.approx(102512 * 0.3048)  # international foot, exact
    assert fix.speed_m_s == pytest.approx(10.0)
    assert (fix.course_deg, fix.satellites, fix.fix_quality) == (92.0, 9, "three-dimensional")
    assert fix.battery_v == pytest.approx(3.912)
    assert fix.temperature_k["inside"] == pytest.approx(268.65)
    assert fix.temperature_k["outside"] == pytest.approx(233.15)  # -40 °F is -40 °C
    assert fix.extra == {"sender": "logger"}


@pytest.mark.parametrize("told", [0, "no", "NO", 7, None])
def test_a_fix_that_is_not_listed_is_none(tmp_path: Path, told: object) -> None:
    fix = read(mapping(tmp_path), PACKET | {"gps": PACKET["gps"] | {"fix": told}})
    assert (fix.latitude_deg, fix.fix_quality) == (None, "none")
    assert fix.battery_v == pytest.approx(3.912)


def test_an_object_of_another_kind_is_read_in_our_schema(tmp_path: Path) -> None:
    senders = mapping(tmp_path)
    assert read(senders, {"latitude_deg": 45.5, "longitude_deg": 7.0}).latitude_deg == 45.5
    found = parse("json", json.dumps(PACKET | {"type": "status"}).encode(), HEARD_UTC, senders)
    assert isinstance(found, NotUnderstood)


@pytest.mark.parametrize(
    ("change", "why"),
    [({"t": "soon"}, "time_utc"), ({"t": 1e300}, "time_utc"), ({"gps": {"lat": 1e10, "lon": 0}}, "latitude_deg")],
)
def test_a_value_that_cannot_be_is_named(tmp_path: Path, change: dict[str, object], why: str) -> None:
    found = parse("json", json.dumps(PACKET | change).encode(), HEARD_UTC, mapping(tmp_path))
    assert isinstance(found, NotUnderstood) or found[0].fix_quality == "none"
    if isinstance(found, NotUnderstood):
        assert why in found.why


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('unit = "ft"', 'unit = "furlongs per week"', "height_msl_m.unit"),
        ('unit = "ft"', 'unit = "kg"', "height_msl_m.unit"),
        (', unit = "ft"', "", "height_msl_m"),
        ('unit = "mV"', 'unit = "ohm"', "battery_v.unit"),
        ('unit = "unix ms"', 'unit = "days"', "time_utc.unit"),
        ("battery_v =", "battery =", "keys.battery"),
        ('key = "gps.alt"', 'key = "gps..alt"', "height_msl_m"),
        ("times = 0.1", 'times = "a tenth"', "outside.times"),
        ("none = [0, \"no\"]", "none = 0", "keys.fix"),
        ('name = "logger"', 'nome = "logger"', "nome"),
        ("latitude_deg =", "# ", "latitude_deg"),
        ("[[sender]]", "[[snder]]", "senders.toml"),
        ("[[sender]]", "[[sender]", "senders.toml"),
    ],
)  # fmt: skip
def test_a_mistake_in_the_file_is_named(tmp_path: Path, old: str, new: str, where: str) -> None:
    assert old in MAPPING
    with pytest.raises(BadFile) as caught:
        mapping(tmp_path, MAPPING.replace(old, new))
    assert any(where in finding.field for finding in caught.value.findings), caught.value


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="cannot be read"):
        read_senders(tmp_path / "none.toml")
