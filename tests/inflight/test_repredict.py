"""Re-prediction on invented flights: what is measured narrows it as the exact update says, and nothing else does.

Checks are against the briefing's own ensemble, the closed form of the Gaussian update and of the cut-off normal, and
truths drawn from the model.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from aloft import flown, median_deg, silent
from hypothesis import given, settings
from hypothesis import strategies as st
from rehearsal_study import model_of, study, truth_with_winds
from replayed import barbados, plan_for, replay_page, replayed

from columns import PRIOR
from pappus.earth import distance_m
from pappus.errors import BadInput, NoSolution
from pappus.inflight import InFlightModel, cut_now, repredict, search_area, track_of, whereabouts
from pappus.inflight.prediction._climb import ClimbSeen, _rates_m_s, lift_now
from pappus.inflight.prediction._fall import FallSeen, canopy_seen
from pappus.inflight.prediction._winds import knots_of, seen_winds
from pappus.landing import landing_area
from pappus.preflight import Winds
from pappus.preflight.winds import fly_all, prepare
from pappus.tracking import Phase
from pappus.trajectory import AscentEnd
from pappus.wind import WindSeen, posterior, total_covariance


def test_nothing_heard_is_the_ensemble_of_the_briefing() -> None:
    """The same plan flown by the briefing: middles within their sampling error, areas within theirs."""
    model, _, at = flown()
    estimate, now = at["release"][0], model.release
    made = repredict(model, estimate, now, flights=1_500)
    plan = replace(model.plan, ensemble=replace(model.plan.ensemble, flights=1_500))
    winds = Winds(model.known)
    run = prepare(plan, winds, model.site, model.release, model.fill, (), model.prior)
    before = fly_all(plan, [run], model.fill, plan.fill.scale_sd_n, model.prior)
    landed = before.flights.landed
    area = landing_area(
        before.flights.end_latitude_deg[landed], before.flights.end_longitude_deg[landed],
        unknown=int((~landed).sum()), levels=(0.5, 0.9),
    )  # fmt: skip
    assert made.unknown.p == pytest.approx(float((~landed).mean()), abs=0.02)
    for mine, theirs in zip(made.area.parts, area.parts, strict=True):
        assert mine.area_km2 is not None
        assert theirs.area_km2 is not None
        assert mine.area_sd_km2 is not None
        # two ensembles, each with its own error
        assert abs(mine.area_km2 - theirs.area_km2) < 4.0 * math.sqrt(2.0) * mine.area_sd_km2
    apart = distance_m(*median_deg(made.area.latitude_deg, made.area.longitude_deg),
                       *median_deg(area.latitude_deg, area.longitude_deg))  # fmt: skip
    assert apart < 4.0 * 1.25 * 20_000.0 / math.sqrt(1_500.0)
    assert made.phase is Phase.GROUND
    assert made.winds.layers == 0


def test_a_late_release_is_late_all_the_way() -> None:
    model, _, at = flown()
    estimate, now = at["release"][0], model.release
    planned, late = (repredict(model, estimate, when, flights=60) for when in (now, now + timedelta(minutes=40)))
    assert planned.from_utc == model.release
    assert late.from_utc == now + timedelta(minutes=40)
    assert planned.arrival is not None
    assert late.arrival is not None
    assert late.arrival.values[1] - planned.arrival.values[1] == pytest.approx(2_400.0, abs=400.0)
    assert any("leave now" in note for note in late.notes)


def test_every_moment_is_nearer_and_narrower() -> None:
    model, truth, at = flown()
    end = float(truth.end_latitude_deg[0]), float(truth.end_longitude_deg[0])
    areas, errors = [], []
    for name, (estimate, now) in at.items():
        made = repredict(model, estimate, now, flights=400)
        area = made.area.parts[1].area_km2
        assert area is not None
        areas.append(area)
        errors.append(float(distance_m(*median_deg(made.area.latitude_deg, made.area.longitude_deg), *end)))
        print(f"{name}: {errors[-1] / 1e3:.1f} km off, 90 % area {area:.0f} km2, {made.winds}")
        assert made.arrival_utc is not None
        early, _, late = made.arrival_utc
        assert early < late
        if name not in ("release", "half ascent", "burst - 5 min"):
            assert made.burst_ahead.p == 0.0
    assert areas == sorted(areas, reverse=True)
    assert errors[-1] < errors[0] / 5.0


def test_the_same_seed_gives_the_same_answer() -> None:
    model, _, at = flown()
    estimate, now = at["burst - 5 min"]
    one, other = (repredict(model, estimate, now, flights=100, seed=4) for _ in range(2))
    assert np.array_equal(one.flights.end_latitude_deg, other.flights.end_latitude_deg)
    assert one.area.parts[1].area_km2 == other.area.parts[1].area_km2


def test_winds_measured_are_the_means_of_their_layers() -> None:
    """The weights hold each layer's mean over the knots; against a truth that is known, what is measured is right."""
    model, _, at = flown()
    estimate, _ = at["10 km down"]
    track = track_of(estimate, model.epoch, (model.site.latitude_deg, model.site.longitude_deg))
    assert track is not None
    seen = seen_winds(model, track)
    assert seen is not None
    assert np.allclose(seen.weights.sum(axis=1), 1.0)
    heights = np.tile(model.conditions.field.level_height_msl_m, 2)
    middles = seen.weights @ heights
    assert middles.min() > 0.0
    # up and down, each with its own half of the knots
    ups = seen.weights[:, : len(heights) // 2].sum(axis=1)
    assert np.isin(np.round(ups, 9), (0.0, 1.0)).all()
    assert 0.5 < np.sqrt(np.mean(seen.against_mean_m_s**2)) / 2.5 < 2.0


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 30), st.floats(0.1, 3.0))
def test_more_winds_never_widen_what_is_left(seed: int, more: int, sd: float) -> None:
    """The whole covariance shrinks: before less after has no negative eigenvalue, with few winds and with more."""
    model, _, at = flown()
    knots = knots_of(model, None, model.nominal)
    covariance = total_covariance(knots, PRIOR.wind)
    size, rng = covariance.shape[1], np.random.default_rng(seed)
    rows = rng.permutation(size)[: more + 5]
    weights = 0.7 * np.eye(size)[rows] + 0.3 * np.eye(size)[np.minimum(rows + 1, size - 1)]
    off, noise = 3.0 * rng.standard_normal((len(rows), 2)), np.full(len(rows), sd)
    few = posterior(covariance, WindSeen(weights[:5], off[:5], noise[:5]))[1]
    many = posterior(covariance, WindSeen(weights, off, noise))[1]
    for wide, narrow in ((covariance, few), (few, many)):
        assert np.linalg.eigvalsh(wide[0] - narrow[0]).min() > -1e-6
    assert at


