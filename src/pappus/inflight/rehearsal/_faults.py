"""What may go wrong in a rehearsal."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from pappus.errors import BadInput, Finding


class Fault(StrEnum):
    """Faults of balloon, canopy, tracker and box."""

    SLOW_CLIMB = "slow-climb"
    FLOATER = "floater"
    EARLY_BURST = "early-burst"
    FOULED_CANOPY = "fouled-canopy"
    FROZEN_HEIGHT = "frozen-height"
    SILENT_TRACKER = "silent-tracker"
    DEAD_TRACKER = "dead-tracker"
    """Silent on the way, and for good."""
    WRONG_CLOCK = "wrong-clock"
    WRONG_HEIGHT = "wrong-height"
    LOW_POWER = "low-power"
    COLD_BOX = "cold-box"


def faults_named(names: Sequence[str]) -> frozenset[Fault]:
    """Faults by their names. Raises BadInput for one that is not known."""
    known = {fault.value for fault in Fault}
    for name in names:
        if name not in known:
            raise BadInput(
                Finding("faults", name, "is no fault of a rehearsal", f"Any of: {', '.join(sorted(known))}.")
            )
    return frozenset(Fault(name) for name in names)
