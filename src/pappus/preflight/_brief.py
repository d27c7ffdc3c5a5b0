"""Before the flight: plan -> winds -> fill -> flights -> landing area -> what is worst and until when it holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from pappus.atmosphere import Profile
from pappus.earth import distance_m
from pappus.errors import BadPlan, Finding
from pappus.flight_train import Fill, FillWish, SiteAir, burst_height_msl_m, solve_fill
from pappus.ground import PlaceIndex
from pappus.landing import LandingArea, Quantiles, landing_area, quantiles, share
from pappus.plan import Plan, Site
from pappus.preflight._briefing import Briefing, ClimbLayer, NearestPlace
from pappus.preflight._cannot_tell import cannot_tell
from pappus.preflight._unknowns import largest_unknowns
from pappus.preflight._winds import choose_winds, require_height
from pappus.sky import sun_elevation_deg
from pappus.trajectory import (
    Conditions,
    Draws,
    Flights,
    Release,
    Sun,
    flight_knots,
    fly,
    nominal_draw,
    sample_draws,
)
from pappus.wind import Sampler, WindField, draw_wind_error, extend, subdivide

NODE_STEP_M = 500.0
"""Levels are subdivided to this; a fine step moves landings by less than 10 m."""
LAYER_M = 5000.0
QUANTILES = (0.05, 0.5, 0.95)
Step = Callable[[str], None]


def brief(
    plan: Plan,
    fields: Sequence[WindField],
    places: PlaceIndex | None,
    *,
    site_name: str | None = None,
    release: datetime | None = None,
    fill_wish: FillWish | None = None,
    step: Step = lambda _: None,
) -> Briefing:
    """The whole answer for one site, release and fill; what is not given comes from the plan.

    ``step`` is told what comes next. Raises OutsideCoverage when no wind field holds the flight, NoSolution when the
    fill cannot be had.
    """
    site = site_of(plan, site_name)
    release = plan.window.release if release is None else release
    wish = plan.fill if fill_wish is None else fill_wish

    step("winds")
    known, not_used = choose_winds(fields, site, release)
    field = spanning(known, plan, site)
    air = column_over(field, site, release)

    step("fill")
    fill = solve_fill(wish, plan.flight_train, air)
    require_height(
        known,
        float(burst_height_msl_m(fill.gas_mol, plan.flight_train.envelope.burst_diameter_m, plan.flight_train, air)[0]),
        plan.limits,
    )

    step("nominal flight")
    shared = conditions_for(plan, field, site, release)
    nominal = fly(shared, nominal_draw(plan.flight_train, fill))

    step("ensemble")
    draws = _draws(plan, shared, nominal, fill, wish)
    flights = fly(shared, draws)

    step("landing area")
    area = landed_area(flights, draws, seed=plan.ensemble.seed)

    step("unknowns")
    unknowns = largest_unknowns(shared, draws)

    lost = int((~flights.landed).sum())
    aloft = _landed_quantiles(flights.end_time_s - flights.release_time_s, flights)
    until, because = _holds_until(plan, known, aloft)
    return Briefing(
        plan=plan,
        site=site,
        release=release,
        field=field,
        winds_not_used=not_used,
        air=air,
        fill=fill,
        nominal=nominal,
        draws=draws,
        flights=flights,
        area=area,
        near=_near(area, places),
        reaches_wanted=share(int((flights.top_height_msl_m >= plan.mission.wanted_height_msl_m).sum()), draws.flights),
        top_msl_m=quantiles(flights.top_height_msl_m, QUANTILES, unknown=0),
        burst_time_s=quantiles(flights.top_time_s - flights.release_time_s, QUANTILES, unknown=0),
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
        layers=_layers(field, nominal),
        unknowns=unknowns,
        holds_until=until,
        holds_because=because,
        cannot_tell=cannot_tell(plan, known, field, flights, lost),
    )


def site_of(plan: Plan, name: str | None) -> Site:
    """The site of that name; the plan's first without a name."""
    if name is None:
        return plan.sites[0]
    for site in plan.sites:
        if site.name == name:
            return site
    names = ", ".join(site.name for site in plan.sites)
    raise BadPlan(Finding("--site", name, "the plan has no such site", f"It has: {names}."))


def spanning(known: WindField, plan: Plan, site: Site) -> WindField:
    """The field from below the lowest ground of the flight to as far above its top as the plan allows."""
    ground = min(site.height_msl_m, _ground(plan, site))
    top = known.coverage.top_msl_m + plan.limits.extrapolation_above_top_m
    return subdivide(extend(known, bottom_msl_m=ground - 100.0, top_msl_m=top), step_m=NODE_STEP_M)


def _ground(plan: Plan, site: Site) -> float:
    given = plan.limits.landing_ground_height_msl_m
    return site.height_msl_m if given is None else given


