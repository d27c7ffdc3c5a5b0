"""AX.25 unnumbered information (UI) frames: addresses, digipeaters, check sequence.

Source: AX.25 link access protocol 2.2, sections 3 and 4 (from memory; held to an independent library in the tests).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pappus.sources.receivers._refused import Refused

LARGEST_FRAME = 2048
"""Bytes of one frame with its escapes; the standard's information field ends at 256."""
_UI, _NO_LAYER_3 = 0x03, 0xF0
_MOST_DIGIPEATERS = 8
_CALL = re.compile(rb"[A-Z0-9]{1,6} *")


@dataclass(frozen=True)
class Station:
    """A callsign with its number, 0 to 15; ``marked``: the C bit of an end station, the H bit of a digipeater."""

    call: str
    number: int
    marked: bool

    def __str__(self) -> str:
        return f"{self.call}-{self.number}" if self.number else self.call


@dataclass(frozen=True)
class UiFrame:
    """One UI frame without layer 3. A digipeater that is marked has sent the frame on."""

    destination: Station
    source: Station
    digipeaters: tuple[Station, ...]
    info: bytes

    def to_bytes(self) -> bytes:
        """The frame without its check sequence."""
        stations = (self.destination, self.source, *self.digipeaters)
        header = b"".join(_address(station, station is stations[-1]) for station in stations)
        return header + bytes((_UI, _NO_LAYER_3)) + self.info


def read_ui_frame(frame: bytes) -> UiFrame:
    """A frame without its check sequence. Raises Refused for other frames and for broken addresses.

    Both C bits may be equal, as version 1 senders write them.
    """
    stations = []
    for start in range(0, 7 * (_MOST_DIGIPEATERS + 2), 7):
        field = frame[start : start + 7]
        if len(field) < 7:
            raise Refused("the addresses of the frame do not end")
        stations.append(_station(field))
        if field[6] & 1:
            break
    else:
        raise Refused(f"more than {_MOST_DIGIPEATERS} digipeaters")
    if len(stations) < 2:
        raise Refused("a frame without a source")
    rest = frame[7 * len(stations) :]
    # the poll bit may be set
    if len(rest) < 2 or rest[0] & ~0x10 != _UI or rest[1] != _NO_LAYER_3:
        raise Refused("not an unnumbered information frame without layer 3")
    return UiFrame(stations[0], stations[1], tuple(stations[2:]), rest[2:])


def _station(field: bytes) -> Station:
    if any(byte & 1 for byte in field[:6]):
        raise Refused("an address ends inside a callsign")
    call = bytes(byte >> 1 for byte in field[:6])
    if not _CALL.fullmatch(call):
        raise Refused("a callsign with other characters than letters and digits")
    return Station(call.decode("ascii").rstrip(), field[6] >> 1 & 0x0F, bool(field[6] & 0x80))


def _address(station: Station, last: bool) -> bytes:
    letters = station.call.encode("ascii").ljust(6)
    ending = 0x60 | station.number << 1 | (0x80 if station.marked else 0) | (1 if last else 0)
    return bytes(byte << 1 for byte in letters) + bytes((ending,))


def _table() -> tuple[int, ...]:
    table = []
    for value in range(256):
        for _ in range(8):
            value = value >> 1 ^ 0x8408 if value & 1 else value >> 1
        table.append(value)
    return tuple(table)


_FCS_TABLE = _table()


def check_sequence(frame: bytes) -> int:
    """Frame check sequence: CRC-16/X-25 (ISO/IEC 13239), sent low byte first."""
    value = 0xFFFF
    for byte in frame:
        value = value >> 8 ^ _FCS_TABLE[(value ^ byte) & 0xFF]
    return value ^ 0xFFFF


def without_check_sequence(frame: bytes) -> bytes:
    """The frame before its check sequence. Raises Refused when that is wrong."""
    if len(frame) < 3 or check_sequence(frame[:-2]) != int.from_bytes(frame[-2:], "little"):
        raise Refused("the check sequence of the frame is wrong")
    return frame[:-2]
