"""Where recorded descents ended, against what their first minutes and the winds of their ascent said beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane, geodesic_inverse
from pappus.flight_train import FallLaw, FallPrior, FallScale, condition_fall, prior_fall_law, square_root
from pappus.landing import LandingArea, landing_area
from pappus.postflight._record import Leg, layer_rates_m_s, leg_of
from pappus.sources import Sounding
from pappus.trajectory import drift
from pappus.wind import FlightKnots, WindPrior, held_parts_m_s, knot_covariance

Array = NDArray[np.float64]

UNKNOWN_CANOPY = FallScale(7.0, 0.4)
"""For a canopy that nobody recorded: middle and spread of the 2.4 to 19 m/s near the ground that field notes of about
70 recovered radiosondes tell of, good canopies and fouled ones (notes seen, not published)."""
LAYER_M = 250.0
LAYER_LN_SD = 0.05
"""Of a speed over one layer as a sample of the law: swings, vertical air motion, noise of the heights [own prior]."""
OPENING_S = 30.0
"""Left out after the top: the canopy opens and slows down, and some source programs smooth heights over that time."""
FIRST_MINUTE_S = 60.0
FIRST_DEPTH_M = 3_000.0
MOMENT_HEIGHTS_M = (15_000.0, 10_000.0, 5_000.0)
LEAST_LEFT_M = 1_000.0
"""A moment with less than this below it judges nothing."""
LONGEST_WAIT_S = 3.0 * 3600.0
NEAR_M, SOON_S = 5_000.0, 300.0
"""The descent of a flight starts this near to where and when its ascent ended."""
FLIGHTS = 800


@dataclass(frozen=True)
class DescentMoment:
    """One prediction of the end of the record, made at one moment from all of the descent up to it."""

    moment: str
    height_msl_m: float
    """Where the flight was."""
    exponent: float
    exponent_sd: float
    """Of the fall law, after what was seen."""
    left_s: float
    """Recorded, from the moment to the end of the record."""
    predicted_left_s: tuple[float, float, float, float, float]
    """5, 25, 50, 75 and 95 % points of the prediction."""
    plain_left_s: float
    """By a constant drag area fitted to the same speeds."""
    error_m: float
    """Distance of the middle of the landing area from the recorded end."""
    plain_error_m: float
    """With the constant drag area and the winds of the ascent."""
    wind_only_error_m: float
    """With the recorded fall and the winds of the ascent: no fall law can do better on purpose."""
    area_50_km2: float | None
    area_90_km2: float | None
    inside_50: bool
    inside_90: bool
    """Whether the recorded end lies in the area."""


@dataclass(frozen=True)
class DescentCheck:
    """One recorded descent, predicted at several moments."""

    file: str
    flight: str
    release: datetime
    """Start of its record."""
    latitude_deg: float
    longitude_deg: float
    top_msl_m: float
    end_msl_m: float
    fallen_m: float
    """Recorded distance from the first to the last position, over the ground."""
    ascent_age_s: float
    """Mean time between the ascent's and the descent's passage of a height."""
    moments: tuple[DescentMoment, ...]
    left_out: tuple[str, ...]
    """Moments that the record does not hold."""


def matching_ascent(descent: Sounding, soundings: Sequence[Sounding]) -> Sounding | str:
    """The ascent of the same flight or station, released at most 3 h before, or why there is none.

    Of several the one whose top lies nearest in time to the start of the descent.
    """
    best, best_gap_s = None, np.inf
    down = leg_of(descent)
    if isinstance(down, str):
        return down
    for ascent in soundings:
        up = None if ascent.is_descent else leg_of(ascent)
        if up is None or isinstance(up, str):
            continue
        waited_s = (down.start - up.start).total_seconds()
        gap_s = abs(waited_s - float(up.time_s[-1]))
        if 0.0 < waited_s <= LONGEST_WAIT_S and gap_s < best_gap_s and _same_flight(down, up, gap_s):
            best, best_gap_s = ascent, gap_s
    return "no ascent of this flight or station in the 3 h before it" if best is None else best


def _same_flight(down: Leg, up: Leg, gap_s: float) -> bool:
    if down.flight == up.flight:
        return True
    ends = (up.latitude_deg[-1], up.longitude_deg[-1], down.latitude_deg[0], down.longitude_deg[0])
    if gap_s > SOON_S or not np.isfinite(ends).all():
        return False
    return geodesic_inverse(*(float(value) for value in ends))[0] <= NEAR_M


def descent_check(
    descent: Sounding, soundings: Sequence[Sounding], fall: FallPrior, wind: WindPrior, rng_seed: int
) -> DescentCheck | str:
    """Predict the end of a recorded descent at the moments it passed, or say why that cannot be judged.

    Winds and air density are those of the matching ascent among ``soundings``; nothing that was recorded after a
    moment enters its prediction but the height of the end.
    """
    down = leg_of(descent)
    if isinstance(down, str):
        return down
    if not np.isfinite([down.latitude_deg[-1], down.longitude_deg[-1]]).all():
        return "its last level has no measured position"
    if down.height_msl_m[0] - down.height_msl_m[-1] < FIRST_DEPTH_M:
        return f"the record holds only {down.height_msl_m[0] - down.height_msl_m[-1]:.0f} m of descent"
    found = matching_ascent(descent, soundings)
    if isinstance(found, str):
        return found
    up = leg_of(found)
    if isinstance(up, str):
        return up
    if not np.isfinite(up.latitude_deg).any():
        return "its ascent has no measured positions"
    knots = np.arange(down.height_msl_m[-1], down.height_msl_m[0] + LAYER_M, LAYER_M)
    prior = prior_fall_law(knots, up.density_at_kg_m3(knots), UNKNOWN_CANOPY, fall)
    rng = np.random.default_rng(rng_seed)
    made, left_out = [], []
    for name, height in _moments(down):
        if height is None or height - down.height_msl_m[-1] < LEAST_LEFT_M:
            left_out.append(f"{name}: not in the record, or less than {LEAST_LEFT_M / 1000:.0f} km above its end")
            continue
        seen = seen_speeds_m_s(down, height)
        if not len(seen[0]):
            left_out.append(f"{name}: a gap in the record hides the fall so far")
            continue
        made.append(_predict(name, height, seen, (down, up), prior, wind, rng))
    ages = (down.start - up.start).total_seconds() + down.time_at_s(knots) - up.time_at_s(knots)
    return DescentCheck(
        file=descent.source.name,
        flight=descent.station,
        release=down.start,
        latitude_deg=descent.latitude_deg,
        longitude_deg=descent.longitude_deg,
        top_msl_m=float(down.height_msl_m[0]),
        end_msl_m=float(down.height_msl_m[-1]),
        fallen_m=_apart_m(down.latitude_deg[0], down.longitude_deg[0], down.latitude_deg[-1], down.longitude_deg[-1]),
        ascent_age_s=float(np.nanmean(ages)),
        moments=tuple(made),
        left_out=tuple(left_out),
    )


def _moments(down: Leg) -> list[tuple[str, float | None]]:
    """Names and heights; None where the record does not hold the moment."""
    heights: list[tuple[str, float | None]] = []
    after_minute = float(np.interp(FIRST_MINUTE_S, down.time_s, down.height_msl_m, right=np.nan))
    heights.append(("burst + 1 min", after_minute if np.isfinite(after_minute) else None))
    heights.append(("3 km into the record", float(down.height_msl_m[0]) - FIRST_DEPTH_M))
    first_seen = float(np.interp(FIRST_MINUTE_S, down.time_s, down.height_msl_m))
    heights.extend((f"{h / 1000:.0f} km", h if h < first_seen else None) for h in MOMENT_HEIGHTS_M)
    return heights


def seen_speeds_m_s(down: Leg, until_msl_m: float) -> tuple[Array, Array]:
    """Heights and fall speeds of the layers between the opening of the canopy and a height."""
    opened = float(np.interp(OPENING_S, down.time_s, down.height_msl_m))
    layers = max(int((opened - until_msl_m) / LAYER_M), 1)
    return layer_rates_m_s(down, np.linspace(opened, until_msl_m, layers + 1))


def _predict(
    name: str,
    height_msl_m: float,
    seen_speeds: tuple[Array, Array],
    legs: tuple[Leg, Leg],
    prior: FallLaw,
    wind: WindPrior,
    rng: np.random.Generator,
) -> DescentMoment:
    seen_at, seen = seen_speeds
    down, up = legs
    law = condition_fall(prior, seen_at, seen, LAYER_LN_SD)
    track = np.linspace(height_msl_m, down.height_msl_m[-1], int((height_msl_m - down.height_msl_m[-1]) / LAYER_M) + 2)
    u, v = up.wind_at_m_s(track)
    start = tuple(float(value) for value in down.position_at_deg(height_msl_m))
    if not np.isfinite(start).all():
        known = np.isfinite(down.latitude_deg)
        start = tuple(
            float(np.interp(down.time_at_s(height_msl_m), down.time_s[known], values[known]))
            for values in (down.latitude_deg, down.longitude_deg)
        )
    end = (float(down.latitude_deg[-1]), float(down.longitude_deg[-1]))

    times = fall_times_s(track, law.draw_speed_m_s(track, FLIGHTS, rng))
    now_s = (down.start - up.start).total_seconds() + float(down.time_at_s(height_msl_m))
    root = square_root(_held_wind_covariance(track, now_s + np.median(times, axis=0), start, (u, v), up, wind))
    more_u, more_v = (rng.standard_normal((FLIGHTS, len(track))) @ root for _ in range(2))
    ends = np.array(
        [_end_deg(t, track, u + eu, v + ev, start) for t, eu, ev in zip(times, more_u, more_v, strict=True)]
    )
    area = landing_area(ends[:, 0], ends[:, 1], unknown=0, levels=(0.5, 0.9))
    centre = area.mean_deg if area.mean_deg is not None else (float("nan"), float("nan"))

    ratio = law.rows(seen_at)[:, 1]
    plain_ln = float(np.mean(np.log(seen) - 0.5 * ratio))
    plain = fall_times_s(track, np.exp(plain_ln + 0.5 * law.rows(track)[:, 1])[None])[0]
    recorded = down.time_at_s(track) - down.time_at_s(height_msl_m)
    return DescentMoment(
        moment=name,
        height_msl_m=height_msl_m,
        exponent=law.exponent[0],
        exponent_sd=law.exponent[1],
        left_s=float(recorded[-1]),
        predicted_left_s=_five(times[:, -1]),
        plain_left_s=float(plain[-1]),
        error_m=_apart_m(*centre, *end),
        plain_error_m=_apart_m(*_end_deg(plain, track, u, v, start), *end),
        wind_only_error_m=_apart_m(*_end_deg(recorded, track, u, v, start), *end),
        area_50_km2=area.parts[0].area_km2,
        area_90_km2=area.parts[1].area_km2,
        inside_50=_inside(area, 0, end),
        inside_90=_inside(area, 1, end),
    )


def fall_times_s(height_msl_m: Array, speed_m_s: Array) -> Array:
    """Times from the first height to each, shape (flights, M): trapezoid rule on the slowness.

    :param height_msl_m: falling, shape (M,).
    :param speed_m_s: shape (flights, M).
    """
    slowness = 1.0 / speed_m_s
    steps = 0.5 * (slowness[:, 1:] + slowness[:, :-1]) * -np.diff(height_msl_m)
    return np.concatenate([np.zeros((len(speed_m_s), 1)), np.cumsum(steps, axis=1)], axis=1)


def _held_wind_covariance(
    track_msl_m: Array,
    time_s: Array,
    start_deg: tuple[float, ...],
    wind_m_s: tuple[Array, Array],
    up: Leg,
    prior: WindPrior,
) -> Array:
    """Covariance [m2/s2] of the ascent's wind as a guess of the descent's, one component, at the heights of a track.

    The size is that of a wind held from where and when the ascent passed each height, shared out by ``held_parts_m_s``.

    :param time_s: of the descent at each height, after the start of the ascent.
    """
    passed = np.clip(track_msl_m, up.height_msl_m[0], up.height_msl_m[-1])
    age = time_s - up.time_at_s(passed)
    plane = LocalPlane(start_deg[0], start_deg[1])
    there = drift(time_s - time_s[0], track_msl_m, *wind_m_s, start_deg[0], start_deg[1])
    east, north = plane.to_east_north_m(*there)
    known = np.isfinite(up.latitude_deg)
    first, last = up.height_msl_m[known][0], up.height_msl_m[known][-1]
    up_east, up_north = plane.to_east_north_m(*up.position_at_deg(np.clip(passed, first, last)))
    apart = np.hypot(east - up_east, north - up_north)
    large, wave = held_parts_m_s(up.pressure_at_pa(passed), apart, age, prior)
    both = {
        "height_msl_m": np.stack([track_msl_m] * 2),
        "time_s": np.stack([time_s] * 2),
        "east_m": np.stack([east] * 2),
        "north_m": np.stack([north] * 2),
    }
    # the field knows two legs; the first one has no error here and drops out
    none = np.zeros_like(large)
    knots = FlightKnots(
        **both,
        large_sd_m_s=np.stack([none, large]),
        wave_sd_m_s=np.stack([none, wave]),
        member_deviation_m_s=np.zeros((1, 2, len(large), 2)),
    )
    return knot_covariance(knots, prior)[len(large) :, len(large) :]


def _end_deg(
    time_s: Array, height_msl_m: Array, u: Array, v: Array, start_deg: tuple[float, ...]
) -> tuple[float, float]:
    latitude, longitude = drift(time_s, height_msl_m, u, v, start_deg[0], start_deg[1])
    return float(latitude[-1]), float(longitude[-1])


def _apart_m(latitude: float, longitude: float, to_latitude: float, to_longitude: float) -> float:
    if not np.isfinite([latitude, longitude, to_latitude, to_longitude]).all():
        return float("nan")
    return geodesic_inverse(float(latitude), float(longitude), float(to_latitude), float(to_longitude))[0]


def _five(values: Array) -> tuple[float, float, float, float, float]:
    a, b, c, d, e = (float(value) for value in np.quantile(values, (0.05, 0.25, 0.5, 0.75, 0.95)))
    return a, b, c, d, e


def _inside(area: LandingArea, part: int, point_deg: tuple[float, float]) -> bool:
    """Whether a place lies in an area: the area counts it as its only flight."""
    rings = [ring for polygon in area.parts[part].polygons for ring in polygon]
    only = replace(
        area, latitude_deg=np.array(point_deg[:1]), longitude_deg=np.array(point_deg[1:]), landed=1, flights=1
    )
    return only.probability_inside(rings).p == 1.0
