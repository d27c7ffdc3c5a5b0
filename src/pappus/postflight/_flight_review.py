"""One flight looked at again: where it was said to land against where it did, and its winds against the forecast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pappus.earth import distance_m
from pappus.wind import Sampler

Array = NDArray[np.float64]
Ring = Sequence[Sequence[float]]
"""Longitude and latitude in degrees, as GeoJSON has them."""
Leg = Literal["up", "down", "float"]

BEFORE_BURST_S, AFTER_BURST_S = 300.0, 120.0
DOWN_MSL_M = (10_000.0, 5_000.0)
CLEAR_M = 2_000.0
"""A flight that tops out this little above a height has no moment there."""
BAND_M = 3_000.0


@dataclass(frozen=True, eq=False)
class FlownTrack:
    """A flight as it was heard: seconds since 1970, degrees, heights above mean sea level [m], shape (points,).

    What is None was not seen.
    """

    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array
    """NaN where a fix told none."""
    release_s: float | None
    burst_s: float | None
    """When the fall began."""
    burst_msl_m: float | None

    def place_at(self, time_s: Array) -> tuple[Array, Array]:
        """Latitude and longitude [deg] between the fixes, straight; held beyond the first and the last."""
        turned = np.unwrap(self.longitude_deg, period=360.0)
        return np.interp(time_s, self.time_s, self.latitude_deg), np.interp(time_s, self.time_s, turned)


def moments_of(track: FlownTrack) -> tuple[tuple[str, float], ...]:
    """Moments at which predictions are judged, as far as this flight has them: name and seconds since 1970."""
    found: list[tuple[str, float]] = []
    release, burst = track.release_s, track.burst_s
    if release is not None:
        found.append(("release", release))
    if burst is None:
        return tuple(found)
    if release is not None:
        found.append(("half ascent", 0.5 * (release + burst)))
        if burst - BEFORE_BURST_S > release:
            found.append(("burst - 5 min", burst - BEFORE_BURST_S))
    if track.time_s[-1] > burst + AFTER_BURST_S:
        found.append(("burst + 2 min", burst + AFTER_BURST_S))
    falls = (track.time_s >= burst) & np.isfinite(track.height_msl_m)
    height, time = track.height_msl_m[falls], track.time_s[falls]
    for level in DOWN_MSL_M:
        below = np.flatnonzero(height <= level)
        if track.burst_msl_m is not None and track.burst_msl_m > level + CLEAR_M and len(below):
            found.append((f"{level / 1000:.0f} km down", float(time[below[0]])))
    return tuple(sorted(found, key=lambda one: one[1]))


@dataclass(frozen=True)
class LandingScore:
    """One prediction against where and when it lay."""

    error_m: float | None
    """From the mean of the predicted landings; None where none was predicted."""
    inside: Mapping[str, bool]
    """By level in percent: whether the place lies in the area."""
    arrival_error_s: float | None
    """The time less the middle of the predicted touchdown."""


def landing_score(
    middle_deg: tuple[float, float] | None,
    areas: Mapping[str, Sequence[Sequence[Ring]]],
    arrival_s: float | None,
    place_deg: tuple[float, float],
    time_s: float,
) -> LandingScore:
    """How far off a prediction was.

    :param middle_deg: mean of the predicted landings, latitude and longitude.
    :param areas: by level in percent, polygons of rings.
    :param arrival_s: middle of the predicted touchdown, seconds since 1970, as ``time_s``.
    """
    error = None if middle_deg is None else float(distance_m(*middle_deg, *place_deg))
    inside = {level: lies_in(polygons, place_deg[1], place_deg[0]) for level, polygons in areas.items()}
    return LandingScore(error, inside, None if arrival_s is None else time_s - arrival_s)


def lies_in(polygons: Sequence[Sequence[Ring]], longitude_deg: float, latitude_deg: float) -> bool:
    """Even-odd over all rings, so that holes are outside."""
    crossings = 0
    for rings in polygons:
        for ring in rings:
            for (x1, y1), (x2, y2) in zip(ring, [*ring[1:], ring[0]], strict=True):
                if (y1 > latitude_deg) != (y2 > latitude_deg):
                    crossings += longitude_deg < x1 + (latitude_deg - y1) / (y2 - y1) * (x2 - x1)
    return crossings % 2 == 1


@dataclass(frozen=True)
class WindMeasured:
    """Mean wind of one layer as the flight drifted through it."""

    leg: Leg
    low_msl_m: float
    high_msl_m: float
    wind_u_m_s: float
    wind_v_m_s: float
    sd_m_s: float
    """Of either component."""
    time_s: float
    """Seconds since 1970, middle of the stay."""

    @property
    def middle_msl_m(self) -> float:
        """Of the layer."""
        return 0.5 * (self.low_msl_m + self.high_msl_m)


@dataclass(frozen=True)
class WindScore:
    """Measured less forecast wind in one band of heights."""

    low_msl_m: float
    high_msl_m: float
    layers: int
    bias_u_m_s: float
    bias_v_m_s: float
    rms_m_s: float
    """Of one component: root of half the mean square of the difference vector."""
    expected_m_s: float
    """The same as the error model of the forecast and the noise of the measurement let expect."""


def winds_told(
    mean: Sampler, measured: Sequence[WindMeasured], track: FlownTrack, epoch_s: float
) -> tuple[Array, Array]:
    """Forecast wind u and v [m/s] in each measured layer: there and then; NaN above and below the forecast's levels.

    :param mean: of a field with one member.
    :param epoch_s: seconds since 1970 of the field's epoch.
    """
    count, levels = len(measured), mean.field.levels
    time = np.array([one.time_s for one in measured])
    latitude, longitude = track.place_at(time)
    level = np.tile(np.arange(levels, dtype=np.float64), count)
    spread = (np.repeat(values, levels) for values in (latitude, longitude, time - epoch_s))
    air = mean.at(np.zeros(level.size, dtype=np.intp), level, *spread)
    heights, u, v = (values.reshape(count, levels) for values in (air.height_msl_m, air.wind_u_m_s, air.wind_v_m_s))
    middle = [one.middle_msl_m for one in measured]
    found = [
        [float(np.interp(at, heights[row], values[row], left=np.nan, right=np.nan)) for row, at in enumerate(middle)]
        for values in (u, v)
    ]
    return np.array(found[0]), np.array(found[1])


def wind_scores(
    measured: Sequence[WindMeasured], told_u_m_s: Array, told_v_m_s: Array, told_sd_m_s: Array
) -> tuple[WindScore, ...]:
    """By bands of height from below, and at the end all of them; layers without a forecast are left out.

    :param told_sd_m_s: standard deviation of either forecast component, one value a layer.
    """
    known = np.flatnonzero(np.isfinite(told_u_m_s) & np.isfinite(told_v_m_s))
    if not len(known):
        return ()
    off_u = np.array([one.wind_u_m_s for one in measured])[known] - told_u_m_s[known]
    off_v = np.array([one.wind_v_m_s for one in measured])[known] - told_v_m_s[known]
    expected = np.hypot(told_sd_m_s, [one.sd_m_s for one in measured])[known]
    middle = np.array([one.middle_msl_m for one in measured])[known]
    band = np.floor(middle / BAND_M)

    def score(low: float, high: float, rows: NDArray[np.bool_]) -> WindScore:
        return WindScore(
            low, high, int(rows.sum()), float(off_u[rows].mean()), float(off_v[rows].mean()),
            float(np.sqrt(0.5 * np.mean(off_u[rows] ** 2 + off_v[rows] ** 2))),
            float(np.sqrt(np.mean(expected[rows] ** 2))),
        )  # fmt: skip

    bands = [score(one * BAND_M, (one + 1.0) * BAND_M, band == one) for one in np.unique(band)]
    return (*bands, score(bands[0].low_msl_m, bands[-1].high_msl_m, np.full(len(known), True)))