def test_the_climb_so_far_moves_the_rest_as_a_linear_update_does() -> None:
    """A climb 8 % faster than the laws: the mean rate of the rest against the joint Gaussian of laws and scatter.

    ln(rates) of laws with their covariance V and the scatter C about them: mean of the rest given those seen
    (V + C)_rs (V + C)_ss^-1 off (any textbook). The laws are no Gaussian, so within a fifth.
    """
    model = model_of(False)
    laws, train, start = model.laws, model.plan.flight_train, model.conditions.release
    at = laws.middle_msl_m[laws.middle_msl_m < 32_000.0]
    seen = at < 14_000.0
    rates = np.log(laws.rate_at_m_s(at))
    mean = np.average(rates, axis=0, weights=laws.weight)
    both = np.cov(rates.T, aweights=laws.weight) + PRIOR.flight.climb_scatter.covariance(at)
    noise = 0.1 * np.exp(-mean[seen])
    own = both[np.ix_(seen, seen)] + np.diag(noise**2)
    faster = np.full(int(seen.sum()), math.log(1.08))
    expected = float((both[np.ix_(~seen, seen)] @ np.linalg.solve(own, faster)).mean())
    lift = lift_now(
        laws, ClimbSeen(at[seen], 1.08 * np.exp(mean[seen]), np.full(int(seen.sum()), 0.1)), train, model.flight_prior,
        model.air, model.conditions.sun, level_height_msl_m=at, height_msl_m=14_000.0, time_s=start.time_s + 2_700.0,
        release_s=start.time_s, rate_now_m_s=None, floats=False, nominal_top_msl_m=32_000.0, flights=4_000,
        rng=np.random.default_rng(1),
    )  # fmt: skip
    assert lift.draws.climb_ln is not None
    found = np.log(_rates_m_s(lift.draws, train, at, model.air, model.conditions.sun, start.time_s))
    found += lift.draws.climb_ln
    moved = float((found[:, ~seen].mean(axis=0) - mean[~seen]).mean())
    print(f"rest of the climb faster by {moved:.1%}, linear update {expected:.1%}")
    assert lift.fits
    assert lift.effective_laws > 100.0
    assert moved == pytest.approx(expected, rel=0.2)
    assert 0.01 < expected < math.log(1.08)


