"""Packets to the estimator in canonical order, with what the store needs to tell an old estimate from a sound one."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime

from pappus.sources import NotUnderstood, Sender, parse_packet
from pappus.store import Basis
from pappus.tracking import Estimate, Estimator, Heard, Reading

SAME_PACKET_S = 10.0
"""The same bytes of another receiver within this are not read again; the date that they are given is the same."""
_READ_KEPT = 64

Key = tuple[datetime, str, int, str]


class Fed:
    """An estimator, the parser before it, and the chain of what it was fed."""

    def __init__(self, make: Callable[[], Estimator], senders: Sequence[Sender]) -> None:
        self._estimator = make()
        self._senders = tuple(senders)
        self._last: Key | None = None
        self._read: OrderedDict[tuple[str, str], tuple[datetime, Reading]] = OrderedDict()
        self.basis = Basis.none()
        self.out_of_order = 0
        """Packets that were fed after one that comes before them in canonical order."""
        self.faults = 0
        self.last_fault = ""
        """What went wrong inside while a packet was read or judged; the packet itself is in the store."""

    def feed(self, heard: Heard) -> None:
        """Read and judge one packet. A fault of ours costs that packet, never the watch."""
        key = heard.canonical_key
        if self._last is not None and key < self._last:
            self.out_of_order += 1
        else:
            self._last = key
        self.basis = self.basis.plus(heard)
        with self.survived(f"packet {heard.counter} of {heard.receiver}"):
            self._estimator.take(heard, self._reading(heard))

    @contextmanager
    def survived(self, what: str) -> Iterator[None]:
        """Whatever goes wrong inside is counted and named; the flight goes on and the crew sees it."""
        try:
            yield
        except Exception as error:
            self.faults += 1
            self.last_fault = f"{what}: {error!r}"

    def _reading(self, heard: Heard) -> Reading:
        key = heard.kind, heard.digest
        before = self._read.get(key)
        if before is not None and abs((heard.heard_utc - before[0]).total_seconds()) <= SAME_PACKET_S:
            return before[1]
        parsed = parse_packet(heard.kind, heard.raw, heard.heard_utc, self._senders)
        reading = parsed.why if isinstance(parsed, NotUnderstood) else parsed
        self._read[key] = heard.heard_utc, reading
        if len(self._read) > _READ_KEPT:
            self._read.popitem(last=False)
        return reading

    def estimate(self) -> Estimate | None:
        """The state after what was fed; None before the first packet."""
        return self._estimator.estimate()
