"""What a receiver handed over: the packet as it came, before anybody has understood it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from pappus.errors import BadInput, Finding

PacketKind = Literal["nmea", "ax25", "aprs-text", "json", "ubx"]
"""How the bytes are to be read."""
Role = Literal["ground station", "balloon tracker", "vehicle"]
"""Whose position the packets of a receiver tell: ``"ground station"`` hears the balloon from afar, ``"balloon
tracker"`` is the balloon's own, handed over directly, ``"vehicle"`` tells where a car of the crew is."""


@dataclass(frozen=True)
class Heard:
    """One packet of one receiver, kept as it came.

    Its identity is (receiver, counter, digest), so that logs of several computers merge in any order, any number of
    times, with one result. Raises BadInput where ``heard_utc`` is not in UTC.
    """

    receiver: str
    """Name of the receiver; each computer gives its own receivers names that no other computer uses."""
    counter: int
    """The receiver's own count, one more with every packet, never reset while its log lasts."""
    heard_utc: datetime
    """When the packet arrived, by the clock of the receiving computer; UTC-aware."""
    kind: PacketKind
    raw: bytes
    digest: str
    """SHA-256 of ``raw``, 64 hexadecimal digits."""
    signal_db: float | None
    """Strength as the receiver tells it (dBm or dB over noise, its own scale); None when it tells nothing."""
    role: Role

    def __post_init__(self) -> None:
        if self.heard_utc.utcoffset() != timedelta(0):
            raise BadInput(
                Finding("heard_utc", str(self.heard_utc), "a packet needs the time in UTC", "Give an aware UTC time.")
            )

    @property
    def identity(self) -> tuple[str, int, str]:
        """What makes two packets the same one: (receiver, counter, digest)."""
        return self.receiver, self.counter, self.digest

    @property
    def canonical_key(self) -> tuple[datetime, str, int, str]:
        """Sorting by it gives the canonical order in which a flight is replayed: as heard, then by identity."""
        return self.heard_utc, self.receiver, self.counter, self.digest


def received(
    receiver: str,
    counter: int,
    heard_utc: datetime,
    kind: PacketKind,
    raw: bytes,
    *,
    signal_db: float | None = None,
    role: Role = "ground station",
) -> Heard:
    """A ``Heard`` with the digest worked out from ``raw``."""
    return Heard(receiver, counter, heard_utc, kind, raw, hashlib.sha256(raw).hexdigest(), signal_db, role)
