"""The same packets give the same bits, whatever the faults; late packets end where the right order would have."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from flown import Flown, fix_at, made, noisy, packets
from hypothesis import Phase as Part
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.earth import distance_m
from pappus.tracking import (
    LATE_S,
    Estimate,
    Estimator,
    Fix,
    Heard,
    Phase,
    estimate_all,
    fall_most_m_s,
    received,
    wind_most_m_s,
)

FLOWN = noisy(made(top_msl_m=7000.0, ground_s=40.0, landed_s=60.0), 11)
NO_SHRINKING = (Part.explicit, Part.reuse, Part.generate)  # hundreds of packets shrink for minutes and stay as long
Packets = list[tuple[Heard, tuple[Fix, ...]]]


def spoiled(flown: Flown, seed: int) -> Packets:
    """40 % lost, the rest heard by two, and one in ten with a fault of each kind; in order of hearing."""
    rng = np.random.default_rng(seed)
    result: Packets = []
    for receiver, delay in (("hill", 0.3), ("valley", 2.1)):
        fixes = []
        for index in range(len(flown.time_s)):
            if rng.random() < 0.4:
                continue
            fix = fix_at(flown, index)
            assert fix.time_utc is not None
            assert fix.latitude_deg is not None
            assert fix.longitude_deg is not None
            fault = int(rng.integers(0, 70))
            if fault == 0:
                fix = replace(fix, latitude_deg=0.0, longitude_deg=0.0)
            elif fault == 1:
                fix = replace(fix, latitude_deg=fix.longitude_deg, longitude_deg=fix.latitude_deg)
            elif fault == 2:
                fix = replace(fix, latitude_deg=fix.latitude_deg + float(rng.normal(0, 2.0)))
            elif fault == 3:
                fix = replace(fix, height_msl_m=float(rng.uniform(-400, 40_000)))
            elif fault == 4:
                fix = replace(fix, time_utc=fix.time_utc + timedelta(days=1))
            elif fault == 5:
                fix = replace(fix, time_utc=fix.time_utc - timedelta(seconds=float(rng.uniform(0, 2000))))
            elif fault == 6:
                fix = replace(fix, latitude_deg=None, longitude_deg=None, fix_quality="none")
            fixes.append(fix)
        for count, fix in enumerate(fixes):
            # heard when it was really sent, whatever its stamp says
            when = fix_at(flown, 0).time_utc
            assert when is not None
            raw = f"{receiver} {count}".encode()
            index = len(result)
            result.append((received(receiver, count, when + timedelta(seconds=delay + index), "json", raw), (fix,)))
    return result


def heard_in_time(flown: Flown, seed: int) -> Packets:
    """As ``spoiled``, each heard at the second that its place belongs to."""
    base = spoiled(flown, seed)
    where = {float(value): float(t) for value, t in zip(flown.longitude_deg, flown.time_s, strict=True)}
    where |= {float(value): float(t) for value, t in zip(flown.latitude_deg, flown.time_s, strict=True)}
    result, clock = [], float(flown.time_s[0])
    for heard, (fix,) in base:
        for value in (fix.longitude_deg, fix.latitude_deg):
            clock = where.get(value if value is not None else -999.0, clock)
        delay = 0.3 if heard.receiver == "hill" else 2.1
        first = base[0][0].heard_utc
        when = first + timedelta(seconds=clock - float(flown.time_s[0]) + delay)
        result.append((replace(heard, heard_utc=when), (fix,)))
    return sorted(result, key=lambda pair: pair[0].canonical_key)


def core(estimate: Estimate) -> Estimate:
    """Without what may depend on the order of arrival: who heard what when, and which copy counts as the copy."""
    return replace(estimate, listeners=(), trackers=(), refused=(), notes=())


def test_replay_gives_the_same_bits() -> None:
    log = heard_in_time(FLOWN, 3)
    live = Estimator()
    fed = [live.feed(heard, fixes) for heard, fixes in log]
    again = estimate_all(log)
    assert fed == again
    assert [repr(estimate) for estimate in fed] == [repr(estimate) for estimate in again]
    # asked only at the end it says the same
    quiet = Estimator()
    for heard, fixes in log:
        quiet.take(heard, fixes)
    assert quiet.estimate() == fed[-1]
    kinds = {why for _, why, _ in fed[-1].rejected}
    print(f"{len(log)} packets, refused: {sorted(map(str, kinds))}")
    assert len(kinds) >= 7
    assert fed[-1].phase is Phase.LANDED


def test_faults_do_not_move_the_answer() -> None:
    truth = made(top_msl_m=7000.0, ground_s=40.0, landed_s=60.0)
    burst = truth.time_s[truth.height_msl_m.argmax()]
    for seed in range(2):
        last = estimate_all(heard_in_time(FLOWN, seed))[-1]
        assert last.phase is Phase.LANDED
        assert last.fall_start is not None
        assert abs(last.fall_start.time_utc.timestamp() - burst) < 4.0
        errors = [
            abs(layer.wind_u_m_s - 15.0)
            for layer in last.wind
            if layer.seconds > 10.0 and 750.0 <= layer.low_msl_m < 6750.0
        ]
        assert len(errors) == 48
        assert max(errors) < 2.5
        assert np.sqrt(np.mean(np.square(errors))) < 0.6
        assert last.position is not None
        assert float(
            distance_m(
                last.position.latitude_deg, last.position.longitude_deg, truth.latitude_deg[-1], truth.longitude_deg[-1]
            )
        ) == pytest.approx(0.0, abs=25.0)


@given(st.randoms(use_true_random=False), st.floats(1.0, 0.9 * LATE_S))
@settings(max_examples=5, phases=NO_SHRINKING)
def test_late_packets_end_where_the_right_order_would_have(random: Any, most_late_s: float) -> None:
    """Every packet delayed at random by less than the bound: the state of the flight is the same in the end."""
    log = packets(FLOWN)[:900]
    ordered = estimate_all(log)[-1]
    late = sorted(log, key=lambda pair: pair[0].heard_utc + timedelta(seconds=random.uniform(0, most_late_s)))
    shuffled = estimate_all(late)[-1]
    assert core(shuffled) == core(ordered)
    assert shuffled.trackers[0].accepted == ordered.trackers[0].accepted == 900


@given(st.lists(st.tuples(st.integers(0, 4), st.floats(-1, 1), st.floats(-1, 1)), min_size=40, max_size=120))
@settings(max_examples=60, phases=NO_SHRINKING)
def test_no_accepted_position_is_beyond_what_flight_physics_allows(faults: list[tuple[int, float, float]]) -> None:
    """Against the last good one: three or more in a row that agree. Bounds: pappus.tracking._limits, with sources."""
    estimator = Estimator()
    before, begun, refused = None, 0, 0
    for index, (kind, a, b) in enumerate(faults):
        fix = fix_at(FLOWN, 100 + 3 * index)
        assert fix.time_utc is not None
        when = fix.time_utc + timedelta(seconds=0.3)
        if kind == 1:
            fix = replace(fix, latitude_deg=48.0 + 30.0 * a, longitude_deg=11.0 + 60.0 * b)
        elif kind == 2:
            fix = replace(fix, latitude_deg=(fix.latitude_deg or 0.0) + 0.02 * a, height_msl_m=20_000.0 * (b + 1.0))
        elif kind == 3:
            fix = replace(fix, time_utc=fix.time_utc + timedelta(seconds=400.0 * a))
        estimate = estimator.feed(received("hill", index, when, "json", f"{index}".encode()), (fix,))
        now = estimate.position
        if now is None:
            continue
        assert now.checked
        state = estimate.trackers[0]
        total = sum(count for _, count in state.rejected)
        # a late packet may show that the newest position, which nothing had confirmed yet, was wrong
        taken_back = total - refused != len(estimate.refused)
        same_track = state.begun_again == begun and not taken_back
        if before is not None and before.confirmed and now != before and same_track:
            seconds = abs((now.time_utc - before.time_utc).total_seconds()) + 1.0
            moved = float(
                distance_m(before.latitude_deg, before.longitude_deg, now.latitude_deg, now.longitude_deg)
            )  # fmt: skip
            assert before.height_msl_m is not None
            assert now.height_msl_m is not None
            top = max(before.height_msl_m, now.height_msl_m)
            # 1 %: the gate measures on a sphere
            assert moved <= 1.01 * (wind_most_m_s(top) * seconds + 100.0)
            change = now.height_msl_m - before.height_msl_m
            assert change <= 35.0 * seconds + 80.0
            assert -change <= fall_most_m_s(top) * seconds + 80.0
        before, begun, refused = now, state.begun_again, total


def test_bounds_are_those_of_their_sources() -> None:
    """Record winds and terminal speeds: docstrings of pappus.tracking._limits; standard air as tested elsewhere."""
    assert wind_most_m_s(10_000.0) > 110.0  # strongest jets measured, from memory
    assert wind_most_m_s(47_000.0) > 182.0  # South Uist 1967, from memory
    # a tumbling box of 1 kg, 0.2 m square, drag coefficient 1: 162 m/s at 30 km, 239 m/s at 35 km by its formula
    for height, density, told in ((30_000.0, 0.0184101, 162.0), (35_000.0, 0.00846333, 239.0)):
        terminal = (2.0 * 1.0 * 9.80665 / (density * 1.0 * 0.04)) ** 0.5
        assert terminal == pytest.approx(told, rel=0.01)
        assert fall_most_m_s(height) > terminal
    falls = [fall_most_m_s(height) for height in range(-400, 50_000, 250)]
    assert falls == sorted(falls)
    assert falls[0] == pytest.approx(40.0)
