"""What may go wrong in a rehearsal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from types import MappingProxyType

from pappus.errors import BadInput, Finding
from pappus.inflight._warnings_kinds import WarningKind


class Fault(StrEnum):
    """Faults of balloon, canopy, tracker and box."""

    SLOW_CLIMB = "slow-climb"
    FLOATER = "floater"
    EARLY_BURST = "early-burst"
    FOULED_CANOPY = "fouled-canopy"
    FROZEN_HEIGHT = "frozen-height"
    SILENT_TRACKER = "silent-tracker"
    WRONG_CLOCK = "wrong-clock"
    WRONG_HEIGHT = "wrong-height"
    LOW_POWER = "low-power"
    COLD_BOX = "cold-box"


ANSWERED_BY: Mapping[Fault, WarningKind] = MappingProxyType(
    {
        Fault.SLOW_CLIMB: WarningKind.SLOW_CLIMB,
        Fault.FLOATER: WarningKind.FLOATER,
        Fault.EARLY_BURST: WarningKind.EARLY_BURST,
        Fault.FOULED_CANOPY: WarningKind.FAST_DESCENT,
        Fault.FROZEN_HEIGHT: WarningKind.HEIGHT,
        Fault.SILENT_TRACKER: WarningKind.NO_POSITION,
        Fault.WRONG_CLOCK: WarningKind.CLOCK,
        Fault.WRONG_HEIGHT: WarningKind.HEIGHT,
        Fault.LOW_POWER: WarningKind.POWER,
        Fault.COLD_BOX: WarningKind.COLD,
    }
)
"""The warning that a crew should get."""


def faults_named(names: Sequence[str]) -> frozenset[Fault]:
    """Faults by their names. Raises BadInput for one that is not known."""
    known = {fault.value for fault in Fault}
    for name in names:
        if name not in known:
            raise BadInput(
                Finding("faults", name, "is no fault of a rehearsal", f"Any of: {', '.join(sorted(known))}.")
            )
    return frozenset(Fault(name) for name in names)
