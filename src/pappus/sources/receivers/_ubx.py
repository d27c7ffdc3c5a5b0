"""The binary position message of u-blox receivers (NAV-PVT) to a fix.

Layout: u-blox M8/M9/F9 interface descriptions, NAV-PVT (from memory; held to an independent library in the tests).
"""

from __future__ import annotations

import struct
from datetime import datetime, timedelta

from pappus.sources.receivers._dating import full_time, time_of_day
from pappus.sources.receivers._refused import NotUnderstood, Refused, degrees_as_sent
from pappus.tracking import Fix, FixQuality, TimeQuality

SYNC = b"\xb5\x62"
LARGEST_FRAME = 1024
"""Bytes of one message; NAV-PVT has 100."""
_NAV_PVT = b"\x01\x07"
_LAYOUT = struct.Struct("<IHBBBBBBIiBBBBiiiiIIiiiiiII")
_LENGTHS = (84, 92)  # protocol versions before and after 15
_FIXES: dict[int, FixQuality] = {2: "two-dimensional", 3: "three-dimensional", 4: "three-dimensional"}


def fletcher(body: bytes) -> bytes:
    """The two checksum bytes over class, identifier, length and payload (8-bit Fletcher, RFC 1145)."""
    first = second = 0
    for byte in body:
        first = (first + byte) & 0xFF
        second = (second + first) & 0xFF
    return bytes((first, second))


def parse_ubx(raw: bytes) -> tuple[bytes, bytes]:
    """Class with identifier, and payload, of one whole frame. Raises Refused for damage."""
    if len(raw) < 8 or raw[:2] != SYNC:
        raise Refused("not a UBX message")
    if len(raw) != 8 + int.from_bytes(raw[4:6], "little"):
        raise Refused("the length in the UBX message is not its own")
    if fletcher(raw[2:-2]) != raw[-2:]:
        raise Refused("the checksum of the UBX message is wrong")
    return raw[2:4], raw[6:-2]


def parse_nav_pvt(raw: bytes, heard_utc: datetime) -> tuple[Fix, ...] | NotUnderstood:
    """One NAV-PVT message. Dead reckoning and "time only" are no fix; height is none with two dimensions."""
    try:
        kind, payload = parse_ubx(raw)
        if kind != _NAV_PVT or len(payload) not in _LENGTHS:
            return NotUnderstood("a UBX message other than NAV-PVT")
        return (_fix(payload, heard_utc),)
    except Refused as error:
        return NotUnderstood(str(error))


def _fix(payload: bytes, heard_utc: datetime) -> Fix:
    (
        _, year, month, day, hour, minute, second, valid, _, nano, fix_type, flags, _, satellites, longitude, latitude,
        height, height_msl, accuracy, accuracy_up, _, _, down, speed, heading, _, _,
    ) = _LAYOUT.unpack_from(payload)  # fmt: skip
    time_utc: datetime | None = None
    quality: TimeQuality = "none"
    if valid & 0b10:  # the time of day is valid
        if valid & 0b01:
            time_utc, quality = full_time(year, month, day, hour, minute, second), "full"
        else:
            time_utc, quality = time_of_day(hour, minute, second, heard_utc), "time of day"
        if not -1_000_000_000 <= nano <= 1_000_000_000:
            raise Refused("the fraction of the second is more than a second")
        time_utc += timedelta(microseconds=round(nano / 1e3))
    fix = _FIXES.get(fix_type, "none") if flags & 1 else "none"
    if len(payload) == _LENGTHS[1] and payload[78] & 1:  # "invalid longitude, latitude and heights"
        fix = "none"
    place = degrees_as_sent(latitude / 1e7, longitude / 1e7) if fix != "none" else None
    if place is None:
        return Fix(
            "", time_utc, quality, None, None, None, None, satellites=satellites, fix_quality="none", checked=True
        )
    solid = fix == "three-dimensional"
    extra: dict[str, str | float] = {"horizontal_accuracy_m": accuracy / 1e3}
    if solid:
        extra["vertical_accuracy_m"] = accuracy_up / 1e3
    else:
        # with three satellites a receiver holds its last height: it is not a measurement
        extra["height_held_msl_m"] = height_msl / 1e3
    return Fix(
        tracker="",
        time_utc=time_utc,
        time_quality=quality,
        latitude_deg=place[0],
        longitude_deg=place[1],
        height_msl_m=height_msl / 1e3 if solid else None,
        height_ellipsoid_m=height / 1e3 if solid else None,
        speed_m_s=speed / 1e3,
        course_deg=heading / 1e5 % 360.0,
        climb_m_s=-down / 1e3 if solid else None,
        satellites=satellites,
        fix_quality=fix,
        extra=extra,
        checked=True,
    )
