"""Packets to the estimator in canonical order, with what the store needs to tell an old estimate from a sound one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from pappus.sources.receivers import NotUnderstood, Sender, parse
from pappus.store import Basis
from pappus.tracking import Estimate, Estimator, Heard

Key = tuple[datetime, str, int, str]


class Fed:
    """An estimator, the parser before it, and the chain of what it was fed."""

    def __init__(self, make: Callable[[], Estimator], senders: Sequence[Sender]) -> None:
        self._estimator = make()
        self._senders = tuple(senders)
        self._last: Key | None = None
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
        try:
            reading = parse(heard.kind, heard.raw, heard.heard_utc, self._senders)
            self._estimator.take(heard, reading.why if isinstance(reading, NotUnderstood) else reading)
        except Exception as error:  # whatever it is, the flight goes on and the crew sees it
            self.faults += 1
            self.last_fault = f"{heard.receiver} {heard.counter}: {error!r}"

    def estimate(self) -> Estimate | None:
        """The state after what was fed; None before the first packet."""
        return self._estimator.estimate()
