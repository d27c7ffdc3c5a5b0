"""Read the wind files a crew points at."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pappus.plan import Limits
from pappus.sources import read_sounding, to_wind_field
from pappus.wind import WindField

BEFORE_RELEASE_S = 3 * 3600.0
"""A sounding also stands for the hours just before it."""


def gather_winds(paths: Sequence[Path], limits: Limits) -> list[WindField]:
    """Every sounding in the files as a field that holds for as far and as long as the plan allows."""
    return [
        to_wind_field(
            sounding,
            radius_m=limits.sounding_distance_m,
            hold_before_s=BEFORE_RELEASE_S,
            hold_after_s=limits.sounding_age_s,
        )
        for path in paths
        for sounding in read_sounding(path)
    ]