def test_burst_diameters_are_cut_off_below() -> None:
    """A balloon that is still whole at a diameter: the mean of the cut-off normal in closed form (Johnson, Kotz &
    Balakrishnan 1994, 13.134, from memory): mu + s phi(a) / (1 - Phi(a)).
    """
    from scipy.stats import norm

    from pappus.inflight.prediction._climb import _burst_diameters

    train = model_of(False).plan.flight_train
    envelope = train.envelope
    for score in (-3.0, 0.0, 1.5):
        diameter = np.full(40_000, envelope.burst_diameter_m * math.exp(score * envelope.burst_ln_sd))
        drawn = _burst_diameters(diameter, train, np.random.default_rng(3))
        told = np.log(drawn / envelope.burst_diameter_m) / envelope.burst_ln_sd
        assert drawn.min() >= diameter[0]
        assert told.mean() == pytest.approx(norm.pdf(score) / norm.sf(score), abs=0.03)


def test_a_slow_leak_shows_as_a_falling_rate() -> None:
    """Rates of a law that leaks 8 % an hour: most balloons left leak, where one in fifty did."""
    model = model_of(False)
    laws = model.laws
    leak = int(np.argmin(np.abs(laws.draws.leak_per_s * 3600.0 - 0.08)))
    upto = laws.middle_msl_m < 24_000.0
    lift = lift_now(
        laws, ClimbSeen(laws.middle_msl_m[upto], laws.rate_m_s[leak, upto], np.full(int(upto.sum()), 0.1)),
        model.plan.flight_train, model.flight_prior, model.air, model.conditions.sun,
        level_height_msl_m=model.conditions.field.level_height_msl_m, height_msl_m=24_000.0,
        time_s=model.conditions.release.time_s + 5_400.0, release_s=model.conditions.release.time_s,
        rate_now_m_s=None, floats=False, nominal_top_msl_m=32_000.0, flights=2_000, rng=np.random.default_rng(1),
    )  # fmt: skip
    before = float(laws.weight[laws.draws.leak_per_s > 0.0].sum())
    after = float((lift.draws.leak_per_s > 0.0).mean())
    print(f"leaking: {before:.3f} before, {after:.3f} after; drag {np.median(lift.draws.drag_factor):.2f}")
    assert before == pytest.approx(0.02, abs=0.005)
    assert after > 2.0 * before


def test_a_fast_fall_is_a_fouled_canopy() -> None:
    model = model_of(False)
    heights = np.arange(3_000.0, 28_000.0, 500.0)
    for law, low, high in ((model.canopy.sound, 0.0, 0.02), (model.canopy.fouled, 0.8, 1.0)):
        speed = np.exp(law.ln_speed(heights)[0])
        chance = canopy_seen(model.canopy, FallSeen(heights, speed, np.full(len(heights), 0.05))).fouled_chance
        assert low <= chance <= high
    assert canopy_seen(model.canopy, FallSeen(np.zeros(0), np.zeros(0), np.zeros(0))) is model.canopy


def test_a_floater_floats_and_a_cut_down_brings_it_down_at_once() -> None:
    model = model_of(False)
    estimate, now = silent(model, Phase.FLOAT, 24_000.0, 0.0)
    released_s = (now - model.epoch).total_seconds() - 3_600.0
    # the plan has a timer of 7,800 s aboard
    timed = repredict(model, estimate, now, flights=200)
    assert timed.cut_ahead.p > 0.95
    assert np.allclose(timed.flights.top_time_s, released_s + 7_800.0, atol=1.0)
    without = replace(model.conditions.train, cut_downs=())
    model = replace(
        model, conditions=model.conditions.moved(train=without), mean=model.mean.moved(train=without)
    )  # fmt: skip
    afloat = repredict(model, estimate, now, flights=200)
    assert afloat.floats.p > 0.5
    assert afloat.unknown.p >= afloat.floats.p
    cut = cut_now(model, estimate, now + timedelta(minutes=2), flights=200)
    assert cut.floats.p == 0.0
    assert cut.cut_ahead.p > 0.95
    assert cut.unknown.p < 0.02
    ended = cut.flights.ascent_end == AscentEnd.CUT_DOWN
    assert np.allclose(cut.flights.top_time_s[ended], released_s + 3_720.0, atol=1.0)
    assert cut.arrival is not None
    assert cut.arrival.values[1] - released_s < 3.5 * 3600.0


