"""One record of a whole flight, cut at its highest point into the ascent and the descent."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.sources.soundings._levels import FEWEST_WIND_LEVELS, GEOPOTENTIAL_M, RawLevels, RawSounding, counted
from pappus.sources.soundings._track_jumps import blank_jumps

Array = NDArray[np.float64]

SHORTEST_FALL_M = 200.0
"""A record that ends less than this below its highest point holds no descent worth the name."""
OUTLIER_M = 500.0
"""Nothing that hangs from a balloon or a canopy is this far from the median of five records, whatever their gaps."""


def both_legs(raw: RawSounding, *, smoothed_s: float = 0.0) -> list[RawSounding]:
    """The ascent and, where there is one, the descent of a record; heights and places that jump are marked
    as impossible.

    ``smoothed_s``: so long after the highest record the source smoothed across the top; those seconds are left out of
    the descent, whose times count from the highest record. What is left out is said in the notes.
    """
    levels, notes = _by_time(raw)
    _mark_jumps(levels)
    blank_jumps(levels, notes)
    height = np.where(_possible(levels.geopotential_m), levels.geopotential_m, -np.inf)
    top = int(np.argmax(height)) if len(levels) else 0
    ascent = replace(raw, levels=levels.take(np.arange(min(top + 1, len(levels)))), is_descent=False, notes=notes)
    after = levels.take(np.arange(top + 1, len(levels)))
    if len(after) == 0 or not np.isfinite(height[top]):
        return [ascent]
    seconds = after.time_s - levels.time_s[top]
    kept = seconds >= smoothed_s
    fall_m = height[top] - float(np.min(np.where(np.isfinite(height[top + 1 :]), height[top + 1 :], height[top])))
    if kept.sum() < FEWEST_WIND_LEVELS or fall_m < SHORTEST_FALL_M:
        why = f"{seconds[-1]:.0f} s and {fall_m:.0f} m below it are too little for a descent"
        ascent.notes.append(counted(len(after), f"after the highest left out: {why}", "record"))
        return [ascent]
    leg = after.take(kept)
    leg.time_s = seconds[kept]
    notes = list(notes)
    if smoothed_s and not kept.all():
        what = (
            f"in the first {smoothed_s:.0f} s after the highest left out: there the source smoothed heights across the "
            "top, so their sink is not the flight's"
        )
        notes.append(counted(int((~kept).sum()), what, "record"))
    placed = np.flatnonzero(np.isfinite(levels.latitude_deg[top:]) & np.isfinite(levels.longitude_deg[top:]))
    first = top + int(placed[0]) if placed.size else None
    descent = replace(
        raw,
        latitude_deg=raw.latitude_deg if first is None else float(levels.latitude_deg[first]),
        longitude_deg=raw.longitude_deg if first is None else float(levels.longitude_deg[first]),
        station_height_msl_m=None,
        release=raw.release + timedelta(seconds=float(levels.time_s[top])),
        is_descent=True,
        levels=leg,
        notes=[*notes, "times count from the highest record"],
    )
    return [ascent, descent]


def _by_time(raw: RawSounding) -> tuple[RawLevels, list[str]]:
    """Records in the order of their times, one for each time."""
    notes = list(raw.notes)
    timed = np.flatnonzero(np.isfinite(raw.levels.time_s))
    if timed.size < len(raw.levels):
        notes.append(counted(len(raw.levels) - timed.size, "without a time left out", "record"))
    _, first = np.unique(raw.levels.time_s[timed], return_index=True)
    if first.size < timed.size:
        notes.append(counted(timed.size - first.size, "with a time that was there before left out", "record"))
    return raw.levels.take(timed[first]), notes


def _possible(height_m: Array) -> NDArray[np.bool_]:
    low, high = GEOPOTENTIAL_M
    return np.asarray((height_m >= low) & (height_m <= high))


def _mark_jumps(levels: RawLevels) -> None:
    """A height far from the median of five neighbours becomes infinite, which the later checks count as impossible."""
    known = np.flatnonzero(_possible(levels.geopotential_m))
    if known.size < 5:
        return
    height = levels.geopotential_m[known]
    padded = np.pad(height, 2, mode="edge")
    median = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    jumps = known[np.abs(height - median) > OUTLIER_M]
    levels.geopotential_m[jumps] = np.inf
