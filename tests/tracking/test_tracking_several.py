"""Several trackers on one train: one is chosen, the rest are compared, nothing is averaged. Invented flights."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from flown import Flown, fix_at, made, noisy

from pappus.tracking import Estimate, Estimator, Fix, Reason, received

FLOWN = made(top_msl_m=9000.0)


def fly(*trackers: list[Fix | None], flown: Flown = FLOWN, until: int = 1200, **known: Any) -> list[Estimate]:
    """One receiver hears every tracker in turn; None is a silence. Each fix is heard at the moment of its index."""
    estimator, estimates, count = Estimator(**known), [], 0
    for index in range(until):
        for number, fixes in enumerate(trackers):
            fix = fixes[index]
            if fix is None:
                continue
            when = datetime.fromtimestamp(float(flown.time_s[index]) + 0.3 + 0.1 * number, tz=UTC)
            heard = received("hill", count, when, "json", f"{number} {index}".encode())
            estimates.append(estimator.feed(heard, (fix,)))
            count += 1
    return estimates


def sent(tracker: str, flown: Flown = FLOWN, checked: bool = True, **changed: object) -> list[Fix | None]:
    return [fix_at(flown, index, tracker, checked, **changed) for index in range(len(flown.time_s))]


def north_of(fixes: list[Fix | None], metres: float) -> list[Fix | None]:
    return [fix and replace(fix, latitude_deg=(fix.latitude_deg or 0.0) + metres / 111_200.0) for fix in fixes]


def chosen(estimate: Estimate) -> str:
    assert estimate.position is not None
    return estimate.position.tracker


def test_two_good_trackers_do_not_take_turns() -> None:
    estimates = fly(sent("A", noisy(FLOWN, 1)), sent("B", noisy(FLOWN, 2)))
    names = [chosen(estimate) for estimate in estimates[20:]]
    assert len(set(names)) == 1
    last = estimates[-1]
    assert len(last.apart) == 1
    assert last.apart[0].agrees
    assert last.apart[0].distance_m < 40.0
    assert not any("disagree" in note for note in last.notes)


def test_two_hundred_metres_apart_and_one_is_stale() -> None:
    """B stops at index 600; A stands 200 m from it all the time."""
    silent = north_of(sent("B"), 200.0)
    silent[600:] = [None] * (len(silent) - 600)
    estimates = fly(sent("A"), silent)
    middle = next(e for e in estimates if e.heard_utc.timestamp() > FLOWN.time_s[590])
    assert [round(apart.distance_m, -1) for apart in middle.apart] == [200.0]
    assert any("disagree by 200 m" in note for note in middle.notes)
    last = estimates[-1]
    assert chosen(last) == "A"
    fixes = {state.tracker: state.fix_utc for state in last.trackers}
    assert fixes["B"] == datetime.fromtimestamp(float(FLOWN.time_s[599]), tz=UTC)
    # never a mean of the two: each position told is one that was sent
    latitudes = {fix.latitude_deg for fixes in (sent("A"), silent) for fix in fixes if fix is not None}
    assert {e.position.latitude_deg for e in estimates if e.position is not None} <= latitudes


def test_the_chosen_one_falls_silent() -> None:
    mute = sent("A")
    mute[500:] = [None] * (len(mute) - 500)
    other = sent("B")
    estimates = fly(mute, other, until=700)
    names = [chosen(estimate) for estimate in estimates]
    turn = max(index for index, name in enumerate(names) if name == "A")
    waited = estimates[turn].heard_utc.timestamp() - FLOWN.time_s[499]
    assert 25.0 < waited < 35.0
    assert chosen(estimates[-1]) == "B"


def test_a_repeated_place_under_a_new_stamp_is_given_up() -> None:
    """A freezes at index 600, place and height, and goes on stamping."""
    flown = made(top_msl_m=15_000.0)
    frozen = sent("A", flown)
    stuck = frozen[1100]
    assert stuck is not None
    assert stuck.height_msl_m is not None
    assert stuck.height_msl_m > 5000.0
    for index in range(1101, len(frozen)):
        fix = frozen[index]
        assert fix is not None
        frozen[index] = replace(stuck, time_utc=fix.time_utc)
    last = fly(frozen, sent("B", flown), flown=flown, until=1300)[-1]
    assert chosen(last) == "B"
    assert {why for name, why, _ in last.rejected if name == "A"} == {Reason.HEIGHT_FROZEN}


def test_checked_before_unchecked_and_two_before_one() -> None:
    assert chosen(fly(sent("A", checked=False), sent("B"), until=60)[-1]) == "B"
    astray = north_of(sent("C"), 3000.0)
    last = fly(astray, sent("A", noisy(FLOWN, 4)), sent("B", noisy(FLOWN, 5)), until=300)[-1]
    assert chosen(last) in ("A", "B")
    assert {apart.tracker: apart.agrees for apart in last.apart}["C"] is False


@pytest.mark.parametrize(("offset_m", "like_geoid"), [(47.0, True), (90.0, False)])
def test_an_offset_of_height_is_found(offset_m: float, like_geoid: bool) -> None:
    flown, other = noisy(FLOWN, 6), noisy(FLOWN, 7)
    high = [fix and replace(fix, height_msl_m=(fix.height_msl_m or 0.0) + offset_m) for fix in sent("B", other)]
    last = fly(sent("A", flown), high, until=400, undulation_m=lambda latitude_deg, longitude_deg: 47.0)[-1]
    (apart,) = last.apart
    assert apart.height_offset_m is not None
    sign = 1.0 if apart.tracker == "B" else -1.0
    assert sign * apart.height_offset_m == pytest.approx(offset_m, abs=5.0)
    told = next(note for note in last.notes if "heights" in note)
    assert ("ellipsoid" in told) is like_geoid


def test_layers_that_the_chosen_one_missed_are_lent_by_one_that_agrees() -> None:
    late: list[Fix | None] = sent("A")
    late[:900] = [None] * 900
    gone = sent("B", noisy(FLOWN, 8))
    gone[1000:] = [None] * (len(gone) - 1000)
    estimates = fly(late, gone)
    assert chosen(estimates[-1]) == "A"
    by = {layer.tracker for layer in estimates[-1].wind}
    assert by == {"A", "B"}
    lows = [layer.low_msl_m for layer in estimates[-1].wind]
    assert lows == sorted(lows)
    assert len(set(lows)) == len(lows)


def test_flown_path_is_bounded_and_in_order() -> None:
    estimator = Estimator()
    for index in range(1200):
        when = datetime.fromtimestamp(float(FLOWN.time_s[index]) + 0.3, tz=UTC)
        estimator.feed(received("hill", index, when, "json", f"{index}".encode()), (fix_at(FLOWN, index),))
    path = estimator.flown()
    steps = np.diff([point.time_s for point in path])
    assert steps.min() >= 5.0
    assert len(path) == pytest.approx(1200 / 5, abs=3)


def test_a_spare_tracker_in_the_car_is_not_the_balloon() -> None:
    """Fresh, checked and on the ground, while the one in the air is silent for a while and unchecked."""
    spare = [fix_at(FLOWN, 10, "A", time_utc=datetime.fromtimestamp(t, tz=UTC)) for t in FLOWN.time_s.tolist()]
    flying = sent("B", noisy(FLOWN, 9), checked=False)
    flying[900:] = [None] * (len(flying) - 900)
    estimates = fly(list(spare), flying, flown=noisy(FLOWN, 9))
    assert chosen(estimates[-1]) == "B"
    assert any("B is used" in note for note in estimates[1700].notes)


def test_what_the_chosen_one_missed_is_told_by_one_that_agrees() -> None:
    late: list[Fix | None] = sent("A", noisy(FLOWN, 10))
    late[:400] = [None] * 400
    last = fly(late, sent("B", noisy(FLOWN, 11), checked=False), until=600)[-1]
    assert chosen(last) == "A"
    assert last.release_utc is not None
    assert abs(last.release_utc.timestamp() - float(FLOWN.time_s[60])) < 6.0
    assert last.ground_msl_m == pytest.approx(500.0, abs=5.0)


def test_a_shared_channel_without_callsigns() -> None:
    """Sixty stations that stand about: the memory stays bounded, and the note says what to do."""
    estimator = Estimator()
    for index in range(300):
        when = datetime.fromtimestamp(float(FLOWN.time_s[index]) + 0.3, tz=UTC)
        number = index % 60
        fix = fix_at(FLOWN, index, f"PASSER-{number}", latitude_deg=48.0 + 0.1 * number, height_msl_m=400.0)
        last = estimator.feed(received("hill", index, when, "aprs-text", b"%d" % index), (fix,))
    assert len(last.trackers) == 40
    assert "give the callsigns of the flight" in last.notes[0]
    named = Estimator(trackers={"PASSER-7"})
    for index in range(300):
        when = datetime.fromtimestamp(float(FLOWN.time_s[index]) + 0.3, tz=UTC)
        fix = fix_at(FLOWN, index, f"PASSER-{index % 60}")
        last = named.feed(received("hill", index, when, "aprs-text", b"%d" % index), (fix,))
    assert [state.tracker for state in last.trackers] == ["PASSER-7"]
    assert not last.notes


def test_the_balloons_own_receiver_needs_no_callsign() -> None:
    estimator = Estimator(trackers={"N0CALL"})
    when = datetime.fromtimestamp(float(FLOWN.time_s[0]) + 0.3, tz=UTC)
    bare = fix_at(FLOWN, 0, "")
    assert estimator.feed(received("hill", 1, when, "nmea", b"1"), (bare,)).position is None
    last = estimator.feed(received("box", 1, when, "nmea", b"1", role="balloon tracker"), (bare,))
    assert chosen(last) == "box"
    last = estimator.feed(received("hill", 2, when, "aprs-text", b"2"), (fix_at(FLOWN, 0, "N0CALL-11"),))
    assert [state.tracker for state in last.trackers] == ["N0CALL-11", "box"]
