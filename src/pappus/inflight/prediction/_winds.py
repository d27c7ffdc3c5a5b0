"""What the winds measured so far say of those to come: the error field on the knots of the flight, conditioned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane
from pappus.inflight.prediction._air import winds_at
from pappus.inflight.prediction._model import InFlightModel
from pappus.inflight.prediction._track import Track
from pappus.trajectory import Flights, flight_knots
from pappus.wind import (
    FlightKnots,
    WindPrior,
    WindSeen,
    beyond_wind_sd_m_s,
    condition,
    draw_wind_error,
    held_parts_m_s,
    knot_covariance,
    posterior,
    total_covariance,
)

Array = NDArray[np.float64]

POINTS_IN_LAYER = 5
MERGED_M = 500.0
PIECES = 10
LEAST_SD_M_S = 0.1
SCALES = (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 7.0)
SCALE_LN_SD = 0.3
"""How far off the size of the large errors may be on one day, as a logarithm [own prior]."""


@dataclass(frozen=True)
class WindsTold:
    """What was measured, and what it did to the winds still to come."""

    layers: int
    rms_off_m_s: float | None
    """Of the measured winds against the mean forecast, per component."""
    expected_rms_m_s: float | None
    """What the prior and the noise would have had it."""
    sd_before_m_s: float
    """Of the winds still to come, per component, mean over the heights that are left; before and after."""
    sd_after_m_s: float
    large_raised: float
    """Factor on the large part of the wind error; above 1 where the measured winds are farther off than it had them."""
    wave_raised: float
    """The same on the wave part."""
    drift_ratio: float
    """Standard deviation of the drift still to come, after over before the update: the exact Gaussian along the middle
    flight, both with the error field as raised."""


def knots_of(model: InFlightModel, track: Track | None, ahead: Flights) -> FlightKnots:
    """Knots along the flight: where it was, and where its middle goes from now on."""
    if track is None:
        return flight_knots(model.conditions.field, ahead, model.prior.wind)
    whole = _with_past(ahead, track)
    knots = flight_knots(model.conditions.field, whole, model.prior.wind)
    return _held_knots(model, track, knots) if model.own_winds else knots


def _with_past(ahead: Flights, track: Track) -> Flights:
    known = np.isfinite(ahead.track_time_s[0])

    def joined(name: str, values: Array) -> Array:
        # the last passage is where the track ahead begins
        past = np.concatenate([getattr(track.up, name), getattr(track.down, name)])[:-1]
        return np.concatenate([past, values[0, known]])[None]

    return replace(
        ahead,
        track_time_s=joined("time_s", ahead.track_time_s),
        track_latitude_deg=joined("latitude_deg", ahead.track_latitude_deg),
        track_longitude_deg=joined("longitude_deg", ahead.track_longitude_deg),
        track_height_msl_m=joined("height_msl_m", ahead.track_height_msl_m),
        track_of=None,
    )


def _held_knots(model: InFlightModel, track: Track, knots: FlightKnots) -> FlightKnots:
    """Of the flight's own column: nothing is off where and when it was measured; from there on it ages."""
    field, prior = model.conditions.field, model.prior.wind
    heights, up = field.level_height_msl_m, track.up
    passed = np.interp(heights, up.height_msl_m, up.time_s)
    plane = LocalPlane(track.latitude_deg, track.longitude_deg)
    east, north = plane.to_east_north_m(up.latitude_deg, up.longitude_deg)
    at_east, at_north = (np.interp(heights, up.height_msl_m, values) for values in (east, north))
    origin = LocalPlane(float(up.latitude_deg[0]), float(up.longitude_deg[0]))
    # knots count from the first point of the track
    here = origin.to_east_north_m(track.latitude_deg, track.longitude_deg)
    apart = np.hypot(knots.east_m - float(here[0]) - at_east, knots.north_m - float(here[1]) - at_north)
    age = np.maximum(knots.time_s - passed, 0.0)
    large, wave = held_parts_m_s(np.broadcast_to(field.level_pressure_pa, age.shape), apart, age, prior)
    top = float(model.known.height_msl_m.max())
    low = float(model.known.height_msl_m.min())
    beyond = beyond_wind_sd_m_s(np.maximum(heights - top, low - heights), prior)
    share = prior.large_share
    large = np.hypot(large, np.sqrt(share) * beyond)
    wave = np.hypot(wave, np.sqrt(1.0 - share) * beyond)
    measured = heights <= top
    large[0, measured], wave[0, measured] = 0.0, 0.0
    return replace(knots, large_sd_m_s=large, wave_sd_m_s=wave)


