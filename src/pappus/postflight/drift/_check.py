"""Carry recorded flights along their own measured winds and compare with where they were.

Beside the error stands what of it lies in the record: breaks of the track, the first minute, and what rounding and
scatter of the written winds alone can give.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse, radii_of_curvature_m
from pappus.postflight.drift._breaks import Break, breaks
from pappus.sources import Sounding
from pappus.trajectory import drift

Array = NDArray[np.float64]

WANTED_M = 60.0
POSITION_STEP_DEG = 1e-4
"""Positions reported more coarsely than this (11 m) cannot judge an error of some tens of metres."""
FIRST_S = 60.0
"""The first wind of a record is read on the ground, and the first fixes are poor (50 legs: 0 to 91 m in it)."""

Cause = Literal["none", "track", "written winds", "not explained"]
"""Why a flight ends more than 60 m off: breaks and first minute of its track, or rounding and scatter of its winds."""


@dataclass(frozen=True)
class DriftCheck:
    """One recorded flight carried along its own winds."""

    file: str
    flight: str
    release: datetime
    leg: str
    seconds: float
    top_msl_m: float
    drift_m: float
    """Recorded, from the first to the last position."""
    end_error_m: float
    """Distance of the computed from the recorded last position."""
    largest_error_m: float
    breaks: tuple[Break, ...]
    joined_end_error_m: float
    joined_largest_error_m: float
    """The same with the track joined over its breaks."""
    first_minute_m: float
    after_first_minute_m: float
    """Parts of the joined end error (vectors, so that they need not add up)."""
    rounding_m: float
    """End error that rounded speeds and directions give, two standard deviations: one unknown error for each run of
    equal written values."""
    rounding_most_m: float
    """No rounding of these winds can give more: every one off by half a step to the same side."""
    scatter_m: float
    """End error if the winds of neighbouring records differed by errors only, two standard deviations."""
    steady_m_s: float
    steady_share: float
    """The joined error after the first minute as one that grows evenly: how fast, and its share of the variance."""

    @property
    def written_m(self) -> float:
        """Rounding and scatter together."""
        return float(np.hypot(self.rounding_m, self.scatter_m))

    @property
    def cause(self) -> Cause:
        """What brings the end error to 60 m or is large enough for it; the error itself stays what it is."""
        if self.end_error_m <= WANTED_M:
            return "none"
        if min(self.joined_end_error_m, self.after_first_minute_m) <= WANTED_M:
            return "track"
        if self.after_first_minute_m <= self.written_m:
            return "written winds"
        return "not explained"


def drift_check(sounding: Sounding) -> DriftCheck | str:
    """The error of dead reckoning along one flight, or why it cannot be judged."""
    latitude, longitude, time = sounding.level_latitude_deg, sounding.level_longitude_deg, sounding.time_s
    if latitude is None or longitude is None or time is None:
        return "no recorded positions or times"
    if not sounding.positions_measured:
        return "its positions were summed from the winds, not measured"
    known = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(time))
    _, first_of_each = np.unique(time[known], return_index=True)
    order = known[first_of_each]
    if order.size < 60:
        return f"only {order.size} levels with position and time"
    t, lat, height = time[order], latitude[order], sounding.height_msl_m[order]
    lon = longitude[order[0]] + (longitude[order] - longitude[order[0]] + 180.0) % 360.0 - 180.0
    if _coarsest_step(lat) > POSITION_STEP_DEG:
        return f"positions are reported to {_coarsest_step(lat):.2g} degrees only"
    u, v = sounding.wind_u_m_s[order], sounding.wind_v_m_s[order]
    computed = drift(t, height, u, v, lat[0], lon[0])
    meridional, prime_vertical = radii_of_curvature_m(lat)
    parallel = prime_vertical * np.cos(np.radians(lat))
    apart = np.radians(computed[1] - lon) * parallel + 1j * np.radians(computed[0] - lat) * meridional
    track = np.radians(lon - lon[0]) * parallel + 1j * np.radians(lat - lat[0]) * meridional
    found, broken = breaks(t, height, track, apart)
    joined = np.concatenate([[0.0], np.cumsum(np.where(broken, 0.0, np.diff(apart)))])
    at_minute = min(int(np.searchsorted(t, t[0] + FIRST_S)), len(t) - 3)
    minute = joined[at_minute]
    line = np.polyfit(t[at_minute:], joined[at_minute:], 1)
    off_line = joined[at_minute:] - np.polyval(line, t[at_minute:])
    between_m = np.abs(np.diff(u + 1j * v)) * np.diff(t)
    rounding_m, most_m = _rounding_m(t, u, v, sounding.wind_speed_step_m_s, sounding.wind_direction_step_deg)
    return DriftCheck(
        file=sounding.source.name,
        flight=sounding.station,
        release=sounding.release,
        leg="descent" if sounding.is_descent else "ascent",
        seconds=float(t[-1] - t[0]),
        top_msl_m=float(height.max()),
        drift_m=geodesic_inverse(float(lat[0]), float(lon[0]), float(lat[-1]), float(lon[-1]))[0],
        end_error_m=float(abs(apart[-1])),
        largest_error_m=float(np.abs(apart).max()),
        breaks=found,
        joined_end_error_m=float(abs(joined[-1])),
        joined_largest_error_m=float(np.abs(joined).max()),
        first_minute_m=float(abs(minute)),
        after_first_minute_m=float(abs(joined[-1] - minute)),
        rounding_m=rounding_m,
        rounding_most_m=most_m,
        scatter_m=2.0 * float(np.sqrt(0.5 * np.sum(np.where(broken, 0.0, between_m) ** 2))),
        steady_m_s=float(abs(line[0])),
        steady_share=1.0 - float(off_line.var() / max(joined[at_minute:].var(), 1e-12)),
    )


def _rounding_m(
    time_s: Array, u_m_s: Array, v_m_s: Array, speed_step_m_s: float, direction_step_deg: float
) -> tuple[float, float]:
    """Two standard deviations, and the most, of the end error from rounded speeds and directions.

    A rounding error is even between half a step down and up, hence the variance of a twelfth of a step squared.
    """
    lasts_s = np.gradient(time_s)
    speed_m_s, from_deg = np.hypot(u_m_s, v_m_s), np.degrees(np.arctan2(-u_m_s, -v_m_s))
    variance, most = 0.0, 0.0
    for values, step, lever in (
        (speed_m_s, speed_step_m_s, lasts_s),
        (from_deg, direction_step_deg, np.radians(speed_m_s * lasts_s)),
    ):
        if step > 0.0:
            run = np.cumsum(np.diff(np.round(values / step), prepend=np.nan) != 0.0)
            variance += float(np.sum((step * np.bincount(run, lever)) ** 2)) / 12.0
            most += 0.5 * step * float(lever.sum())
    return 2.0 * float(np.sqrt(variance)), most


def _coarsest_step(latitude_deg: Array) -> float:
    """The smallest non-zero difference of positions: their resolution as reported."""
    steps = np.abs(np.diff(np.unique(np.round(latitude_deg, 7))))
    return float(steps.min()) if steps.size else np.inf
