"""Which packets an estimate rests on, so that one is told from what a replay would give now."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Self

from pappus.store._rows import packet_row
from pappus.tracking import Heard


@dataclass(frozen=True)
class Basis:
    """A chain of digests over packets in the order in which they were fed.

    Two are equal when the same packets were fed in the same order; an estimate is what a replay gives when its basis
    is that of the first ``packets`` packets in canonical order.
    """

    packets: int
    digest: str
    """64 hexadecimal digits."""

    @classmethod
    def none(cls) -> Self:
        """Before the first packet."""
        return cls(0, "00" * 32)

    def plus(self, heard: Heard) -> Basis:
        """After one more packet."""
        return Basis(self.packets + 1, chained(bytes.fromhex(self.digest), packet_row(heard)[8]).hex())


def chained(before: bytes, seal: bytes) -> bytes:
    """The next digest of a chain, from the one before and the seal of a packet."""
    return hashlib.sha256(before + seal).digest()
