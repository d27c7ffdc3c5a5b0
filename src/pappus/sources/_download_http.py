"""Requests over HTTP that end: every wait, length, size and redirection has a bound.

Sources: RFC 9110 (semantics: ranges, conditional requests, Retry-After, redirection) and RFC 9112 (HTTP/1.1), both
from memory. Nothing here knows what the octets mean.
"""

from __future__ import annotations

import http.client
import re
import socket
import ssl
import threading
import time
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import NamedTuple, TypeVar
from urllib.parse import urljoin, urlsplit

from pappus.sources._download_rules import Again, Changed, DownloadRules, NotPublished, Sleep, Step, not_fetched

_CHUNK = 65_536
_MOST_REDIRECTIONS = 3
_AGENT = "pappus/0.1 (weather forecasts for one flight area)"
_CONTENT_RANGE = re.compile(r"bytes (\d+)-(\d+)/(\d+)")
Result = TypeVar("Result")


class Stamp(NamedTuple):
    """What tells one state of a file from another; empty where the server does not say."""

    size_bytes: int
    etag: str
    last_modified: str

    def require_same(self, other: Stamp) -> None:
        """Changed when both say something and it differs."""
        for name, before, after in zip(self._fields, self, other, strict=True):
            if before and after and before != after:
                raise Changed(f"the file was replaced meanwhile: its {name.replace('_', ' ')} is another")


class Part(NamedTuple):
    """Some octets of a file."""

    octets: bytes
    stamp: Stamp
    moved_bytes: int


class Downloader:
    """Makes requests, each thread over its own connections."""

    def __init__(self, rules: DownloadRules) -> None:
        self.rules = rules
        self._local = threading.local()
        self._all: list[http.client.HTTPConnection] = []

    def text(self, url: str) -> bytes:
        """A small file as a whole, unpacked if the server packed it."""
        largest = self.rules.largest_text_bytes

        def take(response: http.client.HTTPResponse) -> bytes:
            _require_status(response, url, 200)
            body = _read(response, largest)
            return _unpacked(body, response.getheader("Content-Encoding", "identity"), largest, url)

        return self._ask(url, {"Accept-Encoding": "gzip, deflate"}, largest, take)

    def part(self, url: str, start: int, length: int, before: Stamp | None = None) -> Part:
        """``length`` octets from ``start``; Changed when the file is no longer that of ``before``."""
        headers = {"Range": f"bytes={start}-{start + length - 1}", "Accept-Encoding": "identity"}
        if before is not None and before.etag.startswith('"'):  # a weak one may not be used here (RFC 9110, 13.1.5)
            headers["If-Range"] = before.etag

        def take(response: http.client.HTTPResponse) -> Part:
            stamp = _stamp_of_part(response, url, start, length)
            if before is not None:
                before.require_same(stamp)
            if response.status == 200:
                return self._slice(response, url, stamp, start, length)
            return Part(_exactly(response, length), stamp, length)

        return self._ask(url, headers, length, take)

    def end(self, url: str, start: int, length: int) -> Part:
        """Like ``part``; no octets where the server sends the whole file instead, since only the stamp matters."""
        headers = {"Range": f"bytes={start}-{start + length - 1}", "Accept-Encoding": "identity"}

        def take(response: http.client.HTTPResponse) -> Part:
            stamp = _stamp_of_part(response, url, start, length)
            if response.status == 200:
                self.close()
                return Part(b"", stamp, 0)
            return Part(_exactly(response, length), stamp, length)

        return self._ask(url, headers, length, take)

    def close(self) -> None:
        """Close the connections of this thread."""
        for connection in self._connections().values():
            connection.close()

    def close_all(self) -> None:
        """Close the connections of all threads, when they are done."""
        for connection in self._all:
            connection.close()
        self._all.clear()

    def _slice(self, response: http.client.HTTPResponse, url: str, stamp: Stamp, start: int, length: int) -> Part:
        """The part of a whole file, since the server ignored that only a part was asked for."""
        if stamp.size_bytes and stamp.size_bytes < start + length:
            raise Again(f"{stamp.size_bytes} octets came in place of the file")
        if start + length > self.rules.largest_skip_bytes:
            megabytes = (start + length) / 1e6
            reason = f"the server sends whole files only, and {megabytes:.0f} MB would have to be read for one part"
            raise not_fetched(_short(url), reason, "Use another address of this centre.")
        skipped = 0
        while skipped < start:
            chunk = response.read1(min(_CHUNK, start - skipped))
            if not chunk:
                raise Again("the connection ended early")
            skipped += len(chunk)
        octets = b"".join(_chunks(response, length))
        self.close()  # the rest of the file is not wanted
        if len(octets) != length:
            raise Again("the connection ended early")
        return Part(octets, stamp, start + length)

    def _connections(self) -> dict[tuple[str, str], http.client.HTTPConnection]:
        if not hasattr(self._local, "connections"):
            self._local.connections = {}
        connections: dict[tuple[str, str], http.client.HTTPConnection] = self._local.connections
        return connections

    def _ask(
        self, url: str, headers: Mapping[str, str], budget: int, take: Callable[[http.client.HTTPResponse], Result]
    ) -> Result:
        first = url
        for _ in range(_MOST_REDIRECTIONS + 1):
            answer = self._exchange(url, headers, budget, take)
            if not isinstance(answer, _Elsewhere):
                return answer
            url = _followed(first, url, answer.location, self.rules.allowed_hosts)
        raise not_fetched(_short(first), "the server redirects again and again", "Use another address of this centre.")

    def _exchange(
        self, url: str, headers: Mapping[str, str], budget: int, take: Callable[[http.client.HTTPResponse], Result]
    ) -> Result | _Elsewhere:
        rules = self.rules
        parts = urlsplit(url)
        key = (parts.scheme, parts.netloc)
        connections = self._connections()
        if key not in connections:
            kind = http.client.HTTPSConnection if parts.scheme == "https" else http.client.HTTPConnection
            connections[key] = kind(parts.netloc, timeout=rules.stall_s)
            self._all.append(connections[key])
        connection = connections[key]
        longest_s = rules.grace_s + budget / rules.slowest_bytes_s
        done = False
        with _Watch(connection, longest_s) as watch:
            try:
                connection.request("GET", parts.path or "/", headers={"User-Agent": _AGENT, **headers})
                response = connection.getresponse()
                if response.status in (301, 302, 303, 307, 308):
                    result: Result | _Elsewhere = _Elsewhere(response.getheader("Location", ""))
                    _read(response, _CHUNK)
                else:
                    result = take(response)
                done = not response.will_close
                response.close()  # an answer read to its end still holds the connection
            except Again as error:
                if watch.fired:
                    raise Again(f"the answer was not complete after {longest_s:.3g} s") from None
                raise error from None
            except TimeoutError:
                raise Again(f"the server was silent for {rules.stall_s:g} s") from None
            except ssl.SSLCertVerificationError as error:
                fix = "Check the date of this computer and the address."
                raise not_fetched(_short(url), f"its certificate is not valid ({error.verify_message})", fix) from None
            except (OSError, http.client.HTTPException, ValueError) as error:
                if watch.fired:
                    raise Again(f"the answer was not complete after {longest_s:.3g} s") from None
                raise Again(_words(error)) from None
            finally:
                if not done:
                    connection.close()
        if watch.fired:
            raise Again(f"the answer was not complete after {longest_s:.3g} s")
        return result