def seen_winds(model: InFlightModel, track: Track) -> WindSeen | None:
    """The measured layers as means over the knots, against the mean forecast where and when each was measured."""
    rows = np.array([k for k, w in enumerate(track.layers) if not (model.own_winds and w.leg == "up")], dtype=np.intp)
    if not len(rows):
        return None
    layers = [track.layers[k] for k in rows]
    heights = model.conditions.field.level_height_msl_m
    points = (np.arange(POINTS_IN_LAYER) + 0.5) / POINTS_IN_LAYER
    at = np.array([w.low_msl_m + points * (w.high_msl_m - w.low_msl_m) for w in layers])
    right = np.clip(np.searchsorted(heights, at), 1, len(heights) - 1)
    share = np.clip((at - heights[right - 1]) / (heights[right] - heights[right - 1]), 0.0, 1.0)
    weights = np.zeros((len(layers), 2 * len(heights)))
    leg = np.array([0 if w.leg == "up" else len(heights) for w in layers])[:, None]
    row = np.arange(len(layers))[:, None]
    np.add.at(weights, (row, leg + right - 1), (1.0 - share) / POINTS_IN_LAYER)
    np.add.at(weights, (row, leg + right), share / POINTS_IN_LAYER)

    place = track.layer_latitude_deg[rows], track.layer_longitude_deg[rows], track.layer_time_s[rows]
    expected = np.stack([wind.mean(axis=1) for wind in winds_at(model.sampler, at, *place)], axis=1)
    measured = np.array([(w.wind_u_m_s, w.wind_v_m_s) for w in layers])
    sd = np.maximum(np.array([w.wind_sd_m_s for w in layers]), LEAST_SD_M_S)
    return _merged(WindSeen(weights, measured - expected, sd), [(w.leg, w.low_msl_m // MERGED_M) for w in layers])


def _merged(seen: WindSeen, key: Sequence[tuple[str, float]]) -> WindSeen:
    """Means of neighbours: levels stand no closer, and the work grows with the cube of the number."""
    numbers = {one: number for number, one in enumerate(dict.fromkeys(key))}
    member = np.array([numbers[one] for one in key])
    mean = np.eye(len(numbers))[:, member]
    mean = mean / mean.sum(axis=1, keepdims=True)
    return WindSeen(mean @ seen.weights, mean @ seen.against_mean_m_s, np.sqrt(mean**2 @ seen.sd_m_s**2))


@dataclass(frozen=True, eq=False)
class Parts:
    """Covariance of the winds at the knots, in parts that add up."""

    large: Array
    wave: Array
    """Shape (2L, 2L), alike for both components."""
    members: Array
    """Shape (2 components, 2L, 2L)."""

    def total(self, of_large: float, of_wave: float) -> Array:
        """With both parts of the error field raised by factors on their standard deviations."""
        return np.asarray(self.members + (of_large**2 * self.large + of_wave**2 * self.wave))


def parts_of(knots: FlightKnots, prior: WindPrior) -> Parts:
    """The parts of ``total_covariance``."""
    none = np.zeros_like(knots.large_sd_m_s)
    large = knot_covariance(replace(knots, wave_sd_m_s=none), prior)
    wave = knot_covariance(replace(knots, large_sd_m_s=none), prior)
    if len(knots.member_deviation_m_s) == 1:
        return Parts(large, wave, np.zeros((2, *large.shape)))
    return Parts(large, wave, total_covariance(replace(knots, large_sd_m_s=none, wave_sd_m_s=none), prior))


def raised(parts: Parts, seen: WindSeen) -> tuple[float, float]:
    """Factors that make the large and the wave part as large as the measured winds make most likely; never below 1.

    A forecast that is far off is so over a great depth and for hours: that is looked for first, in the large part.
    Then the winds seen say more of those to come, and what stays open is more as well. What is left goes to the wave
    part.
    """
    from scipy.linalg import solve_triangular

    alike = not parts.members.any()
    components = (0,) if alike else (0, 1)
    fixed = [seen.weights @ parts.members[c] @ seen.weights.T + np.diag(seen.sd_m_s**2) for c in components]
    large, wave = (seen.weights @ part @ seen.weights.T for part in (parts.large, parts.wave))

    def fit(of_large: float, of_wave: float) -> float:
        total = -0.5 * float(np.log(of_large) ** 2 + np.log(of_wave) ** 2) / SCALE_LN_SD**2
        for component in components:
            root = np.linalg.cholesky(fixed[component] + of_large**2 * large + of_wave**2 * wave)
            off = seen.against_mean_m_s if alike else seen.against_mean_m_s[:, [component]]
            white = solve_triangular(root, off, lower=True, check_finite=False)
            total += -0.5 * float((white**2).sum()) - off.shape[1] * float(np.log(np.diagonal(root)).sum())
        return float(total)

    of_large = _best(lambda scale: fit(scale, 1.0))
    return of_large, _best(lambda scale: fit(of_large, scale))


def _best(fit: Callable[[float], float]) -> float:
    """The scale before the first that fits worse."""
    best, chosen = fit(SCALES[0]), SCALES[0]
    for scale in SCALES[1:]:
        score = fit(scale)
        if score <= best:
            break
        best, chosen = score, scale
    return chosen


def draw_winds(
    model: InFlightModel,
    knots: FlightKnots,
    seen: WindSeen | None,
    member: NDArray[np.intp],
    left: NDArray[np.bool_],
    seconds: Array,
    rng: np.random.Generator,
) -> tuple[NDArray[np.float32], WindsTold]:
    """Wind errors for flights of these members, and what the measured winds changed.

    :param left: which of the 2L knots are still to come.
    :param seconds: that the middle flight will spend by each knot.
    """
    prior = model.prior.wind
    parts = parts_of(knots, prior)
    covariance = parts.total(1.0, 1.0)
    before = float(np.sqrt(np.diagonal(covariance, axis1=1, axis2=2)[:, left].mean()))
    if seen is None:
        return draw_wind_error(knots, len(member), rng, prior), WindsTold(0, None, None, before, before, 1.0, 1.0, 1.0)
    expected = np.einsum("ki,cki->ck", seen.weights, seen.weights @ covariance) + seen.sd_m_s**2
    of_large, of_wave = raised(parts, seen)
    covariance = parts.total(of_large, of_wave)
    knots = replace(knots, large_sd_m_s=of_large * knots.large_sd_m_s, wave_sd_m_s=of_wave * knots.wave_sd_m_s)
    drawn = draw_wind_error(knots, len(member), rng, prior)
    off = knots.member_deviation_m_s[member]
    moved = condition(drawn + off, covariance, seen, rng) - off
    _, after = posterior(covariance, seen)
    drift_before, drift_after = (float((c @ seconds @ seconds).sum()) for c in (covariance, after))
    return moved.astype(np.float32), WindsTold(
        layers=len(seen.sd_m_s),
        rms_off_m_s=float(np.sqrt(np.mean(seen.against_mean_m_s**2))),
        expected_rms_m_s=float(np.sqrt(expected.mean())),
        sd_before_m_s=before,
        sd_after_m_s=float(np.sqrt(np.maximum(np.diagonal(after, axis1=1, axis2=2)[:, left], 0.0).mean())),
        large_raised=of_large,
        wave_raised=of_wave,
        drift_ratio=float(np.sqrt(max(drift_after, 0.0) / drift_before)) if drift_before > 0.0 else 1.0,
    )


def seconds_ahead(model: InFlightModel, ahead: Flights) -> Array:
    """Time that the middle flight will spend by each of the 2L knots, its way cut into short pieces."""
    heights = model.conditions.field.level_height_msl_m
    known = np.isfinite(ahead.track_time_s[0])
    time, height = ahead.track_time_s[0, known], ahead.track_height_msl_m[0, known]
    top = int(np.argmax(height))
    seconds = np.zeros(2 * len(heights))
    for leg, rows in ((0, slice(0, top + 1)), (1, slice(top, None))):
        points = np.arange(len(time[rows]))
        cuts = np.linspace(0.0, len(points) - 1.0, PIECES * (len(points) - 1) + 1)
        at = np.interp(0.5 * (cuts[1:] + cuts[:-1]), points, height[rows])
        step = np.diff(np.interp(cuts, points, time[rows]))
        right = np.clip(np.searchsorted(heights, at), 1, len(heights) - 1)
        share = np.clip((at - heights[right - 1]) / (heights[right] - heights[right - 1]), 0.0, 1.0)
        np.add.at(seconds, leg * len(heights) + right - 1, (1.0 - share) * step)
        np.add.at(seconds, leg * len(heights) + right, share * step)
    return seconds


def still_to_come(
    model: InFlightModel, track: Track | None, top_msl_m: float, ground_msl_m: float
) -> NDArray[np.bool_]:
    """Which of the 2L knots the middle of the flight has before it."""
    heights = model.conditions.field.level_height_msl_m
    inside = (heights <= top_msl_m) & (heights >= ground_msl_m)
    inside[min(int(np.searchsorted(heights, ground_msl_m)), len(heights) - 1)] = True  # a step before the ground
    if track is None:
        return np.concatenate([inside, inside])
    if track.falls:
        return np.concatenate(
            [np.zeros_like(inside), inside & (heights <= max(track.height_msl_m, heights[inside][0]))]
        )
    return np.concatenate([inside & (heights >= track.height_msl_m), inside])
