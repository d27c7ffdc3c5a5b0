"""Cars driven through a flight of known outcome: the drive against the clock, and the advice against the dots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from pappus.earth import LocalPlane, distance_m
from pappus.landing import LandingArea
from pappus.recovery import (
    Effort,
    Landings,
    Reach,
    by_advice,
    by_dot,
    by_nearest_stop,
    chase_roads,
    follow,
    last_position,
    middle_predicted,
)
from recovery.road_maps import street_grid

PLANE = LocalPlane(50.03, 10.05)


@dataclass(frozen=True)
class Drifting:
    """Invented: it drifts east in a straight line; predictions scatter by a tenth of the way that is left."""

    seed: int
    touchdown_s: float = 1500.0
    length_m: float = 5000.0

    @property
    def landing_deg(self) -> tuple[float, float]:
        return self.dot(self.touchdown_s)

    def moments(self) -> Sequence[float]:
        return list(np.arange(0.0, self.touchdown_s, 150.0))

    def dot(self, at_s: float) -> tuple[float, float]:
        north, east = PLANE.to_latitude_longitude_deg(self.length_m * (at_s / self.touchdown_s - 0.5), 0.0)
        return float(north), float(east)

    def predicted(self, at_s: float) -> tuple[Landings, LandingArea | None]:
        rng = np.random.default_rng([self.seed, int(at_s)])
        sd = 20.0 + 0.1 * self.length_m * (1.0 - at_s / self.touchdown_s)
        off = rng.normal(0.0, sd, 2)
        places = PLANE.to_latitude_longitude_deg(
            0.5 * self.length_m + off[0] + rng.normal(0.0, sd, 150), off[1] + rng.normal(0.0, sd, 150)
        )
        return Landings(*places, self.touchdown_s - at_s + rng.normal(0.0, 20.0, 150), 0), None


def test_a_car_is_never_faster_than_its_planned_times() -> None:
    """Towards a dot that stands still: where the car is after the flight against the way worked out at once."""
    chase, reach = chase_roads(street_grid(18, 3), None), Reach(slower=1.5)
    flight = Drifting(1, touchdown_s=400.0, length_m=0.0)
    end = follow(flight, (50.002, 10.003), by_dot(chase, reach, last_position), chase, reach)
    whole = 1.5 * chase.roads.drive_times(50.002, 10.003, *flight.landing_deg, main_only=True).time_s[0]
    walk = chase.roads.nearest(*flight.landing_deg, main_only=True).distance_m[0] / reach.walk_m_s
    assert end.to_payload_s == pytest.approx(whole + walk - 400.0, abs=30.0)  # told anew on the way, at pieces of road


def test_advice_brings_the_car_in_reach_and_keeps_it_out_from_under() -> None:
    chase, reach = chase_roads(street_grid(20, 5), None), Reach(within_s=600.0, slower=1.0, quiet_s=120.0)
    ways = {
        "advice": by_advice(chase, reach, Effort(looks=10)),
        "last position": by_dot(chase, reach, last_position),
        "middle": by_dot(chase, reach, middle_predicted),
        "nearest place to wait": by_nearest_stop(chase, reach),
    }
    ends = {
        name: [follow(Drifting(seed), (50.03, 10.01), steer, chase, reach) for seed in range(8)]
        for name, steer in ways.items()
    }
    for name, found in ends.items():
        away = [end.away_m for end in found]
        print(f"{name}: {sum(end.in_reach for end in found)} of 8 in reach, nearest {min(away):.0f} m")
    assert all(end.in_reach for end in ends["advice"])
    assert min(end.away_m for end in ends["advice"]) > 150.0
    assert min(end.away_m for end in ends["middle"]) < 150.0
    # the rules of the advice keep it out from under the payload too
    assert min(end.away_m for end in ends["nearest place to wait"]) > 150.0


def test_a_landing_off_the_map_is_out_of_reach() -> None:
    chase, reach = chase_roads(street_grid(9, 5), None), Reach()
    flight = Drifting(1, length_m=60_000.0)
    end = follow(flight, (50.002, 10.003), by_advice(chase, reach, Effort(looks=4)), chase, reach)
    assert not end.in_reach
    assert end.away_m == pytest.approx(float(distance_m(50.002, 10.003, *flight.landing_deg)), rel=0.2)
