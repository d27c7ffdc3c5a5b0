"""Streams of bytes: serial ports and TCP servers."""

from __future__ import annotations

import contextlib
import socket
import time
from collections.abc import Callable

from pappus.sources.receivers._address import SerialAddress, TcpAddress
from pappus.sources.receivers._desk import Desk
from pappus.sources.receivers._framing import EPOCH_PAUSE_S, framer_for

CONNECT_S = 5.0
SILENCE_S = 180.0
"""A TCP connection that is silent so long is made anew: a server that lost its power closes nothing."""
_PIECE = 4096


class SerialSource:
    """A serial port."""

    again = True

    def __init__(self, address: SerialAddress) -> None:
        self._address = address

    def run(self, desk: Desk) -> None:
        """Raises OSError when the port is not there or is pulled out."""
        import serial  # few commands hear anything

        with serial.Serial(self._address.device, self._address.baud, timeout=EPOCH_PAUSE_S, exclusive=True) as port:
            desk.opened()
            _read(desk, lambda: port.read(min(port.in_waiting, _PIECE) or 1) or None, None)


class TcpSource:
    """A TCP server that sends packets."""

    again = True

    def __init__(self, address: TcpAddress, silence_s: float = SILENCE_S) -> None:
        self._address, self._silence_s = address, silence_s

    def run(self, desk: Desk) -> None:
        """Raises OSError when the server is not there, closes, or is silent for too long."""
        with socket.create_connection((self._address.host, self._address.port), CONNECT_S) as connection:
            if self._address.hello:
                connection.sendall(self._address.hello.encode("utf-8") + b"\r\n")
            connection.settimeout(EPOCH_PAUSE_S)
            desk.opened()

            def read() -> bytes | None:
                try:
                    data = connection.recv(_PIECE)
                except TimeoutError:
                    return None
                if not data:
                    raise ConnectionError("the other end closed the connection")
                return data

            _read(desk, read, self._silence_s)


def _read(desk: Desk, read: Callable[[], bytes | None], silence_s: float | None) -> None:
    """Frame what is read and hand it over; ``read`` gives None after a pause."""
    framer, counted, last_s = framer_for(desk.setting.kind), 0, time.monotonic()
    with contextlib.ExitStack() as ending:
        # what the pause would have completed is not lost with the connection
        ending.callback(lambda: [desk.packet(packet) for packet in framer.flush()])
        while not desk.stopping.is_set():
            data = read()
            for packet in framer.flush() if data is None else framer.feed(data):
                desk.packet(packet)
            if framer.dropped > counted:
                desk.drop(framer.dropped - counted)
                counted = framer.dropped
            if data is not None:
                last_s = time.monotonic()
            elif silence_s is not None and time.monotonic() - last_s > silence_s:
                raise ConnectionError(f"silent for {silence_s:g} s")
