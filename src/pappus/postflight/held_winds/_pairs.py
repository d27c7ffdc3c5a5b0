"""A later balloon flown on the winds of an earlier one from the same place: the pairs, and where each went wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane, distance_m
from pappus.postflight.held_winds._error_correlation import error_correlation
from pappus.sources import Sounding
from pappus.trajectory import drift
from pappus.wind import WindPrior, beyond_wind_sd_m_s, held_wind_sd_m_s

Array = NDArray[np.float64]

HEIGHTS_MSL_M = (10_000.0, 15_000.0, 20_000.0, 25_000.0, 30_000.0)
"""Heights at which the two are compared."""
SAME_PLACE_M = 10_000.0
YOUNGEST_S, OLDEST_S = 4 * 3600.0, 14 * 3600.0
"""Age of the earlier winds at the later release."""
SAME_BALLOON_S = 300.0
"""Two ascents from one place so close in time are two sondes on one balloon, or one flight in two files."""
ASCENT_RATE_M_S = 5.0
"""Where the later ascent has no times (common practice, no source)."""
_NOTHING_BEFORE = (
    f"no ascent within {SAME_PLACE_M / 1000:.0f} km, {YOUNGEST_S / 3600:.0f} to {OLDEST_S / 3600:.0f} h before"
)
LAYER_M = 250.0
"""Depth of the layers that the error field is taken at: a quarter of the shortest length of the prior."""


@dataclass(frozen=True, eq=False)
class ErrorField:
    """The displacement at the compared heights as a sum over layers of residence time times wind error.

    With K layers and H heights. The size of the error at the layers is ``hypot(other, factor * age)``.
    """

    residence_s: Array
    """Time spent in each layer on the way to each height, shape (H, K)."""
    age_sd_m_s: Array
    """From the age of the winds, with a factor of one, shape (K,)."""
    other_sd_m_s: Array
    """From the instrument, the distance from the station, and heights below the lowest earlier wind, shape (K,)."""
    correlation: Array
    """Of the wind errors of the layers, shape (K, K)."""

    def covariance_m2(self, factor: float) -> Array:
        """Covariance of the displacement, one component, over the heights, shape (H, H): exact, it is Gaussian."""
        weighted = self.residence_s * np.hypot(self.other_sd_m_s, factor * self.age_sd_m_s)
        return np.asarray(weighted @ self.correlation @ weighted.T)


@dataclass(frozen=True, eq=False)
class Pair:
    """A later ascent on the winds of an earlier one."""

    station: str
    earlier_release: datetime
    later_release: datetime
    height_msl_m: Array
    """The compared heights that both ascents reached, shape (H,)."""
    error_m: Array
    """Where the later balloon was, east and north of where the earlier winds carried it, shape (H, 2)."""
    drift_m: Array
    """How far from its first position the later balloon was, shape (H,)."""
    field: ErrorField
    timed: bool
    """False where the later ascent has no times: then it rises by ``ASCENT_RATE_M_S``."""
    from_positions: bool
    """True where the later balloon's own positions are the truth, False where its winds had to be summed."""

    @property
    def day(self) -> date:
        """The day, UTC, of the later release."""
        return self.later_release.date()


def find_pairs(soundings: Sequence[Sounding], prior: WindPrior) -> tuple[tuple[Pair, ...], tuple[str, ...]]:
    """Every ascent with an earlier one from the same place, and why the others have none: a line for each reason.

    An earlier ascent counts when it left within ``SAME_PLACE_M`` and ``YOUNGEST_S`` to ``OLDEST_S`` before. Each
    height of a later ascent is compared once: on the latest of the earlier winds that reach it.
    """
    placed = [s for s in soundings if np.isfinite(s.latitude_deg)]
    pairs: list[Pair] = []
    left: dict[str, list[str]] = {}
    flown: list[Sounding] = []
    for later in sorted((s for s in placed if not s.is_descent), key=lambda s: s.release):
        here = [s for s in flown if _apart_m(s, later) <= SAME_PLACE_M]
        earlier = [s for s in reversed(here) if YOUNGEST_S <= _age_s(s, later) <= OLDEST_S]
        if any(_age_s(s, later) < SAME_BALLOON_S for s in here):
            why = "second record of a balloon"
        else:
            flown.append(later)
            found, why = _fly_on_earlier(later, earlier, prior) if earlier else ([], _NOTHING_BEFORE)
            pairs.extend(found)
        if why:
            left.setdefault(why, []).append(f"{later.station} {later.release:%Y-%m-%d %H:%MZ}")
    lines = [f"{why}: {', '.join(names)}" for why, names in left.items()]
    if len(placed) < len(soundings):
        lines.append(f"{len(soundings) - len(placed)} soundings of stations whose place their file does not say")
    return tuple(pairs), tuple(lines)


def _apart_m(one: Sounding, other: Sounding) -> float:
    return float(distance_m(one.latitude_deg, one.longitude_deg, other.latitude_deg, other.longitude_deg))


def _age_s(earlier: Sounding, later: Sounding) -> float:
    return (later.release - earlier.release).total_seconds()


