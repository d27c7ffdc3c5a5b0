"""The chase: the meeting point against every node, how long it takes, and a car that follows the advice against others.

    python benchmarks/chase.py [FLIGHTS]

The flights are simulated over invented roads; what is predicted in flight is exactly what an observer of the model
behind them knows (a Gaussian wind error by layers, of which the layers flown through are known). Four cars leave the
site together: one follows the meeting point, one the last position of the balloon, one the middle of the predicted
landings, and one the place to wait nearest to that middle, kept out of the 50 % area like the first.
"""

from __future__ import annotations

import math
import platform
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from pappus.earth import LocalPlane
from pappus.ground import MapBox, RoadNetwork, RoadWay, build_road_network
from pappus.landing import LandingArea
from pappus.recovery import (
    Car,
    ChaseEnd,
    Effort,
    Landings,
    Reach,
    by_advice,
    by_dot,
    by_nearest_stop,
    chase_roads,
    follow,
    last_position,
    meeting_point,
    middle_predicted,
)

FLIGHTS = 200
SEED = 8
SITE = (50.0, 10.0)
UNDER_M = 150.0
"""Nearer than this to the payload at touchdown a car stands under it."""

Place = tuple[float, float]


# A model of flights that converge as they are watched


LAYERS = 30
LAYER_M = 1000.0
ERROR_M_S, DEPTH_M, SEEN_M_S = 2.5, 3000.0, 0.5
BURST_M, BURST_SD_M = 28_000.0, 1500.0
CLIMB_M_S, CLIMB_LN_SD = 5.0, 0.06
SINK_M_S, SINK_LN_SD = 5.5, 0.15
SAMPLES = 300


@dataclass(frozen=True, eq=False)
class Sky:
    """Mean wind by layer and the covariance of its error, one component."""

    wind_m_s: np.ndarray
    covariance: np.ndarray


def sky(seed: int) -> Sky:
    """Westerly wind with a jet at 11 km; errors that fade over some kilometres of height."""
    height = (np.arange(LAYERS) + 0.5) * LAYER_M
    speed = 4.0 + 22.0 * np.exp(-(((height - 11_000.0) / 4500.0) ** 2)) + 4.0 * height / 30_000.0
    turn = np.radians(80.0 + np.random.default_rng(seed).uniform(-25.0, 25.0)) * np.ones(LAYERS)
    apart = np.abs(height[:, None] - height[None, :])
    mean = np.stack((speed * np.sin(turn), speed * np.cos(turn)))
    return Sky(mean, ERROR_M_S**2 * np.exp(-apart / DEPTH_M))


@dataclass(frozen=True, eq=False)
class Flown:
    """What decides one flight: winds by layer, burst height, climb, and sink near the ground."""

    wind_m_s: np.ndarray
    burst_m: np.ndarray
    climb_m_s: np.ndarray
    sink_m_s: np.ndarray

    def seconds(self) -> tuple[np.ndarray, np.ndarray]:
        """Time in each layer on the way up and down, shape (flights, layers); the sink grows with height."""
        floor = np.arange(LAYERS) * LAYER_M
        part = np.clip(self.burst_m[:, None] - floor, 0.0, LAYER_M)
        sink = self.sink_m_s[:, None] * np.exp((floor + 0.5 * LAYER_M) / 15_000.0)
        return part / self.climb_m_s[:, None], part / sink


