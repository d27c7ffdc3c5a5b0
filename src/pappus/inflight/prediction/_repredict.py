"""Where the flight comes down now: the same ensemble as before the flight, flown on from what was heard."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.earth import radii_of_curvature_m
from pappus.errors import BadInput, Finding
from pappus.flight_train import CutDown, fall_rate_m_s
from pappus.inflight.prediction._climb import LAYER_M as CLIMB_LAYER_M
from pappus.inflight.prediction._climb import RATE_SD_M_S, ClimbSeen, Lift, lift_now
from pappus.inflight.prediction._end import cut_by
from pappus.inflight.prediction._fall import (
    LAYER_LN_SD,
    OPENING_S,
    STRETCH_M,
    Canopy,
    FallSeen,
    canopy_seen,
    seen_fall,
    with_canopy,
)
from pappus.inflight.prediction._model import InFlightModel
from pappus.inflight.prediction._prediction import Fitted, Prediction
from pappus.inflight.prediction._track import Track, climb_rates, fall_rates, track_of
from pappus.inflight.prediction._winds import draw_winds, knots_of, seconds_ahead, seen_winds, still_to_come
from pappus.landing import LandingArea, landing_area, quantiles, share
from pappus.tracking import Estimate, Phase
from pappus.trajectory import AscentEnd, Conditions, Draws, Flights, Outcome, Release, fly, nominal_draw
from pappus.units import standard_gravity_m_s2

Array = NDArray[np.float64]

FLIGHTS = 2_000
QUANTILES = (0.05, 0.5, 0.95)
LEVELS = (0.5, 0.9)
TRACKS = 200
OLD_FIX_S, LATE_S = 60.0, 60.0
DOUBTED_FROM = 1.5
CUT_NAME = "cut-down now"
SLOWEST_FALL_M_S = 1.0


def repredict(
    model: InFlightModel,
    estimate: Estimate,
    now: datetime,
    *,
    flights: int = FLIGHTS,
    seed: int = 1,
    with_winds: bool = True,
    tracks: int = TRACKS,
    levels: Sequence[float] = LEVELS,
    threads: ThreadPoolExecutor | None = None,
) -> Prediction:
    """The landing area as things are now; the planned flight while the balloon has not left the ground.

    Deterministic for the seed. Rates, winds and falls are those of the estimate; the flights begin at its newest
    position, however old that is.

    :param with_winds: False leaves the measured winds out, to see what they are worth.
    """
    track = track_of(estimate, model.epoch, (model.site.latitude_deg, model.site.longitude_deg))
    return _predicted(model, estimate, track, now, None, flights, seed, with_winds, tracks, levels, threads)


def cut_now(
    model: InFlightModel,
    estimate: Estimate,
    now: datetime,
    *,
    flights: int = FLIGHTS,
    seed: int = 1,
    levels: Sequence[float] = LEVELS,
    threads: ThreadPoolExecutor | None = None,
) -> Prediction:
    """What a cut-down at this moment would do: the same as ``repredict``, with the ascent ended at ``now``.

    Raises BadInput when the balloon does not climb or float: nothing is left to cut.
    """
    track = track_of(estimate, model.epoch, (model.site.latitude_deg, model.site.longitude_deg))
    if track is None or track.falls:
        raise BadInput(
            Finding("cut-down", str(estimate.phase), "the balloon is not on its way up", "Ask while it climbs.")
        )
    cut_s = max((now - model.epoch).total_seconds(), track.now_s)
    return _predicted(model, estimate, track, now, cut_s, flights, seed, True, TRACKS, levels, threads)


def _predicted(
    model: InFlightModel,
    estimate: Estimate,
    track: Track | None,
    now: datetime,
    cut_s: float | None,
    flights: int,
    seed: int,
    with_winds: bool,
    tracks: int,
    levels: Sequence[float],
    threads: ThreadPoolExecutor | None,
) -> Prediction:
    rng = np.random.default_rng([seed, 2])
    notes: list[str] = []
    draws = model.fresh_draws(flights, rng)
    before = canopy = model.canopy
    lift = None
    conditions = model.conditions
    release = conditions.release
    if track is None:
        late_s = (now - model.release).total_seconds()
        if late_s > LATE_S:
            release = replace(release, time_s=release.time_s + late_s)
            notes.append(f"The planned release passed {late_s / 60:.0f} min ago: the flights leave now.")
    else:
        end = AscentEnd.BURST if track.falls else AscentEnd.NONE
        cut = cut_by(conditions.train.cut_downs, track, estimate.fall_start) if track.falls else None
        if cut is not None:
            notes.append(f"The fall began when {cut.name!r} was due: a cut-down, no film of the balloon on the train.")
            end, before = AscentEnd.CUT_DOWN, model.canopy_cut
            draws = replace(draws, remnant_kg=np.zeros(flights))
        release = Release(
            track.latitude_deg, track.longitude_deg, track.height_msl_m, track.now_s, track.released_s, end
        )  # fmt: skip
        draws = replace(draws, release_delay_s=np.zeros(flights))
        if track.falls:
            canopy = canopy_seen(before, _fall_seen(estimate, track, model.epoch))
            if canopy.seen:
                draws = with_canopy(draws, canopy, model.plan.flight_train, model.air, rng)
        else:
            lift = _lift(model, estimate, track, flights, rng)
            draws = _lifted(draws, lift.draws)
            if not lift.fits:
                notes.append("The climb so far fits no balloon of the plan: the gas is taken from the present rate.")
    conditions = _from(conditions, release, cut_s)
    mean = model.mean.moved(release=conditions.release, train=conditions.train)
    ahead = fly(mean, _middle(model, draws, canopy, track))
    knots = knots_of(model, track, ahead)
    seen = seen_winds(model, track) if track is not None and with_winds else None
    ground = float(ahead.end_height_msl_m[0]) if ahead.landed[0] else -np.inf
    left = still_to_come(model, track, float(ahead.top_height_msl_m[0]), ground)
    error, told = draw_winds(model, knots, seen, draws.member, left, seconds_ahead(model, ahead), rng)
    draws = replace(draws, wind_error_m_s=error)
    flown = fly(conditions, draws, tracks=tracks, threads=threads)
    if track is not None and estimate.position is not None:
        flown = _moved_by_noise(flown, estimate.position.position_sd_m, rng)
        age = (now - estimate.position.time_utc).total_seconds()
        if age > OLD_FIX_S:
            notes.append(f"The newest position is {age / 60:.0f} min old; the flights go on from there.")
    off = ~draws.nominal
    landed = flown.landed
    count = int(landed.sum())
    area = _area(flown, off, levels, seed, threads)
    if max(told.large_raised, told.wave_raised) >= DOUBTED_FROM and told.rms_off_m_s is not None:
        notes.append(
            f"The measured winds are {told.rms_off_m_s:.1f} m/s off the forecast, {told.expected_rms_m_s:.1f} were "
            "expected: the rest of it is doubted as much."
        )
    if model.own_winds:
        notes.append("No forecast: winds of the flight's own ascent, held; air of the standard atmosphere.")
    up = track is None or not track.falls

    def counted(hit: NDArray[np.bool_]) -> int:
        return int(hit.sum())

    return Prediction(
        made_utc=now,
        from_utc=model.epoch + timedelta(seconds=release.time_s),
        phase=estimate.phase,
        epoch=model.epoch,
        flights=flown,
        off_nominal=off,
        area=area,
        arrival=quantiles(flown.end_time_s[landed], QUANTILES, flights - count) if count else None,
        burst_ahead=share(counted(flown.ascent_end == AscentEnd.BURST) if up else 0, flights),
        cut_ahead=share(counted(flown.ascent_end == AscentEnd.CUT_DOWN) if up else 0, flights),
        floats=share(counted(flown.outcome == Outcome.STILL_ALOFT), flights),
        unknown=share(flights - count, flights),
        fouled=share(counted(draws.fouled), flights),
        touchdown_m_s=quantiles(flown.touchdown_m_s[landed], QUANTILES, flights - count) if count else None,
        fitted=_fitted(model, lift, before, canopy, track),
        winds=told,
        notes=tuple(notes),
    )


def _area(
    flown: Flights, off: NDArray[np.bool_], levels: Sequence[float], seed: int, threads: ThreadPoolExecutor | None
) -> LandingArea:
    """The area of all flights and that of the nominal ones, side by side where there are threads."""
    landed = flown.landed
    latitude, longitude = flown.end_latitude_deg[landed], flown.end_longitude_deg[landed]
    unknown, nominal = len(landed) - int(landed.sum()), ~off[landed]
    if threads is None or not nominal.any():
        return landing_area(latitude, longitude, unknown=unknown, nominal=nominal, levels=levels, rng_seed=seed)
    other = threads.submit(
        landing_area, latitude[nominal], longitude[nominal], unknown=unknown, levels=levels, rng_seed=seed
    )  # fmt: skip
    every = landing_area(latitude, longitude, unknown=unknown, levels=levels, rng_seed=seed)
    return replace(every, nominal=other.result())


def _from(conditions: Conditions, release: Release, cut_s: float | None) -> Conditions:
    train = conditions.train
    if cut_s is not None:
        left = release.time_s if release.left_s is None else release.left_s
        now = CutDown(CUT_NAME, 1, "time", "command", after_release_s=max(cut_s - left, 0.0))
        train = replace(train, cut_downs=(*train.cut_downs, now))
    return conditions.moved(release=release, train=train)


def _fall_seen(estimate: Estimate, track: Track, epoch: datetime) -> FallSeen:
    """Speeds between the opening of the canopy and now.

    A slow fall has crossed no whole stretch for a while: its speed now stands in. Were it left out, only fast falls
    would be learned from.
    """
    opened_s = -np.inf if track.fall_start_s is None else track.fall_start_s + OPENING_S
    after = [w for w in track.fallen if (w.time_utc - epoch).total_seconds() - 0.5 * w.seconds >= opened_s]
    middle, speed, depth = fall_rates(after, STRETCH_M)
    motion = estimate.motion
    if not len(speed) and motion is not None and track.now_s > opened_s and motion.climb_m_s < -SLOWEST_FALL_M_S:
        now, noise = -motion.climb_m_s, np.hypot(motion.climb_sd_m_s / -motion.climb_m_s, LAYER_LN_SD)
        return FallSeen(np.array([motion.height_msl_m]), np.array([now]), np.array([noise]))
    return seen_fall(middle, speed, depth)


def _lift(model: InFlightModel, estimate: Estimate, track: Track, flights: int, rng: np.random.Generator) -> Lift:
    middle, rate, depth = climb_rates(track.up, CLIMB_LAYER_M)
    motion = estimate.motion
    assert motion is not None
    sd = RATE_SD_M_S * np.sqrt(CLIMB_LAYER_M / depth)
    floats = estimate.phase is Phase.FLOAT
    first = model.conditions.release
    return lift_now(
        model.laws,
        ClimbSeen(middle, rate, sd),
        model.plan.flight_train,
        model.flight_prior,
        model.air,
        model.conditions.sun,
        level_height_msl_m=model.conditions.field.level_height_msl_m,
        height_msl_m=track.height_msl_m,
        time_s=track.now_s,
        release_s=first.time_s if track.released_s is None else track.released_s,
        rate_now_m_s=(motion.climb_m_s, motion.climb_sd_m_s),
        floats=floats,
        nominal_top_msl_m=float(model.nominal.top_height_msl_m[0]),
        flights=flights,
        rng=rng,
    )


def _lifted(draws: Draws, now: Draws) -> Draws:
    """Draws with the balloon as it is now; canopy, remnant and member stay."""
    return replace(
        draws,
        gas_mol=now.gas_mol,
        drag_factor=now.drag_factor,
        climb_ln=now.climb_ln,
        burst_diameter_m=now.burst_diameter_m,
        early_burst_msl_m=now.early_burst_msl_m,
        gas_excess_offset_k=now.gas_excess_offset_k,
        leak_per_s=now.leak_per_s,
    )


def _middle(model: InFlightModel, draws: Draws, canopy: Canopy, track: Track | None) -> Draws:
    """The one flight whose every part is in the middle of what is thought of it now."""
    one = nominal_draw(model.plan.flight_train, model.fill, model.flight_prior)
    if track is None:
        return one
    one = replace(one, remnant_kg=np.full(1, float(np.median(draws.remnant_kg))))
    fall = None
    if canopy.seen:
        heights = model.air.height_msl_m
        _, _, density = model.air.at(heights)
        law = canopy.fouled if canopy.fouled_chance > 0.5 else canopy.sound
        plain = fall_rate_m_s(
            model.plan.flight_train.train_mass_kg + one.remnant_kg, one.drag_area_m2, density, standard_gravity_m_s2,
            one.fall_exponent,
        )  # fmt: skip
        fall = (law.ln_speed(heights)[0] - np.log(plain))[None].astype(np.float32)
    middle = {
        name: np.full(1, float(np.median(getattr(draws, name))))
        for name in ("gas_mol", "drag_factor", "burst_diameter_m", "gas_excess_offset_k")
    }
    climb = None if draws.climb_ln is None else np.median(draws.climb_ln, axis=0)[None]
    return replace(one, **middle, climb_ln=climb, fall_ln=fall)


def _moved_by_noise(flown: Flights, sd_m: float, rng: np.random.Generator) -> Flights:
    """The ends as far off as the position may be that all flights began at."""
    noise = sd_m * rng.standard_normal((2, len(flown.outcome)))
    meridional, prime_vertical = radii_of_curvature_m(flown.end_latitude_deg)
    east_deg = np.degrees(noise[0] / (prime_vertical * np.maximum(np.cos(np.radians(flown.end_latitude_deg)), 1e-6)))
    return replace(
        flown,
        end_latitude_deg=np.clip(flown.end_latitude_deg + np.degrees(noise[1] / meridional), -90.0, 90.0),
        end_longitude_deg=flown.end_longitude_deg + east_deg,
    )


def _fitted(
    model: InFlightModel, lift: Lift | None, canopy_before: Canopy, canopy: Canopy, track: Track | None
) -> tuple[Fitted, ...]:
    rows = []

    def add(name: str, unit: str, now: Array, before: Array) -> None:
        rows.append(
            Fitted(name, unit, float(np.median(now)), float(now.std()), float(np.median(before)), float(before.std()))
        )

    if lift is not None:
        before, now = model.rows, lift.draws
        add("gas left", "mol", now.gas_mol, before.gas_mol)
        add("drag over the law", "1", now.drag_factor, before.drag_factor)
        add("burst diameter", "m", now.burst_diameter_m, before.burst_diameter_m)
        add("leak", "share of the gas per hour", now.leak_per_s * 3600.0, before.leak_per_s * 3600.0)
    if track is not None and track.falls:
        fouled = canopy.fouled_chance > 0.5
        law, prior = (canopy.fouled, canopy_before.fouled) if fouled else (canopy.sound, canopy_before.sound)
        (ln_now, sd_now), (ln_before, sd_before) = law.scale_ln, prior.scale_ln
        rows.append(
            Fitted("fall speed at sea level", "m/s", float(np.exp(ln_now)), float(np.exp(ln_now) * sd_now),
                   float(np.exp(ln_before)), float(np.exp(ln_before) * sd_before))
        )  # fmt: skip
        rows.append(Fitted("fall exponent", "1", *law.exponent, *prior.exponent))
        chance, was = canopy.fouled_chance, canopy_before.fouled_chance
        rows.append(Fitted("chance of a fouled canopy", "1", chance, 0.0, was, 0.0))
    return tuple(rows)