def test_a_cut_down_is_nearer_than_the_burst() -> None:
    model, _, at = flown()
    estimate, now = at["half ascent"]
    stay, cut = repredict(model, estimate, now, flights=200), cut_now(model, estimate, now, flights=200)
    assert stay.arrival is not None
    assert cut.arrival is not None
    assert cut.arrival.values[1] < stay.arrival.values[1] - 1_800.0
    assert cut.area.parts[1].area_km2 < stay.area.parts[1].area_km2  # type: ignore[operator]  # both exist
    estimate, now = at["10 km down"]
    with pytest.raises(BadInput, match="not on its way up"):
        cut_now(model, estimate, now)


def test_silence_grows_the_area_and_ends_on_the_ground() -> None:
    model, truth, at = flown()
    estimate, now = at["10 km down"]
    then = [now + timedelta(minutes=m) for m in (0, 5, 60)]
    seen = [whereabouts(repredict(model, estimate, when, flights=300, tracks=300), estimate, when) for when in then]
    areas = [one.area.parts[1].area_km2 for one in seen]
    print(areas, [one.down.p for one in seen])
    assert areas[0] < areas[1] < areas[2]  # type: ignore[operator]  # all exist
    assert seen[0].down.p == 0.0
    assert seen[2].down.p == 1.0
    assert seen[0].height_msl_m is not None
    assert seen[0].height_msl_m.values[1] == pytest.approx(10_000.0, abs=400.0)
    assert seen[2].area.parts[1].area_km2 == pytest.approx(seen[2].prediction.area.parts[1].area_km2, rel=0.25)
    with pytest.raises(BadInput, match="before the newest position"):
        whereabouts(seen[0].prediction, estimate, now - timedelta(hours=1))
    assert truth.landed[0]


def test_search_squares_are_ranked_and_hold_the_flights() -> None:
    model, truth, at = flown()
    estimate, now = at["5 km down"]
    made = repredict(model, estimate, now, flights=800)
    area = search_area(made, estimate)
    assert (np.diff(area.chance) <= 0.0).all()
    assert area.up_to_here[-1] == pytest.approx(0.99 * made.area.landed / made.area.flights, abs=0.005)
    # the squares that make up half hold about half of the flights that were not used to rank them
    fresh = repredict(model, estimate, now, flights=800, seed=9)
    half = area.up_to_here <= 0.5
    share = _share_in(area.latitude_deg[half], area.longitude_deg[half], area.edge_m, fresh.area.latitude_deg,
                      fresh.area.longitude_deg)  # fmt: skip
    assert share == pytest.approx(0.5, abs=0.08)
    assert area.heard_msl_m == pytest.approx(5_000.0, abs=300.0)
    end = distance_m(area.latitude_deg, area.longitude_deg, truth.end_latitude_deg[0], truth.end_longitude_deg[0])
    assert end.min() < 0.75 * area.edge_m
    with pytest.raises(BadInput, match="cell_m"):
        search_area(made, estimate, cell_m=1.0)


def _share_in(
    latitude: np.ndarray, longitude: np.ndarray, edge_m: float, of_latitude: np.ndarray, of_longitude: np.ndarray
) -> float:
    north = (of_latitude[:, None] - latitude) * 111_200.0
    east = (of_longitude[:, None] - longitude) * 111_200.0 * np.cos(np.radians(of_latitude[:, None]))
    return float(((np.abs(north) <= 0.5 * edge_m) & (np.abs(east) <= 0.5 * edge_m)).any(axis=1).mean())


