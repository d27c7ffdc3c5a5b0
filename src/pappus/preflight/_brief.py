"""Before the flight: plan -> winds -> fill -> flights -> landing area -> what is worst and until when it holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.earth import distance_m
from pappus.flight_train import FillWish, mean_climb_m_s, solve_fill
from pappus.ground import PlaceIndex, TerrainGrid
from pappus.landing import LandingArea, Quantiles, landing_area, quantiles, share_over_members
from pappus.plan import Plan, under
from pappus.preflight.briefing import (
    Briefing,
    NearestPlace,
    RunLanding,
    cannot_tell,
    climb_layers,
    largest_unknowns,
    surface_at_release,
)
from pappus.preflight.winds import (
    Ensemble,
    Run,
    Winds,
    choose_winds,
    fly_all,
    nominal_top_in,
    prepare,
    site_air,
    site_of,
)
from pappus.sources import Prior
from pappus.trajectory import Flights

QUANTILES = (0.05, 0.5, 0.95)
GREW_FROM_SHARE = 0.05
"""When more flights than this go above the known winds, the answer says how much that widens the area."""
Step = Callable[[str], None]


def brief(
    plan: Plan,
    winds: Sequence[Winds],
    places: PlaceIndex | None,
    prior: Prior,
    *,
    site_name: str | None = None,
    release: datetime | None = None,
    fill_wish: FillWish | None = None,
    terrain: Sequence[TerrainGrid] = (),
    step: Step = lambda _: None,
) -> Briefing:
    """The whole answer for one site, release and fill; what is not given comes from the plan.

    ``step`` is told what comes next. Raises OutsideCoverage when no winds hold the flight, NoSolution when the fill
    cannot be had.
    """
    plan = under(plan, prior.flight)
    site = site_of(plan, site_name)
    release = plan.window.release if release is None else release
    wish = plan.fill if fill_wish is None else fill_wish

    step("winds")
    flown, not_used = choose_winds(
        winds, site, release, lambda one: nominal_top_in(one, plan, site, release, wish), plan.limits
    )
    air = site_air(flown[0].field, plan, site, release)

    step("fill")
    fill = solve_fill(wish, plan.flight_train, air)

    step("nominal flight")
    runs = [prepare(plan, one, site, release, fill, terrain, prior) for one in flown]
    nominal = runs[0].nominal

    step("ensemble")
    ensemble = fly_all(plan, runs, fill, wish.scale_sd_n, prior)
    flights, members = ensemble.flights, ensemble.member

    step("landing area")
    area = landed_area(ensemble, seed=plan.ensemble.seed)
    narrower = None
    if _share_above(flights, flown) > GREW_FROM_SHARE:
        narrow = fly_all(plan, runs, fill, wish.scale_sd_n, prior, extrapolation_grows=False)
        narrower = landed_area(narrow, seed=plan.ensemble.seed).parts[1].area_km2

    step("unknowns")
    unknowns = largest_unknowns(runs[0].conditions, ensemble.first_draws)

    aloft = _landed_quantiles(flights.end_time_s, flights)
    until, because = _holds_until(plan, flown[0], aloft)
    ground = runs[0].conditions.ground
    return Briefing(
        plan=plan,
        prior=prior,
        site=site,
        release=release,
        known=tuple(one.field for one in flown),
        field=runs[0].conditions.field,
        ground=ground,
        winds_not_used=not_used,
        fill=fill,
        climb_m_s=mean_climb_m_s(fill.gas_mol, plan.flight_train, air),
        nominal=nominal,
        flights=flights,
        off_nominal=ensemble.off_nominal,
        area=area,
        area_without_extrapolation_km2=narrower,
        near=_near(area, places),
        runs=tuple(_run_landing(run, nominal) for run in runs),
        reaches_wanted=share_over_members(flights.top_height_msl_m >= plan.mission.wanted_height_msl_m, members),
        unknown=share_over_members(~flights.landed, members),
        top_msl_m=quantiles(flights.top_height_msl_m, QUANTILES, unknown=0),
        burst_time_s=quantiles(flights.top_time_s, QUANTILES, unknown=0),
        arrival_s=aloft,
        above_s={
            height: quantiles(flights.time_above_s(height), QUANTILES, unknown=0)
            for height in plan.mission.heights_of_interest_msl_m
        },
        touchdown_m_s=_landed_quantiles(flights.touchdown_m_s, flights),
        drift_m=_landed_quantiles(
            distance_m(site.latitude_deg, site.longitude_deg, flights.end_latitude_deg, flights.end_longitude_deg),
            flights,
        ),
        layers=climb_layers(runs[0].conditions.field, nominal),
        surface=surface_at_release(flown[0].surface, site, release),
        unknowns=unknowns,
        holds_until=until,
        holds_because=because,
        cannot_tell=cannot_tell(plan, flown, runs[0].conditions.field, flights, ground),
    )


def landed_area(ensemble: Ensemble, *, seed: int) -> LandingArea:
    """Landing area of an ensemble; flights that did not land stay in it as unknown."""
    flights, landed = ensemble.flights, ensemble.flights.landed
    return landing_area(
        flights.end_latitude_deg[landed],
        flights.end_longitude_deg[landed],
        unknown=int((~landed).sum()),
        nominal=~ensemble.off_nominal[landed],
        rng_seed=seed,
    )


def _share_above(flights: Flights, flown: Sequence[Winds]) -> float:
    """Share of the flights that go above the highest wind that is known everywhere."""
    top = min(one.field.coverage.top_msl_m for one in flown)
    return float((flights.top_height_msl_m > top).mean())


def _landed_quantiles(values: NDArray[np.float64], flights: Flights) -> Quantiles | None:
    landed = flights.landed
    return quantiles(values[landed], QUANTILES, unknown=int((~landed).sum())) if landed.any() else None


def _near(area: LandingArea, places: PlaceIndex | None) -> NearestPlace | None:
    if places is None or area.mode_deg is None:
        return None
    return NearestPlace(*places.nearest(*area.mode_deg))


def _run_landing(run: Run, newest: Flights) -> RunLanding:
    """Where the nominal flight of a run comes down, and how far that is from the newest run's."""
    end = run.nominal
    landed = bool(end.landed[0] and newest.landed[0])
    place = float(end.end_latitude_deg[0]), float(end.end_longitude_deg[0])
    newest_place = float(newest.end_latitude_deg[0]), float(newest.end_longitude_deg[0])
    return RunLanding(
        name=run.known.name,
        issued=run.known.issued,
        members=run.known.members,
        landing_deg=place if end.landed[0] else None,
        from_newest_m=float(distance_m(*place, *newest_place)) if landed else None,
    )


def _holds_until(plan: Plan, winds: Winds, aloft: Quantiles | None) -> tuple[datetime, str]:
    """The last release for which this answer may be used."""
    longest = timedelta(seconds=plan.limits.longest_flight_s if aloft is None else aloft.values[-1])
    winds_end = winds.field.coverage.last_valid - longest
    if plan.window.closes <= winds_end:
        return plan.window.closes, "the launch window closes"
    return winds_end, f"a later flight would outlast {winds.field.name}"
