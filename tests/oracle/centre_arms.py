"""What can go wrong with a centre, one after the other."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from oracle.centre_faults import (
    Arm,
    Rng,
    data_and_index,
    full_disk,
    header_bit,
    killed,
    later,
    run_of,
    times,
    value_bit,
)
from oracle.centre_server import NEVER, CentreServer, Fault

Act = Callable[[CentreServer, str, Rng], tuple[int, ...] | None]
BOTH_STATES = (1, 2)


def _on(which: str, kind: str, value: Callable[[Rng], Any] = lambda rng: None, *, always: bool = False) -> Act:
    """A fault of requests for ``data``, ``index`` or ``any``, that comes once, twice or always."""

    def act(server: CentreServer, centre: str, rng: Rng) -> None:
        data, index = data_and_index(centre, rng)
        path = {"data": data, "index": index, "any": "*"}[which]
        count, skip = NEVER if always else times(rng), 0 if always else int(rng.integers(3))
        server.faults.append(Fault(kind, path, count, skip, value(rng)))

    return act


def _on_index(change: Callable[[bytes, Rng], bytes]) -> Act:
    """An index that is not right, once, twice or always."""

    def act(server: CentreServer, centre: str, rng: Rng) -> None:
        _, index = data_and_index(centre, rng)
        server.faults.append(Fault("changed", index, times(rng), 0, lambda body: change(body, rng)))

    return act


def _cut_between_lines(text: bytes, rng: Rng) -> bytes:
    lines = text.splitlines(keepends=True)
    return b"".join(lines[: int(rng.integers(1, len(lines)))])


def _line_left_out(text: bytes, rng: Rng) -> bytes:
    lines = text.splitlines(keepends=True)
    del lines[int(rng.integers(len(lines)))]
    return b"".join(lines)


def _cut_in_a_line(text: bytes, rng: Rng) -> bytes:
    return text[: int(rng.integers(1, len(text) - 1))]


def _other_run(text: bytes, rng: Rng) -> bytes:
    return text.replace(b"d=2026030406", b"d=2026030400").replace(b'"time": "0600"', b'"time": "0000"')


def _digit(text: bytes, rng: Rng) -> bytes:
    """Another digit somewhere: in an offset, a length, a level, a step ..."""
    places = [place for place, octet in enumerate(text) if chr(octet).isdigit()]
    place = int(rng.choice(places))
    return text[:place] + str((int(chr(text[place])) + int(rng.integers(1, 10))) % 10).encode() + text[place + 1 :]


def _bit(text: bytes, rng: Rng) -> bytes:
    octets = bytearray(text)
    octets[int(rng.integers(len(octets)))] ^= 1 << int(rng.integers(8))
    return bytes(octets)


def _index_of_other_state(server: CentreServer, centre: str, rng: Rng) -> None:
    _, index = data_and_index(centre, rng)
    text = run_of(centre, 2).indexes[index[1:]]
    server.faults.append(Fault("changed", index, times(rng), 0, lambda body: text))


def _replaced(server: CentreServer, centre: str, rng: Rng, *, dated: bool) -> tuple[int, ...]:
    data, _ = data_and_index(centre, rng)

    def publish() -> None:
        server.publish(run_of(centre, 2), "2", dated=dated)

    if not dated:
        server.publish(run_of(centre), dated=False)
    server.faults.append(Fault("replaced", data, 1, int(rng.integers(4)), publish))
    return BOTH_STATES


def _replaced_again_and_again(server: CentreServer, centre: str, rng: Rng) -> tuple[int, ...]:
    data, _ = data_and_index(centre, rng)
    count = [0]

    def publish() -> None:
        count[0] += 1
        server.publish(run_of(centre, 1 + count[0] % 2), str(count[0]))

    server.faults.append(Fault("replaced", data, NEVER, 1, publish))
    return BOTH_STATES


def _redirected(server: CentreServer, centre: str, rng: Rng, *, allowed: bool) -> None:
    other = CentreServer([run_of(centre)])
    other.__enter__()
    server.guests.append(other)
    if allowed:
        server.allowed.add(other.url.removeprefix("http://"))
    data, index = data_and_index(centre, rng)
    server.faults.append(Fault("redirect", data if rng.integers(2) else index, NEVER, 0, other.url))


def _round_and_round(server: CentreServer, centre: str, rng: Rng) -> None:
    server.faults.append(Fault("redirect", data_and_index(centre, rng)[0], NEVER, 0, server.url))


def _messages_swapped(body: bytes, rng: Rng) -> bytes:
    """Two messages of a body in each other's place, which fits when they are of one length."""
    starts, at = [], body.find(b"GRIB")
    while at >= 0:
        starts.append((at, int.from_bytes(body[at + 8 : at + 16], "big")))
        at = body.find(b"GRIB", at + starts[-1][1])
    pairs = [(one, other) for one in starts for other in starts if one < other and one[1] == other[1]]
    if not pairs:
        return body[::-1]
    (first, length), (second, _) = pairs[int(rng.integers(len(pairs)))]
    one, other = body[first : first + length], body[second : second + length]
    return body[:first] + other + body[first + length : second] + one + body[second + length :]


