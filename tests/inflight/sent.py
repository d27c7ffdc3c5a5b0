"""Positions as the bytes that trackers and modems send, each kind written here from its rules.

NMEA 0183 (checksum: exclusive or), NAV-PVT with its 8-bit Fletcher sum (RFC 1145), AX.25 2.2 unnumbered information
frames in KISS (Chepponis & Karn 1987), APRS 1.0.1 positions with time and height, our own JSON (docs/receivers.md).
"""

from __future__ import annotations

import json
import struct
from datetime import UTC, datetime


def _minutes(degrees: float, digits: int, places: int) -> str:
    whole, minutes = divmod(round(abs(degrees) * 60 * 10**places), 60 * 10**places)
    return f"{whole:0{digits}d}{minutes / 10**places:0{3 + places}.{places}f}"


def _side(degrees: float, sides: str) -> str:
    return sides[degrees < 0]


def nmea(when: datetime, lat: float, lon: float, height_msl_m: float, undulation_m: float) -> bytes:
    """GGA and RMC of one epoch."""
    place = f"{_minutes(lat, 2, 5)},{_side(lat, 'NS')},{_minutes(lon, 3, 5)},{_side(lon, 'EW')}"
    bodies = (
        f"GNGGA,{when:%H%M%S}.00,{place},1,11,0.9,{height_msl_m:.1f},M,{undulation_m:.1f},M,,",
        f"GNRMC,{when:%H%M%S}.00,A,{place},18.5,092.3,{when:%d%m%y},,,A",
    )
    lines = []
    for body in bodies:
        check = 0
        for byte in body.encode():
            check ^= byte
        lines.append(f"${body}*{check:02X}\r\n".encode())
    return b"".join(lines)


def nav_pvt(when: datetime, lat: float, lon: float, height_msl_m: float, undulation_m: float) -> bytes:
    """Three-dimensional, all flags good."""
    body = struct.pack(
        "<IHBBBBBBIiBBBBiiiiIIiiiiiIIHH",
        0, when.year, when.month, when.day, when.hour, when.minute, when.second, 7, 20, 0, 3, 1, 0, 11,
        round(lon * 1e7), round(lat * 1e7), round((height_msl_m + undulation_m) * 1000), round(height_msl_m * 1000),
        3000, 4000, 0, 0, 0, 0, 0, 100, 100, 100, 0,
    )  # fmt: skip
    # fields go longitude first
    head = b"\x01\x07" + struct.pack("<H", 92)
    data = head + body.ljust(92, b"\0")
    a = b = 0
    for byte in data:
        a = (a + byte) & 0xFF
        b = (b + a) & 0xFF
    return b"\xb5\x62" + data + bytes((a, b))


def information(when: datetime, lat: float, lon: float, height_msl_m: float) -> str:
    """An APRS position with time; the height in feet."""
    return (
        f"/{when:%H%M%S}h{_minutes(lat, 2, 2)}{_side(lat, 'NS')}/{_minutes(lon, 3, 2)}{_side(lon, 'EW')}O"
        f"/A={round(height_msl_m / 0.3048):06d}"
    )


def aprs_text(call: str, when: datetime, lat: float, lon: float, height_msl_m: float) -> bytes:
    """One line in monitor form."""
    return f"{call}>APRS:{information(when, lat, lon, height_msl_m)}\r\n".encode()


def ax25(call: str, ssid: int, when: datetime, lat: float, lon: float, height_msl_m: float) -> bytes:
    """One frame in KISS."""

    def address(name: str, number: int, last: bool) -> bytes:
        return bytes(ord(c) << 1 for c in f"{name:<6}") + bytes((0x60 | number << 1 | last,))

    text = information(when, lat, lon, height_msl_m).encode()
    frame = b"\0" + address("APRS", 0, False) + address(call, ssid, True) + b"\x03\xf0" + text
    return b"\xc0" + frame.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + b"\xc0"


def own_json(tracker: str, when: datetime, lat: float, lon: float, height_msl_m: float) -> bytes:
    """Our own schema."""
    return json.dumps(
        {
            "tracker": tracker,
            "time_utc": when.astimezone(UTC).isoformat(),
            "latitude_deg": lat,
            "longitude_deg": lon,
            "height_msl_m": height_msl_m,
            "battery_v": 7.2,
            "temperature_k": {"inside": 280.0},
        }
    ).encode()
