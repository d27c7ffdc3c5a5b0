"""Where and when a flight may not go on, in numbers for the kernel."""

from __future__ import annotations

import numpy as np

from pappus.flight_train import CutDown
from pappus.trajectory._flights import Release
from pappus.trajectory._laid_out import Limits
from pappus.wind import WindField


def limits_of(field: WindField, cut_downs: tuple[CutDown, ...], release: Release, longest_flight_s: float) -> Limits:
    """The coverage of the winds, the longest flight and the cut-downs; a command is the crew's decision, not ours."""
    coverage = field.coverage
    disc = coverage.centre_deg is not None and coverage.radius_m is not None
    latitude, longitude = coverage.centre_deg or (0.0, 0.0)
    timers = [d.after_release_s for d in cut_downs if d.trigger == "time" and d.after_release_s is not None]
    heights = [d.height_msl_m for d in cut_downs if d.trigger == "height" and d.height_msl_m is not None]
    left_s = release.time_s if release.left_s is None else release.left_s
    areas = [np.array(d.keep_inside_deg, dtype=np.float64) for d in cut_downs
             if d.trigger == "area" and d.keep_inside_deg is not None]  # fmt: skip
    bases = np.array([area[0, 1] for area in areas], dtype=np.float64)
    for area, base in zip(areas, bases, strict=True):
        area[:, 1] = np.mod(area[:, 1] - base + 180.0, 360.0) - 180.0
    return Limits(
        first_s=(coverage.first_valid - field.epoch).total_seconds(),
        last_s=(coverage.last_valid - field.epoch).total_seconds(),
        south_deg=float(coverage.south_deg),
        north_deg=float(coverage.north_deg),
        west_deg=float(coverage.west_deg),
        width_deg=float(coverage.east_deg - coverage.west_deg),
        latitude_deg=float(latitude),
        longitude_deg=float(longitude),
        radius_m=float(coverage.radius_m) if disc and coverage.radius_m is not None else -1.0,
        longest_s=float(left_s + longest_flight_s),
        cut_after_s=float(min(timers, default=np.inf) - (release.time_s - left_s)),
        cut_height_msl_m=float(min(heights, default=np.inf)),
        corners_deg=np.concatenate(areas) if areas else np.empty((0, 2)),
        area_start=np.cumsum([0, *map(len, areas)], dtype=np.int64),
        area_base_deg=bases,
        ascent_end=int(release.ascent_end),
    )
