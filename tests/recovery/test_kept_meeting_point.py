"""A car that is bound for a place already: kept while that is about as good, sent on when it is not."""

from __future__ import annotations

import numpy as np

from pappus.recovery import Car, Effort, Reach, chase_roads, meeting_point
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
