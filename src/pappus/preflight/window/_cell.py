"""One cell of the launch window: what its flights come to, as counts and quantiles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.decision import Decision, Fact, Facts, GoLimits, judge, missing
from pappus.earth import distance_m
from pappus.flight_train import Fill
from pappus.landing import Quantiles, Share, quantiles, share_over_members
from pappus.preflight.window._fly import CellFlights, NotFlown
from pappus.preflight.window._options import LaunchOption
from pappus.sky import sun_elevation_deg
from pappus.trajectory import AscentEnd

QUANTILES = (0.05, 0.5, 0.95)
NONE = Share(0.0, 0.0, 0.0)
NO_FLIGHT = missing("it was not flown")


@dataclass(frozen=True, eq=False)
class LaunchCell:
    """One launch time, site, fill and balloon: numbers in SI units, facts and the decision made of them."""

    option: LaunchOption
    why_not: tuple[str, ...]
    """Why it was not flown, one sentence each; empty when it was."""
    outside: bool
    """The winds do not hold it; where it was not flown and this is False, no fill gives what is asked."""
    winds: tuple[str, ...]
    """Names of the runs that it was flown on, newest first."""
    fill: Fill | None
    climb_m_s: float | None
    """Mean of the first 5 km."""
    flights: int
    landed: int
    top_msl_m: Quantiles | None
    arrival_s: Quantiles | None
    """After release, given that the flight lands; so are touchdown and drift. None when none does."""
    touchdown_m_s: Quantiles | None
    drift_m: Quantiles | None
    landing_deg: tuple[float, float] | None
    """Latitude and longitude where the nominal flight comes down; None when it does not land in the data."""
    at_wanted: tuple[datetime, float, float] | None
    """When and where the nominal flight reaches the wanted height, or stands highest below it: latitude, longitude."""
    facts: Facts
    decision: Decision

    @property
    def unknown(self) -> int:
        """Flights that did not land in the data."""
        return self.flights - self.landed


def cell_of(cell: CellFlights | NotFlown) -> LaunchCell:
    """What its flights say; not decided yet."""
    if isinstance(cell, NotFlown):
        return _not_flown(cell)
    flights = cell.ensemble.flights
    landed = flights.landed
    lost = int((~landed).sum())
    drift = distance_m(
        cell.option.site.latitude_deg, cell.option.site.longitude_deg,
        flights.end_latitude_deg[landed], flights.end_longitude_deg[landed],
    )  # fmt: skip
    nominal = cell.runs[0].nominal
    found = LaunchCell(
        option=cell.option,
        why_not=(),
        outside=False,
        winds=tuple(one.field.name for one in cell.winds),
        fill=cell.fill,
        climb_m_s=cell.climb_m_s,
        flights=len(landed),
        landed=len(landed) - lost,
        top_msl_m=quantiles(flights.top_height_msl_m, QUANTILES, unknown=0),
        arrival_s=_of_landed(flights.end_time_s[landed], lost),
        touchdown_m_s=_of_landed(flights.touchdown_m_s[landed], lost),
        drift_m=_of_landed(drift, lost),
        landing_deg=(float(nominal.end_latitude_deg[0]), float(nominal.end_longitude_deg[0]))
        if nominal.landed[0]
        else None,
        at_wanted=_at_wanted(cell),
        facts=Facts(flights=len(landed)),
        decision=_UNDECIDED,
    )
    return replace(found, facts=replace(found.facts, **_flight_facts(cell, found)))


def with_facts(cell: LaunchCell, known: Mapping[str, Fact]) -> LaunchCell:
    """The cell with facts from elsewhere, by the names of ``Facts``; a cell without flights keeps why it has none."""
    kept = known if cell.flights else {name: fact for name, fact in known.items() if name not in FROM_FLIGHTS}
    facts: dict[str, Any] = dict(kept)
    return replace(cell, facts=replace(cell.facts, **facts))


def decided(cell: LaunchCell, limits: GoLimits) -> LaunchCell:
    """The cell with the decision that its facts make."""
    return replace(cell, decision=judge(cell.facts, limits))


def sun_facts(cells: Sequence[LaunchCell]) -> list[Fact]:
    """How high the sun stands where each cell reaches the wanted height."""
    places = [cell.at_wanted for cell in cells if cell.at_wanted is not None]
    if not places:
        return [NO_FLIGHT] * len(cells)
    times, latitudes, longitudes = zip(*places, strict=True)
    found = iter(sun_elevation_deg(times, latitudes, longitudes))
    return [
        NO_FLIGHT if cell.at_wanted is None else Fact(float(next(found)), "deg", "the nominal flight") for cell in cells
    ]


def _flight_facts(cell: CellFlights, found: LaunchCell) -> dict[str, Any]:
    flights, member = cell.ensemble.flights, cell.ensemble.member
    wanted = cell.plan.mission.wanted_height_msl_m
    reached = flights.top_height_msl_m >= wanted
    # whoever was lost on the way up may still have got there
    open_end = ~flights.landed & (flights.ascent_end == AscentEnd.NONE) & ~reached
    source = ", ".join(found.winds)
    unknown = share_over_members(~flights.landed, member)
    return {
        "reaches_wanted": Fact(
            share_over_members(reached, member), source=source, unknown=share_over_members(open_end, member)
        ),
        "unknown_share": Fact(unknown, source=source),
        "drift_m": missing("no flight lands in the data", source)
        if found.drift_m is None
        else Fact(found.drift_m.values[-1], "m", f"{source}; 95 % of the flights drift less"),
    }


def _at_wanted(cell: CellFlights) -> tuple[datetime, float, float]:
    nominal = cell.runs[0].nominal
    track = nominal.track_height_msl_m[0]
    top = int(np.nanargmax(track))
    columns = (nominal.track_time_s[0], nominal.track_latitude_deg[0], nominal.track_longitude_deg[0])
    height = min(cell.plan.mission.wanted_height_msl_m, float(track[top]))
    time_s, latitude, longitude = (float(np.interp(height, track[: top + 1], one[: top + 1])) for one in columns)
    return cell.option.release + timedelta(seconds=time_s - nominal.release_time_s), latitude, longitude


def _of_landed(values: NDArray[np.float64], unknown: int) -> Quantiles | None:
    return quantiles(values, QUANTILES, unknown=unknown) if values.size else None


def _not_flown(cell: NotFlown) -> LaunchCell:
    why = cell.why_not[0]
    facts: dict[str, Any] = {name: missing(why) for name in FROM_FLIGHTS}
    if not cell.outside:  # with such a fill no flight leaves, and no other forecast changes that
        facts["reaches_wanted"] = Fact(NONE, source="the fill", unknown=NONE, hint=why)
    return LaunchCell(
        option=cell.option, why_not=cell.why_not, outside=cell.outside, winds=(), fill=None, climb_m_s=None, flights=0,
        landed=0, top_msl_m=None, arrival_s=None, touchdown_m_s=None, drift_m=None, landing_deg=None, at_wanted=None,
        facts=Facts(**facts), decision=_UNDECIDED,
    )  # fmt: skip


FROM_FLIGHTS = (
    "reaches_wanted", "lands_acceptably", "water", "built_up", "road", "rail", "power_line", "keep_out",
    "leaves_permit_area", "abroad", "airspace", "casualty_expectation", "drive_time_s", "drift_m", "unknown_share",
    "sun_elevation_deg",
)  # fmt: skip
"""Facts that a cell without flights cannot have."""
_UNDECIDED = judge(Facts(), GoLimits())
