"""A car that is bound for a place already: kept while that is about as good, sent on when it is not."""

from __future__ import annotations

import numpy as np
import pytest

from pappus.earth import distance_m
from pappus.recovery import Car, Effort, Landings, Reach, chase_roads, meeting_point
from recovery.road_maps import scattered, street_grid


def test_a_car_keeps_its_place_while_it_is_about_as_good() -> None:
    """Told anew with other draws of the same landings, a car that is bound for a place is not sent to and fro."""
    roads = street_grid(9, 6)
    chase = chase_roads(roads, None)
    reach = Reach(within_s=500.0, stand_off_m=50.0)
    place, moved, free = None, 0, set()
    for seed in range(8):
        landings = scattered(roads, seed, 300, sd_deg=0.006, touchdown_s=3000.0, spread_s=60.0)
        effort = Effort(keep=0.1, looks=20)
        (kept,) = meeting_point(
            [Car("a", 50.0, 10.0, 0.0, place)], landings, chase, reach=reach, effort=effort
        ).meetings
        (other,) = meeting_point([Car("a", 50.0, 10.0)], landings, chase, reach=reach, effort=effort).meetings
        assert kept.chance is not None
        assert other.chance is not None
        assert kept.chance.p >= other.chance.p - 0.1 - 0.005
        assert kept.latitude_deg is not None
        assert kept.longitude_deg is not None
        found = (kept.latitude_deg, kept.longitude_deg)
        moved += place is not None and found != place
        place = found
        free.add((other.latitude_deg, other.longitude_deg))
    print(f"moved {moved} times of 7; free of it {len(free)} places")
    assert moved < len(free) - 1


def test_a_place_is_not_kept_where_the_crew_would_be_much_later() -> None:
    """With all landings in reach from everywhere, the chance alone would leave the car where it was sent first."""
    roads = street_grid(9, 6)
    chase = chase_roads(roads, None)
    reach = Reach(within_s=3600.0, stand_off_m=50.0)
    landings = scattered(roads, 1, 300, sd_deg=0.002, touchdown_s=3000.0, spread_s=60.0)
    corner = 50.0, 10.0
    first = int(np.flatnonzero(chase.stop)[0])
    far = float(chase.roads.node_latitude_deg[first]), float(chase.roads.node_longitude_deg[first])

    def mean_s(keep_s: float) -> float:
        car = Car("a", *corner, bound_for_deg=far)
        (told,) = meeting_point([car], landings, chase, reach=reach, effort=Effort(keep_s=keep_s)).meetings
        assert told.chance is not None
        assert told.chance.p == 1.0
        assert told.to_payload_s is not None
        return told.to_payload_s.values[1]

    stuck, free = mean_s(1e9), mean_s(0.0)
    assert free < stuck - 120.0, "else the case shows nothing"
    assert mean_s(120.0) <= free + 120.0


@pytest.mark.parametrize("touchdown_s", [4000.0, 60.0])
def test_with_nothing_in_reach_the_car_comes_as_near_as_it_can(touchdown_s: float) -> None:
    """Landings farther from every road than anyone walks: no place is better by the chance, so the drive decides."""
    roads = street_grid(9, 6)
    chase = chase_roads(roads, None)
    reach = Reach(walk_most_m=10.0, stand_off_m=50.0)
    north, east = float(roads.node_latitude_deg.max()), float(roads.node_longitude_deg.max())
    rng = np.random.default_rng(1)
    landings = Landings(
        north - 0.0006 + 0.0001 * rng.standard_normal(200), east - 0.0006 + 0.0001 * rng.standard_normal(200),
        touchdown_s + 10.0 * rng.random(200), 0,
    )  # fmt: skip
    car = Car("a", float(roads.node_latitude_deg.min()), float(roads.node_longitude_deg.min()))
    (told,) = meeting_point([car], landings, chase, reach=reach).meetings
    assert told.chance is not None
    assert told.chance.p < 0.05
    assert told.latitude_deg is not None
    assert told.longitude_deg is not None
    middle = float(np.median(landings.latitude_deg)), float(np.median(landings.longitude_deg))
    if touchdown_s > 1000.0:
        stops = np.flatnonzero(chase.stop)
        away = distance_m(*middle, chase.roads.node_latitude_deg[stops], chase.roads.node_longitude_deg[stops])
        mine = float(distance_m(*middle, told.latitude_deg, told.longitude_deg))
        assert mine <= np.quantile(away, 0.1), "among the places nearest to where it comes down"
    else:  # it comes too late anyhow: then the place lies on its way
        assert told.route is not None

        def drive_s(north: float, east: float) -> float:
            return reach.slower * float(chase.roads.drive_times(north, east, *middle, main_only=True).time_s[0])

        direct_s = drive_s(car.latitude_deg, car.longitude_deg)
        assert told.route.drive_time_s + drive_s(told.latitude_deg, told.longitude_deg) <= 1.1 * direct_s + 30.0