class _Elsewhere(NamedTuple):
    location: str


class _Watch:
    """Ends a connection at a deadline: a server that sends one octet now and then never runs into a time-out."""

    def __init__(self, connection: http.client.HTTPConnection, longest_s: float) -> None:
        self.fired = False
        self._connection = connection
        self._timer = threading.Timer(longest_s, self._fire)
        self._timer.daemon = True

    def __enter__(self) -> _Watch:
        self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()

    def _fire(self) -> None:
        self.fired = True
        sock = self._connection.sock
        if sock is not None:
            with suppress(OSError):
                socket.socket.shutdown(sock, socket.SHUT_RDWR)  # that of TLS would pull the state from under a reader


def retried(work: Callable[[], Result], what: str, rules: DownloadRules, step: Step, sleep: Sleep) -> Result:
    """The result of ``work``, tried again after Again with pauses that double; NotFetched when no try is left."""
    pause_s = rules.first_pause_s
    for attempt in range(1, rules.attempts + 1):
        try:
            return work()
        except Again as error:
            reason = error.reason
            wait_s = min(pause_s, rules.longest_pause_s) if error.pause_s is None else error.pause_s
        if wait_s > rules.longest_pause_s:
            reason = f"{reason}; it asks for a pause of {wait_s:.0f} s, longer than {rules.longest_pause_s:g} s"
            raise not_fetched(what, reason, "Try again later.")
        if attempt < rules.attempts:
            step(f"{what}: {reason}; trying again in {wait_s:.3g} s")
            sleep(wait_s)
            pause_s *= 2.0
    raise not_fetched(what, f"{reason} ({rules.attempts} tries)", "Try again later, or use another address.")


def _read(response: http.client.HTTPResponse, largest: int) -> bytes:
    """The whole body, refused when it is longer than ``largest``."""
    octets = b"".join(_chunks(response, largest + 1))
    if len(octets) > largest:
        raise Again(f"more than {largest} octets came")
    if response.length:  # what the header promised and the connection did not bring
        raise Again("the connection ended early")
    return octets


def _chunks(response: http.client.HTTPResponse, most: int) -> list[bytes]:
    chunks, got = [], 0
    while got < most:
        chunk = response.read1(min(_CHUNK, most - got))
        if not chunk:
            break
        chunks.append(chunk)
        got += len(chunk)
    return chunks


