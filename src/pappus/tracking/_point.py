"""A place in time."""

from __future__ import annotations

from typing import NamedTuple


class Point(NamedTuple):
    """A place in time."""

    time_s: float
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float | None
    step_m: float
