"""Every reference value of the telemetry formats; each entry of the raw file names its source."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest

from pappus.sources.receivers import NotUnderstood, parse
from pappus.sources.receivers._ax25 import Station, UiFrame, check_sequence, read_ui_frame
from pappus.sources.receivers._kiss import escape, unescape, unwrap, wrap
from pappus.tracking import Fix
from pappus.units import foot_m, knot_m_s, mile_m
from references.checks import AUTHORITIES, Entry, assert_within, case_id

ENTRIES: list[Entry] = json.loads((AUTHORITIES / "rules_telemetry.json").read_text(encoding="utf-8"))
HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)


def entries(*starts: str) -> list[Entry]:
    return [entry for entry in ENTRIES if entry["id"].startswith(starts)]


def entry(name: str) -> Entry:
    (found,) = (one for one in ENTRIES if one["id"] == name)
    return found


def only(kind: Any, raw: bytes) -> Fix:
    found = parse(kind, raw, HEARD_UTC)
    assert not isinstance(found, NotUnderstood), found.why
    (fix,) = found
    return fix


def compare(entry: Entry, actual: dict[str, Any], *, left: tuple[str, ...] = ()) -> None:
    """Compare all keys of the entry; those ``left`` are checked by the caller in another form."""
    expected = {key: value for key, value in entry["expected"].items() if key not in left}
    assert_within({key: actual[key] for key in expected}, entry | {"expected": expected})


def aprs(entry: Entry) -> Fix:
    return only("aprs-text", f"N0CALL-11>APRS:{entry['inputs']['info']}".encode("latin-1"))


@pytest.mark.parametrize("case", entries("nmea_1", "nmea_2", "nmea_3", "nmea_4", "nmea_5"), ids=case_id)
def test_nmea_sentence(case: Entry) -> None:
    fix = only("nmea", case["inputs"]["sentence"].encode("ascii"))
    height_m, ellipsoid_m = fix.height_msl_m, fix.height_ellipsoid_m
    actual = {
        "lat": fix.latitude_deg,
        "lon": fix.longitude_deg,
        "alt_msl_m": height_m,
        "hae_m": ellipsoid_m,
        "geoid_sep_m": ellipsoid_m - height_m if ellipsoid_m is not None and height_m is not None else None,
        "sats": fix.satellites,
        "speed_mps": fix.speed_m_s,
        "course": fix.course_deg,
        "utc": fix.time_utc.strftime("%Y-%m-%dT%H:%M:%SZ") if fix.time_utc else None,
        "magvar": fix.extra.get("magnetic_variation_deg"),
        "valid": fix.checked,
        "fix": 1 if fix.latitude_deg is not None else 0,
        "checksum": case["inputs"]["sentence"][-2:],
    }
    compare(case, actual)


def test_nmea_without_a_fix_has_no_position() -> None:
    fix = only("nmea", entry("nmea_6")["inputs"]["sentence"].encode("ascii"))
    assert entry("nmea_6")["expected"]["position"] is None
    assert (fix.latitude_deg, fix.longitude_deg, fix.height_msl_m) == (None, None, None)
    assert fix.fix_quality == "none"
    assert fix.satellites == 0


def test_nmea_with_a_wrong_checksum_is_refused() -> None:
    found = parse("nmea", entry("nmea_bad")["inputs"]["sentence"].encode("ascii"), HEARD_UTC)
    assert isinstance(found, NotUnderstood)
    assert "checksum" in found.why


def test_aprs_plain_position() -> None:
    case = entry("aprs_plain")
    fix = aprs(case)
    actual = {
        "lat": fix.latitude_deg,
        "lon": fix.longitude_deg,
        "alt_m": fix.height_msl_m,
        "symbol": fix.extra["symbol"],
    }
    compare(case, actual, left=("comment_contains",))
    assert case["expected"]["comment_contains"] in str(fix.extra["comment"])


def test_aprs_position_with_a_time() -> None:
    case = entry("aprs_balloon")
    fix = aprs(case)
    assert fix.time_utc is not None
    assert fix.speed_m_s is not None
    actual = {
        "time_utc_hms": fix.time_utc.strftime("%H:%M:%S"),
        "lat": fix.latitude_deg,
        "lon": fix.longitude_deg,
        "course_deg": fix.course_deg,
        "speed_kt": round(fix.speed_m_s / knot_m_s, 9),
        "alt_m": fix.height_msl_m,
        "symbol": fix.extra["symbol"],
    }
    compare(case, actual)
    assert fix.time_quality == "time of day"
    assert fix.time_utc.date() == HEARD_UTC.date()


def test_aprs_compressed_position() -> None:
    case = entry("aprs_compressed")
    fix = only("aprs-text", f"N0CALL>APRS:!{case['inputs']['field']}".encode("ascii"))
    assert fix.speed_m_s is not None
    actual = {
        "lat": fix.latitude_deg,
        "lon": fix.longitude_deg,
        "symbol": fix.extra["symbol"],
        "course_deg": fix.course_deg,
        "speed_kt": fix.speed_m_s / knot_m_s,
    }
    compare(case, actual)
    assert fix.height_msl_m is None


def test_aprs_compressed_height() -> None:
    case = entry("aprs_compressed_alt")
    text = f"N0CALL>APRS:!/5L!!<*e7O{case['inputs']['cs']}{case['inputs']['T']}"
    fix = only("aprs-text", text.encode("ascii"))
    assert fix.height_msl_m is not None
    compare(case, {"alt_ft": fix.height_msl_m / foot_m}, left=("cs_value",))
    # 1.002 to the power of cs
    assert fix.height_msl_m == pytest.approx(1.002 ** case["expected"]["cs_value"] * foot_m)
    assert fix.speed_m_s is None


def test_the_same_bytes_without_the_source_bits_are_course_and_speed() -> None:
    case = entry("aprs_compressed_alt")
    other = chr(33 + 0b111010)
    fix = only("aprs-text", f"N0CALL>APRS:!/5L!!<*e7O{case['inputs']['cs']}{other}".encode("ascii"))
    assert fix.height_msl_m is None
    assert fix.course_deg == (ord("S") - 33) * 4


def test_aprs_compressed_range_is_no_motion() -> None:
    case = entry("aprs_compressed_range")
    fix = only("aprs-text", f"N0CALL>APRS:!/5L!!<*e7>{case['inputs']['cs']}!".encode("ascii"))
    compare(case, {"range_mi": float(fix.extra["range_m"]) / mile_m})
    assert (fix.course_deg, fix.speed_m_s, fix.height_msl_m) == (None, None, None)


@pytest.mark.parametrize("case", [entry("aprs_mice"), entry("aprs_mice_plus100")], ids=case_id)
def test_aprs_mic_e(case: Entry) -> None:
    fix = only("aprs-text", f"N0CALL>{case['inputs']['destination']}:{case['inputs']['info']}".encode("latin-1"))
    assert fix.speed_m_s is not None
    actual = {
        "lat": fix.latitude_deg,
        "lon": fix.longitude_deg,
        "speed_kt": round(fix.speed_m_s / knot_m_s, 9),
        "course_deg": fix.course_deg,
        "symbol": fix.extra["symbol"],
        "message": fix.extra["message"],
    }
    compare(case, actual, left=("note",))


def test_aprs_mic_e_height() -> None:
    case = entry("aprs_mice_alt")
    fix = only("aprs-text", f'N0CALL>S32U6T:`(_fn"Oj/{case["inputs"]["field"]}'.encode("latin-1"))
    compare(case, {"alt_m": fix.height_msl_m})


def test_check_sequence_of_ax25() -> None:
    case = entry("ax25_fcs")
    assert check_sequence(case["inputs"]["ascii"].encode("ascii")) == int(case["expected"]["crc"], 16)


def test_kiss_frame_both_ways() -> None:
    case = entry("kiss_frame")
    raw = bytes.fromhex(case["expected"]["kiss_hex"])
    frame = unwrap(raw)
    found = read_ui_frame(frame)
    header, info = case["inputs"]["tnc2"].split(":", 1)
    assert f"{found.source}>{found.destination}" == header
    assert found.info == info.encode("ascii")
    assert wrap(found.to_bytes()) == raw
    made = UiFrame(Station("APRS", 0, True), Station("N0CALL", 11, False), (), info.encode("ascii"))
    assert wrap(made.to_bytes()) == raw
    on_air = bytes.fromhex(case["expected"]["ax25_fcs_on_air_low_byte_first"])
    assert check_sequence(frame).to_bytes(2, "little") == on_air


def test_kiss_escapes_both_ways() -> None:
    case = entry("kiss_escape")
    payload, escaped = bytes.fromhex(case["inputs"]["payload_hex"]), bytes.fromhex(case["expected"]["escaped_hex"])
    assert escape(payload) == escaped
    assert unescape(escaped) == payload