def _nothing_wrong(server: CentreServer, centre: str, rng: Rng) -> None:
    """The control."""


ARMS = (
    Arm("nothing wrong", _nothing_wrong, {}),
    Arm("data not there (404)", _on("data", "missing"), {}),
    Arm("index not there (404)", _on("index", "missing"), {}),
    Arm("busy (503)", _on("any", "busy"), {}),
    Arm("busy, come back in 2 s", _on("any", "busy", lambda rng: 2), {}),
    Arm("busy, come back in an hour", _on("any", "busy", lambda rng: 3600), {}),
    Arm("too many requests, until a date", _on("any", "too many", lambda rng: later(5.0)), {}),
    Arm("failed (500)", _on("any", "failed"), {}),
    Arm("forbidden (403)", _on("any", "forbidden"), {}),
    Arm("silent", _on("any", "silent", lambda rng: 5.0), {}),
    Arm("stalled in the body", _on("any", "stalled", lambda rng: 5.0), {}),
    Arm("an octet now and then", _on("data", "drip", lambda rng: 0.05), {}),
    Arm("reset in the body", _on("any", "reset"), {}),
    Arm("ended in the body", _on("any", "cut"), {}),
    Arm("short body that claims to be whole", _on("data", "short"), {}),
    Arm("body too long", _on("data", "long"), {}),
    Arm("chunks without a length", _on("any", "chunked"), {}),
    Arm("HTML page with status 200", _on("any", "html"), {}),
    Arm("HTML page as the part", _on("data", "html part"), {}),
    Arm("another part than asked for", _on("data", "other part"), {}),
    Arm("octets shifted", _on("data", "shifted"), {}),
    Arm("Range ignored", _on("data", "whole", always=True), {}),
    Arm("Range ignored, file too large", _on("data", "whole", always=True), {"largest_skip_bytes": 2_000}),
    Arm("part packed with gzip", _on("data", "gzip"), {}),
    Arm("index packed with gzip", _on("index", "gzip"), {}),
    Arm("index packed with deflate", _on("index", "deflate"), {}),
    Arm("index packed and cut", _on("index", "bad gzip"), {}),
    Arm("index unpacks to 20 MB", _on("index", "bomb", lambda rng: 20), {}),
    Arm("index cut between lines", _on_index(_cut_between_lines), {}),
    Arm("index cut in a line", _on_index(_cut_in_a_line), {}),
    Arm("index without one line", _on_index(_line_left_out), {}),
    Arm("index of another run", _on_index(_other_run), {}),
    Arm("index of another state of the file", _index_of_other_state, {}),
    Arm("index with another digit", _on_index(_digit), {}),
    Arm("index with another bit", _on_index(_bit), {}),
    Arm("file replaced after its index", lambda *what: _replaced(*what, dated=True), {}),
    Arm("file replaced, no dates", lambda *what: _replaced(*what, dated=False), {}),
    Arm("file replaced again and again", _replaced_again_and_again, {}),
    Arm("redirected to another host", lambda *what: _redirected(*what, allowed=False), {}),
    Arm("redirected to an allowed host", lambda *what: _redirected(*what, allowed=True), {}),
    Arm("redirected in a circle", _round_and_round, {}),
    Arm("messages swapped", _on("data", "changed", lambda rng: lambda body: _messages_swapped(body, rng)), {}),
    Arm("one bit of the headers", _on("data", "flip", header_bit), {}),
    Arm("one bit of the values, read twice", _on("data", "flip", value_bit), {"reread_share": 1.0}),
    Arm("disk full", _nothing_wrong, {}, full_disk),
    Arm("killed in the middle", _nothing_wrong, {}, during=killed),
)
UNSEEN = Arm("one bit of the values, read once", _on("data", "flip", value_bit), {})
"""The one that no check can see in every case: GRIB has no checksum."""
