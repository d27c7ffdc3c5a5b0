"""Where a recorded track cannot be carried on: jumps of the receiver, gaps, and gaps that were filled in.

Found from times and positions alone, without the winds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Mask = NDArray[np.bool_]
Indices = NDArray[np.intp]

JUMP_M_S = 50.0
"""A step this much faster or slower than the steps of the minute before and after is none of a balloon's: a load on
60 m of line that swings to the horizontal passes its lowest point with 34 m/s, and no air shears 50 m/s in a minute."""
AROUND_S = 60.0
"""So long before and after a jump the receiver is not trusted."""
GAP_S = 5.0
"""Half a swing of a load on 25 m of line: a wind read at one instant stands for no longer."""
FILLED_S = 90.0
STRAIGHT_M = 4.0
"""A track that keeps to a straight line at one speed this closely for 90 s was drawn over a gap: measured ones, 19 legs
of five makers, bend by 5 m or more in any 90 s. Tracks drawn between fixes 30 s apart do so in still air as well."""

Kind = Literal["jump", "gap", "filled"]


@dataclass(frozen=True)
class Break:
    """A stretch over which the flight is put from its recorded place to its recorded place."""

    kind: Kind
    at_msl_m: float
    seconds: float
    apart_m: float
    """How far the track moves within it against the winds: a jump at its worst, else over the whole stretch."""


def breaks(time_s: Array, height_msl_m: Array, track_m: Complex, apart_m: Complex) -> tuple[tuple[Break, ...], Mask]:
    """The breaks of a track in metres (east + i north) at rising times, and which of its steps lie in one.

    ``apart_m``: computed less recorded; only the sizes are taken from it.
    """
    step_s = np.diff(time_s)
    jump = _jumps(step_s, track_m)
    filled = _filled(time_s, track_m)
    gap = step_s > max(GAP_S, 3.0 * float(np.median(step_s)))
    itself = jump | filled | gap
    broken = itself.copy()
    for first, last in _runs(itself):
        if jump[first:last].any():
            low, high = np.searchsorted(time_s, [time_s[first] - AROUND_S, time_s[last] + AROUND_S])
            broken[low:high] = True
    found = []
    for first, last in _runs(broken):
        jumps = bool(jump[first:last].any())
        apart = np.abs(apart_m[first : last + 1] - apart_m[first])
        found.append(
            Break(
                kind="jump" if jumps else "gap" if gap[first:last].any() else "filled",
                at_msl_m=float(height_msl_m[first + int(np.argmax(itself[first:last]))]),
                seconds=float(time_s[last] - time_s[first]),
                apart_m=float(apart.max() if jumps else apart[-1]),
            )
        )
    return tuple(found), broken


def _runs(marked: Mask) -> list[tuple[int, int]]:
    """First index of each run of marked steps, and the index behind its last."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]])))
    return [(int(first), int(last)) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def _jumps(step_s: Array, track_m: Complex) -> Mask:
    velocity = np.diff(track_m) / step_s
    half = max(1, round(AROUND_S / float(np.median(step_s))))
    padded = np.pad(velocity, half, mode="reflect")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    usual = np.median(around.real, axis=1) + 1j * np.median(around.imag, axis=1)
    return np.asarray(np.abs(velocity - usual) > JUMP_M_S)


def _filled(time_s: Array, track_m: Complex) -> Mask:
    """Steps within straight stretches of ``FILLED_S`` or longer, of several steps."""
    marked = np.zeros(len(time_s) - 1, dtype=bool)
    first = np.arange(len(time_s))
    last = np.searchsorted(time_s, time_s + FILLED_S)
    long = (last < len(time_s)) & (last - first > 2)
    first, last = first[long], last[long]
    # the middle tells of most stretches that they bend; the few others are looked at point by point
    straight = _off_line_m(time_s, track_m, first, last, (first + last) // 2) <= STRAIGHT_M
    for a, b in zip(first[straight].tolist(), last[straight].tolist(), strict=True):
        if _off_line_m(time_s, track_m, a, b, np.arange(a, b)).max() <= STRAIGHT_M:
            marked[a:b] = True
    return marked


def _off_line_m(time_s: Array, track_m: Complex, first: Indices | int, last: Indices | int, at: Indices) -> Array:
    """Distance from where a steady motion between two points would be then."""
    share = (time_s[at] - time_s[first]) / (time_s[last] - time_s[first])
    return np.abs(track_m[at] - track_m[first] - share * (track_m[last] - track_m[first]))
