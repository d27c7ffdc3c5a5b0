"""Fly launch options one after the other through winds that are laid out once for all of them.

Every cell goes the way of a brief: the winds that hold it, the fill, the nominal flight of each run, the ensemble.
What hangs on less than the cell is made once: the field of a run and its ground for the whole window, the air over the
site for each launch time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import numpy as np

from pappus.errors import NoSolution, OutsideCoverage
from pappus.flight_train import Fill, SiteAir, burst_height_msl_m, mean_climb_m_s, solve_fill
from pappus.ground import Terrain, TerrainGrid
from pappus.plan import Plan, Site, conditions_in, field_between, ground_under, under
from pappus.preflight.window._options import LaunchOption, with_balloon
from pappus.preflight.winds import Ensemble, Run, Winds, choose_winds, fly_all, run_in, site_air
from pappus.sources import Prior
from pappus.trajectory import Conditions, Draws, Flights, fly
from pappus.wind import member_mean

BLOCK = 2000
"""Flights whose tracks are in memory at a time."""


@dataclass(frozen=True, eq=False)
class CellFlights:
    """One option as flown."""

    option: LaunchOption
    plan: Plan
    """The plan of this option: with its balloon, and with the climb of the prior."""
    winds: tuple[Winds, ...]
    """Newest first."""
    runs: tuple[Run, ...]
    air: SiteAir
    fill: Fill
    climb_m_s: float
    """Mean of the first 5 km."""
    ensemble: Ensemble

    def tracked(self) -> Iterator[Flights]:
        """All its flights with their tracks, a block after another in their order; times as each block says.

        Flights that were flown without tracks fly once more from the same draws, so that no more tracks are in memory
        than one block has.
        """
        flights = self.ensemble.flights
        if len(flights.tracked) == len(flights.outcome):
            yield flights
            return
        for run, draws in zip(self.runs, self.ensemble.draws, strict=True):
            for first in range(0, draws.flights, BLOCK):
                yield fly(run.conditions, _some(draws, slice(first, first + BLOCK)), tracks=BLOCK)


@dataclass(frozen=True, eq=False)
class NotFlown:
    """One option that cannot be flown, and why, one sentence each."""

    option: LaunchOption
    why_not: tuple[str, ...]
    outside: bool
    """The winds do not hold it: nothing is known about such a flight. Else no fill gives what is asked."""


class WindowFlights:
    """Flies options; what two of them share is made once."""

    def __init__(
        self,
        plan: Plan,
        winds: Sequence[Winds],
        prior: Prior,
        *,
        sites: Sequence[Site],
        first: datetime,
        last: datetime,
        terrain: Sequence[TerrainGrid] = (),
        threads: ThreadPoolExecutor | None = None,
    ) -> None:
        self.plan, self.winds, self.prior, self.threads = plan, tuple(winds), prior, threads
        self._first, self._last = first, last
        self._ground: dict[tuple[int, str], Terrain] = {}
        for index, one in enumerate(self.winds):
            # runs of one model stand on the same ground, which is large and laid out for the kernel once
            twin = next((i for i in range(index) if _same_ground(self.winds[i], one)), None)
            for site in sites:
                ground = (
                    ground_under(plan, site, one.field, one.ground_msl_m, terrain)
                    if twin is None
                    else self._ground[twin, site.name]
                )
                self._ground[index, site.name] = ground
        heights = [site.height_msl_m for site in sites] + [one.lowest_msl_m for one in self._ground.values()]
        self._lowest_msl_m = min(heights)
        self._laid_out: dict[int, tuple[Conditions, Conditions]] = {}

    def fly_at(
        self,
        site: Site,
        release: datetime,
        options: Sequence[LaunchOption],
        *,
        tracks: int = 0,
        fill: Fill | None = None,
    ) -> list[CellFlights | NotFlown]:
        """Every option of one site and launch time; ``fill`` instead of their wishes, for a balloon that is filled."""
        place = _Place(self, site, release)
        return [place.fly(option, tracks, fill) for option in options]

    def ground(self, index: int, site: Site) -> Terrain:
        """What flights from a site come down on."""
        return self._ground[index, site.name]

    def laid_out(self, index: int, site: Site, release: datetime) -> tuple[Conditions, Conditions]:
        """One run for the whole window, and the mean of its members, as any flight in it may use them."""
        if index not in self._laid_out:
            field = field_between(self.plan, self.winds[index].field, self._first, self._last, self._lowest_msl_m)
            members = conditions_in(field, self.plan, site, release, self.ground(index, site))
            mean = members if field.members == 1 else members.moved(field=member_mean(field))
            _ = members.cube, mean.cube
            self._laid_out[index] = members, mean
        return self._laid_out[index]


class _Place:
    """One site at one launch time."""

    def __init__(self, flights: WindowFlights, site: Site, release: datetime) -> None:
        self.flights, self.site, self.release = flights, site, release
        self._air: dict[int, SiteAir] = {}
        self._conditions: dict[tuple[int, str], tuple[Conditions, Conditions]] = {}

    def fly(self, option: LaunchOption, tracks: int, filled: Fill | None) -> CellFlights | NotFlown:
        plan = under(with_balloon(self.flights.plan, option.balloon), self.flights.prior.flight)
        fills: dict[int, Fill] = {}

        def top_in(one: Winds) -> float:
            index = self._index(one)
            fills[index] = filled or solve_fill(option.fill, plan.flight_train, self.air(index))
            diameter = plan.flight_train.envelope.burst_diameter_m
            return float(burst_height_msl_m(fills[index].gas_mol, diameter, plan.flight_train, self.air(index))[0])

        try:
            flown, _ = choose_winds(self.flights.winds, self.site, self.release, top_in, plan.limits)
        except OutsideCoverage as error:
            why = tuple(str(finding) for finding in error.findings) or ("no winds were given",)
            return NotFlown(option, why, outside=True)
        except NoSolution as error:
            return NotFlown(option, (str(error),), outside=False)
        newest = self._index(flown[0])
        fill, air = fills[newest], self.air(newest)
        runs = [self._run(plan, option, one, fill) for one in flown]
        ensemble = fly_all(
            plan, runs, fill, option.fill.scale_sd_n, self.flights.prior, tracks=tracks, threads=self.flights.threads
        )
        climb = mean_climb_m_s(fill.gas_mol, plan.flight_train, air)
        return CellFlights(option, plan, flown, tuple(runs), air, fill, climb, ensemble)

    def air(self, index: int) -> SiteAir:
        """Over the site in one of the winds."""
        if index not in self._air:
            self._air[index] = site_air(self.flights.winds[index].field, self.flights.plan, self.site, self.release)
        return self._air[index]

    def _run(self, plan: Plan, option: LaunchOption, winds: Winds, fill: Fill) -> Run:
        index = self._index(winds)
        key = index, option.balloon_name
        if key not in self._conditions:
            shared, shared_mean = self.flights.laid_out(index, self.site, self.release)
            ground = self.flights.ground(index, self.site)
            own = conditions_in(shared.field, plan, self.site, self.release, ground)
            change = {"train": own.train, "release": own.release, "ground": ground, "sun": own.sun}
            members = shared.moved(**change)
            self._conditions[key] = members, members if shared is shared_mean else shared_mean.moved(**change)
        return run_in(plan, winds, *self._conditions[key], fill, self.flights.prior)

    def _index(self, winds: Winds) -> int:
        return next(index for index, one in enumerate(self.flights.winds) if one is winds)


def _some(draws: Draws, rows: slice) -> Draws:
    columns: dict[str, Any] = {}
    for field in fields(Draws):
        values = getattr(draws, field.name)
        columns[field.name] = None if values is None else values[rows]
    return Draws(**columns)


def _same_ground(one: Winds, other: Winds) -> bool:
    if one.ground_msl_m is None or other.ground_msl_m is None:
        return one.ground_msl_m is other.ground_msl_m
    pairs = (
        (one.ground_msl_m, other.ground_msl_m),
        (one.field.latitude_deg, other.field.latitude_deg),
        (one.field.longitude_deg, other.field.longitude_deg),
    )
    return all(np.array_equal(a, b) for a, b in pairs)
