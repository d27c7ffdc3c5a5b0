"""A weather centre on the loopback interface that serves runs and misbehaves when told to."""

from __future__ import annotations

import gzip
import re
import socket
import ssl
import struct
import sys
import threading
import time
import zlib
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from email.utils import formatdate
from fnmatch import fnmatch
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any

from oracle.centre_runs import Run

HTML = b"<!DOCTYPE html><html><head><title>Error</title></head><body>Service temporarily unavailable</body></html>\n"
NEVER = 10**9
_MOST_MADE = 8


@dataclass
class Served:
    """One file as the server has it now."""

    size: int
    octets: Callable[[], bytes]
    etag: str
    modified: str


@dataclass
class Fault:
    """What goes wrong, for requests whose path fits the pattern, ``times`` times after ``skip`` good ones."""

    kind: str
    path: str = "*"
    times: int = NEVER
    skip: int = 0
    value: Any = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    def strikes(self, path: str) -> bool:
        """Whether it does so for this request."""
        if not fnmatch(path, self.path):
            return False
        with self.lock:
            if self.skip > 0:
                self.skip -= 1
                return False
            self.times -= 1
            return self.times >= 0


class CentreServer:
    """Serves files from loopback; ``with`` starts and ends it."""

    def __init__(self, runs: Iterable[Run] = (), secret: ssl.SSLContext | None = None) -> None:
        self._secret = secret
        self.files: dict[str, Served] = {}
        self.faults: list[Fault] = []
        self.log: list[tuple[str, str]] = []
        """Path and ``Range`` of each request."""
        self.sent_bytes = 0
        self.pause_s = 0.0
        """Before each answer."""
        self.most_at_once = 0
        """Answers that were being given at one time."""
        self._at_once = 0
        self._lock = threading.Lock()
        self._made: dict[tuple[str, str], bytes] = {}
        self.over = threading.Event()
        self.allowed: set[str] = set()
        """Hosts to which it may redirect."""
        self.guests: list[CentreServer] = []
        """Other servers, which end with this one."""
        for run in runs:
            self.publish(run)

    def publish(self, run: Run, state: str = "1", *, dated: bool = True) -> None:
        """Add or replace every file of a run; without dates nothing tells one state from another."""
        for path, remote in run.files.items():
            self.put(path, remote.size, remote.octets, state if dated else "")
        for path, text in run.indexes.items():
            self.put(path, len(text), lambda text=text: text, state if dated else "")

    def put(self, path: str, size: int, octets: Callable[[], bytes], state: str = "1") -> None:
        """Add or replace one file."""
        etag = f'"{zlib.crc32(path.encode()):08x}-{state}"' if state else ""
        modified = formatdate(1.7e9 + zlib.crc32(state.encode()) % 10_000, usegmt=True) if state else ""
        with self._lock:
            self.files["/" + path] = Served(size, octets, etag, modified)
            self._made = {key: made for key, made in self._made.items() if key[0] != "/" + path}

    def content(self, path: str) -> tuple[Served, bytes] | None:
        """A file and its octets; those made last are kept."""
        with self._lock:
            found = self.files.get(path)
            if found is None:
                return None
            key = (path, found.etag)
            if key not in self._made:
                if len(self._made) >= _MOST_MADE:
                    del self._made[next(iter(self._made))]
                self._made[key] = found.octets()
            return found, self._made[key]

    @property
    def url(self) -> str:
        """Base address."""
        scheme = "https" if self._secret else "http"
        return f"{scheme}://127.0.0.1:{self._server.server_address[1]}"

    def __enter__(self) -> CentreServer:
        handler = type("Handler", (_Handler,), {"centre": self})
        self._server = _Server(("127.0.0.1", 0), handler)
        if self._secret is not None:
            self._server.socket = self._secret.wrap_socket(
                self._server.socket, server_side=True, do_handshake_on_connect=False
            )
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        for guest in self.guests:
            guest.__exit__(None, None, None)
        self.over.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    block_on_close = False

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A client that hangs up is no error of ours."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    centre: CentreServer

    def log_message(self, *_: Any) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        """Answer, rightly or not."""
        self.connection.settimeout(30.0)
        centre = self.centre
        with centre._lock:
            centre._at_once += 1
            centre.most_at_once = max(centre.most_at_once, centre._at_once)
        try:
            with suppress(OSError):
                self._answer()
        finally:
            with centre._lock:
                centre._at_once -= 1

    def _answer(self) -> None:
        centre = self.centre
        wanted = self.headers.get("Range", "")
        with centre._lock:
            centre.log.append((self.path, wanted))
        if centre.pause_s:
            time.sleep(centre.pause_s)
        fault = next((one for one in centre.faults if one.strikes(self.path)), None)
        kind = fault.kind if fault else ""
        if kind == "replaced":  # the centre writes a new state just before it answers
            fault.value()
            kind = ""
        found = centre.content(self.path)
        if kind in _STATUSES:
            self._plain(_STATUSES[kind], {"Retry-After": str(fault.value)} if fault.value is not None else {})
            return
        if kind == "redirect":
            self._plain(302, {"Location": fault.value + self.path})
            return
        if kind == "html":
            self._plain(200, {"Content-Type": "text/html"}, HTML)
            return
        if kind == "silent":
            self._wait(fault.value)
            return
        if found is None:
            self._plain(404, {})
            return
        served, octets = found
        match = re.fullmatch(r"bytes=(\d+)-(\d+)", wanted)
        headers = {"Content-Type": "application/octet-stream", "Accept-Ranges": "bytes"}
        if served.etag:
            headers |= {"ETag": served.etag, "Last-Modified": served.modified}
        condition = self.headers.get("If-Range")
        if match is None or kind == "whole" or (condition and condition != served.etag):
            self._body(200, headers, octets, kind, fault)
            return
        start, stop = int(match[1]), min(int(match[2]) + 1, len(octets))
        if start >= len(octets):
            self._plain(416, {"Content-Range": f"bytes */{len(octets)}"})
            return
        body = octets[start:stop]
        if kind == "shifted":  # the header is right, the octets are not
            body = octets[start + 7 : stop + 7].ljust(len(body), b"\0")
        if kind == "other part":
            start, stop = start + 16, stop + 16
            body = octets[start:stop]
        if kind == "html part":
            body = HTML.ljust(len(body), b" ")[: len(body)]
        headers["Content-Range"] = f"bytes {start}-{stop - 1}/{len(octets)}"
        self._body(206, headers, body, kind, fault)

    def _body(self, status: int, headers: dict[str, str], body: bytes, kind: str, fault: Fault | None) -> None:
        if kind == "flip":
            body = fault.value(body) if callable(fault.value) else _flipped(body, fault.value)
        if kind == "changed":
            body = fault.value(body)
        if kind == "gzip":
            body, headers["Content-Encoding"] = gzip.compress(body), "gzip"
        if kind == "deflate":
            body, headers["Content-Encoding"] = zlib.compress(body), "deflate"
        if kind == "bomb":
            packer = zlib.compressobj(9, wbits=31)
            body = b"".join(packer.compress(bytes(1_000_000)) for _ in range(fault.value)) + packer.flush()
            headers["Content-Encoding"] = "gzip"
        if kind == "bad gzip":
            packed = gzip.compress(body)
            body, headers["Content-Encoding"] = packed[: len(packed) // 2], "gzip"
        if kind == "short":  # as if that were all
            body = body[: len(body) // 2]
        if kind == "long":
            body += b"more"
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        if kind == "chunked":
            self.send_header("Transfer-Encoding", "chunked")
            self.end_headers()
            for at in range(0, len(body), 1000):
                piece = body[at : at + 1000]
                self._write(f"{len(piece):x}\r\n".encode() + piece + b"\r\n")
            self._write(b"0\r\n\r\n")
            return
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if kind in ("reset", "cut", "stalled"):
            self._write(body[: len(body) // 2])
            if kind == "stalled":
                self._wait(fault.value)
            if kind == "reset":  # a reset in place of an orderly end
                self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            self._hang_up()
            return
        if kind == "drip":
            for place in range(len(body)):
                self._write(body[place : place + 1])
                if self.centre.over.wait(fault.value):
                    return
            return
        self._write(body)

    def _plain(self, status: int, headers: dict[str, str], body: bytes = b"no\n") -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self._write(body)

    def _write(self, octets: bytes) -> None:
        self.wfile.write(octets)
        with self.centre._lock:
            self.centre.sent_bytes += len(octets)

    def _wait(self, seconds: float) -> None:
        self.centre.over.wait(seconds)
        self._hang_up()

    def _hang_up(self) -> None:
        self.close_connection = True
        with suppress(OSError):
            self.wfile.flush()
        if self.connection.getsockopt(socket.SOL_SOCKET, socket.SO_LINGER):
            self.connection.close()


_STATUSES = {"busy": 503, "too many": 429, "failed": 500, "forbidden": 403, "missing": 404}


def _flipped(body: bytes, bit: int) -> bytes:
    """One bit another way, counted from the start, or from the end where negative."""
    octets = bytearray(body)
    octets[(bit // 8) % len(octets)] ^= 1 << (bit % 8)
    return bytes(octets)