def _fly_on_earlier(later: Sounding, earlier: Sequence[Sounding], prior: WindPrior) -> tuple[list[Pair], str]:
    """A pair for each earlier ascent that is the latest to reach some height, and what could not be compared."""
    record = _Record.of(later)
    if isinstance(record, str):
        return [], record
    within = [h for h in HEIGHTS_MSL_M if record.height_msl_m[0] < h <= record.top_msl_m]
    if not within:
        return [], f"does not reach {HEIGHTS_MSL_M[0] / 1000:.0f} km"
    pairs, open_heights = [], within
    for before in earlier:
        reached = [h for h in open_heights if h <= before.height_msl_m[-1]]
        open_heights = [h for h in open_heights if h not in reached]
        if reached:
            pairs.append(_compare(before, later, record, np.array(reached), prior))
    if not open_heights:
        return pairs, ""
    named = ", ".join(f"{h / 1000:.0f}" for h in open_heights)
    return pairs, f"no earlier winds reach {named} km"


@dataclass(frozen=True, eq=False)
class _Record:
    """The later ascent as it went: time against height, and positions where they were measured."""

    time_s: Array
    height_msl_m: Array
    wind_u_m_s: Array
    wind_v_m_s: Array
    latitude_deg: Array
    longitude_deg: Array
    timed: bool
    from_positions: bool

    @property
    def top_msl_m(self) -> float:
        return float(self.height_msl_m[-1])

    @classmethod
    def of(cls, sounding: Sounding) -> _Record | str:
        """The levels that can be used, or why there are too few of them."""
        timed = sounding.time_s is not None
        latitude, longitude = sounding.level_latitude_deg, sounding.level_longitude_deg
        measured = timed and sounding.positions_measured and latitude is not None and longitude is not None
        known = np.ones(sounding.levels, dtype=bool)
        if sounding.time_s is not None:
            known &= np.isfinite(sounding.time_s)
        if measured and latitude is not None and longitude is not None:
            known &= np.isfinite(latitude) & np.isfinite(longitude)
        if known.sum() < 10:
            return f"only {int(known.sum())} levels with time and position"
        height = sounding.height_msl_m[known]
        if sounding.time_s is not None:
            # levels stand in order of height: a reading that went back in time for a moment waits for the next
            time = np.maximum.accumulate(sounding.time_s[known])
        else:
            time = (height - height[0]) / ASCENT_RATE_M_S
        u, v = sounding.wind_u_m_s[known], sounding.wind_v_m_s[known]
        if measured:
            assert latitude is not None
            assert longitude is not None
            latitude, longitude = latitude[known], longitude[known]
        else:
            latitude, longitude = drift(time, height, u, v, sounding.latitude_deg, sounding.longitude_deg)
        return cls(time, height, u, v, latitude, longitude, timed, measured)


def _compare(before: Sounding, later: Sounding, record: _Record, heights: Array, prior: WindPrior) -> Pair:
    u = np.interp(record.height_msl_m, before.height_msl_m, before.wind_u_m_s)
    v = np.interp(record.height_msl_m, before.height_msl_m, before.wind_v_m_s)
    start = float(record.latitude_deg[0]), float(record.longitude_deg[0])
    path = drift(record.time_s, record.height_msl_m, u, v, *start)
    error, away = np.empty((len(heights), 2)), np.empty(len(heights))
    for index, height in enumerate(heights):
        was = (float(_at(record, record.latitude_deg, height)), float(_at(record, record.longitude_deg, height)))
        said = (float(_at(record, path[0], height)), float(_at(record, path[1], height)))
        error[index] = LocalPlane(*said).to_east_north_m(*was)
        away[index] = distance_m(*start, *was)
    return Pair(
        station=later.station,
        earlier_release=before.release,
        later_release=later.release,
        height_msl_m=heights,
        error_m=error,
        drift_m=away,
        field=_error_field(before, later, record, path, heights, prior),
        timed=record.timed,
        from_positions=record.from_positions,
    )


def _at(record: _Record, values: Array, height_msl_m: float | Array) -> Array:
    return np.asarray(np.interp(height_msl_m, record.height_msl_m, values))


def _error_field(
    before: Sounding, later: Sounding, record: _Record, path: tuple[Array, Array], heights: Array, prior: WindPrior
) -> ErrorField:
    """The prior of a held wind along the ascent, as the briefing has it: from the station and the release before."""
    bottom, top = float(record.height_msl_m[0]), float(heights[-1])
    edges = np.concatenate([[bottom], np.arange(np.floor(bottom / LAYER_M) + 1, top / LAYER_M + 0.5) * LAYER_M])
    middle = 0.5 * (edges[1:] + edges[:-1])
    residence = np.diff(_at(record, record.time_s, edges))
    time, latitude, longitude = (_at(record, values, middle) for values in (record.time_s, *path))
    east, north = LocalPlane(float(path[0][0]), float(path[1][0])).to_east_north_m(latitude, longitude)
    pressure = np.exp(np.interp(middle, before.height_msl_m, np.log(before.pressure_pa)))
    away = distance_m(before.latitude_deg, before.longitude_deg, latitude, longitude)
    apart = held_wind_sd_m_s(pressure, away, 0.0, prior)
    held = held_wind_sd_m_s(pressure, 0.0, time + _age_s(before, later), replace(prior, age_factor=1.0))
    below = beyond_wind_sd_m_s(before.height_msl_m[0] - middle, prior)
    return ErrorField(
        residence_s=residence * (middle < heights[:, None]),
        age_sd_m_s=held,
        other_sd_m_s=np.sqrt(prior.instrument_sd_m_s**2 + below**2 + apart**2),
        correlation=error_correlation(middle, time, east, north, prior),
    )
