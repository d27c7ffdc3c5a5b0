"""Day and night on the way, as lights and markings ask for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.rules._limits import sixty_thousand_ft_m
from pappus.sky import horizon_dip_deg, sun_elevation_deg

SUNSET_DEG = -50.0 / 60.0
"""True elevation of the centre of the sun at sunrise and sunset: 34' of refraction and 16' of half diameter (definition
of the U.S. Naval Observatory and the Nautical Almanac Office)."""
CIVIL_TWILIGHT_DEG = -6.0
"""End of evening and begin of morning civil twilight; ICAO Annex 2 defines night by it."""


@dataclass(frozen=True)
class LightOnTheWay:
    """Three facts for ``RuleFacts``, all about the part below 60 000 ft pressure altitude; None: not told."""

    night_as_corrected: bool | None
    """Between sunset and sunrise as corrected to the altitude (14 CFR 101.35(b))."""
    night: bool | None
    """After evening and before morning civil twilight."""
    day: bool | None
    """Between sunrise and sunset."""


def light_on_the_way(
    times: Sequence[datetime],
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    height_msl_m: ArrayLike,
    pressure_altitude_m: ArrayLike,
) -> LightOnTheWay:
    """Whether a flight sees day or night below 60 000 ft; one value for each time, NaN where not known.

    ``times`` are UTC-aware, 1950 to 2050, a few minutes apart. Something seen at one point is seen; something not seen
    is told only when every point is known. Raises ``BadInput`` for a time without a zone.
    """
    latitude, longitude, height, level = (
        np.broadcast_to(np.asarray(given, dtype=np.float64), (len(times),))
        for given in (latitude_deg, longitude_deg, height_msl_m, pressure_altitude_m)
    )
    known = np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(height) & np.isfinite(level)
    if not len(times):
        return LightOnTheWay(None, None, None)
    sun = sun_elevation_deg(times, np.where(known, latitude, 0.0), np.where(known, longitude, 0.0))
    dip = horizon_dip_deg(np.clip(np.where(known, height, 0.0), 0.0, None))
    # a missing level may be below 60 000 ft, and then counts as not known
    low = known & (level < sixty_thousand_ft_m)
    open_ended = not bool(known.all())
    return LightOnTheWay(
        night_as_corrected=_seen(low & (sun < SUNSET_DEG - dip), open_ended),
        night=_seen(low & (sun < CIVIL_TWILIGHT_DEG), open_ended),
        day=_seen(low & (sun > SUNSET_DEG), open_ended),
    )


def _seen(points: NDArray[np.bool_], open_ended: bool) -> bool | None:
    if points.any():
        return True
    return None if open_ended else False
