"""Our parsers against libraries of other people (aprspy, pyham-ax25, pyubx2, pynmea2; all of the package index)."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.sources.receivers import NotUnderstood, parse
from pappus.sources.receivers._ax25 import Station, UiFrame, read_ui_frame
from pappus.sources.receivers._kiss import escape, unescape, unwrap, wrap
from pappus.sources.receivers._nmea_sentence import checksum
from pappus.tracking import Fix
from pappus.units import foot_m, knot_m_s

HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)
LATITUDES = st.integers(-8_999_999, 8_999_999).filter(bool).map(lambda value: value / 1e5)
LONGITUDES = st.integers(-17_999_999, 17_999_999).filter(bool).map(lambda value: value / 1e5)


def only(kind: Any, raw: bytes) -> Fix:
    found = parse(kind, raw, HEARD_UTC)
    assert not isinstance(found, NotUnderstood), found.why
    return found[0]


def angle_text(angle_deg: float, width: int, decimals: int, sides: str) -> tuple[str, str]:
    """Degrees and minutes, written with whole numbers so that no minute is rounded up to 60."""
    total = round(abs(angle_deg) * 60 * 10**decimals)
    degrees, rest = divmod(total, 60 * 10**decimals)
    minutes, part = divmod(rest, 10**decimals)
    return f"{degrees:0{width}d}{minutes:02d}.{part:0{decimals}d}", sides[angle_deg < 0]


def base_91(value: int) -> str:
    return "".join(chr(33 + value // 91**power % 91) for power in (3, 2, 1, 0))


@given(LATITUDES, LONGITUDES, st.integers(0, 999_999), st.integers(1, 360), st.integers(0, 999))
def test_plain_aprs_as_another_parser_reads_it(
    latitude_deg: float, longitude_deg: float, height_ft: int, course: int, knots: int
) -> None:
    aprspy = pytest.importorskip("aprspy")
    (north, n), (east, e) = angle_text(latitude_deg, 2, 2, "NS"), angle_text(longitude_deg, 3, 2, "EW")
    line = f"N0CALL-11>APRS,WIDE1-1*:!{north}{n}/{east}{e}O{course:03d}/{knots:03d}/A={height_ft:06d}"
    fix, theirs = only("aprs-text", line.encode()), aprspy.APRS.parse_packet(line)
    if fix.latitude_deg is None or fix.longitude_deg is None:
        assert (theirs.latitude, theirs.longitude) == (0.0, 0.0)
        return
    assert fix.latitude_deg == pytest.approx(theirs.latitude, abs=1e-6)  # it rounds to six decimals
    assert fix.longitude_deg == pytest.approx(theirs.longitude, abs=1e-6)
    assert fix.latitude_deg == pytest.approx(latitude_deg, abs=0.0051 / 60)
    assert fix.longitude_deg == pytest.approx(longitude_deg, abs=0.0051 / 60)
    assert fix.height_msl_m == pytest.approx(theirs.altitude * foot_m)
    assert fix.course_deg == theirs.course % 360
    assert fix.speed_m_s == pytest.approx(theirs.speed * knot_m_s)


@given(LATITUDES, LONGITUDES, st.integers(0, 8280), st.sampled_from((0b110010, 0b111010)))
def test_compressed_aprs_as_another_parser_reads_it(
    latitude_deg: float, longitude_deg: float, cs: int, kind: int
) -> None:
    aprspy = pytest.importorskip("aprspy")
    place = base_91(round(380926 * (90 - latitude_deg))) + base_91(round(190463 * (180 + longitude_deg)))
    pair = chr(33 + cs // 91) + chr(33 + cs % 91)
    line = f"N0CALL>APRS:!/{place}O{pair}{chr(33 + kind)}"
    fix, theirs = only("aprs-text", line.encode()), aprspy.APRS.parse_packet(line)
    assert fix.latitude_deg == pytest.approx(theirs.latitude, abs=1e-6)
    assert fix.longitude_deg == pytest.approx(theirs.longitude, abs=1e-6)
    assert fix.latitude_deg == pytest.approx(latitude_deg, abs=2e-6)
    assert fix.longitude_deg == pytest.approx(longitude_deg, abs=3e-6)
    if kind & 0x18 == 0x10:
        assert fix.height_msl_m == pytest.approx(theirs.altitude * foot_m, rel=1e-6, abs=0.005)
    elif pair[0] != "{":
        assert fix.height_msl_m is None
        assert fix.course_deg == (cs // 91 * 4) % 360
        assert fix.speed_m_s == pytest.approx(theirs.speed * knot_m_s, abs=0.06 * knot_m_s)  # it rounds to 0.1 kn


@given(
    st.integers(0, 89), st.integers(0, 5999), st.booleans(), st.integers(0, 179), st.integers(0, 5999), st.booleans(),
    st.integers(0, 799), st.integers(1, 359), st.integers(0, 55_000),
)  # fmt: skip
def test_mic_e_as_another_parser_reads_it(
    lat: int, lat_part: int, north: bool, lon: int, lon_part: int, west: bool, knots: int, course: int, height_m: int
) -> None:
    aprspy = pytest.importorskip("aprspy")
    digits = f"{lat:02d}{lat_part:04d}"
    offset = lon >= 100 or lon < 10
    letters = [chr(ord("P") + int(digit)) for digit in digits]
    for index, marked in ((3, north), (4, offset), (5, west)):
        if not marked:
            letters[index] = digits[index]
    degrees = lon + 118 if lon < 10 else lon + 28 if lon < 100 else lon + 8 if lon < 110 else lon - 72
    minutes, part = divmod(lon_part, 100)
    packed = (degrees, minutes + (88 if minutes < 10 else 28), part + 28)
    motion = (knots // 10 + 28, knots % 10 * 10 + course // 100 + 28, course % 100 + 28)
    text = "`" + "".join(map(chr, (*packed, *motion))) + "O/" + base_91(height_m + 10_000)[1:] + "}"
    line = f"N0CALL>{''.join(letters)}:{text}"
    found = parse("aprs-text", line.encode("latin-1"), HEARD_UTC)
    assert not isinstance(found, NotUnderstood), found.why
    (fix,) = found
    if fix.latitude_deg is None or fix.longitude_deg is None:
        assert (lat, lat_part, lon, lon_part) == (0, 0, 0, 0)
        return
    sign = 1 if north else -1
    assert fix.latitude_deg == pytest.approx(sign * (lat + lat_part / 6000))
    assert fix.longitude_deg == pytest.approx((-1 if west else 1) * (lon + lon_part / 6000))
    assert fix.speed_m_s == pytest.approx(knots * knot_m_s)
    assert (fix.course_deg, fix.height_msl_m) == (course, height_m)
    theirs = aprspy.APRS.parse_packet(line)
    if type(theirs).__name__ == "MICEPacket":
        assert fix.latitude_deg == pytest.approx(theirs.latitude, abs=1e-6)
        assert fix.longitude_deg == pytest.approx(theirs.longitude, abs=1e-6)
        assert theirs.course == course
        # the first digit of a height can look like the mark of a maker, which the other parser looks for first
        if text[9] not in "'`>], ":
            assert theirs.altitude == height_m


# the other library wants callsigns of the amateur form
AMATEUR_CALLS = st.from_regex(r"[A-Z]{2}[0-9][A-Z]{1,3}", fullmatch=True)
CALLS = st.from_regex(r"[A-Z0-9]{1,6}", fullmatch=True)


def frames(calls: st.SearchStrategy[str]) -> st.SearchStrategy[UiFrame]:
    stations = st.builds(Station, calls, st.integers(0, 15), st.booleans())
    digipeaters = st.lists(stations, max_size=8).map(tuple)
    return st.builds(UiFrame, stations, stations, digipeaters, st.binary(min_size=1, max_size=256))


@given(frames(AMATEUR_CALLS))
def test_a_frame_as_another_library_reads_it(frame: UiFrame) -> None:
    ax25 = pytest.importorskip("ax25")
    theirs = ax25.Frame.unpack(frame.to_bytes())
    assert (str(theirs.dst).rstrip("*"), str(theirs.src).rstrip("*")) == (str(frame.destination), str(frame.source))
    assert [str(via).rstrip("*") for via in theirs.via or ()] == [str(station) for station in frame.digipeaters]
    assert bytes(theirs.data) == frame.info


@given(frames(CALLS), st.integers(0, 15))
def test_frame_and_kiss_round_trip(frame: UiFrame, port: int) -> None:
    raw = wrap(frame.to_bytes(), port)
    assert read_ui_frame(unwrap(raw)) == frame


@given(st.binary(max_size=300))
def test_escapes_round_trip_and_hold_no_mark(payload: bytes) -> None:
    escaped = escape(payload)
    assert 0xC0 not in escaped
    assert unescape(escaped) == payload


@given(LATITUDES, LONGITUDES, st.integers(-500, 4_500_000), st.integers(0, 30_000), st.integers(0, 35_999))
def test_nav_pvt_as_another_library_writes_it(
    latitude_deg: float, longitude_deg: float, height_cm: int, speed: int, course: int
) -> None:
    pyubx2 = pytest.importorskip("pyubx2")
    message = pyubx2.UBXMessage(
        "NAV", "NAV-PVT", pyubx2.GET, year=2026, month=6, day=14, hour=10, min=15, second=1, validDate=1, validTime=1,
        fullyResolved=1, fixType=3, gnssFixOk=1, numSV=9, lon=longitude_deg, lat=latitude_deg, height=height_cm * 10,
        hMSL=height_cm * 10 - 48_200, velD=-speed, gSpeed=speed, headMot=course / 100,
    )  # fmt: skip
    fix = only("ubx", message.serialize())
    assert fix.latitude_deg == pytest.approx(latitude_deg, abs=2e-7)
    assert fix.longitude_deg == pytest.approx(longitude_deg, abs=2e-7)
    assert fix.height_ellipsoid_m == pytest.approx(height_cm / 100)
    assert fix.height_msl_m == pytest.approx(height_cm / 100 - 48.2)
    assert fix.speed_m_s == pytest.approx(speed / 1000)
    assert fix.climb_m_s == pytest.approx(speed / 1000)
    assert fix.course_deg == pytest.approx(course / 100, abs=2e-5)
    assert fix.time_utc == datetime(2026, 6, 14, 10, 15, 1, tzinfo=UTC)


@given(LATITUDES, LONGITUDES, st.integers(-5000, 450_000), st.integers(-1000, 1000))
def test_gga_as_another_parser_reads_it(
    latitude_deg: float, longitude_deg: float, height_dm: int, separation_dm: int
) -> None:
    pynmea2 = pytest.importorskip("pynmea2")
    (north, n), (east, e) = angle_text(latitude_deg, 2, 5, "NS"), angle_text(longitude_deg, 3, 5, "EW")
    body = f"GNGGA,101500.00,{north},{n},{east},{e},1,09,0.9,{height_dm / 10},M,{separation_dm / 10},M,,"
    line = f"${body}*{checksum(body.encode()):02X}"
    fix, theirs = only("nmea", line.encode()), pynmea2.parse(line, check=True)
    assert fix.latitude_deg == pytest.approx(theirs.latitude, abs=1e-9)
    assert fix.longitude_deg == pytest.approx(theirs.longitude, abs=1e-9)
    assert fix.latitude_deg == pytest.approx(latitude_deg, abs=1e-7)
    assert fix.height_msl_m == theirs.altitude
    assert fix.height_ellipsoid_m == pytest.approx(theirs.altitude + float(theirs.geo_sep))
