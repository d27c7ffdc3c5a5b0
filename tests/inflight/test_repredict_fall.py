"""Re-prediction of the fall: speeds by the time spent in layers, slow falls, and falls that a device began.

Checks are against constant speeds, where every number follows by arithmetic, and against truths drawn from the model.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from aloft import flown
from rehearsal_study import CUT_MSL_M, GROUND_S, heard, model_of

from pappus.flight_train import CutDown
from pappus.inflight import InFlightModel, Track, repredict, track_of
from pappus.inflight.prediction._end import FENCE_M, TIMER_S, cut_by
from pappus.inflight.prediction._repredict import OPENING_S, _fall_seen
from pappus.inflight.prediction._track import fall_rates
from pappus.tracking import Estimate, FallStart, WindLayer
from pappus.trajectory import AscentEnd, fly

START = datetime(2027, 2, 13, 14, tzinfo=UTC)


def layer(index: int, seconds: float, after_s: float = 0.0, smoothed_m: float = 250.0) -> WindLayer:
    """Layer number so and so from the ground, fallen through."""
    return WindLayer(
        "down", 250.0 * index, 250.0 * (index + 1), 5.0, 0.0, 0.5, 0.5, seconds, smoothed_m,
        START + timedelta(seconds=after_s), "BALLOON-1",
    )  # fmt: skip


def fallen() -> tuple[InFlightModel, Estimate, Track]:
    """A flight two minutes after its burst."""
    model, _, at = flown()
    estimate, _ = at["burst + 2 min"]
    track = track_of(estimate, model.epoch, (model.site.latitude_deg, model.site.longitude_deg))
    assert track is not None
    return model, estimate, track


def test_speeds_come_from_the_time_in_layers_and_not_from_passages() -> None:
    """25 m/s with a fix each 20 s: passages are told up to 10 s wrong, 250 m / 10 s stays."""
    wrong_s = np.random.default_rng(1).uniform(-10.0, 10.0, 12)
    layers = [layer(100 - k, 10.0, 10.0 * k + float(wrong_s[k]), 500.0) for k in range(12)]
    middle, speed, depth = fall_rates(layers, 500.0)
    assert np.allclose(speed, 25.0)
    assert np.allclose(depth, 500.0)
    assert middle[0] == pytest.approx(25_250.0 - 250.0)
    assert len(middle) == 6


def test_a_stretch_is_as_long_as_its_layers_are_smoothed() -> None:
    layers = [layer(100 - k, 5.0, 5.0 * k, 1_000.0) for k in range(9)]
    _, speed, depth = fall_rates(layers, 500.0)
    assert np.allclose(depth, 1_000.0)
    assert np.allclose(speed, 50.0)


def test_layers_beside_a_gap_are_not_believed() -> None:
    """Two layers are missing; half the time of those beside the gap is missing as well: as told, twice as fast."""
    layers = [layer(100 - k, 5.0 if k in (4, 7) else 10.0) for k in range(12) if k not in (5, 6)]
    _, speed, depth = fall_rates(layers, 500.0)
    assert np.allclose(speed, 25.0)
    assert depth.sum() == 4 * 250.0 + 4 * 250.0
    assert fall_rates([], 500.0)[0].shape == (0,)


def test_a_slow_fall_tells_of_itself_before_it_crossed_a_stretch() -> None:
    """No layer behind it: the speed now stands in, and the fall that is left is as slow as that."""
    model, estimate, track = fallen()
    bare = replace(track, fallen=())
    assert estimate.motion is not None
    slow = replace(estimate, motion=replace(estimate.motion, climb_m_s=-5.0, climb_sd_m_s=0.5))
    seen = _fall_seen(slow, bare, model.epoch)
    assert seen.speed_m_s.tolist() == [5.0]
    assert 0.1 < seen.ln_sd[0] < 0.2
    assert seen.middle_msl_m.tolist() == [slow.motion.height_msl_m]  # type: ignore[union-attr]  # given above
    # while the canopy opens nothing is said
    opens = replace(bare, fall_start_s=bare.now_s - 0.5 * OPENING_S)
    assert not len(_fall_seen(slow, opens, model.epoch).speed_m_s)
    # and what was crossed whole goes first
    assert len(_fall_seen(slow, track, model.epoch).speed_m_s) >= 1
    assert _fall_seen(slow, track, model.epoch).speed_m_s[0] > 5.0


def test_a_fall_that_begins_when_a_device_was_due_is_a_cut() -> None:
    _, estimate, track = fallen()
    start = estimate.fall_start
    assert start is not None
    assert track.fall_start_s is not None
    assert track.released_s is not None
    flew_s = track.fall_start_s - track.released_s
    timer = CutDown("timer", 1, "time", "own clock", after_release_s=flew_s + 0.9 * TIMER_S)
    late = replace(timer, after_release_s=flew_s + 1.1 * TIMER_S)
    low = CutDown("low", 1, "height", "barometer", height_msl_m=start.height_msl_m - 4.0 * start.height_sd_m)
    high = replace(low, name="high", height_msl_m=start.height_msl_m + 2.0 * start.height_sd_m)
    command = CutDown("command", 1, "command", "radio")
    assert cut_by((command, late, low, timer, high), track, start) is timer
    assert cut_by((low, high), track, start) is high
    assert cut_by((command, late, low), track, start) is None
    assert cut_by((timer,), track, None) is None
    assert cut_by((timer,), replace(track, released_s=None), start) is None


def test_a_fence_is_met_at_its_edge_and_beyond() -> None:
    """A square fence around the start of the fall, and the same moved east until the fall lies outside; 1 degree is
    111.2 km times the cosine of the latitude.
    """
    _, estimate, track = fallen()
    start: FallStart | None = estimate.fall_start
    assert track.fall_start_s is not None
    time = np.concatenate([track.up.time_s, track.down.time_s])
    latitude, longitude = (
        float(np.interp(track.fall_start_s, time, np.concatenate([getattr(track.up, n), getattr(track.down, n)])))
        for n in ("latitude_deg", "longitude_deg")
    )
    east_deg = 1.0 / (111_200.0 * np.cos(np.radians(latitude)))

    def fence(west_m: float) -> CutDown:
        west = longitude + west_m * east_deg
        corners = ((latitude - 1.0, west), (latitude - 1.0, west + 1.0), (latitude + 1.0, west + 1.0),
                   (latitude + 1.0, west))  # fmt: skip
        return CutDown("fence", 1, "area", "own receiver", keep_inside_deg=corners)

    assert cut_by((fence(-2.0 * FENCE_M),), track, start) is None
    assert cut_by((fence(-0.8 * FENCE_M),), track, start) is not None
    assert cut_by((fence(0.8 * FENCE_M),), track, start) is not None
    assert cut_by((fence(40.0 * FENCE_M),), track, start) is not None


def test_after_a_cut_no_film_hangs_on_the_train() -> None:
    """The same fall, once as a burst and once with a timer that was due: lighter before anything was seen of it."""
    model, estimate, track = fallen()
    assert model.canopy_cut.sound.scale_ln[0] < model.canopy.sound.scale_ln[0]
    assert model.canopy_cut.sound.scale_ln[1] == pytest.approx(0.5 * 0.18, rel=0.1)
    assert track.fall_start_s is not None
    assert track.released_s is not None
    timer = CutDown("kitchen clock", 1, "time", "own clock", after_release_s=track.fall_start_s - track.released_s)
    train = replace(model.conditions.train, cut_downs=(timer,))
    timed = replace(model, conditions=model.conditions.moved(train=train), mean=model.mean.moved(train=train))
    burst, cut = (repredict(one, estimate, estimate.heard_utc, flights=100) for one in (model, timed))
    assert (burst.flights.ascent_end == AscentEnd.BURST).all()
    assert (cut.flights.ascent_end == AscentEnd.CUT_DOWN).all()
    assert any("kitchen clock" in note for note in cut.notes)
    fitted = {row.name: row for row in cut.fitted}["fall speed at sea level"]
    assert np.log(fitted.before) == pytest.approx(model.canopy_cut.sound.scale_ln[0])


def test_an_estimate_is_there_when_the_last_fix_comes_at_the_very_moment() -> None:
    """A timer cuts at a whole number of fixes after release."""
    model, truth, _ = flown()
    start = float(truth.track_time_s[0, 0])
    estimates = heard(model, truth, [start - GROUND_S + 600.0, start - GROUND_S + 305.0], 1)
    assert [round((e.heard_utc - model.epoch).total_seconds() - start + GROUND_S) for e in estimates] == [300, 600]


def test_nothing_but_the_wind_varies_in_the_group_that_says_so() -> None:
    """In one wind 200 flights of that group come down within a few hundred metres; others do not."""
    spread = []
    for quiet in (True, False):
        model = model_of(quiet)
        draws = model.fresh_draws(200, np.random.default_rng(1))
        made = fly(model.conditions, replace(draws, release_delay_s=np.zeros(200)))
        if quiet:
            assert np.allclose(made.top_height_msl_m, CUT_MSL_M, atol=1.0)
            assert (made.ascent_end == AscentEnd.CUT_DOWN).all()
        landed = made.landed
        spread.append(
            111_200.0 * float(np.hypot(made.end_latitude_deg[landed].std(), made.end_longitude_deg[landed].std()))
        )
    print(f"spread without wind errors: {spread[0]:.0f} m, {spread[1]:.0f} m of the whole prior")
    assert spread[0] < 300.0
    assert spread[1] > 5_000.0
