"""Rehearsals without sockets: the truth is the fault that was asked for, the radio loses what it says, and the score
is counted right. Forecast and flights are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest

from columns import EPOCH, PRIOR
from oracle.forecasts import forecast_field
from pappus.airspace import AirspaceVolume, VerticalLimit, circle_points
from pappus.errors import BadInput
from pappus.ground import Outline, Zone
from pappus.hazard import Surroundings
from pappus.inflight import (
    Fault,
    InFlightModel,
    LiesAround,
    Rehearsed,
    Stage,
    Truth,
    WarningKind,
    draw_truth,
    faults_named,
    planned_of,
    rehearse_fast,
    score_lines,
    score_of,
)
from pappus.inflight.rehearsal._fast import ears_of
from pappus.inflight.rehearsal._packets import AIR, TRACKER, packets_of, told_by
from pappus.plan import example_plan_text, load_plan
from pappus.sources import NotUnderstood, parse_packet
from pappus.tracking import Phase


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Stage:
    path = tmp_path_factory.mktemp("plan") / "flight.toml"
    path.write_text(example_plan_text(), encoding="utf-8")
    plan = load_plan(path)
    field = forecast_field(points=13, times=13, step_deg=1.0)
    model = InFlightModel.prepare(plan, field, PRIOR, plan.sites[0], EPOCH + timedelta(hours=2))
    return Stage(model, planned_of(model))


def rehearsed(stage: Stage, *faults: Fault, seed: int = 7) -> Rehearsed:
    return rehearse_fast(
        stage, faults, lambda truth, rng: LiesAround(volumes=(), zones_given=True), None, seed=seed, every_s=20.0,
        predict_every_s=3000.0, flights=60,
    )  # fmt: skip


def test_the_planned_flight_is_the_nominal_one(stage: Stage) -> None:
    planned, nominal = stage.planned, stage.model.nominal
    assert planned.top_msl_m == pytest.approx(float(nominal.top_height_msl_m[0]), abs=1.0)
    assert planned.burst_low_msl_m < planned.top_msl_m
    up = float(nominal.top_time_s[0]) - float(nominal.track_time_s[0, 0])
    assert planned.climb_takes_s(planned.site_msl_m, planned.top_msl_m) == pytest.approx(up, rel=0.01)


@pytest.mark.parametrize("fault", [Fault.FLOATER, Fault.EARLY_BURST, Fault.FOULED_CANOPY, Fault.SLOW_CLIMB])
def test_the_truth_has_the_fault(stage: Stage, fault: Fault) -> None:
    truth = draw_truth(stage, [fault], np.random.default_rng(11))
    sound = draw_truth(stage, [], np.random.default_rng(11))
    assert truth.flights.landed[0]
    assert np.all(np.diff(truth.time_s) > 0.0)
    if fault is Fault.FLOATER:
        assert truth.floats_s is not None
        inside = (truth.time_s > truth.floats_s[0] + 1.0) & (truth.time_s < truth.floats_s[1] - 1.0)
        assert np.ptp(truth.height_msl_m[inside]) < 1.0
    if fault is Fault.EARLY_BURST:
        assert truth.height_msl_m.max() < stage.planned.burst_low_msl_m - 900.0
    if fault is Fault.FOULED_CANOPY:
        # at most 0.4 of the drag area: at least 1/sqrt(0.4) = 1.58 times as fast, but for the scatter of both
        assert truth.landed_s - truth.top_s < (sound.landed_s - sound.top_s) / 1.2
    if fault is Fault.SLOW_CLIMB:
        # a timer of the plan ends a long climb: the first kilometres are compared
        passed = [float(np.interp(6_000.0, one.height_msl_m, one.time_s)) - one.released_s for one in (
            replace(truth, height_msl_m=np.maximum.accumulate(truth.height_msl_m)),
            replace(sound, height_msl_m=np.maximum.accumulate(sound.height_msl_m)),
        )]  # fmt: skip
        assert passed[0] > 1.3 * passed[1]


def test_packets_are_real_and_as_bad_as_the_radio(stage: Stage) -> None:
    rng = np.random.default_rng(3)
    truth = draw_truth(stage, [], rng)
    told = told_by(truth, stage.model.conditions.release.time_s, 5.0, rng)
    ears = ears_of(stage, truth, rng)
    epoch = stage.model.epoch
    sent = packets_of(truth, told, ears, epoch, AIR, rng)
    assert {one.kind for one in sent} == {"json", "aprs-text"}
    assert sent == sorted(sent, key=lambda one: (one.arrives_s, one.receiver))
    assert np.mean([one.damaged for one in sent]) == pytest.approx(AIR.damaged, abs=0.01)
    measured = [one.measured_s for one in sent if one.receiver == "rehearsed mast"]
    assert any(later < earlier for earlier, later in pairwise(measured)), "none out of order"
    for one in sent[::25]:
        parsed = parse_packet(one.kind, one.raw, epoch + timedelta(seconds=one.arrives_s))
        if one.damaged:
            continue
        assert not isinstance(parsed, NotUnderstood)
        fix = parsed[0]
        latitude, longitude, height = truth.at(np.array(one.measured_s))
        assert fix.tracker == TRACKER
        assert fix.time_utc == epoch + timedelta(seconds=one.measured_s)
        assert fix.latitude_deg == pytest.approx(float(latitude), abs=5e-4)
        assert fix.longitude_deg == pytest.approx(float(longitude), abs=5e-4)
        assert fix.height_msl_m == pytest.approx(float(height), abs=40.0)


def test_nothing_is_heard_behind_the_horizon(stage: Stage) -> None:
    """4.12 (sqrt h1 + sqrt h2) km, the rounded form of the trade, with a slack of 5 %."""
    rng = np.random.default_rng(4)
    truth = draw_truth(stage, [], rng)
    told = told_by(truth, stage.model.conditions.release.time_s, 10.0, rng)
    ears = ears_of(stage, truth, rng)
    sent = packets_of(truth, told, ears, stage.model.epoch, AIR, rng)
    mast = ears[0].station
    for one in sent:
        if one.receiver != mast.name:
            continue
        latitude, longitude, height = (float(v) for v in truth.at(np.array(one.measured_s)))
        away_km = 111.2 * np.hypot(
            latitude - mast.latitude_deg, (longitude - mast.longitude_deg) * np.cos(np.radians(latitude))
        )
        above = max(height - mast.ground_msl_m, 0.0) + 2.0
        assert away_km <= 1.05 * 4.12 * (np.sqrt(above) + np.sqrt(mast.antenna_m)) + 1.0


def test_the_same_seed_rehearses_alike(stage: Stage) -> None:
    first, again = rehearsed(stage, Fault.EARLY_BURST), rehearsed(stage, Fault.EARLY_BURST)
    assert first.sent == again.sent
    assert first.log == again.log


@pytest.mark.parametrize(
    ("fault", "kind"),
    [
        (Fault.EARLY_BURST, WarningKind.EARLY_BURST),
        (Fault.FOULED_CANOPY, WarningKind.FAST_DESCENT),
        (Fault.FROZEN_HEIGHT, WarningKind.HEIGHT),
        (Fault.WRONG_CLOCK, WarningKind.CLOCK),
        (Fault.SILENT_TRACKER, WarningKind.NO_POSITION),
        (Fault.DEAD_TRACKER, WarningKind.TWO_HOURS),
    ],
)
def test_a_fault_is_asked_for_and_answered(stage: Stage, fault: Fault, kind: WarningKind) -> None:
    done = rehearsed(stage, fault)
    score = score_of(done)
    assert kind in {one.kind for one in score.answers}
    assert not [one for one in score.missed if one.kind is kind], score_lines(score, done.log)


def test_a_burst_and_the_opened_canopy_are_predicted_from_at_once(stage: Stage) -> None:
    """Between two predictions of the clock: the first within a look and a minute, the other two minutes after it."""
    done = rehearsed(stage, Fault.EARLY_BURST)
    top = stage.model.epoch + timedelta(seconds=done.truth.top_s)
    down = [(one.made_utc - top).total_seconds() for one in done.predictions if one.phase is Phase.DESCENT]
    assert 0.0 < down[0] <= 90.0
    assert 120.0 <= down[1] <= 210.0


def test_what_lies_ahead_of_a_tracker_that_died_is_told_as_not_known(stage: Stage) -> None:
    """A village under the touchdown, which nobody hears of: missed, and the score says that the crew was told so."""

    def village(truth: Truth, rng: np.random.Generator) -> LiesAround:
        end = float(truth.latitude_deg[-1]), float(truth.longitude_deg[-1])
        zone = Zone("village", "keep-out", Outline(((circle_points(end, 300.0),),)), "invented")
        return LiesAround(volumes=(), surroundings=Surroundings(zones=(zone,)), zones_given=True)

    done = rehearse_fast(
        stage, [Fault.DEAD_TRACKER], village, None, seed=7, every_s=20.0, predict_every_s=3000.0, flights=60
    )
    (answer,) = [one for one in score_of(done).answers if one.kind is WarningKind.HAZARD]
    assert answer.raised_utc is None
    assert answer.not_known
    assert not score_of(replace(done, lacking=())).missed[-1].not_known


def test_a_silence_is_asked_for_where_the_last_packet_only_came_late(stage: Stage) -> None:
    """Sent before the touchdown and received after it, it is no sign that the balloon lies on the ground."""
    done = rehearsed(stage)
    truth = done.truth
    last = max(one.arrives_s for one in done.sent if one.measured_s < truth.landed_s and not one.damaged)
    held_back = [one._replace(arrives_s=truth.landed_s + 50.0) for one in done.sent if one.arrives_s == last]
    before = [one for one in done.sent if one.arrives_s < last]
    quiet = replace(done, sent=(*before, *held_back))
    due = [one for one in score_of(quiet).answers if one.kind is WarningKind.NO_POSITION]
    assert len(due) == 1
    assert due[0].due_utc > stage.model.epoch + timedelta(seconds=truth.landed_s + 300.0)


def test_a_fouled_canopy_that_falls_as_a_sound_one_is_left_open(stage: Stage) -> None:
    done = rehearsed(stage, seed=5)
    slow = score_of(replace(done, truth=replace(done.truth, fouled=True), log=()))
    assert WarningKind.FAST_DESCENT not in slow.asked_for
    assert WarningKind.FAST_DESCENT in slow.left_open
    fast = score_of(rehearsed(stage, Fault.FOULED_CANOPY))
    assert WarningKind.FAST_DESCENT in fast.asked_for


@pytest.mark.parametrize("fault", [Fault.EARLY_BURST, None])
def test_airspace_that_an_early_burst_brings_is_due_two_minutes_after_it(stage: Stage, fault: Fault | None) -> None:
    """A small volume where the balloon is 20 s after its burst: nobody can tell of it before; a top as planned can."""

    def under_the_top(truth: Truth, rng: np.random.Generator) -> LiesAround:
        top = float(truth.height_msl_m.max())
        low, high = (VerticalLimit("msl", m, f"{m:.0f} m") for m in (top - 400.0, top + 400.0))
        after = truth.at(np.array(truth.top_s + 20.0))
        outline = Outline(((circle_points((float(after[0]), float(after[1])), 50.0),),))
        return LiesAround((AirspaceVolume("R-1", "R", low, high, outline, "invented"),), zones_given=True)

    faults = [] if fault is None else [fault]
    done = rehearse_fast(stage, faults, under_the_top, None, seed=7, every_s=20.0, predict_every_s=3000.0, flights=60)
    due = [one.due_utc for one in score_of(done).answers if one.kind is WarningKind.AIRSPACE]
    after_s = [(one - stage.model.epoch).total_seconds() - done.truth.top_s for one in due]
    assert len(after_s) == 1
    assert after_s[0] == pytest.approx(120.0) if fault else after_s[0] < 60.0


def test_a_warning_that_nobody_gave_is_missed_and_one_for_nothing_is_false(stage: Stage) -> None:
    done = rehearsed(stage, Fault.FOULED_CANOPY)
    score = score_of(replace(done, log=()))
    assert WarningKind.FAST_DESCENT in {one.kind for one in score.missed}
    entry = replace(done.log[0], kind=WarningKind.COLD)
    score = score_of(replace(done, log=(*done.log, entry)))
    assert [one.kind for one in score.false_alarms] == [WarningKind.COLD]


def test_faults_by_name() -> None:
    assert faults_named(["floater", "cold-box"]) == {Fault.FLOATER, Fault.COLD_BOX}
    with pytest.raises(BadInput, match="fouled-canopy"):
        faults_named(["gremlins"])
