"""What a person should know about the trackers, one sentence each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pappus.tracking._estimate import Apart, LastPosition, TrackerState
from pappus.tracking._reasons import Reason

HEIGHT_OFFSET_M = 25.0
"""Mean difference of heights that is no noise any more."""
OFFSET_COMPARISONS = 10
UNDULATION_WITHIN_M = 10.0
DATUM_OFF_M = 15.0
"""Receivers with a coarse geoid of their own are off by some metres; those that send one height twice, by all of it."""
RUNNING_REJECTS = 5
MOST_NAMED = 4
_MEND = {
    Reason.FUTURE: "set the clock of this computer, or of the tracker",
    Reason.OLD: "a relay holds packets back, the tracker's clock is slow, or this computer's is fast",
    Reason.HEIGHT_FROZEN: "its receiver may be at a height limit; check that it flies in airborne mode",
    Reason.CLOCK_STANDS_STILL: "it repeats its stamp; do not trust its positions",
    Reason.SWAPPED: "check the order of its fields",
    Reason.TOO_FAR: "if the new place is the right one, the earlier place was not: look at the raw packets",
}


def notes(
    position: LastPosition | None,
    trackers: Sequence[TrackerState],
    apart: Sequence[Apart],
    undulation_m: float | None,
    ground_offset_m: float | None,
    datum_off_m: float | None,
) -> tuple[str, ...]:
    """All sentences, the most pressing first."""
    lines: list[str] = []
    if position is not None and not position.confirmed:
        lines.append(f"{position.tracker}: fewer than three fixes agree so far; the place may still be given up.")
    if position is not None and not position.checked:
        lines.append(f"{position.tracker}: its packets carry no checksum of their own; positions are unchecked.")
    lines += _disagreements(position, apart, undulation_m)
    if position is not None and ground_offset_m is not None and abs(ground_offset_m) > HEIGHT_OFFSET_M:
        lines.append(
            f"{position.tracker}: stood {ground_offset_m:+.0f} m against the launch site before release"
            f"{_like_undulation(ground_offset_m, undulation_m)}."
        )
    if position is not None and datum_off_m is not None and abs(datum_off_m) > DATUM_OFF_M:
        lines.append(
            f"{position.tracker}: its two heights differ by {datum_off_m:+.0f} m more than the geoid here; "
            "the one above the sea is used as sent."
        )
    for state in trackers:
        lines += _of_tracker(state)
    return tuple(lines)


def _disagreements(position: LastPosition | None, apart: Sequence[Apart], undulation_m: float | None) -> Iterator[str]:
    astray = sum(not other.agrees for other in apart)
    if position is not None and astray > MOST_NAMED:
        yield f"{astray} trackers disagree with {position.tracker}, which is used."
        return
    for other in apart:
        if position is not None and not other.agrees:
            yield (
                f"{other.tracker} and {position.tracker} disagree by {_distance(other.distance_m)} at "
                f"{other.time_utc:%H:%M:%S}Z; {position.tracker} is used."
            )
        offset = other.height_offset_m
        if offset is not None and other.comparisons >= OFFSET_COMPARISONS and abs(offset) > HEIGHT_OFFSET_M:
            than = position.tracker if position is not None else "the chosen one"
            yield f"{other.tracker}: heights {offset:+.0f} m against {than}{_like_undulation(offset, undulation_m)}."


def _like_undulation(offset_m: float, undulation_m: float | None) -> str:
    if undulation_m is None or abs(undulation_m) < HEIGHT_OFFSET_M:
        return ""
    if abs(abs(offset_m) - abs(undulation_m)) > UNDULATION_WITHIN_M:
        return ""
    return f", as much as the geoid here ({undulation_m:+.0f} m): heights above the ellipsoid sent as above the sea?"


def _of_tracker(state: TrackerState) -> Iterator[str]:
    if state.begun_again:
        yield f"{state.tracker}: its first place was given up, {state.begun_again} times."
    counted = [(why, count) for why, count in state.rejected if count > 0]
    if counted:
        total = sum(count for _, count in counted)
        told = "; ".join(f"{count} {why}" for why, count in sorted(counted, key=lambda pair: (-pair[1], pair[0])))
        yield f"{state.tracker}: {total} fixes refused ({told})."
    for why, count in counted:
        if count >= RUNNING_REJECTS and why in _MEND and state.last_rejected and state.last_rejected[0] is why:
            yield f"{state.tracker}: {why}; {_MEND[why]}."


def _distance(metres: float) -> str:
    return f"{metres:.0f} m" if metres < 1000.0 else f"{metres / 1000.0:.1f} km"