class SimulatedFlight:
    """One drawn flight and what is known of it as it goes on."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.sky = sky(seed)
        self.truth = self._draw(1, np.zeros(0), None)
        up, down = self.truth.seconds()
        self.burst_s = float(up.sum())
        self.touchdown_s = float(up.sum() + down.sum())
        self.landing_deg = self._place(*(self.truth.wind_m_s @ (up + down)[0])[0])
        self.seen = self.truth.wind_m_s[0] + SEEN_M_S * self.rng.standard_normal((2, LAYERS))
        self.known: dict[float, Landings] = {}

    def moments(self) -> Sequence[float]:
        """Every ten minutes on the way up, every two on the way down."""
        return [*np.arange(0.0, self.burst_s, 600.0), *np.arange(self.burst_s, self.touchdown_s, 120.0)]

    def dot(self, at_s: float) -> Place:
        """Straight through each layer."""
        up, down = (part[0] for part in self.truth.seconds())
        on_way_up = np.clip(at_s - np.concatenate(([0.0], np.cumsum(up)[:-1])), 0.0, up)
        after = np.concatenate((np.cumsum(down[::-1])[::-1][1:], [0.0]))
        on_way_down = np.clip(at_s - self.burst_s - after, 0.0, down)
        return self._place(*(self.truth.wind_m_s[0] @ (on_way_up + on_way_down)))

    def predicted(self, at_s: float) -> tuple[Landings, LandingArea | None]:
        """Drawn from what is known: the layers flown through, the burst once seen, the sink better and better."""
        if at_s not in self.known:
            up = self.truth.seconds()[0][0]
            flown = int((np.cumsum(up) <= at_s).sum())
            falling = at_s >= self.burst_s
            draws = self._draw(SAMPLES, self.seen[:, :flown], at_s if falling else None, flown * LAYER_M)
            here, when = self._rest(draws, at_s)
            east, north = here
            places = PLANE.to_latitude_longitude_deg(east, north)
            self.known[at_s] = Landings(*places, when, 0)
        return self.known[at_s], None

    def _rest(self, draws: Flown, at_s: float) -> tuple[np.ndarray, np.ndarray]:
        """Where and after how long the drawn flights come down, from where the true one is now."""
        up, down = draws.seconds()
        true_up, true_down = (part[0] for part in self.truth.seconds())
        left_up = up - np.minimum(np.clip(at_s - _before(true_up), 0.0, true_up) / np.maximum(true_up, 1e-9), 1.0) * up
        after = at_s - self.burst_s - _before(true_down[::-1])[::-1]
        done = np.clip(after, 0.0, true_down) / np.maximum(true_down, 1e-9)
        seconds = left_up + (1.0 - done) * down
        moved = np.einsum("fcl,fl->cf", draws.wind_m_s, seconds)
        start = np.array(PLANE.to_east_north_m(*self.dot(at_s)))
        return start[:, None] + moved, seconds.sum(axis=1)

    def _draw(self, count: int, seen: np.ndarray, falling_s: float | None, least_m: float = 0.0) -> Flown:
        layers = seen.shape[1] if seen.ndim == 2 else 0
        mean, covariance = np.zeros((2, LAYERS)), self.sky.covariance
        if layers:
            known = covariance[:layers, :layers] + SEEN_M_S**2 * np.eye(layers)
            gain = np.linalg.solve(known, covariance[:layers]).T
            mean = (seen - self.sky.wind_m_s[:, :layers]) @ gain.T
            covariance = covariance - gain @ covariance[:layers]
        root = np.linalg.cholesky(covariance + 1e-6 * np.eye(LAYERS))
        winds = self.sky.wind_m_s + mean + self.rng.standard_normal((count, 2, LAYERS)) @ root.T
        if falling_s is not None:
            burst = np.full(count, float(self.truth.burst_m[0]))
            fallen = (falling_s - self.burst_s) / (self.touchdown_s - self.burst_s)
            climb = np.full(count, float(self.truth.climb_m_s[0]))
            # the sink is seen to 2 % after a fifth of the fall, and its logarithm is told with that error
            seen_sd = 0.02 + (SINK_LN_SD - 0.02) * max(1.0 - 5.0 * fallen, 0.0)
            share = SINK_LN_SD**2 / (SINK_LN_SD**2 + seen_sd**2)
            told = math.log(float(self.truth.sink_m_s[0]) / SINK_M_S) + seen_sd * self.rng.standard_normal()
            spread = math.sqrt(share) * seen_sd
            sink = SINK_M_S * np.exp(share * told + spread * self.rng.standard_normal(count))
            return Flown(winds, burst, climb, sink)
        burst = BURST_M + BURST_SD_M * self.rng.standard_normal(4 * count + 200)
        least = min(max(least_m, 20_000.0), BURST_M + 2.0 * BURST_SD_M)
        burst = np.clip(burst[(burst > least) & (burst < LAYERS * LAYER_M)], 0.0, None)[:count]
        burst = np.resize(burst, count) if burst.size else np.full(count, least)
        climb = CLIMB_M_S * np.exp(CLIMB_LN_SD * self.rng.standard_normal(count))
        if layers:
            climb = np.full(count, float(self.truth.climb_m_s[0]))
        return Flown(winds, burst, climb, SINK_M_S * np.exp(SINK_LN_SD * self.rng.standard_normal(count)))

    @staticmethod
    def _place(east_m: float, north_m: float) -> Place:
        north, east = PLANE.to_latitude_longitude_deg(east_m, north_m)
        return float(north), float(east)


PLANE = LocalPlane(*SITE)


def _before(seconds: np.ndarray) -> np.ndarray:
    return np.concatenate(([0.0], np.cumsum(seconds)[:-1]))


def country_roads(side: int, block_m: float, seed: int) -> RoadNetwork:
    """Invented country: crooked lanes, every sixth a main road, some missing, and rivers with few bridges."""
    rng = np.random.default_rng(seed)
    corner = np.arange(side * side).reshape(side, side)
    column, row = np.meshgrid(np.arange(side), np.arange(side))
    east = block_m * (column.ravel() - 0.2 * side) + rng.normal(0.0, 0.12 * block_m, side * side)
    north = block_m * (row.ravel() - 0.5 * side) + rng.normal(0.0, 0.12 * block_m, side * side)
    pairs = np.concatenate(
        [
            np.stack([corner[:, :-1].ravel(), corner[:, 1:].ravel()], 1),
            np.stack([corner[:-1].ravel(), corner[1:].ravel()], 1),
        ]
    )
    across = pairs[:, 1] - pairs[:, 0] == side
    line = np.where(across, pairs[:, 0] % side, pairs[:, 0] // side)
    main = line % 6 == 3
    river = across & np.isin(pairs[:, 0] // side, np.arange(4, side, 9)) & (pairs[:, 0] % side % 6 != 3)
    kept = (main | (rng.random(len(pairs)) < 0.8)) & ~river
    pairs, main = pairs[kept], main[kept]
    bend = rng.normal(0.0, 0.08 * block_m, (2, len(pairs)))
    middles = side * side + np.arange(len(pairs))
    east = np.concatenate((east, east[pairs].mean(axis=1) + bend[0]))
    north = np.concatenate((north, north[pairs].mean(axis=1) + bend[1]))
    ways = []
    for number, (first, last) in enumerate(pairs):
        kind = (
            "primary" if main[number] else ("track", "unclassified", "tertiary")[int(rng.choice(3, p=(0.2, 0.4, 0.4)))]
        )
        speed = {"primary": 22.0, "tertiary": 17.0, "unclassified": 13.0, "track": 6.0}[kind]
        nodes = np.array([first, middles[number], last])
        ways.append(RoadWay(nodes, True, True, speed, speed, True, kind, ""))
    latitude, longitude = PLANE.to_latitude_longitude_deg(east, north)
    rim = 0.05
    box = MapBox(latitude.min() - rim, latitude.max() + rim, longitude.min() - rim, longitude.max() + rim)
    return build_road_network(box, latitude, longitude, ways)


def compare(flights: int) -> Iterator[str]:
    """The four cars over so many flights."""
    chase, reach = chase_roads(country_roads(62, 2500.0, SEED), None), Reach()
    ways = {
        "the meeting point": by_advice(chase, reach, Effort(looks=16)),
        "the last position": by_dot(chase, reach, last_position),
        "the middle of the predicted landings": by_dot(chase, reach, middle_predicted),
        "the place to wait nearest to it": by_nearest_stop(chase, reach),
    }
    start = time.perf_counter()
    ended: dict[str, list[ChaseEnd]] = {name: [] for name in ways}
    missed = 0
    for seed in range(flights):
        flight = SimulatedFlight(1000 + seed)
        missed += not chase.roads.box.holds(*flight.landing_deg)[0]
        for name, steer in ways.items():
            ended[name].append(follow(flight, SITE, steer, chase, reach))
    spent = time.perf_counter() - start
    yield (
        f"{flights} simulated flights over {len(chase.roads.node_latitude_deg):,} nodes of invented roads, {missed} "
        f"landed off the map; the advice is for {reach.within_s / 60:.0f} min; {spent:.0f} s"
    )
    whole, half = f"{reach.within_s / 60:.0f} min", f"{reach.within_s / 120:.0f} min"
    yield f"| the car follows | in reach ({whole}) at touchdown | in {half} | min (median, 90 %) | under it (150 m) |"
    yield "|--|--|--|--|--|"
    for name, ends in ended.items():
        takes = np.array([end.to_payload_s for end in ends]) / 60.0
        share = sum(end.in_reach for end in ends) / flights
        soon = sum(end.in_reach and end.to_payload_s <= 0.5 * reach.within_s for end in ends) / flights
        median, most = np.quantile(takes, (0.5, 0.9), method="higher")
        under = sum(end.away_m < UNDER_M for end in ends)
        yield f"| {name} | {share:.1%} | {soon:.1%} | {median:.0f}, {most:.0f} | {under} |"


def timed() -> Iterator[str]:
    """2,000 landings over some 50,000 nodes: early, half-way and late in a flight."""
    roads = country_roads(112, 900.0, SEED)
    start = time.perf_counter()
    chase = chase_roads(roads, None)
    _ = chase.chains
    yield f"{len(chase.roads.node_latitude_deg):,} nodes made ready in {time.perf_counter() - start:.2f} s, once"
    rng = np.random.default_rng(SEED)
    for name, sd_m, away_s in (("early", 9000.0, 7200.0), ("half-way", 4000.0, 3600.0), ("late", 800.0, 900.0)):
        places = PLANE.to_latitude_longitude_deg(
            30_000 + sd_m * rng.standard_normal(2000), sd_m * rng.standard_normal(2000)
        )
        landings = Landings(*places, away_s * (1.0 + 0.05 * rng.standard_normal(2000)), 0)
        for cars in ([Car("one", *SITE)], [Car("one", *SITE), Car("two", 50.1, 10.2)]):
            spent, busy = [], []
            for _ in range(5):
                start, start_cpu = time.perf_counter(), time.process_time()
                answer = meeting_point(cars, landings, chase)
                spent.append(time.perf_counter() - start)
                busy.append(time.process_time() - start_cpu)
            first = answer.meetings[0]
            yield (
                f"{name}, {len(cars)} car{'s' if len(cars) > 1 else ''}: {1000 * sorted(spent)[2]:.0f} ms (slowest "
                f"{1000 * max(spent):.0f}), {1000 * sorted(busy)[2]:.0f} ms of the processor; joint chance "
                f"{answer.joint.p:.3f}"
                + ("" if first.chance_at_most is None else f", no place above {first.chance_at_most:.3f}")
            )


def main() -> None:
    flights = int(sys.argv[1]) if len(sys.argv) > 1 else FLIGHTS
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}")
    for line in (*timed(), *compare(flights)):
        print(line)


if __name__ == "__main__":
    main()
