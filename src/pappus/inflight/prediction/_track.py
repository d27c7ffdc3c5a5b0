"""The flight so far as a few points: where the balloon was when, and how fast it rose and fell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.earth import radii_of_curvature_m
from pappus.tracking import Estimate, Phase, WindLayer

Array = NDArray[np.float64]

LONGEST_STEP_S = 900.0
"""Across a longer silence the rates say nothing of any one layer."""


@dataclass(frozen=True, eq=False)
class Leg:
    """Passages of one leg in order of time, shape (P,): middles of the layers whose wind was measured, and its ends."""

    time_s: Array
    height_msl_m: Array
    latitude_deg: Array
    longitude_deg: Array
    smoothed_m: Array
    """Height over which each passage is really a mean."""

    @property
    def points(self) -> int:
        """How many there are."""
        return len(self.time_s)


@dataclass(frozen=True, eq=False)
class Track:
    """The flight so far. Times count from the epoch of the winds."""

    up: Leg
    down: Leg
    """Empty while the balloon still climbs."""
    layers: tuple[WindLayer, ...]
    """The layers behind the passages, up first."""
    fallen: tuple[WindLayer, ...]
    """All layers of the fall, from above; a slip in time or height takes a passage away, and not its layer."""
    layer_latitude_deg: Array
    layer_longitude_deg: Array
    layer_time_s: Array
    now_s: float
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float
    released_s: float | None
    falls: bool
    fall_start_s: float | None


def track_of(estimate: Estimate, epoch: datetime, site_deg: tuple[float, float] | None) -> Track | None:
    """The track behind an estimate; None while the balloon has no position and height in the air.

    Places of the passages come from the measured winds, summed back from the newest position. Where the balloon left
    the site, what the sums miss there is spread over the time since.

    :param site_deg: where it left from; None where that is not known.
    """
    position, motion = estimate.position, estimate.motion
    if position is None or motion is None or estimate.phase in (Phase.NOT_KNOWN, Phase.GROUND):
        return None
    falls = estimate.phase in (Phase.DESCENT, Phase.LANDED)

    def seconds(time: datetime) -> float:
        return (time - epoch).total_seconds()

    now_s = seconds(position.time_utc)
    released = None if estimate.release_utc is None else seconds(estimate.release_utc)
    ground = estimate.ground_msl_m
    top = motion.height_msl_m
    if falls:
        top = estimate.highest_msl_m or top if estimate.fall_start is None else estimate.fall_start.height_msl_m
    bottom = motion.height_msl_m if falls else top
    # a layer that was not crossed whole has its middle in time elsewhere than its middle in height
    whole = [w for w in estimate.wind if w.high_msl_m <= top and seconds(w.time_utc) < now_s]
    up = [w for w in whole if w.leg == "up" and (ground is None or w.low_msl_m >= ground)]
    down = [w for w in whole if w.leg == "down" and w.low_msl_m >= bottom] if falls else []
    fallen = tuple(sorted(down, key=lambda w: -w.low_msl_m))
    layers = sorted(up, key=lambda w: w.time_utc) + sorted(down, key=lambda w: w.time_utc)
    times = np.array([seconds(w.time_utc) for w in layers])
    heights = np.array([0.5 * (w.low_msl_m + w.high_msl_m) for w in layers])
    keep = _in_order(times, heights, len(up))
    layers = [w for w, kept in zip(layers, keep, strict=True) if kept]
    times, heights, ups = times[keep], heights[keep], int(keep[: len(up)].sum())

    winds = np.array([(w.wind_u_m_s, w.wind_v_m_s) for w in layers]).reshape(-1, 2)
    begins = released if released is not None and (not len(times) or released < times[0]) else None
    nodes = np.concatenate([[] if begins is None else [begins], times, [now_s]])
    if len(layers):
        first, last = winds[:1], winds[-1:]
        along = np.concatenate([first[: 0 if begins is None else 1], winds, last])
    else:
        drift = (motion.drift_u_m_s or 0.0, motion.drift_v_m_s or 0.0)
        along = np.tile(np.array(drift), (len(nodes), 1))
    height = motion.height_msl_m
    low = heights[0] - 125.0 if len(heights) else height
    start_height = low if ground is None else ground
    node_heights = np.concatenate([[] if begins is None else [start_height], heights, [height]])
    latitude, longitude = _back_from(
        nodes, along, node_heights, position.latitude_deg, position.longitude_deg,
        site_deg if begins is not None else None,
    )  # fmt: skip
    smoothed = np.array([w.smoothed_over_m for w in layers])
    offset = 0 if begins is None else 1
    edge = offset + ups
    all_smoothed = np.concatenate([np.full(offset, 100.0), smoothed, [100.0]])

    def leg(rows: slice) -> Leg:
        return Leg(nodes[rows], node_heights[rows], latitude[rows], longitude[rows], all_smoothed[rows])

    return Track(
        up=leg(slice(0, edge)) if falls else leg(slice(0, None)),
        down=leg(slice(edge, None)) if falls else leg(slice(0, 0)),
        layers=tuple(layers),
        fallen=fallen,
        layer_latitude_deg=latitude[offset:-1],
        layer_longitude_deg=longitude[offset:-1],
        layer_time_s=times,
        now_s=now_s,
        latitude_deg=position.latitude_deg,
        longitude_deg=position.longitude_deg,
        height_msl_m=height,
        released_s=released,
        falls=falls,
        fall_start_s=None if estimate.fall_start is None else seconds(estimate.fall_start.time_utc),
    )


def _in_order(time_s: Array, height_msl_m: Array, ups: int) -> NDArray[np.bool_]:
    """Passages that rise in time and height on the way up and fall on the way down; others are slips or eddies."""
    keep = np.zeros(len(time_s), dtype=bool)
    last_s, last_m = -np.inf, -np.inf
    for row in range(len(time_s)):
        sign = 1.0 if row < ups else -1.0
        if row == ups:
            last_m = -np.inf
        if time_s[row] > last_s and sign * height_msl_m[row] > last_m:
            keep[row] = True
            last_s, last_m = time_s[row], sign * height_msl_m[row]
    return keep


def _back_from(
    time_s: Array,
    wind_m_s: Array,
    height_msl_m: Array,
    latitude_deg: float,
    longitude_deg: float,
    site_deg: tuple[float, float] | None,
) -> tuple[Array, Array]:
    """Places at the times, summed back from the last by the trapezoid rule."""
    step = np.diff(time_s)[:, None]
    way = np.concatenate([[[0.0, 0.0]], np.cumsum(0.5 * (wind_m_s[1:] + wind_m_s[:-1]) * step, axis=0)])
    way -= way[-1]
    meridional, prime_vertical = radii_of_curvature_m(np.full(len(time_s), latitude_deg))
    latitude = latitude_deg + np.degrees(way[:, 1] / (meridional + height_msl_m))
    middle = np.radians(0.5 * (latitude + latitude_deg))
    longitude = longitude_deg + np.degrees(way[:, 0] / ((prime_vertical + height_msl_m) * np.cos(middle)))
    if site_deg is not None and time_s[-1] > time_s[0]:
        share = (time_s[-1] - time_s) / (time_s[-1] - time_s[0])
        latitude = latitude + share * (site_deg[0] - latitude[0])
        longitude = longitude + share * ((site_deg[1] - longitude[0] + 180.0) % 360.0 - 180.0)
    return latitude, longitude


def climb_rates(leg: Leg, least_m: float) -> tuple[Array, Array, Array]:
    """Middles, mean rates and depths of stretches of a climb of at least so much height each.

    A stretch is no shorter than what its passages are smoothed over, so that no two tell of the same drift.
    """
    middles, rates, depths = [], [], []
    start = 0
    for row in range(1, leg.points):
        depth = abs(float(leg.height_msl_m[row] - leg.height_msl_m[start]))
        seconds = float(leg.time_s[row] - leg.time_s[start])
        wanted = max(least_m, float(leg.smoothed_m[start]), float(leg.smoothed_m[row]))
        if float(leg.time_s[row] - leg.time_s[row - 1]) > LONGEST_STEP_S:
            start = row
        elif depth >= wanted - 1.0 and seconds > 0.0:
            middles.append(0.5 * float(leg.height_msl_m[row] + leg.height_msl_m[start]))
            rates.append(depth / seconds)
            depths.append(depth)
            start = row
    return np.array(middles), np.array(rates), np.array(depths)


def fall_rates(layers: Sequence[WindLayer], least_m: float) -> tuple[Array, Array, Array]:
    """Middles, mean speeds and depths of stretches of a fall of at least so much height each, from the time spent in
    their layers.

    A fall crosses several layers from fix to fix. How long it stayed in each is then better known than when it passed
    its middle, which rests on the steps beside it too. Layers beside a gap may not have been seen whole and are left
    out.

    :param layers: of one fall, from above.
    """
    meets = [above.low_msl_m == below.high_msl_m for above, below in pairwise(layers)]
    middles, rates, depths = [], [], []
    stretch: list[WindLayer] = []
    for row, layer in enumerate(layers):
        if (row > 0 and not meets[row - 1]) or (row < len(meets) and not meets[row]):
            stretch = []
            continue
        stretch.append(layer)
        depth = stretch[0].high_msl_m - layer.low_msl_m
        if depth >= max(least_m, stretch[0].smoothed_over_m, layer.smoothed_over_m) - 1.0:
            middles.append(0.5 * (stretch[0].high_msl_m + layer.low_msl_m))
            rates.append(depth / sum(one.seconds for one in stretch))
            depths.append(depth)
            stretch = []
    return np.array(middles), np.array(rates), np.array(depths)
