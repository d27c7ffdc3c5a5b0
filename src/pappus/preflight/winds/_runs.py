"""Fly one plan on one sounding, or on every model run at hand: each run its own field, all in one ensemble."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import Fill
from pappus.ground import TerrainGrid
from pappus.plan import Plan, Site, conditions_for
from pappus.preflight.winds._gather import Winds
from pappus.sources import Prior
from pappus.trajectory import (
    Conditions,
    Draws,
    Flights,
    flight_knots,
    fly,
    join_flights,
    nominal_draw,
    sample_draws,
)
from pappus.wind import WindField, draw_wind_error, member_mean


@dataclass(frozen=True, eq=False)
class Run:
    """One sounding or model run, ready to fly on."""

    known: WindField
    """As the source holds it."""
    conditions: Conditions
    nominal: Flights
    """On the mean of the members."""


@dataclass(frozen=True, eq=False)
class Ensemble:
    """All flights of all runs."""

    flights: Flights
    off_nominal: NDArray[np.bool_]
    """An early burst or a fouled canopy."""
    member: NDArray[np.intp]
    """Which member of which run each flight saw: one number for each pair."""
    draws: tuple[Draws, ...]
    """Of each run; one behind the other they are in the order of the flights."""

    @property
    def first_draws(self) -> Draws:
        """Of the first run, to see what each source of spread does alone."""
        return self.draws[0]


def prepare(
    plan: Plan, winds: Winds, site: Site, release: datetime, fill: Fill, terrain: Sequence[TerrainGrid], prior: Prior
) -> Run:
    """Make a run ready and fly its nominal flight."""
    conditions = conditions_for(plan, winds.field, winds.ground_msl_m, site, release, terrain)
    return run_in(plan, winds, conditions, conditions.moved(field=member_mean(conditions.field)), fill, prior)


def run_in(plan: Plan, winds: Winds, conditions: Conditions, mean: Conditions, fill: Fill, prior: Prior) -> Run:
    """The run with its nominal flight; ``mean`` is the same with the mean of the members."""
    nominal = nominal_draw(plan.flight_train, fill, plan.scatter.over(prior.flight))
    return Run(winds.field, conditions, fly(mean, nominal))


def shares_of(runs: Sequence[Run], flights: int, half_life_s: float | None) -> NDArray[np.int64]:
    """How many of the flights each run gets: as many each, or fewer the older it is than the newest. One at least."""
    issued = [run.known.issued for run in runs]
    older_s = np.array([(max(issued) - one).total_seconds() for one in issued])
    weight = np.ones(len(runs)) if half_life_s is None else 0.5 ** (older_s / half_life_s)
    edges = np.rint(np.cumsum(weight) / weight.sum() * (flights - len(runs))).astype(np.int64)
    return np.asarray(np.diff(edges, prepend=0) + 1)


def fly_all(
    plan: Plan,
    runs: Sequence[Run],
    fill: Fill,
    scale_sd_n: float,
    prior: Prior,
    *,
    extrapolation_grows: bool = True,
    tracks: int = 1000,
    threads: ThreadPoolExecutor | None = None,
) -> Ensemble:
    """The ensemble of the plan, shared out over the runs by their weight; deterministic for the plan's seed.

    Every ensemble of the same size on the same levels draws the same random numbers, so that two of them differ by
    what was changed. Tracks are kept for so many flights of each run.
    """
    flown, off, members, kept = [], [], [], []
    shares = shares_of(runs, plan.ensemble.flights, plan.ensemble.run_half_life_s)
    for index, (run, flights) in enumerate(zip(runs, shares, strict=True)):
        rng = np.random.default_rng([plan.ensemble.seed, index])
        field = run.conditions.field
        draws = sample_draws(
            plan.flight_train,
            fill,
            plan.scatter.over(prior.flight),
            flights=int(flights),
            members=field.members,
            scale_sd_n=scale_sd_n,
            nominal_top_msl_m=float(run.nominal.top_height_msl_m[0]),
            level_height_msl_m=field.level_height_msl_m,
            rng=rng,
        )
        knots = flight_knots(field, run.nominal, prior.wind, extrapolation_grows=extrapolation_grows)
        draws = replace(draws, wind_error_m_s=draw_wind_error(knots, draws.flights, rng, prior.wind))
        heights = plan.mission.heights_of_interest_msl_m
        flown.append(fly(run.conditions, draws, heights_msl_m=heights, tracks=tracks, threads=threads))
        off.append(~draws.nominal)
        members.append(draws.member + 1000 * index)
        kept.append(draws)
    return Ensemble(join_flights(flown), np.concatenate(off), np.concatenate(members), tuple(kept))
