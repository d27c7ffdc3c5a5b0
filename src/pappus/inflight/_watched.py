"""What a watch publishes: the state of the flight, and how the watch itself does."""

from __future__ import annotations

from dataclasses import dataclass

from pappus.sources import ReceiverState
from pappus.store import Safety
from pappus.tracking import Estimate


@dataclass(frozen=True)
class CatchingUp:
    """After a start the packets of the store are fed again; until then only what is heard now is known."""

    done: int
    packets: int


@dataclass(frozen=True)
class Watched:
    """One look at a watch."""

    estimate: Estimate | None
    """None before the first packet. While ``catching_up`` it rests on the packets heard since the start only, or,
    before the first of them, on those fed again so far."""
    receivers: tuple[ReceiverState, ...]
    safety: Safety
    """Whether the disk has all that was heard."""
    catching_up: CatchingUp | None
    out_of_order: int
    """Packets that came to the estimate after their turn; ``Watch.again`` replays them in order."""
    faults: int
    last_fault: str
