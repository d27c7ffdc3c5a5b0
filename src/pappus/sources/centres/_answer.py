"""What the answer of a server says and brings: status, length, part, packing, each with a bound.

Sources: RFC 9110 (semantics: ranges, conditional requests, Retry-After), from memory.
"""

from __future__ import annotations

import re
import time
import zlib
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from http.client import HTTPResponse
from typing import NamedTuple
from urllib.parse import urlsplit

from pappus.sources.centres._rules import Again, Changed, NotPublished, not_fetched

CHUNK_BYTES = 65_536
_CONTENT_RANGE = re.compile(r"bytes (\d+)-(\d+)/(\d+)")


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


def read_body(response: HTTPResponse, largest: int) -> bytes:
    """The whole body, refused when it is longer than ``largest``."""
    octets = b"".join(chunks(response, largest + 1))
    if len(octets) > largest:
        raise Again(f"more than {largest} octets came")
    if response.length:  # what the header promised and the connection did not bring
        raise Again("the connection ended early")
    return octets


def chunks(response: HTTPResponse, most: int) -> list[bytes]:
    chunks, got = [], 0
    while got < most:
        chunk = response.read1(min(CHUNK_BYTES, most - got))
        if not chunk:
            break
        chunks.append(chunk)
        got += len(chunk)
    return chunks


def read_exactly(response: HTTPResponse, length: int) -> bytes:
    octets = read_body(response, length)
    if len(octets) != length:
        raise Again(f"{len(octets)} octets came where {length} were asked for")
    return octets


def require_status(response: HTTPResponse, url: str, wanted: int) -> None:
    status = response.status
    if status == wanted:
        return
    if status in (404, 410):
        raise NotPublished(f"{url.rpartition('/')[2]} is missing")
    if status in (408, 425, 429, 500, 502, 503, 504):
        reason = {429: "the server has had too many requests", 503: "the server is busy"}.get(
            status, "the server failed"
        )
        raise Again(f"{reason} (status {status})", _retry_after_s(response.getheader("Retry-After")))
    reason = f"the server answers with status {status}"
    raise not_fetched(short(url), reason, "Use another address of this centre.")


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


def stamp_of_part(response: HTTPResponse, url: str, start: int, length: int) -> Stamp:
    """The stamp, when the answer is the part of a file that was asked for, or the whole file."""
    if response.status == 416:
        raise Changed("the file is shorter than its index says")
    require_status(response, url, 200 if response.status == 200 else 206)
    if response.getheader("Content-Encoding", "identity") not in ("identity", ""):
        raise Again("the server packed a part of a file, which cannot be cut")
    if response.status == 206:
        return _stamp(response, _require_range(response, start, length))
    if "html" in response.getheader("Content-Type", ""):
        raise Again("an HTML page came in place of the file")
    return _stamp(response, None)


def _require_range(response: HTTPResponse, start: int, length: int) -> int:
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


def _stamp(response: HTTPResponse, size: int | None) -> Stamp:
    if size is None:
        size = response.length or 0
    return Stamp(size, response.getheader("ETag", ""), response.getheader("Last-Modified", ""))


def unpacked(body: bytes, coding: str, largest: int, url: str) -> bytes:
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
        raise not_fetched(short(url), reason, "Use another address of this centre.")
    if not unpacker.eof:
        raise Again("the packing of the answer is cut short")
    return octets


def short(url: str) -> str:
    """Host and path, without anything a person might have put before or after them."""
    parts = urlsplit(url)
    return f"{parts.hostname}{parts.path}"