def column_over(field: WindField, site: Site, release: datetime) -> SiteAir:
    """The column over the site at release, from the member mean."""
    sampler, members = Sampler(field), np.arange(field.members)
    one = np.ones(field.members)
    time = (release - field.epoch).total_seconds()
    levels = [
        sampler.at(members, level * one, site.latitude_deg * one, site.longitude_deg * one, time * one)
        for level in range(field.levels)
    ]
    profile = Profile(
        field.name,
        np.array([air.height_msl_m.mean() for air in levels]),
        np.array([np.exp(np.log(air.pressure_pa).mean()) for air in levels]),
        np.array([air.temperature_k.mean() for air in levels]),
    )
    elevation = float(sun_elevation_deg([release], site.latitude_deg, site.longitude_deg)[0])
    return SiteAir(profile, site.height_msl_m, elevation, site.pressure_pa, site.temperature_k)


def _sun_over(field: WindField, site: Site, release: datetime, plan: Plan) -> Sun:
    """Elevation every quarter of an hour for as long as a flight may last."""
    offsets = np.arange(0.0, plan.limits.longest_flight_s + 900.0, 900.0)
    times = [release + timedelta(seconds=float(offset)) for offset in offsets]
    start = (release - field.epoch).total_seconds()
    return Sun(start + offsets, sun_elevation_deg(times, site.latitude_deg, site.longitude_deg))


def conditions_for(plan: Plan, field: WindField, site: Site, release: datetime) -> Conditions:
    """What all flights from this site at this release share."""
    sun = _sun_over(field, site, release, plan)
    time = (release - field.epoch).total_seconds()
    start = Release(site.latitude_deg, site.longitude_deg, site.height_msl_m, time)
    return Conditions(field, plan.flight_train, start, _ground(plan, site), plan.limits.longest_flight_s, sun)


def _draws(plan: Plan, shared: Conditions, nominal: Flights, fill: Fill, wish: FillWish) -> Draws:
    rng = np.random.default_rng(plan.ensemble.seed)
    draws = sample_draws(
        plan.flight_train,
        fill,
        flights=plan.ensemble.flights,
        members=shared.field.members,
        scale_sd_n=wish.scale_sd_n,
        nominal_top_msl_m=float(nominal.top_height_msl_m[0]),
        rng=rng,
    )
    error = draw_wind_error(flight_knots(shared.field, nominal), draws.flights, rng)
    return replace(draws, wind_error_m_s=error)


def landed_area(flights: Flights, draws: Draws, *, seed: int) -> LandingArea:
    """Landing area of an ensemble; flights that did not land stay in it as unknown."""
    landed = flights.landed
    return landing_area(
        flights.end_latitude_deg[landed],
        flights.end_longitude_deg[landed],
        unknown=int((~landed).sum()),
        nominal=draws.nominal[landed],
        rng_seed=seed,
    )


def _landed_quantiles(values: np.ndarray, flights: Flights) -> Quantiles | None:
    landed = flights.landed
    return quantiles(values[landed], QUANTILES, unknown=int((~landed).sum())) if landed.any() else None


def _near(area: LandingArea, places: PlaceIndex | None) -> NearestPlace | None:
    if places is None or area.mode_deg is None:
        return None
    return NearestPlace(*places.nearest(*area.mode_deg))


def _layers(field: WindField, nominal: Flights) -> tuple[ClimbLayer, ...]:
    """The nominal climb cut at every 5 km above mean sea level."""
    top = int(np.nanargmax(nominal.track_height_msl_m[0]))
    time, height = nominal.track_time_s[0, : top + 1], nominal.track_height_msl_m[0, : top + 1]
    levels = field.height_msl_m.mean(axis=(0, 1, 3, 4))
    u, v = field.wind_u_m_s.mean(axis=(0, 1, 3, 4)), field.wind_v_m_s.mean(axis=(0, 1, 3, 4))
    temperature = field.temperature_k.mean(axis=(0, 1, 3, 4))
    first = np.floor(height[0] / LAYER_M) * LAYER_M
    edges = [height[0], *np.arange(first + LAYER_M, height[-1], LAYER_M), height[-1]]
    known_top = np.inf if field.extended_from_level is None else levels[field.extended_from_level - 1]
    known_bottom = levels[field.extended_below_level]
    layers = []
    for bottom, upper in pairwise(edges):
        if upper - bottom < 1.0:
            continue
        seconds = float(np.interp(upper, height, time) - np.interp(bottom, height, time))
        inside = np.linspace(bottom, upper, 26)
        east, north = float(np.interp(inside, levels, u).mean()), float(np.interp(inside, levels, v).mean())
        layers.append(
            ClimbLayer(
                float(bottom),
                float(upper),
                float(upper - bottom) / seconds,
                seconds,
                float(np.interp(inside, levels, temperature).min()),
                float(np.hypot(east, north)),
                float(np.degrees(np.arctan2(-east, -north)) % 360.0),
                bool(upper > known_top + 1.0 or bottom < known_bottom - 300.0),
            )
        )
    return tuple(layers)


def _holds_until(plan: Plan, known: WindField, aloft: Quantiles | None) -> tuple[datetime, str]:
    """The last release for which this answer may be used."""
    longest = timedelta(seconds=plan.limits.longest_flight_s if aloft is None else aloft.values[-1])
    winds_end = known.coverage.last_valid - longest
    if plan.window.closes <= winds_end:
        return plan.window.closes, "the launch window closes"
    return winds_end, f"a later flight would outlast {known.name}"
