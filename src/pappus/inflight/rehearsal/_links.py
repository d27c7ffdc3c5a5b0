"""Senders of a rehearsal: the other end of real receivers, on this computer only."""

from __future__ import annotations

import contextlib
import http.client
import socket
import threading
import time
from types import TracebackType
from typing import Self

from pappus.inflight.rehearsal._packets import Ear, Sent
from pappus.sources import ReceiverSetting

_HOST = "127.0.0.1"
_PATH = "/packets"
_CONNECT_S = 10.0


class Links:
    """One sender for each ear. Use it in a ``with``."""

    def __init__(self, ears: tuple[Ear, ...]) -> None:
        self._ears = {ear.station.name: ear for ear in ears}
        self._ports: dict[str, int] = {}
        self._servers: dict[str, _Server] = {}
        self._posts: dict[str, http.client.HTTPConnection] = {}
        self._datagrams = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.refused = 0
        """Packets that a receiver answered with an error: damaged ones."""
        for name, ear in self._ears.items():
            if ear.by == "tcp":
                server = self._servers[name] = _Server()
                self._ports[name] = server.port
            else:
                self._ports[name] = _free_port(socket.SOCK_DGRAM if ear.by == "udp" else socket.SOCK_STREAM)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for server in self._servers.values():
            server.close()
        for post in self._posts.values():
            post.close()
        self._datagrams.close()

    @property
    def settings(self) -> tuple[ReceiverSetting, ...]:
        """The receivers that listen to them."""
        return tuple(
            ReceiverSetting(name, "ground station", ear.kind, self._address(name, ear.by))
            for name, ear in self._ears.items()
        )

    def _address(self, name: str, by: str) -> str:
        return f"{by}://{_HOST}:{self._ports[name]}{_PATH if by == 'http' else ''}"

    def send(self, one: Sent) -> None:
        """Hand one packet over."""
        by = self._ears[one.receiver].by
        if by == "udp":
            self._datagrams.sendto(one.raw, (_HOST, self._ports[one.receiver]))
        elif by == "tcp":
            self._servers[one.receiver].send(one.raw + b"\r\n")
        else:
            self._post(one)

    def _post(self, one: Sent) -> None:
        port = self._ports[one.receiver]
        for _ in range(2):
            post = self._posts.pop(one.receiver, None) or http.client.HTTPConnection(_HOST, port, timeout=_CONNECT_S)
            try:
                post.request("POST", _PATH, one.raw, {"Content-Type": "application/json"})
                answer = post.getresponse()
                answer.read()
            except (OSError, http.client.HTTPException):
                # the receiver closes what has been idle; once more on a fresh connection
                post.close()
                continue
            self.refused += answer.status >= 400
            if answer.will_close:
                post.close()
            else:
                self._posts[one.receiver] = post
            return
        self.refused += 1


class _Server:
    """Sends lines to whoever is connected."""

    def __init__(self) -> None:
        self._listener = socket.create_server((_HOST, 0))
        self._listener.settimeout(0.2)
        self.port = int(self._listener.getsockname()[1])
        self._clients: list[socket.socket] = []
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._accept, name="rehearsed lines", daemon=True)
        self._thread.start()

    def _accept(self) -> None:
        while not self._ended.is_set():
            with contextlib.suppress(TimeoutError):
                client, _ = self._listener.accept()
                self._clients.append(client)

    def send(self, line: bytes) -> None:
        end_s = time.monotonic() + _CONNECT_S
        while not self._clients and time.monotonic() < end_s:
            time.sleep(0.01)
        for client in list(self._clients):
            try:
                client.sendall(line)
            except OSError:
                self._clients.remove(client)

    def close(self) -> None:
        self._ended.set()
        self._thread.join(2.0)
        for client in self._clients:
            client.close()
        self._listener.close()


def _free_port(kind: socket.SocketKind) -> int:
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind((_HOST, 0))
        return int(probe.getsockname()[1])
