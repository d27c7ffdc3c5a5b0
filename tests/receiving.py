"""What the tests of receivers share: packets kept in memory, waiting, a server on a free loopback port."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from typing import Any

from pappus.sources.receivers import Receiver
from pappus.sources.receivers._nmea_sentence import checksum
from pappus.tracking import Heard

Start = Callable[..., Receiver]
PATIENCE_S = 30.0
INSTALL = "apt-get install --no-install-recommends {}"


def epoch(second: int) -> bytes:
    """GGA and RMC of one second."""
    gga = f"GNGGA,1015{second:02d}.00,4530.0000,N,00715.5000,E,1,11,0.8,900.0,M,48.2,M,,"
    rmc = f"GNRMC,1015{second:02d}.00,A,4530.0000,N,00715.5000,E,18.5,092.3,140626,,,A"
    return b"".join(f"${body}*{checksum(body.encode()):02X}\r\n".encode() for body in (gga, rmc))


def wait_for(done: Callable[[], Any], what: str, patience_s: float = PATIENCE_S) -> None:
    """Return when ``done()`` is true; fail with what was awaited."""
    end_s = time.monotonic() + patience_s
    while not done():
        assert time.monotonic() < end_s, f"no {what} after {patience_s:g} s"
        time.sleep(0.01)


def free_port(kind: socket.SocketKind = socket.SOCK_STREAM, below: int = 65_536) -> int:
    """A loopback port that nobody uses just now."""
    for _ in range(1000):
        with socket.socket(socket.AF_INET, kind) as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        if port < below:
            return port
    raise OSError(f"no free port below {below}")


class Kept:
    """A store in memory that can be slow or broken."""

    def __init__(self) -> None:
        self.heard: list[Heard] = []
        self.broken = False
        self.hold = threading.Event()
        self.hold.set()

    def take(self, heard: Heard) -> None:
        self.hold.wait(PATIENCE_S)
        if self.broken:
            raise OSError("disk full")
        self.heard.append(heard)

    @property
    def raws(self) -> list[bytes]:
        return [heard.raw for heard in self.heard]


def end(process: subprocess.Popen[bytes]) -> None:
    """End a process with the group that it leads."""
    for sign in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, sign)
        try:
            process.wait(3.0)
        except subprocess.TimeoutExpired:
            continue
        break
    if process.stdin is not None:
        with contextlib.suppress(OSError):
            process.stdin.close()


class LineServer:
    """A TCP server that sends what it is told to whoever is connected; it can go away and come back on its port."""

    def __init__(self) -> None:
        self.port = free_port()
        self.clients: list[socket.socket] = []
        self.said: list[bytes] = []
        self._listening: socket.socket | None = None

    def open(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", self.port), reuse_port=False)
        threading.Thread(target=self._accept, args=(self._listening,), daemon=True).start()

    def _accept(self, listening: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                client, _ = listening.accept()
                self.clients.append(client)

    def send(self, data: bytes) -> None:
        for client in self.clients:
            client.sendall(data)

    def close(self) -> None:
        if self._listening is not None:
            with contextlib.suppress(OSError):
                self._listening.shutdown(socket.SHUT_RDWR)
            self._listening.close()
            self._listening = None
        for client in self.clients:
            # reset at once, so that the port is free again
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
            client.close()
        self.clients.clear()
