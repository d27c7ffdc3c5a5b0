"""Where one packet ends and the next begins, on streams and in single messages.

Framers hold at most one unfinished packet of bounded size; what grows beyond is dropped up to the next boundary and
counted.
"""

from __future__ import annotations

from typing import Protocol

from pappus.sources.receivers._aprs import LONGEST_LINE
from pappus.sources.receivers._ax25 import LARGEST_FRAME
from pappus.sources.receivers._json_text import LARGEST_PACKET
from pappus.sources.receivers._kiss import MARK
from pappus.sources.receivers._nmea import MOST_LINES, clock_field
from pappus.sources.receivers._nmea_sentence import LONGEST_SENTENCE
from pappus.sources.receivers._ubx import LARGEST_FRAME as LARGEST_UBX
from pappus.sources.receivers._ubx import SYNC, fletcher
from pappus.tracking import PacketKind

EPOCH_PAUSE_S = 0.25
"""A stream of NMEA lines that is silent so long has ended its epoch. Receivers write an epoch in one go, at most ten a
second (common practice, no source)."""


class Framer(Protocol):
    """Bytes in, whole packets out."""

    @property
    def dropped(self) -> int:
        """Pieces that were too long or no packet of this kind."""

    def feed(self, data: bytes) -> list[bytes]:
        """Packets that are complete with these bytes."""

    def flush(self) -> list[bytes]:
        """The packet that a pause completes, if there is one."""


class Lines:
    """Lines ended by CR, LF or both; comments of a server (``#``) are keep-alives and left out."""

    def __init__(self, longest: int) -> None:
        self._longest, self._rest, self._skipping, self.dropped = longest, b"", False, 0

    def feed(self, data: bytes) -> list[bytes]:
        *lines, self._rest = (self._rest + data).replace(b"\r", b"\n").split(b"\n")
        if self._skipping and lines:
            lines, self._skipping = lines[1:], False
        if len(self._rest) > self._longest:
            self._rest = b""
            self.dropped += not self._skipping
            self._skipping = True
        kept = [line for line in lines if line and len(line) <= self._longest]
        self.dropped += sum(len(line) > self._longest for line in lines)
        return [line for line in kept if not line.startswith(b"#")]

    def flush(self) -> list[bytes]:
        """Nothing: a line without its end may still grow."""
        return []


class Epochs:
    """NMEA lines of one epoch together: until the time in them changes, a pause, or too many lines."""

    def __init__(self) -> None:
        self._lines, self._epoch, self._clock = Lines(LONGEST_SENTENCE), list[bytes](), b""
        self._strangers = 0

    @property
    def dropped(self) -> int:
        """Lines that were too long or no sentences."""
        return self._lines.dropped + self._strangers

    def feed(self, data: bytes) -> list[bytes]:
        packets: list[bytes] = []
        for line in self._lines.feed(data):
            if not line.startswith(b"$"):
                self._strangers += 1
                continue
            clock = clock_field(line)
            if (clock and self._clock and clock != self._clock) or len(self._epoch) >= MOST_LINES:
                packets += self.flush()
            self._epoch.append(line)
            self._clock = clock or self._clock
        return packets

    def flush(self) -> list[bytes]:
        packets = [b"\r\n".join(self._epoch) + b"\r\n"] if self._epoch else []
        self._epoch, self._clock = [], b""
        return packets


class KissFrames:
    """Frames between two marks, with the marks; what stands before the first mark is dropped."""

    def __init__(self) -> None:
        self._rest, self.dropped = b"", 0

    def feed(self, data: bytes) -> list[bytes]:
        mark = bytes((MARK,))
        before, *frames = (self._rest + data).split(mark)
        self.dropped += bool(before)
        if not frames:
            self._rest = b""
            return []
        # after the last mark a frame may have begun, and that mark is its first
        *whole, begun = frames
        self._rest = mark + begun
        if len(begun) > LARGEST_FRAME:
            self._rest = b""
            self.dropped += 1
        self.dropped += sum(len(frame) > LARGEST_FRAME for frame in whole)
        return [mark + frame + mark for frame in whole if frame and len(frame) <= LARGEST_FRAME]

    def flush(self) -> list[bytes]:
        """Nothing: a frame ends with its mark."""
        return []


class UbxMessages:
    """Messages with a right checksum by their sync bytes and length; other bytes between them are passed over."""

    def __init__(self) -> None:
        self._rest, self.dropped = b"", 0

    def feed(self, data: bytes) -> list[bytes]:
        packets, self._rest, refused = _ubx_messages(self._rest + data)
        self.dropped += refused
        return packets

    def flush(self) -> list[bytes]:
        """What stands behind a sync that was none, so that a false length does not hold up good messages."""
        packets, rest, refused = _ubx_messages(self._rest[2:])
        if packets:
            self._rest = rest
            self.dropped += refused + 1
        return packets


def _ubx_messages(rest: bytes) -> tuple[list[bytes], bytes, int]:
    """Whole messages, the bytes that may begin another, and how many were refused."""
    packets: list[bytes] = []
    refused = 0
    while True:
        start = rest.find(SYNC)
        if start < 0:
            # the last byte may be the first half of the sync
            return packets, rest[-1:], refused
        rest = rest[start:]
        if len(rest) < 6:
            return packets, rest, refused
        whole = 8 + int.from_bytes(rest[4:6], "little")
        if whole <= LARGEST_UBX and len(rest) < whole:
            return packets, rest, refused
        if whole <= LARGEST_UBX and fletcher(rest[2 : whole - 2]) == rest[whole - 2 : whole]:
            packets.append(rest[:whole])
            rest = rest[whole:]
        else:
            refused += 1
            rest = rest[2:]


def framer_for(kind: PacketKind) -> Framer:
    """The framer of a stream of this kind; JSON comes as one object a line, as many programs write it."""
    match kind:
        case "nmea":
            return Epochs()
        case "ax25":
            return KissFrames()
        case "ubx":
            return UbxMessages()
        case "aprs-text":
            return Lines(LONGEST_LINE)
        case "json":
            return Lines(LARGEST_PACKET)


LARGEST_MESSAGE = LARGEST_PACKET
"""Bytes of one message (datagram, publication, request)."""


def packets_of_message(kind: PacketKind, message: bytes) -> list[bytes]:
    """The packets in one whole message. A JSON object may run over several lines; NMEA lines stay together."""
    match kind:
        case "aprs-text":
            return Lines(LONGEST_LINE).feed(message + b"\n")
        case "ax25" if message[:1] == bytes((MARK,)):
            return KissFrames().feed(message)
        case _:
            return [message] if message.strip() else []
