"""A flight that is taken up on its way comes down where it would have come down anyway."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ensembles import ensemble
from pappus.earth import distance_m
from pappus.flight_train import CutDown
from pappus.trajectory import AscentEnd, Conditions, Draws, Flights, Outcome, Release, fly

FLIGHTS = 12


def one_of(draws: Draws, row: int) -> Draws:
    """The draws of one flight, on time."""
    alone = {
        name: None if values is None else values[row : row + 1] for name, values in vars(draws).items()
    }  # fmt: skip
    return replace(Draws(**alone), release_delay_s=np.zeros(1))


def taken_up(flights: Flights, conditions: Conditions, point: int) -> Release:
    """A point of the one track as the beginning of a flight that left when this one did."""
    top = int(np.nanargmax(flights.track_height_msl_m[0]))
    end = AscentEnd(int(flights.ascent_end[0])) if point >= top else AscentEnd.NONE
    return Release(
        float(flights.track_latitude_deg[0, point]),
        float(flights.track_longitude_deg[0, point]),
        float(flights.track_height_msl_m[0, point]),
        float(flights.track_time_s[0, point]),
        left_s=conditions.release.time_s,
        ascent_end=end,
    )


@pytest.mark.parametrize("share", [0.05, 0.5, 1.0, 1.5])
def test_the_rest_of_a_flight_is_that_of_the_whole(share: float) -> None:
    """``share``: 1 is the burst, above that the fall. Heights are float32 in the cube and steps begin elsewhere."""
    shared, draws = ensemble(FLIGHTS)
    apart = []
    for row in range(FLIGHTS):
        alone = one_of(draws, row)
        whole = fly(shared, alone)
        assert whole.landed[0]
        top = int(np.nanargmax(whole.track_height_msl_m[0]))
        last = int(np.isfinite(whole.track_time_s[0]).sum()) - 1
        point = round(share * top) if share <= 1.0 else round(top + (share - 1.0) * (last - top))
        rest = fly(shared.moved(release=taken_up(whole, shared, point)), alone)
        assert rest.outcome[0] == Outcome.LANDED
        assert rest.ascent_end[0] == whole.ascent_end[0]
        assert abs(rest.end_time_s[0] - whole.end_time_s[0]) < 5.0
        apart.append(
            distance_m(
                whole.end_latitude_deg, whole.end_longitude_deg, rest.end_latitude_deg, rest.end_longitude_deg
            )[0]
        )  # fmt: skip
    print(f"taken up at {share}: median {np.median(apart):.1f} m, largest {max(apart):.1f} m")
    assert np.median(apart) < 10.0
    assert max(apart) < 50.0


def test_a_timer_counts_from_when_the_balloon_left() -> None:
    shared, draws = ensemble(1)
    timer = CutDown("timer", 1, "time", "own clock", after_release_s=900.0)
    shared = replace(shared, train=replace(shared.train, cut_downs=(timer,)))
    alone = one_of(draws, 0)
    whole = fly(shared, alone)
    assert whole.ascent_end[0] == AscentEnd.CUT_DOWN
    rest = fly(shared.moved(release=taken_up(whole, shared, 8)), alone)
    assert rest.ascent_end[0] == AscentEnd.CUT_DOWN
    assert rest.top_time_s[0] == pytest.approx(shared.release.time_s + 900.0, abs=1.0)


def test_the_longest_flight_counts_from_there_too() -> None:
    shared, draws = ensemble(1)
    alone = one_of(draws, 0)
    whole = fly(shared, alone)
    begun = taken_up(whole, shared, 3)
    late = replace(begun, left_s=begun.time_s - shared.longest_flight_s + 600.0)
    rest = fly(shared.moved(release=late), alone)
    assert rest.outcome[0] == Outcome.STILL_ALOFT
    assert rest.end_time_s[0] - begun.time_s < 1_200.0
