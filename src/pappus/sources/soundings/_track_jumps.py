"""Positions that no balloon can have reached: a receiver that loses its fix writes a place far away and comes back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse
from pappus.sources.soundings._levels import FASTEST_WIND_M_S, RawLevels, counted

Array = NDArray[np.float64]

_METRES_PER_DEGREE = 111_200.0
"""Of latitude, to 0.6 % (WGS84); this looks for slips of hundreds of percent."""


def blank_jumps(levels: RawLevels, notes: list[str]) -> None:
    """Blank the positions between which the flight would be faster than any wind, and those of an excursion.

    After a run of such steps the place is compared with the last one before it: a flight that is still too far away to
    have flown there is on an excursion until the next run of such steps ends.
    """
    known = np.flatnonzero(np.isfinite(levels.latitude_deg + levels.longitude_deg + levels.time_s))
    if known.size < 3:
        return
    latitude, longitude, time_s = levels.latitude_deg[known], levels.longitude_deg[known], levels.time_s[known]
    east_deg = (np.diff(longitude) + 180.0) % 360.0 - 180.0
    metres = _METRES_PER_DEGREE * np.hypot(np.diff(latitude), east_deg * np.cos(np.radians(latitude[:-1])))
    coarse_m = _METRES_PER_DEGREE * 1.5 * max(_finest(latitude), _finest(longitude))
    fast = np.flatnonzero(metres > FASTEST_WIND_M_S * np.diff(time_s) + coarse_m)
    if not fast.size:
        return
    bad = np.zeros(known.size, dtype=bool)
    runs = np.split(fast, np.flatnonzero(np.diff(fast) > 1) + 1)
    good = int(runs[0][0])
    for number, run in enumerate(runs):
        if not bad[run[0]]:
            good = int(run[0])
        bad[good + 1 : run[-1] + 1] = True
        back = int(run[-1]) + 1
        ends = int(runs[number + 1][0]) if number + 1 < len(runs) else known.size - 1
        away_m = geodesic_inverse(latitude[good], longitude[good], latitude[back], longitude[back])[0]
        if away_m > FASTEST_WIND_M_S * (time_s[back] - time_s[good]):
            bad[back : ends + 1] = True
    levels.latitude_deg[known[bad]] = levels.longitude_deg[known[bad]] = np.nan
    notes.append(counted(int(bad.sum()), "at a place it could not have reached, the place taken as missing", "record"))


def _finest(degrees: Array) -> float:
    """The step in which positions are written: the smallest difference that is not rounding."""
    steps = np.abs(np.diff(degrees))
    steps = steps[steps > 1e-8]
    return float(steps.min()) if steps.size else 0.0
