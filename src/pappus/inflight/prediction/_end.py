"""Whether the ascent ended by a device of the train: then no film of the balloon hangs on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pappus.earth import radii_of_curvature_m
from pappus.flight_train import CutDown
from pappus.inflight.prediction._track import Track
from pappus.tracking import FallStart

TIMER_S = 20.0
"""The fall begins so near to the moment that the timer was set for: three times what release (4 s) and start of the
fall (3.5 s) are known to [from rehearsed flights]. A burst by chance is there in one flight of a hundred or so."""
HEIGHT_SDS = 3.0
FENCE_M = 500.0
"""A fence is met so near; the wind carries a balloon as far in the half minute that a device may take."""


def cut_by(devices: Sequence[CutDown], track: Track, start: FallStart | None) -> CutDown | None:
    """The first device that was due when the fall began; None for a burst, and where its start was not seen.

    A command leaves no trace in the heights and is taken for a burst.
    """
    if start is None or track.fall_start_s is None:
        return None
    return next((device for device in devices if _due(device, track, track.fall_start_s, start)), None)


def _due(device: CutDown, track: Track, start_s: float, start: FallStart) -> bool:
    if device.trigger == "time" and device.after_release_s is not None and track.released_s is not None:
        return abs(start_s - track.released_s - device.after_release_s) <= TIMER_S
    if device.trigger == "height" and device.height_msl_m is not None:
        return abs(start.height_msl_m - device.height_msl_m) <= HEIGHT_SDS * start.height_sd_m
    if device.trigger == "area" and device.keep_inside_deg is not None:
        return _outside(device.keep_inside_deg, track, start_s)
    return False


def _outside(corners_deg: Sequence[tuple[float, float]], track: Track, start_s: float) -> bool:
    """Whether the fall began outside the fence or near it."""
    from shapely import Point, Polygon

    time, latitude, longitude = (
        np.concatenate([getattr(leg, name) for leg in (track.up, track.down)])
        for name in ("time_s", "latitude_deg", "longitude_deg")
    )
    here_deg = float(np.interp(start_s, time, latitude)), float(np.interp(start_s, time, longitude))
    # fences run straight in degrees; what is asked for is near, so one scale does for each axis
    meridional, prime_vertical = radii_of_curvature_m(here_deg[0])
    corners = np.radians(np.array(corners_deg) - here_deg)
    north = corners[:, 0] * float(meridional)
    east = (
        np.arctan2(np.sin(corners[:, 1]), np.cos(corners[:, 1]))
        * float(prime_vertical)
        * np.cos(np.radians(here_deg[0]))
    )
    fence, here = Polygon(np.stack([east, north], axis=1)), Point(0.0, 0.0)
    return not fence.contains(here) or fence.exterior.distance(here) <= FENCE_M
