"""Where packets end on a stream: the same packets come out however the bytes are cut; nothing grows without end."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.sources.receivers._ax25 import Station, UiFrame
from pappus.sources.receivers._framing import framer_for, packets_of_message
from pappus.sources.receivers._kiss import wrap
from pappus.sources.receivers._nmea_sentence import checksum
from pappus.sources.receivers._ubx import fletcher


def sentence(body: str) -> bytes:
    return f"${body}*{checksum(body.encode()):02X}\r\n".encode()


def nav_pvt(second: int) -> bytes:
    body = b"\x01\x07\x5c\x00" + bytes(10) + bytes([second]) + bytes(81)
    return b"\xb5\x62" + body + fletcher(body)


EPOCHS = [
    sentence(f"GNRMC,1015{second:02d}.00,A,4530.0,N,00715.5,E,,,140626,,,A")
    + sentence(f"GNGGA,1015{second:02d}.00,4530.0,N,00715.5,E,1,11,0.8,900.0,M,48.2,M,,")
    + sentence("GNGSA,A,3,01,02,03,,,,,,,,,,2.0,1.0,1.7")
    for second in range(3)
]
FRAMES = [
    wrap(UiFrame(Station("APRS", 0, True), Station("N0CALL", n, False), (), b"!text \xc0\xdb").to_bytes())
    for n in range(3)
]
STREAMS: dict[Any, tuple[bytes, list[bytes]]] = {
    "nmea": (b"noise\r\n" + b"".join(EPOCHS), EPOCHS),
    "ax25": (b"noise" + b"".join(FRAMES), FRAMES),
    # one mark between two frames is enough for KISS
    "aprs-text": (b"# hello\r\nN0CALL>APRS:!a\r\n\r\nN0CALL>APRS:!b\n", [b"N0CALL>APRS:!a", b"N0CALL>APRS:!b"]),
    "json": (b'{"a": 1}\n{"b": 2}\n', [b'{"a": 1}', b'{"b": 2}']),
    "ubx": (
        b"$GNGGA,no*00\r\n" + nav_pvt(1) + b"\xb5" + nav_pvt(2) + b"\xb5\x62\x01\x07\x04\x00" + nav_pvt(3) + nav_pvt(4),
        [nav_pvt(second) for second in (1, 2, 3, 4)],
    ),
}


STREAM_PIECES = [b"\xc0", b"\n", b"\xb5\x62\x01\x07\x5c\x00", b"$GNGGA,1", *FRAMES, *EPOCHS, nav_pvt(1)]


@pytest.mark.parametrize("kind", STREAMS)
@given(cuts=st.lists(st.integers(1, 40), min_size=1, max_size=50))
def test_the_cuts_do_not_matter(kind: Any, cuts: list[int]) -> None:
    stream, packets = STREAMS[kind]
    framer, found, start = framer_for(kind), list[bytes](), 0
    for cut in cuts:
        found += framer.feed(stream[start : start + cut])
        start += cut
    found += framer.feed(stream[start:])
    found += framer.flush()
    assert found == packets


def test_frames_may_share_a_mark() -> None:
    framer = framer_for("ax25")
    assert framer.feed(FRAMES[0] + FRAMES[1][1:] + b"\xc0\xc0\xc0") == FRAMES[:2]


def test_a_pause_ends_an_epoch() -> None:
    framer = framer_for("nmea")
    assert framer.feed(EPOCHS[0]) == []
    assert framer.flush() == [EPOCHS[0]]
    assert framer.flush() == []


@pytest.mark.parametrize(
    ("kind", "piece", "good"),
    [
        ("nmea", b"$" * 500, EPOCHS[0]),
        ("ax25", b"\xc0" + b"x" * 5000, FRAMES[0]),
        ("aprs-text", b"x" * 900, b"N0CALL>APRS:!a\n"),
        ("json", b'{"a":' * 6000, b'{"a": 1}\n'),
        ("ubx", b"\xb5\x62\x01\x07\xff\xff" * 900, nav_pvt(1)),
    ],
)
def test_what_grows_without_end_is_dropped_and_the_next_packet_heard(kind: Any, piece: bytes, good: bytes) -> None:
    framer = framer_for(kind)
    for _ in range(40):
        assert framer.feed(piece) == []
        held = sum(len(value) for value in vars(framer).values() if isinstance(value, bytes))
        assert held <= len(piece) + 20_000
    assert framer.dropped > 0
    assert [packet.strip() for packet in framer.feed(b"\n" + good) + framer.flush()] == [good.strip()]


def test_a_frame_without_an_end_is_not_held() -> None:
    framer = framer_for("ax25")
    framer.feed(b"\xc0")
    for _ in range(40):
        assert framer.feed(b"x" * 1000) == []
        assert sum(len(value) for value in vars(framer).values() if isinstance(value, bytes)) < 4000
    assert framer.dropped > 0
    assert framer.feed(FRAMES[0]) == FRAMES[:1]


def test_a_false_length_does_not_hold_up_good_messages() -> None:
    framer = framer_for("ubx")
    assert framer.feed(b"\xb5\x62\x01\x07\xe0\x03" + nav_pvt(1)) == []
    assert framer.flush() == [nav_pvt(1)]


def test_messages() -> None:
    assert packets_of_message("nmea", EPOCHS[0]) == [EPOCHS[0]]
    assert packets_of_message("json", b'{\n "a": 1\n}') == [b'{\n "a": 1\n}']
    assert packets_of_message("ax25", FRAMES[0] + FRAMES[1]) == FRAMES[:2]
    assert packets_of_message("aprs-text", b"N0CALL>APRS:!a\nN0CALL>APRS:!b") == [b"N0CALL>APRS:!a", b"N0CALL>APRS:!b"]
    assert packets_of_message("json", b"  ") == []


@pytest.mark.parametrize("kind", STREAMS)
@given(pieces=st.lists(st.binary(max_size=60) | st.sampled_from(STREAM_PIECES), max_size=60))
def test_noise_breaks_no_framer_and_packets_stay_small(kind: Any, pieces: list[bytes]) -> None:
    framer = framer_for(kind)
    packets = [packet for piece in pieces for packet in framer.feed(piece)] + framer.flush()
    assert all(0 < len(packet) <= 64 * 162 for packet in packets)
    assert sum(map(len, packets)) <= sum(map(len, pieces)) + 4 * len(pieces)
