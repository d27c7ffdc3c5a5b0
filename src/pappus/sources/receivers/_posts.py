"""Packets by HTTP POST: a small server, bound to this computer unless a password is set."""

from __future__ import annotations

import hmac
import json
import socket
import threading
import time
from datetime import UTC, datetime
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, HTTPServer
from socketserver import ThreadingMixIn
from typing import Any

from pappus.sources.receivers._address import HttpAddress
from pappus.sources.receivers._desk import Desk, NotKept
from pappus.sources.receivers._json_text import LARGEST_PACKET
from pappus.sources.receivers._parse import parse
from pappus.sources.receivers._refused import NotUnderstood
from pappus.sources.receivers._senders import Sender

_POLL_S = 0.25
_PIECE_S = 5.0
_LONGEST_REQUEST_S = 10.0
_LAST_WAIT_S = 2.0
_MOST_AT_ONCE = 16
_LARGEST_PASSED_OVER = 16 * LARGEST_PACKET
_OWN_NAMES = ("127.0.0.1", "localhost", "::1")


class HttpSource:
    """Takes packets by POST, JSON only. Answers 200 after the packet is kept, 4xx with the reason for a bad one."""

    again = True

    def __init__(self, address: HttpAddress, password: str | None, senders: tuple[Sender, ...]) -> None:
        self._address, self._password, self._senders = address, password, senders

    def run(self, desk: Desk) -> None:
        """Raises OSError when the port cannot be had."""
        with _Server(self._address, self._password, self._senders, desk) as server:
            desk.opened()
            while not desk.stopping.is_set():
                server.handle_request()
                server.end_slow_ones()


class _Server(ThreadingMixIn, HTTPServer):
    """One thread a request, so many at once and no more; each has its longest time."""

    daemon_threads = True
    block_on_close = False
    timeout = _POLL_S

    def __init__(self, address: HttpAddress, password: str | None, senders: tuple[Sender, ...], desk: Desk) -> None:
        self.address_family = socket.AF_INET6 if ":" in address.host else socket.AF_INET
        self.address, self.password, self.senders, self.desk = address, password, senders, desk
        self._open: dict[Any, float] = {}
        self._guard = threading.Lock()
        super().__init__((address.host, address.port), _Handler)

    def server_bind(self) -> None:
        # the parent looks the name of the computer up, which waits for a network that may not be there
        socket_name = (self.address.host, self.address.port)
        self.allow_reuse_address = True
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.socket.bind(socket_name)
        self.server_address = self.socket.getsockname()
        self.server_name, self.server_port = self.address.host, self.server_address[1]

    def process_request(self, request: Any, client_address: Any) -> None:
        with self._guard:
            room = len(self._open) < _MOST_AT_ONCE
            if room:
                self._open[request] = time.monotonic()
        if room:
            super().process_request(request, client_address)
        else:
            self.desk.drop(1, f"more than {_MOST_AT_ONCE} requests at once")
            self.shutdown_request(request)

    def shutdown_request(self, request: Any) -> None:
        with self._guard:
            self._open.pop(request, None)
        super().shutdown_request(request)

    def end_slow_ones(self) -> None:
        """Close requests that take longer than anybody needs; their threads end with them."""
        now_s = time.monotonic()
        with self._guard:
            slow = [request for request, since_s in self._open.items() if now_s - since_s > _LONGEST_REQUEST_S]
        for request in slow:
            try:
                request.shutdown(socket.SHUT_RDWR)
            except OSError:  # it has just ended by itself
                continue

    def server_close(self) -> None:
        super().server_close()
        with self._guard:
            left = list(self._open)
        for request in left:
            try:
                # nothing more is read; a packet that is being stored still gets its answer
                request.shutdown(socket.SHUT_RD)
            except OSError:
                continue
        end_s = time.monotonic() + _LAST_WAIT_S
        while self._open and time.monotonic() < end_s:
            time.sleep(0.01)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A sender that went away in the middle of its request is no news."""


class _Handler(BaseHTTPRequestHandler):
    server: _Server
    timeout = _PIECE_S
    server_version, sys_version = "pappus", ""

    def do_POST(self) -> None:
        refusal = self._refusal()
        if refusal is not None:
            self._pass_over()
            self._refuse(*refusal)
            return
        length = int(self.headers["Content-Length"])
        body = self.rfile.read(length)
        if len(body) < length:
            self._refuse(HTTPStatus.BAD_REQUEST, "the body is shorter than its length says")
            return
        found = parse("json", body, datetime.now(UTC), self.server.senders)
        if isinstance(found, NotUnderstood):
            self._refuse(HTTPStatus.UNPROCESSABLE_ENTITY, found.why)
            return
        try:
            counter = self.server.desk.packet(body, patient=False)
        except NotKept as error:
            self._answer(HTTPStatus.SERVICE_UNAVAILABLE, {"error": f"not kept, send it again: {error}"})
            return
        self._answer(HTTPStatus.OK, {"kept": counter})

    def do_GET(self) -> None:
        self._refuse(HTTPStatus.METHOD_NOT_ALLOWED, "send packets by POST")

    do_PUT = do_DELETE = do_PATCH = do_HEAD = do_OPTIONS = do_GET

    def _refusal(self) -> tuple[HTTPStatus, str] | None:
        """Why the request is not read at all."""
        address, password = self.server.address, self.server.password
        if self.path.partition("?")[0] != address.path:
            return HTTPStatus.NOT_FOUND, f"packets go to {address.path}"
        # a page in a browser can send forms anywhere, and make its own name mean this computer; it can do neither
        # with this type and with the name that this computer has for itself
        host = self.headers.get("Host", "").rpartition(":")[0].strip("[]") or self.headers.get("Host", "")
        if address.host in _OWN_NAMES and host not in _OWN_NAMES:
            return HTTPStatus.FORBIDDEN, "the request was meant for another host"
        if self.headers.get_content_type() != "application/json":
            return HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Content-Type must be application/json"
        shown = self.headers.get("Authorization", "")
        if password and not hmac.compare_digest(shown.encode("utf-8", "replace"), f"Bearer {password}".encode()):
            return HTTPStatus.UNAUTHORIZED, "show the password: Authorization: Bearer ..."
        length = self.headers.get("Content-Length", "")
        if not (length.isascii() and length.isdigit()):
            return HTTPStatus.LENGTH_REQUIRED, "Content-Length is missing"
        if len(length) > 9 or int(length) > LARGEST_PACKET:
            return HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"more than {LARGEST_PACKET} bytes"
        return None

    def _pass_over(self) -> None:
        """Read a body that nobody wants, up to a limit: an answer to a sender that still sends may not arrive."""
        length = self.headers.get("Content-Length", "")
        left = min(int(length[:9]), _LARGEST_PASSED_OVER) if length.isascii() and length.isdigit() else 0
        while left > 0:
            piece = self.rfile.read(min(left, LARGEST_PACKET))
            if not piece:
                return
            left -= len(piece)

    def _refuse(self, status: HTTPStatus, why: str) -> None:
        self.server.desk.drop(1, f"a request was refused: {why}")
        self._answer(status, {"error": why})

    def _answer(self, status: HTTPStatus, content: dict[str, object]) -> None:
        body = json.dumps(content).encode("utf-8")
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Nothing: the state of the receiver tells what went wrong."""
