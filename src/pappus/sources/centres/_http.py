"""Requests over HTTP that end: every wait, length, size and redirection has a bound.

Sources: RFC 9110 (semantics: ranges, conditional requests, Retry-After, redirection) and RFC 9112 (HTTP/1.1), both
from memory. Nothing here knows what the octets mean.
"""

from __future__ import annotations

import http.client
import socket
import ssl
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import NamedTuple, TypeVar
from urllib.parse import SplitResult, urljoin, urlsplit, urlunsplit

from pappus.sources.centres._answer import (
    CHUNK_BYTES,
    Part,
    Stamp,
    chunks,
    read_body,
    read_exactly,
    require_status,
    short,
    stamp_of_part,
    unpacked,
)
from pappus.sources.centres._rules import Again, DownloadRules, Sleep, Step, not_fetched

_MOST_REDIRECTIONS = 3
_THIS_COMPUTER = ("127.0.0.1", "localhost", "::1")
_AGENT = "pappus/0.1 (weather forecasts for one flight area)"
Result = TypeVar("Result")


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
            require_status(response, url, 200)
            body = read_body(response, largest)
            return unpacked(body, response.getheader("Content-Encoding", "identity"), largest, url)

        return self._ask(url, {"Accept-Encoding": "gzip, deflate"}, largest, take)

    def part(self, url: str, start: int, length: int, before: Stamp | None = None) -> Part:
        """``length`` octets from ``start``; Changed when the file is no longer that of ``before``."""
        headers = {"Range": f"bytes={start}-{start + length - 1}", "Accept-Encoding": "identity"}
        if before is not None and before.etag.startswith('"'):  # a weak one may not be used here (RFC 9110, 13.1.5)
            headers["If-Range"] = before.etag

        def take(response: http.client.HTTPResponse) -> Part:
            stamp = stamp_of_part(response, url, start, length)
            if before is not None:
                before.require_same(stamp)
            if response.status == 200:
                return self._slice(response, url, stamp, start, length)
            return Part(read_exactly(response, length), stamp, length)

        return self._ask(url, headers, length, take)

    def end(self, url: str, start: int, length: int) -> Part:
        """Like ``part``; no octets where the server sends the whole file instead, since only the stamp matters."""
        headers = {"Range": f"bytes={start}-{start + length - 1}", "Accept-Encoding": "identity"}

        def take(response: http.client.HTTPResponse) -> Part:
            stamp = stamp_of_part(response, url, start, length)
            if response.status == 200:
                self.close()
                return Part(b"", stamp, 0)
            return Part(read_exactly(response, length), stamp, length)

        return self._ask(url, headers, length, take)

    def close(self) -> None:
        """Close the connections of this thread."""
        for connection, _ in self._connections().values():
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
            raise not_fetched(short(url), reason, "Use another address of this centre.")
        skipped = 0
        while skipped < start:
            chunk = response.read1(min(CHUNK_BYTES, start - skipped))
            if not chunk:
                raise Again("the connection ended early")
            skipped += len(chunk)
        octets = b"".join(chunks(response, length))
        self.close()  # the rest of the file is not wanted
        if len(octets) != length:
            raise Again("the connection ended early")
        return Part(octets, stamp, start + length)

    def _connections(self) -> dict[tuple[str, str], tuple[http.client.HTTPConnection, bool]]:
        if not hasattr(self._local, "connections"):
            self._local.connections = {}
        connections: dict[tuple[str, str], tuple[http.client.HTTPConnection, bool]] = self._local.connections
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
        raise not_fetched(short(first), "the server redirects again and again", "Use another address of this centre.")

    def _exchange(
        self, url: str, headers: Mapping[str, str], budget: int, take: Callable[[http.client.HTTPResponse], Result]
    ) -> Result | _Elsewhere:
        rules = self.rules
        parts = urlsplit(url)
        key = (parts.scheme, parts.netloc)
        connections = self._connections()
        if key not in connections:
            connections[key] = _connection(parts, rules.stall_s)
            self._all.append(connections[key][0])
        connection, asks_proxy = connections[key]
        target = url if asks_proxy else urlunsplit(("", "", parts.path or "/", parts.query, ""))
        longest_s = rules.grace_s + budget / rules.slowest_bytes_s
        done = False
        with _Watch(connection, longest_s) as watch:
            try:
                connection.request("GET", target, headers={"User-Agent": _AGENT, **headers})
                response = connection.getresponse()
                if response.status in (301, 302, 303, 307, 308):
                    result: Result | _Elsewhere = _Elsewhere(response.getheader("Location", ""))
                    read_body(response, CHUNK_BYTES)
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
                raise not_fetched(short(url), f"its certificate is not valid ({error.verify_message})", fix) from None
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


def _connection(parts: SplitResult, stall_s: float) -> tuple[http.client.HTTPConnection, bool]:
    """A connection to a host, through the proxy of this computer where it has one; and whether that is asked itself.

    An encrypted connection goes through a proxy unopened.
    """
    from urllib.request import getproxies, proxy_bypass  # takes a while to import

    host = parts.hostname or ""
    proxy = "" if host in _THIS_COMPUTER or proxy_bypass(host) else getproxies().get(parts.scheme, "")
    way = urlsplit(proxy if "//" in proxy else f"//{proxy}").netloc.rpartition("@")[2]
    if parts.scheme == "https":
        connection = http.client.HTTPSConnection(way or parts.netloc, timeout=stall_s)
        if way:
            connection.set_tunnel(host, parts.port or 443)
        return connection, False
    return http.client.HTTPConnection(way or parts.netloc, timeout=stall_s), bool(way)


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


def _followed(first: str, url: str, location: str, allowed: frozenset[str]) -> str:
    """Where a redirection leads; refused when that is another host, or no longer encrypted."""
    target = urljoin(url, location)
    before, after = urlsplit(first), urlsplit(target)
    fix = "Allow that host in the settings if it is meant, or use another address of this centre."
    if not location or after.scheme not in ("http", "https"):
        raise not_fetched(short(first), "the server redirects to no address", fix, value=location[:80])
    if before.scheme == "https" and after.scheme != "https":
        raise not_fetched(short(first), "the server redirects to an address that is not encrypted", fix, value=target)
    if after.netloc != before.netloc and after.netloc not in allowed and after.hostname not in allowed:
        reason = "the server redirects to another host, which is not allowed"
        raise not_fetched(short(first), reason, fix, value=after.netloc)
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