def test_without_a_forecast_the_own_ascent_will_do() -> None:
    model, truth, at = flown()
    estimate, now = at["burst + 2 min"]
    site = model.site
    track = track_of(estimate, model.epoch, (site.latitude_deg, site.longitude_deg))
    assert track is not None
    own = InFlightModel.from_own_winds(model.plan, PRIOR, site, track, model.epoch, model.fill)
    made = repredict(own, estimate, now, flights=300)
    error = distance_m(*median_deg(made.area.latitude_deg, made.area.longitude_deg),
                       truth.end_latitude_deg[0], truth.end_longitude_deg[0])  # fmt: skip
    print(f"own winds: {float(error) / 1e3:.1f} km off, {made.area.parts[1].area_km2:.0f} km2")
    assert made.area.parts[1].area_km2 is not None
    assert float(error) < 30_000.0
    assert any("own ascent" in note for note in made.notes)
    early = replace(track, layers=track.layers[:2])
    with pytest.raises(NoSolution, match="2 layers"):
        InFlightModel.from_own_winds(model.plan, PRIOR, site, early, model.epoch, model.fill)


def test_what_the_study_holds_the_gain_against() -> None:
    """A wind that is off by 3 and 4 m/s all the way drifts 5 m for each second left. Known at the knots passed, a field
    that remembers for ever leaves next to nothing of it, and one that forgets at once all of it.
    """
    truth, winds = truth_with_winds(model_of(True), False, 5)
    assert truth is not None
    same = replace(winds, error_m_s=np.broadcast_to([3.0, 4.0], winds.error_m_s.shape))
    start, top, end = (
        float(v[0]) for v in (winds.path.track_time_s[:, 0], winds.path.top_time_s, winds.path.end_time_s)
    )
    for at in (start - 1.0, 0.5 * (start + top), top + 120.0, end - 100.0):
        assert same.drift_left_m(at, False, PRIOR.wind) == pytest.approx(5.0 * (end - max(at, start)), abs=5.0)
    assert same.drift_left_m(start - 1.0, True, PRIOR.wind) == same.drift_left_m(start - 1.0, False, PRIOR.wind)
    left_m = 5.0 * (end - top - 120.0)
    far = 1e9
    faithful = replace(PRIOR.wind, large_depth_m=far, large_time_s=far, large_distance_m=far)
    one = replace(same, knots=replace(winds.knots, wave_sd_m_s=0.0 * winds.knots.wave_sd_m_s,
                                      large_sd_m_s=0.0 * winds.knots.large_sd_m_s + 2.0))  # fmt: skip
    assert one.drift_left_m(top + 120.0, True, faithful) < 0.001 * left_m
    near = 1e-3
    fickle = replace(PRIOR.wind, large_depth_m=near, large_time_s=near, large_distance_m=near)
    assert one.drift_left_m(top + 120.0, True, fickle) > 0.8 * left_m


def test_ninety_percent_hold_nine_in_ten() -> None:
    """A small seeded sample; ``make evidence`` flies 200. Of its 12 predictions 9 or more."""
    shots = study(2, seed=3, ensemble=200)
    with_winds = [shot for shot in shots if shot.with_winds]
    held = sum(shot.inside_90 for shot in with_winds)
    print(f"{held} of {len(with_winds)} inside the 90 % area")
    assert len(with_winds) >= 10
    assert held >= 0.75 * len(with_winds)
    late = [shot for shot in shots if shot.moment in ("burst + 2 min", "10 km down", "5 km down")]
    yes, no = (np.mean([s.claimed_m for s in late if s.with_winds is winds]) for winds in (True, False))
    assert yes < 0.9 * no


def test_barbados_replayed(shared_data: Callable[[str], Path]) -> None:
    flight = barbados(shared_data)
    assert plan_for(flight)[1].height_msl_m < 100.0
    rows = replayed(flight, flights=300)
    print("\n".join(replay_page(rows)))
    by = {(row.moment, row.winds): row for row in rows}
    for moment in ("burst + 1 min", "15 km", "10 km", "5 km"):
        own, corrected, wrong = (by[moment, w] for w in ("own ascent", "wrong forecast, corrected", "wrong forecast"))
        assert own.inside_90
        assert corrected.error_m < 0.6 * wrong.error_m
        assert corrected.inside_90
        assert corrected.prediction.winds.large_raised > 1.5
        assert any("doubted" in note for note in corrected.prediction.notes)
    assert by["5 km", "own ascent"].error_m < 500.0
