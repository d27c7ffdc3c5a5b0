"""What is still open once a cell is chosen: how late it leaves, and what the scale reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.decision import GoLimits
from pappus.earth import LocalPlane
from pappus.errors import BadInput, Finding
from pappus.export import CURVE_LEVELS, DelayCurve, LiftCurve
from pappus.flight_train import FillWish
from pappus.plan import Plan
from pappus.preflight.window._around import Around
from pappus.preflight.window._cell import LaunchCell
from pappus.preflight.window._fly import CellFlights, NotFlown, WindowFlights
from pappus.preflight.window._site import SiteCells
from pappus.preflight.winds import Winds
from pappus.sources import Prior
from pappus.trajectory import AscentEnd

Array = NDArray[np.float64]

DELAYS_S = tuple(600.0 * step for step in range(13))
"""Two hours in steps of ten minutes."""
LIFT_STEPS = 11
LIFT_REACH = 10.0
"""The curve goes so many standard deviations of the scale to both sides of the planned lift."""


@dataclass(frozen=True, eq=False)
class AgainstDelay:
    """The chosen cell with the gas that was filled for the planned release, left later."""

    cells: tuple[LaunchCell, ...]
    """One for each delay, judged at its own release."""
    curve: DelayCurve


@dataclass(frozen=True, eq=False)
class AgainstLift:
    """The chosen cell with another lift on the scale."""

    cells: tuple[LaunchCell, ...]
    curve: LiftCurve


def delay_curve(
    plan: Plan,
    winds: Sequence[Winds],
    prior: Prior,
    cell: LaunchCell,
    limits: GoLimits,
    *,
    now: datetime,
    around: Around | None = None,
    delays_s: Sequence[float] = DELAYS_S,
    flights: int = 500,
) -> AgainstDelay:
    """The flights of a cell released later with the same gas. ``delays_s`` rise from 0.

    Raises BadInput for a cell that was not flown: there is no fill to keep.
    """
    if cell.fill is None:
        raise BadInput(Finding("cell", cell.option.fill_name, cell.why_not[0], "Choose a cell that was flown."))
    around, option = around or Around(), cell.option
    releases = [option.release + timedelta(seconds=delay) for delay in delays_s]
    flyer = _flyer(plan, winds, prior, cell, around, releases[0], releases[-1], flights)
    made, flown = SiteCells(winds, around, option.site, releases, now), []
    for release in releases:
        later = replace(option, release=release)
        flown += flyer.fly_at(option.site, release, [later], tracks=_tracks(around, flights), fill=cell.fill)
        made.take(flown[-1])
    cells = made.decide(limits)
    moved, bearing = _moved(flown, flown[0])
    accepted = [_accepts(one) for one in cells]
    leaves = next((delay for delay, good in zip(delays_s, accepted, strict=True) if good is False), None)
    known = any(good is not None for good in accepted)
    curve = DelayCurve(
        delay_s=np.array(delays_s, dtype=np.float64),
        moved_m=moved,
        bearing_deg=bearing,
        permitted="the ground that the plan accepts" if known else "",
        leaves_after_s=leaves,
        lasts_s=float(delays_s[-1]),
    )
    return AgainstDelay(tuple(cells), curve)


def lift_curve(
    plan: Plan,
    winds: Sequence[Winds],
    prior: Prior,
    cell: LaunchCell,
    limits: GoLimits,
    *,
    now: datetime,
    around: Around | None = None,
    lifts_n: Sequence[float] | None = None,
    flights: int = 500,
) -> AgainstLift:
    """The flights of a cell with other lifts on the scale, newton, rising; by default around its own.

    A lift with which the balloon does not leave the ground is a gap. Raises BadInput for a cell that was not flown.
    """
    if cell.fill is None:
        raise BadInput(Finding("cell", cell.option.fill_name, cell.why_not[0], "Choose a cell that was flown."))
    around, option, planned = around or Around(), cell.option, cell.fill.scale_lift_n
    spread = option.fill.scale_sd_n
    if lifts_n is None:
        reach = min(LIFT_REACH * spread, 0.5 * planned) if spread > 0.0 else 0.2 * planned
        lifts_n = np.linspace(planned - reach, planned + reach, LIFT_STEPS).tolist()
    flyer = _flyer(plan, winds, prior, cell, around, option.release, option.release, flights)
    made, flown = SiteCells(winds, around, option.site, [option.release], now), []
    for lift in lifts_n:
        other = replace(option, fill=FillWish("scale_lift", lift, scale_sd_n=spread), fill_name=f"{lift:.2f} N")
        flown += flyer.fly_at(option.site, option.release, [other], tracks=_tracks(around, flights))
        made.take(flown[-1])
    own = flyer.fly_at(option.site, option.release, [option])[0]
    moved, bearing = _moved(flown, own)
    curve = LiftCurve(
        lift_n=np.array(lifts_n, dtype=np.float64),
        burst_msl_m=np.stack([_bursts(one) for one in flown]),
        moved_m=moved,
        bearing_deg=bearing,
        planned_lift_n=planned,
        tolerance_n=2.0 * spread,
        wanted_height_msl_m=plan.mission.wanted_height_msl_m,
    )
    return AgainstLift(tuple(made.decide(limits)), curve)


def _flyer(
    plan: Plan, winds: Sequence[Winds], prior: Prior, cell: LaunchCell, around: Around,
    first: datetime, last: datetime, flights: int,
) -> WindowFlights:  # fmt: skip
    sized = replace(plan, ensemble=replace(plan.ensemble, flights=flights))
    terrain = around.surroundings.terrain
    return WindowFlights(sized, winds, prior, sites=[cell.option.site], first=first, last=last, terrain=terrain)


def _tracks(around: Around, flights: int) -> int:
    return flights if around.tracks_needed else 0


def _accepts(cell: LaunchCell) -> bool | None:
    """Whether the landings are where the plan accepts them; None when nobody can tell."""
    check = next((one for one in cell.decision.checks if one.name == "lands_acceptably"), None)
    if check is None or not cell.facts.lands_acceptably.known:
        return None
    return check.verdict == "met"


def _moved(flown: Sequence[CellFlights | NotFlown], planned: CellFlights | NotFlown) -> tuple[Array, Array]:
    """Distance of the landings from the middle of the planned ones, by ``CURVE_LEVELS``, and where the middle goes."""
    moved, bearing = np.full((len(flown), len(CURVE_LEVELS)), np.nan), np.full(len(flown), np.nan)
    if isinstance(planned, NotFlown) or not planned.ensemble.flights.landed.any():
        return moved, bearing
    landed = planned.ensemble.flights.landed
    plane = LocalPlane(
        float(planned.ensemble.flights.end_latitude_deg[landed][0]),
        float(planned.ensemble.flights.end_longitude_deg[landed][0]),
    )
    middle = np.median(_landings_m(planned, plane), axis=0)
    for index, one in enumerate(flown):
        if isinstance(one, NotFlown) or not one.ensemble.flights.landed.any():
            continue
        away = _landings_m(one, plane) - middle
        moved[index] = np.quantile(np.hypot(*away.T), CURVE_LEVELS, method="median_unbiased")
        east, north = np.median(away, axis=0)
        if np.hypot(east, north) > 1.0:
            bearing[index] = np.degrees(np.arctan2(east, north)) % 360.0
    return moved, bearing


def _landings_m(one: CellFlights, plane: LocalPlane) -> Array:
    flights, landed = one.ensemble.flights, one.ensemble.flights.landed
    return np.stack(plane.to_east_north_m(flights.end_latitude_deg[landed], flights.end_longitude_deg[landed]), axis=1)


def _bursts(one: CellFlights | NotFlown) -> Array:
    if isinstance(one, NotFlown):
        return np.full(len(CURVE_LEVELS), np.nan)
    flights = one.ensemble.flights
    heights = flights.top_height_msl_m[flights.ascent_end == AscentEnd.BURST]
    if not heights.size:
        return np.full(len(CURVE_LEVELS), np.nan)
    return np.asarray(np.quantile(heights, CURVE_LEVELS, method="median_unbiased"))
