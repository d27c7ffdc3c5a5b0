"""Carry recorded flights along their own measured winds and compare with where they were."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from pappus.earth import geodesic_inverse
from pappus.sources import Sounding
from pappus.trajectory import drift

POSITION_STEP_DEG = 1e-4
"""Positions reported more coarsely than this (11 m) cannot judge an error of some tens of metres."""


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


def drift_check(sounding: Sounding) -> DriftCheck | str:
    """The error of dead reckoning along one flight, or why it cannot be judged."""
    latitude, longitude, time = sounding.level_latitude_deg, sounding.level_longitude_deg, sounding.time_s
    if latitude is None or longitude is None or time is None:
        return "no recorded positions or times"
    if not sounding.positions_measured:
        return "its positions were summed from the winds, not measured"
    known = np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(time)
    order = np.flatnonzero(known)[np.argsort(time[known], kind="stable")]
    if order.size < 60:
        return f"only {order.size} levels with position and time"
    t, lat, lon = time[order], latitude[order], longitude[order]
    if _coarsest_step(lat) > POSITION_STEP_DEG:
        return f"positions are reported to {_coarsest_step(lat):.2g} degrees only"
    computed = drift(
        t, sounding.height_msl_m[order], sounding.wind_u_m_s[order], sounding.wind_v_m_s[order], lat[0], lon[0]
    )
    errors = [
        geodesic_inverse(float(a), float(b), float(c), float(d))[0]
        for a, b, c, d in zip(lat[::10], lon[::10], computed[0][::10], computed[1][::10], strict=True)
    ]
    return DriftCheck(
        file=sounding.source.name,
        flight=sounding.station,
        release=sounding.release,
        leg="descent" if sounding.is_descent else "ascent",
        seconds=float(t[-1] - t[0]),
        top_msl_m=float(sounding.height_msl_m[order].max()),
        drift_m=geodesic_inverse(float(lat[0]), float(lon[0]), float(lat[-1]), float(lon[-1]))[0],
        end_error_m=geodesic_inverse(float(lat[-1]), float(lon[-1]), float(computed[0][-1]), float(computed[1][-1]))[0],
        largest_error_m=max(errors),
    )


def _coarsest_step(latitude_deg: np.ndarray) -> float:
    """The smallest non-zero difference of positions: their resolution as reported."""
    steps = np.abs(np.diff(np.unique(np.round(latitude_deg, 7))))
    return float(steps.min()) if steps.size else np.inf
