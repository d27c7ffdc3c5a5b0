"""KISS: how a modem hands over AX.25 frames on a byte stream (K3MC and KA9Q, 1987; from memory)."""

from __future__ import annotations

from pappus.sources.receivers._refused import Refused

MARK, ESCAPE, ESCAPED_MARK, ESCAPED_ESCAPE = 0xC0, 0xDB, 0xDC, 0xDD
_DATA = 0x00


def escape(payload: bytes) -> bytes:
    """The payload with its marks and escapes written as two bytes."""
    return payload.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc")


def unescape(escaped: bytes) -> bytes:
    """The payload again. Raises Refused for an escape that KISS does not know."""
    if ESCAPE not in escaped:
        return escaped
    parts = escaped.split(b"\xdb")
    out = bytearray(parts[0])
    for part in parts[1:]:
        if part[:1] == b"\xdc":
            out.append(MARK)
        elif part[:1] == b"\xdd":
            out.append(ESCAPE)
        else:
            raise Refused("an escape that KISS does not know")
        out += part[1:]
    return bytes(out)


def wrap(frame: bytes, port: int = 0) -> bytes:
    """A frame (without its check sequence) as a modem with this port, 0 to 15, hands it over."""
    return b"\xc0" + escape(bytes((port << 4 | _DATA,)) + frame) + b"\xc0"


def unwrap(raw: bytes) -> bytes:
    """The frame between two marks. Raises Refused for commands other than data."""
    if len(raw) < 3 or raw[0] != MARK or raw[-1] != MARK or MARK in raw[1:-1]:
        raise Refused("not one KISS frame between two marks")
    body = unescape(raw[1:-1])
    if body[0] & 0x0F != _DATA:
        raise Refused("a KISS command, not data")
    return body[1:]
