"""The fill card: what the crew at the balloon reads and does, and what a wrong reading costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import ceil

import numpy as np

from pappus.atmosphere import Profile
from pappus.earth import geodesic_inverse
from pappus.flight_train import (
    Fill,
    FillWish,
    SiteAir,
    burst_height_msl_m,
    climb_profile_m_s,
    cylinder_amount_mol,
    mean_climb_m_s,
    solve_fill,
)
from pappus.plan import Plan, Site, conditions_for, under
from pappus.preflight.winds import Winds, choose_winds, nominal_top_in, site_air, site_of
from pappus.sky import sun_elevation_deg
from pappus.sources import Prior
from pappus.trajectory import fly, nominal_draw
from pappus.units import gram_force_n
from pappus.wind import member_mean

EIGHTY_PERCENT_SD = 1.2816
"""Four in five of a normal law lie within so many standard deviations."""
OFF_BY_N = 50.0 * gram_force_n
PROFILE_STEP_M = 5000.0

CAUTIONS = (
    "Cylinders stand upright and tied, with a regulator made for the gas; open valves slowly.",
    "Never breathe the gas: it displaces oxygen without warning. Fill in the open or with doors open on two sides.",
    "Eye protection and clean cotton gloves at the balloon; no rings, no watches; one person leads.",
    "Wind at the fill above what the crew has practised in ends the fill.",
    "Gas from the cylinder is cold and lifts less than it will: wait, then read the scale again.",
    "Local rules, the gas supplier's sheet and licensed practice stand above this card.",
)
HYDROGEN_CAUTIONS = (
    "Hydrogen burns with an invisible flame in almost any mixture with air: no flame, phone or engine within 15 m.",
    "Earth the cylinder, the hose and the people; cotton clothes; fill slowly; a trained person leads.",
)


@dataclass(frozen=True)
class Consequence:
    """What one reading on the scale would mean."""

    scale_lift_n: float
    climb_m_s: float
    burst_msl_m: float
    landing_shift_m: float | None
    """From the landing of the card's own reading; None without winds."""
    shift_bearing_deg: float | None


@dataclass(frozen=True)
class FillCard:
    """One fill at one site."""

    plan: Plan
    site: Site
    release: datetime
    air: SiteAir
    air_name: str
    fill: Fill
    tolerance_n: float
    climb_m_s: float
    burst_msl_m: float
    burst_between_msl_m: tuple[float, float]
    """Four in five of such balloons burst between these; early bursts are apart."""
    climb_heights_msl_m: tuple[float, ...]
    climb_rates_m_s: tuple[float, ...]
    less: Consequence
    """50 gf less on the scale."""
    more: Consequence
    cylinders: int | None
    cylinder_share: float | None
    """How many cylinders' worth of gas the fill takes."""
    cautions: tuple[str, ...]


def fill_card(
    plan: Plan,
    winds: Sequence[Winds],
    prior: Prior,
    *,
    site_name: str | None = None,
    release: datetime | None = None,
    fill_wish: FillWish | None = None,
) -> FillCard:
    """The card for the plan's fill; without winds the standard atmosphere stands in and the card says so."""
    plan = under(plan, prior.flight)
    site = site_of(plan, site_name)
    release = plan.window.release if release is None else release
    wish = plan.fill if fill_wish is None else fill_wish
    flown: Winds | None = None
    if winds:
        usable, _ = choose_winds(
            winds, site, release, lambda one: nominal_top_in(one, plan, site, release, wish), plan.limits
        )
        flown = usable[0]
        air, name = site_air(flown.field, plan, site, release), flown.field.name
    else:
        elevation = float(sun_elevation_deg([release], site.latitude_deg, site.longitude_deg)[0])
        air = SiteAir(Profile.standard(60_000.0), site.height_msl_m, elevation, site.pressure_pa, site.temperature_k)
        name = "US Standard Atmosphere 1976 (no winds given)"
    fill = solve_fill(wish, plan.flight_train, air)
    burst = _burst(plan, fill, air)
    heights = np.append(np.arange(site.height_msl_m, burst - 500.0, PROFILE_STEP_M), burst)
    cylinders = None if plan.cylinder is None else _cylinders(plan, fill)
    return FillCard(
        plan=plan,
        site=site,
        release=release,
        air=air,
        air_name=name,
        fill=fill,
        tolerance_n=wish.scale_sd_n,
        climb_m_s=mean_climb_m_s(fill.gas_mol, plan.flight_train, air),
        burst_msl_m=burst,
        burst_between_msl_m=_burst_between(plan, fill, air),
        climb_heights_msl_m=tuple(float(h) for h in heights),
        climb_rates_m_s=tuple(float(rate) for rate in climb_profile_m_s(fill.gas_mol, plan.flight_train, air, heights)),
        less=_consequence(plan, flown, site, release, air, fill, -OFF_BY_N, prior),
        more=_consequence(plan, flown, site, release, air, fill, OFF_BY_N, prior),
        cylinders=None if cylinders is None else ceil(cylinders),
        cylinder_share=cylinders,
        cautions=(HYDROGEN_CAUTIONS if plan.flight_train.gas.kind == "hydrogen" else ()) + CAUTIONS,
    )


def _burst_between(plan: Plan, fill: Fill, air: SiteAir) -> tuple[float, float]:
    envelope = plan.flight_train.envelope
    spread = np.exp(EIGHTY_PERCENT_SD * envelope.burst_ln_sd * np.array([-1.0, 1.0]))
    low, high = burst_height_msl_m(fill.gas_mol, envelope.burst_diameter_m * spread, plan.flight_train, air).tolist()
    return low, high


def _burst(plan: Plan, fill: Fill, air: SiteAir) -> float:
    diameter = plan.flight_train.envelope.burst_diameter_m
    return float(burst_height_msl_m(fill.gas_mol, diameter, plan.flight_train, air)[0])


def _cylinders(plan: Plan, fill: Fill) -> float:
    assert plan.cylinder is not None
    return fill.gas_mol / cylinder_amount_mol(plan.flight_train.gas.kind, plan.cylinder)


def _consequence(
    plan: Plan,
    flown: Winds | None,
    site: Site,
    release: datetime,
    air: SiteAir,
    fill: Fill,
    off_n: float,
    prior: Prior,
) -> Consequence:
    wish = FillWish("scale_lift", fill.scale_lift_n + off_n)
    other = solve_fill(wish, plan.flight_train, air)
    shift = bearing = None
    if flown is not None:
        shared = conditions_for(plan, flown.field, flown.ground_msl_m, site, release, ())
        shared = replace(shared, field=member_mean(shared.field))
        # the cut-downs stay as planned; only the gas differs
        draw = nominal_draw(plan.flight_train, fill, plan.scatter.over(prior.flight))
        here = fly(shared, draw)
        there = fly(shared, replace(draw, gas_mol=np.full(1, other.gas_mol)))
        if here.landed[0] and there.landed[0]:
            shift, bearing, _ = geodesic_inverse(
                float(here.end_latitude_deg[0]),
                float(here.end_longitude_deg[0]),
                float(there.end_latitude_deg[0]),
                float(there.end_longitude_deg[0]),
            )
    return Consequence(
        scale_lift_n=other.scale_lift_n,
        climb_m_s=mean_climb_m_s(other.gas_mol, plan.flight_train, air),
        burst_msl_m=_burst(plan, other, air),
        landing_shift_m=shift,
        shift_bearing_deg=bearing,
    )
