"""Every way in which a fix can be wrong, and its reason. Flights here are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from flown import Flown, fix_at, made, noisy, packets

from pappus.errors import BadInput
from pappus.tracking import Estimate, Estimator, Fix, LaunchPlace, Phase, Reason, estimate_all, received

FLOWN = made()
CLIMBING = 900
"""Index well within the climb."""


def fly(fixes: list[Fix], flown: Flown = FLOWN, estimator: Estimator | None = None) -> Estimate:
    """The estimate after fixes heard shortly after the moment that the list index says."""
    estimator = Estimator() if estimator is None else estimator
    for index, fix in enumerate(fixes):
        when = datetime.fromtimestamp(float(flown.time_s[index]) + 0.4, tz=UTC)
        last = estimator.feed(received("hill", index, when, "json", f"{index}".encode()), (fix,))
    return last


def good(until: int = CLIMBING) -> list[Fix]:
    return [fix_at(FLOWN, index) for index in range(until)]


def counted(estimate: Estimate) -> dict[Reason, int]:
    return {why: count for _, why, count in estimate.rejected}


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"latitude_deg": None, "longitude_deg": None}, Reason.NO_POSITION),
        ({"fix_quality": "none"}, Reason.NO_POSITION),
        ({"latitude_deg": 0.0, "longitude_deg": 0.0}, Reason.NULL),
        ({"latitude_deg": 91.2}, Reason.OUT_OF_RANGE),
        ({"longitude_deg": float("nan")}, Reason.OUT_OF_RANGE),
        ({"longitude_deg": 210.0}, Reason.OUT_OF_RANGE),
        ({"height_msl_m": 99_999.0}, Reason.HEIGHT_OUT_OF_RANGE),
        ({"height_msl_m": -900.0}, Reason.HEIGHT_OUT_OF_RANGE),
        ({"height_msl_m": 0.0}, Reason.HEIGHT_JUMP),
        ({"height_msl_m": 30_000.0}, Reason.HEIGHT_JUMP),
        ({"latitude_deg": 48.9}, Reason.TOO_FAR),
        ({"latitude_deg": -48.0}, Reason.TOO_FAR),
        ({"longitude_deg": -11.0}, Reason.TOO_FAR),
        ({"latitude_deg": -11.0, "longitude_deg": 48.0}, Reason.TOO_FAR),
        ({"time_utc": datetime(2026, 5, 2, 9, tzinfo=UTC)}, Reason.FUTURE),
        ({"time_utc": datetime(2026, 5, 1, 8, tzinfo=UTC)}, Reason.OLD),
        ({"time_utc": datetime(1980, 1, 6, tzinfo=UTC)}, Reason.OLD),
    ],
)
def test_one_wrong_fix_among_good_ones(wrong: dict[str, Any], why: Reason) -> None:
    fixes = good()
    fixes[-20] = replace(fixes[-20], **wrong)
    estimator = Estimator()
    before = fly(fixes[:-20], estimator=estimator)
    when = datetime.fromtimestamp(float(FLOWN.time_s[CLIMBING - 20]) + 0.4, tz=UTC)
    at = estimator.feed(received("hill", CLIMBING, when, "json", b"wrong"), (fixes[-20],))
    assert at.refused == ((fixes[-20], why),)
    assert at.position == before.position
    last = fly(fixes)
    assert counted(last) == {why: 1}
    assert last.position is not None
    assert last.position.latitude_deg == fixes[-1].latitude_deg
    assert last.phase is Phase.ASCENT
    assert any(str(why) in note for note in last.notes)


@pytest.mark.parametrize("longitude_deg", [11.0, -105.0])
def test_latitude_and_longitude_that_changed_places(longitude_deg: float) -> None:
    """Over the mountains of Colorado the longitude is no latitude at all; over Bavaria it could be one."""
    flown = made(latitude_deg=40.0, longitude_deg=longitude_deg, top_msl_m=2000.0)
    fixes = [fix_at(flown, index) for index in range(300)]
    wrong = fixes[200]
    fixes[200] = replace(wrong, latitude_deg=wrong.longitude_deg, longitude_deg=wrong.latitude_deg)
    last = fly(fixes, flown)
    assert counted(last) == {Reason.SWAPPED: 1}
    assert last.trackers[0].accepted == 299


def test_a_date_line_and_a_pole_are_no_jump() -> None:
    line = made(longitude_deg=179.95, latitude_deg=10.0, top_msl_m=8000.0, wind_m_s=30.0)
    wrapped = (line.longitude_deg + 180.0) % 360.0 - 180.0
    line = replace(line, longitude_deg=wrapped)
    assert wrapped.min() < -179 < 179 < wrapped.max()
    last = estimate_all(packets(line))[-1]
    assert not last.rejected
    assert last.wind[3].wind_u_m_s == pytest.approx(30.0, abs=0.3)
    north = made(latitude_deg=87.0, top_msl_m=6000.0)
    assert not estimate_all(packets(north))[-1].rejected


def test_a_height_that_stands_still_above_a_limit() -> None:
    flown = made(top_msl_m=24_000.0, step_s=5.0)
    limited = np.where(flown.height_msl_m > 18_288.0, 18_288.0, flown.height_msl_m)
    fixes = [fix_at(flown, index, height_msl_m=float(height)) for index, height in enumerate(limited)]
    estimates = estimate_all(packets(flown, fixes))
    over = int((flown.height_msl_m > 18_288.0).sum())
    last = estimates[-1]
    refused = counted(last)[Reason.HEIGHT_FROZEN]
    print(f"{refused} of {over} frozen fixes refused")
    assert over - 4 <= refused < over
    during = [estimate for estimate in estimates if estimate.refused]
    assert all(estimate.position is not None and estimate.position.height_msl_m == 18_288.0 for estimate in during)
    # nobody believes a float, and the flight goes on when the heights come back
    assert Phase.FLOAT not in {estimate.phase for estimate in estimates}
    assert last.phase is Phase.LANDED
    assert any("height limit" in note for note in during[-1].notes)


@pytest.mark.parametrize(("climb_m_s", "rate_hz"), [(1.2, 5), (2.0, 10), (1.2, 1)])
def test_a_slow_climb_told_often_is_not_frozen(climb_m_s: float, rate_hz: int) -> None:
    """From one fix to the next its height changes by less than half a metre."""
    estimator = Estimator()
    start = datetime(2026, 5, 1, 9, tzinfo=UTC)
    for tick in range(60 * rate_hz):
        when = start + timedelta(seconds=tick / rate_hz)
        fix = fix_at(FLOWN, 0, time_utc=when, height_msl_m=9000.0 + climb_m_s * tick / rate_hz)
        last = estimator.feed(received("hill", tick, when, "json", b"%d" % tick), (fix,))
    assert not last.rejected
    assert last.motion is not None
    assert last.motion.climb_m_s == pytest.approx(climb_m_s, abs=0.1)


def test_a_height_that_stands_still_on_the_field_is_a_landing() -> None:
    launch = LaunchPlace(48.0, 11.0, 500.0)
    last = estimate_all(packets(FLOWN), launch)[-1]
    assert last.phase is Phase.LANDED
    assert not last.rejected


def test_a_clock_that_stands_still() -> None:
    fixes = good()
    stopped = fixes[700].time_utc
    fixes[700:] = [replace(fix, time_utc=stopped) for fix in fixes[700:]]
    last = fly(fixes)
    assert counted(last)[Reason.CLOCK_STANDS_STILL] >= 150
    assert last.position is not None
    # while the stamp could still be a late one the place is taken; after that it stays
    assert abs(last.position.latitude_deg - (fixes[700].latitude_deg or 0.0)) < 0.005


def test_more_than_too_late_is_refused_by_name() -> None:
    fixes = good()
    fixes.append(replace(fixes[600], latitude_deg=48.001))
    last = fly(fixes)
    assert counted(last) == {Reason.TOO_LATE: 1}


def test_the_first_fix_may_be_the_wrong_one() -> None:
    fixes = good(120)
    fixes[0] = replace(fixes[0], latitude_deg=36.0, longitude_deg=-5.0)
    first = fly(fixes[:1])
    assert first.position is not None
    assert not first.position.confirmed
    assert any("fewer than three" in note for note in first.notes)
    last = fly(fixes)
    assert last.position is not None
    assert last.position.confirmed
    assert last.position.latitude_deg == fixes[-1].latitude_deg
    assert last.trackers[0].begun_again == 1


def test_a_place_that_disagrees_in_flight_is_never_taken() -> None:
    """However many packets agree among themselves: only a person can say which of two places is right."""
    fixes = good()
    fixes[600:] = [replace(fix, latitude_deg=(fix.latitude_deg or 0.0) + 3.0) for fix in fixes[600:]]
    last = fly(fixes)
    assert counted(last) == {Reason.TOO_FAR: CLIMBING - 600}
    assert last.position is not None
    assert last.position.latitude_deg == fixes[599].latitude_deg
    assert any("earlier place was not" in note for note in last.notes)


def test_positions_without_a_checksum_say_so() -> None:
    last = fly([fix_at(FLOWN, index, checked=False) for index in range(200)])
    assert last.position is not None
    assert not last.position.checked
    assert any("unchecked" in note for note in last.notes)
    assert not any("unchecked" in note for note in fly(good(200)).notes)


def test_heights_above_the_ellipsoid_are_not_taken_for_heights_above_the_sea() -> None:
    only = [
        fix_at(FLOWN, i, height_msl_m=None, height_ellipsoid_m=float(FLOWN.height_msl_m[i]) + 47.0) for i in range(300)
    ]
    assert fly(only).motion is None
    last = fly(only, estimator=Estimator(undulation_m=lambda latitude_deg, longitude_deg: 47.0))
    assert last.position is not None
    assert last.position.height_msl_m == pytest.approx(float(FLOWN.height_msl_m[299]))


@pytest.mark.parametrize(("separation_m", "told"), [(0.0, True), (44.0, False), (47.0, False), (80.0, True)])
def test_two_heights_that_the_geoid_does_not_explain(separation_m: float, told: bool) -> None:
    both = [fix_at(FLOWN, i, height_ellipsoid_m=float(FLOWN.height_msl_m[i]) + separation_m) for i in range(100)]
    last = fly(both, estimator=Estimator(undulation_m=lambda latitude_deg, longitude_deg: 47.0))
    assert any("than the geoid" in note for note in last.notes) is told
    assert last.position is not None
    assert last.position.height_msl_m == FLOWN.height_msl_m[99]


def test_a_tracker_that_calls_the_ellipsoid_the_sea_is_found_on_the_ground() -> None:
    flown = noisy(made(ground_s=120.0), 3)
    high = [fix_at(flown, i, height_msl_m=float(flown.height_msl_m[i]) + 47.0) for i in range(100)]
    estimator = Estimator(LaunchPlace(48.0, 11.0, 500.0), lambda latitude_deg, longitude_deg: 47.0)
    last = fly(high, flown, estimator)
    assert any("against the launch site" in note and "ellipsoid" in note for note in last.notes)
    right = fly([fix_at(flown, i) for i in range(100)], flown, Estimator(LaunchPlace(48.0, 11.0, 500.0)))
    assert not any("launch site" in note for note in right.notes)


def test_two_dimensional_fixes_tell_no_height() -> None:
    last = fly([fix_at(FLOWN, index, fix_quality="two-dimensional") for index in range(100)])
    assert last.position is not None
    assert last.position.height_msl_m is None
    assert last.motion is None


def test_two_halves_of_one_report_are_put_together() -> None:
    """As NMEA sends them: one sentence with the height, one with the speed, under one stamp."""
    estimator = Estimator()
    for index in range(300):
        whole = fix_at(FLOWN, index)
        when = datetime.fromtimestamp(float(FLOWN.time_s[index]) + 0.2, tz=UTC)
        flat = replace(whole, height_msl_m=None, speed_m_s=12.0)
        for part, half in enumerate((flat, whole)):
            last = estimator.feed(received("box", 2 * index + part, when, "nmea", f"{index} {part}".encode()), (half,))
    assert last.trackers[0].accepted == 300
    assert last.trackers[0].duplicates == 300
    assert last.phase is Phase.ASCENT
    assert last.motion is not None
    assert last.motion.climb_m_s == pytest.approx(5.0, abs=0.5)


def test_fixes_without_a_time_and_with_minutes_only() -> None:
    for quality in ("none", "minutes"):
        fixes = good(600)
        if quality == "none":
            fixes = [replace(fix, time_utc=None, time_quality="none") for fix in fixes]
        else:
            cut = [fix.time_utc.replace(second=0) for fix in fixes if fix.time_utc is not None]
            fixes = [replace(fix, time_utc=when, time_quality="minutes") for fix, when in zip(fixes, cut, strict=True)]
        last = fly(fixes)
        assert last.phase is Phase.ASCENT, quality
        assert not last.rejected
        assert last.motion is not None
        assert last.motion.climb_m_s == pytest.approx(5.0, abs=0.5)


def test_battery_and_temperatures() -> None:
    fixes = good(50)
    fixes[30] = replace(fixes[30], battery_v=7.1, temperature_k={"inside": 281.0, "outside": 250.0})
    fixes[40] = replace(fixes[40], temperature_k={"outside": 249.0})
    state = fly(fixes).chosen
    assert state is not None
    assert state.battery_v == 7.1
    assert state.temperature_k == {"inside": 281.0, "outside": 249.0}
    assert state.told_utc == datetime.fromtimestamp(float(FLOWN.time_s[40]) + 0.4, tz=UTC)


def test_other_stations_and_cars_are_not_the_balloon() -> None:
    estimator = Estimator(trackers={"BALLOON"}, vehicles={"CAR-9"})
    far = replace(fix_at(FLOWN, 10), tracker="PASSER-BY", latitude_deg=51.0)
    last = fly([far], estimator=estimator)
    assert last.position is None
    assert any("PASSER-BY" in note for note in last.notes)
    car = replace(fix_at(FLOWN, 11), tracker="CAR-9", latitude_deg=48.2, height_msl_m=400.0)
    estimator.feed(received("hill", 90, datetime.fromtimestamp(FLOWN.time_s[11], tz=UTC), "json", b"c"), (car,))
    last = fly(good(300), estimator=estimator)
    assert [state.tracker for state in last.trackers] == ["BALLOON-1"]
    assert [(one.name, one.latitude_deg) for one in last.vehicles] == [("CAR-9", 48.2)]


def test_packets_that_nobody_understood_are_counted() -> None:
    estimator = Estimator()
    when = datetime(2026, 5, 1, 9, tzinfo=UTC)
    last = estimator.feed(received("hill", 0, when, "nmea", b"$GP"), "too short")
    assert last.listeners[0].not_understood == 1
    assert last.position is None
    assert last.phase is Phase.NOT_KNOWN
    again = estimator.feed(received("hill", 0, when, "nmea", b"$GP"), "too short")
    assert again.packets == 1


def test_times_must_be_aware() -> None:
    with pytest.raises(BadInput, match="UTC"):
        received("hill", 0, datetime(2026, 5, 1, 9), "nmea", b"")  # noqa: DTZ001
    fix = replace(fix_at(FLOWN, 0), time_utc=datetime(2026, 5, 1, 9))  # noqa: DTZ001
    with pytest.raises(BadInput, match="time_utc"):
        Estimator().feed(received("hill", 0, datetime(2026, 5, 1, 9, tzinfo=UTC), "nmea", b""), (fix,))


def test_float_and_landing_have_their_times() -> None:
    flown = noisy(made(float_s=900.0), 1)
    estimates = estimate_all(packets(flown))
    last = estimates[-1]
    seen = [estimate.phase for estimate in estimates]
    order = [Phase.GROUND, Phase.ASCENT, Phase.FLOAT, Phase.DESCENT, Phase.LANDED]
    assert [seen.index(phase) for phase in order] == sorted(seen.index(phase) for phase in order)
    truth = made(float_s=900.0)
    leaves = float(truth.time_s[np.flatnonzero(truth.height_msl_m > 500.0)[0]])
    falls = float(truth.time_s[np.flatnonzero(truth.going_down)[0]])
    lands = float(truth.time_s[np.flatnonzero(truth.going_down)[-1]])
    assert last.release_utc is not None
    assert abs(last.release_utc.timestamp() - leaves) < 5.0
    assert last.fall_start is not None
    assert abs(last.fall_start.time_utc.timestamp() - falls) < 4.0
    assert last.landed_utc is not None
    assert abs(last.landed_utc.timestamp() - lands) < 30.0
    assert timedelta(0) <= last.heard_utc - estimates[0].heard_utc


@pytest.mark.parametrize(("every_s", "loss"), [(30, 0.4), (60, 0.0), (120, 0.4)])
def test_a_tracker_that_speaks_once_a_minute(every_s: int, loss: float) -> None:
    """Positions to a hundredth of a minute, as plain APRS rounds them; some packets lost."""
    truth = made(top_msl_m=28_000.0, ground_s=900.0, landed_s=900.0)
    flown, rng, step = noisy(truth, 3), np.random.default_rng(3), 0.01 / 60.0
    fixes = [
        fix_at(
            flown,
            index,
            latitude_deg=float(round(flown.latitude_deg[index] / step) * step),
            longitude_deg=float(round(flown.longitude_deg[index] / step) * step),
            position_step_m=18.5,
        )
        for index in range(0, len(flown.time_s), every_s)
        if rng.random() >= loss
    ]
    estimates = estimate_all(packets(flown, fixes), LaunchPlace(48.0, 11.0, 500.0))
    told = [estimate.phase for estimate in estimates]
    order = [Phase.NOT_KNOWN, Phase.GROUND, Phase.ASCENT, Phase.DESCENT, Phase.LANDED]
    assert [phase for phase, before in zip(told, [None, *told[:-1]], strict=True) if phase is not before] == order
    last = estimates[-1]
    assert not last.rejected
    assert last.fall_start is not None
    off = last.fall_start.time_utc.timestamp() - float(truth.time_s[np.flatnonzero(truth.going_down)[0]])
    assert abs(off) <= 2.0 * last.fall_start.time_sd_s
    assert abs(off) <= every_s
    errors = [layer.wind_u_m_s - 15.0 for layer in last.wind if 750.0 <= layer.low_msl_m < 27_000.0]
    assert len(errors) > 60
    assert float(np.sqrt(np.mean(np.square(errors)))) < 0.6