def _require_status(response: http.client.HTTPResponse, url: str, wanted: int) -> None:
    status = response.status
    if status == wanted:
        return
    if status in (404, 410):
        raise NotPublished(_short(url))
    if status in (408, 425, 429, 500, 502, 503, 504):
        reason = {429: "the server has had too many requests", 503: "the server is busy"}.get(
            status, "the server failed"
        )
        raise Again(f"{reason} (status {status})", _retry_after_s(response.getheader("Retry-After")))
    reason = f"the server answers with status {status}"
    raise not_fetched(_short(url), reason, "Use another address of this centre.")


def _retry_after_s(header: str | None) -> float | None:
    """Seconds or a date (RFC 9110, 10.2.3); None when there is nothing that can be understood."""
    if header is None:
        return None
    if header.strip().isdigit():
        return float(header.strip()[:12])
    try:
        when = parsedate_to_datetime(header)
    except ValueError:
        return None
    when = when if when.tzinfo else when.replace(tzinfo=UTC)
    return max(0.0, (when - datetime.fromtimestamp(time.time(), UTC)).total_seconds())


def _require_range(response: http.client.HTTPResponse, start: int, length: int) -> int:
    """Size of the whole file, from a header that must promise exactly the part asked for."""
    found = _CONTENT_RANGE.fullmatch(response.getheader("Content-Range", "").strip())
    if found is None:
        raise Again("the answer does not say which part of the file it is")
    first, last, size = (int(number) for number in found.groups())
    if last >= size or first != start:
        raise Again("another part of the file came than was asked for")
    if last != start + length - 1:
        raise Changed("the file is shorter than its index says")
    return size


def _stamp_of_part(response: http.client.HTTPResponse, url: str, start: int, length: int) -> Stamp:
    """The stamp, when the answer is the part of a file that was asked for, or the whole file."""
    if response.status == 416:
        raise Changed("the file is shorter than its index says")
    _require_status(response, url, 200 if response.status == 200 else 206)
    if response.getheader("Content-Encoding", "identity") not in ("identity", ""):
        raise Again("the server packed a part of a file, which cannot be cut")
    if response.status == 206:
        return _stamp(response, _require_range(response, start, length))
    if "html" in response.getheader("Content-Type", ""):
        raise Again("an HTML page came in place of the file")
    return _stamp(response, None)


def _exactly(response: http.client.HTTPResponse, length: int) -> bytes:
    octets = _read(response, length)
    if len(octets) != length:
        raise Again(f"{len(octets)} octets came where {length} were asked for")
    return octets


def _stamp(response: http.client.HTTPResponse, size: int | None) -> Stamp:
    if size is None:
        size = response.length or 0
    return Stamp(size, response.getheader("ETag", ""), response.getheader("Last-Modified", ""))


def _unpacked(body: bytes, coding: str, largest: int, url: str) -> bytes:
    """Undo gzip or deflate with a bound, since few octets may unpack to any number."""
    coding = coding.strip().lower()
    if coding in ("identity", ""):
        return body
    if coding not in ("gzip", "x-gzip", "deflate"):
        raise Again(f"the server packed the answer in a way that was not asked for ({coding})")
    unpacker = zlib.decompressobj(47 if "gzip" in coding else zlib.MAX_WBITS)  # 47: gzip or zlib, by its first octets
    try:
        octets = unpacker.decompress(body, largest + 1)
    except zlib.error as error:
        raise Again(f"the packing of the answer is damaged ({error})") from None
    if len(octets) > largest:
        reason = f"the answer unpacks to more than {largest / 1e6:.3g} MB"
        raise not_fetched(_short(url), reason, "Use another address of this centre.")
    if not unpacker.eof:
        raise Again("the packing of the answer is cut short")
    return octets


def _followed(first: str, url: str, location: str, allowed: frozenset[str]) -> str:
    """Where a redirection leads; refused when that is another host, or no longer encrypted."""
    target = urljoin(url, location)
    before, after = urlsplit(first), urlsplit(target)
    fix = "Allow that host in the settings if it is meant, or use another address of this centre."
    if not location or after.scheme not in ("http", "https"):
        raise not_fetched(_short(first), "the server redirects to no address", fix, value=location[:80])
    if before.scheme == "https" and after.scheme != "https":
        raise not_fetched(_short(first), "the server redirects to an address that is not encrypted", fix, value=target)
    if after.netloc != before.netloc and after.netloc not in allowed and after.hostname not in allowed:
        reason = "the server redirects to another host, which is not allowed"
        raise not_fetched(_short(first), reason, fix, value=after.netloc)
    return target


def _words(error: Exception) -> str:
    if isinstance(error, http.client.IncompleteRead | http.client.RemoteDisconnected | ConnectionResetError):
        return "the connection ended early"
    if isinstance(error, BrokenPipeError):
        return "the connection ended early"
    if isinstance(error, ConnectionRefusedError):
        return "the server does not answer (connection refused)"
    if isinstance(error, socket.gaierror):
        return "the name of the server is not found (no network?)"
    return f"the connection failed ({type(error).__name__}: {error})"[:160]


def _short(url: str) -> str:
    """Host and path, without anything a person might have put before or after them."""
    parts = urlsplit(url)
    return f"{parts.hostname}{parts.path}"
