"""The site of a flight, and how high its balloon goes in the air of one source."""

from __future__ import annotations

from datetime import datetime

from pappus.errors import BadPlan, Finding
from pappus.flight_train import FillWish, burst_height_msl_m, solve_fill
from pappus.plan import Plan, Site
from pappus.preflight.winds._column import site_air
from pappus.preflight.winds._gather import Winds


def site_of(plan: Plan, name: str | None) -> Site:
    """The site of that name; the plan's first without a name."""
    if name is None:
        return plan.sites[0]
    for site in plan.sites:
        if site.name == name:
            return site
    names = ", ".join(site.name for site in plan.sites)
    raise BadPlan(Finding("--site", name, "the plan has no such site", f"It has: {names}."))


def nominal_top_in(winds: Winds, plan: Plan, site: Site, release: datetime, wish: FillWish) -> float:
    """Height of the nominal burst in the air of one source; NaN when it lies above what may be extrapolated."""
    air = site_air(winds.field, plan, site, release)
    fill = solve_fill(wish, plan.flight_train, air)
    diameter = plan.flight_train.envelope.burst_diameter_m
    return float(burst_height_msl_m(fill.gas_mol, diameter, plan.flight_train, air)[0])
