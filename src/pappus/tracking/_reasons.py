"""Why a fix was not believed."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """Each rejected fix carries one."""

    NO_POSITION = "the packet says that it has no position"
    NULL = "position 0, 0, which stands for no position"
    OUT_OF_RANGE = "latitude or longitude out of range"
    HEIGHT_OUT_OF_RANGE = "height out of range"
    FUTURE = "time in the future"
    OLD = "time too long before it was heard"
    TOO_LATE = "came too late to be sorted in"
    CLOCK_STANDS_STILL = "the tracker's clock stands still"
    SWAPPED = "latitude and longitude changed places"
    TOO_FAR = "farther than a balloon can drift in the time"
    HEIGHT_JUMP = "height changed faster than a balloon can rise or fall"
    HEIGHT_FROZEN = "height stands still in flight"
