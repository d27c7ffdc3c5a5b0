"""The page Window as values: the launch matrix, a cell that was opened, and what a delay or another lift does."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from pappus.decision import Answer as Decided
from pappus.decision import Fact
from pappus.export import CURVE_LEVELS, landing_geojson
from pappus.landing import Share
from pappus.preflight import (
    AgainstDelay,
    AgainstLift,
    Briefing,
    LaunchCell,
    LaunchWindow,
    answer_state,
    better_neighbours,
    choose_cell,
    say_near,
    short_reason,
)
from pappus.web.before._decision_answers import DecisionAnswer, State, decision_answer, first_reason
from pappus.web.before._release_work import FlownWindow, JudgedRelease
from pappus.web.desk import Answer, JobAnswer


class ChanceAnswer(Answer):
    """A counted chance with its 95 % interval."""

    p: float
    low: float
    high: float


class SpreadAnswer(Answer):
    """5 %, 50 % and 95 % of something, in SI units."""

    low: float
    middle: float
    high: float


class CellAnswer(Answer):
    """One cell of the launch matrix."""

    site: str
    release_utc: datetime
    fill: str
    balloon: str
    state: State
    reason: str
    first_reason: str
    headline: str
    outside: bool
    reaches: ChanceAnswer | None
    lands_acceptably: ChanceAnswer | None
    flights: int
    unknown: int
    climb_m_s: float | None
    top_msl_m: SpreadAnswer | None
    arrival_s: SpreadAnswer | None
    drift_m: SpreadAnswer | None


class WindowTable(Answer):
    """The launch matrix."""

    made_utc: datetime
    releases_utc: list[datetime]
    sites: list[str]
    places: list[str]
    fills: list[str]
    balloons: list[str]
    flights: int
    seconds: float
    notes: list[str]
    counts: dict[State, int]
    best: int
    """Index of the cell to look at first."""
    planned: int
    """Index of the cell as planned."""
    cells: list[CellAnswer]


class WindowAnswer(Answer):
    """How far the matrix is, and the matrix once it is there."""

    job: JobAnswer
    window: WindowTable | None


class OpenedAnswer(Answer):
    """A cell flown as often as its limits ask for."""

    made_utc: datetime
    cell: CellAnswer
    decision: DecisionAnswer
    why_not: list[str]
    near: str | None
    landing: dict[str, Any]
    """GeoJSON: areas, nominal flight, ends of flights, site and top."""
    winds: list[str]
    others: list[CellAnswer]


class CellJobAnswer(Answer):
    """How far the cell is, and the cell once it is there."""

    job: JobAnswer
    opened: OpenedAnswer | None


class DelayAnswer(Answer):
    """Distance of the landings from those of the release itself, by the levels, against delay."""

    delay_s: list[float]
    moved_m: list[list[float | None]]
    states: list[State]
    reasons: list[str]
    permitted: str
    leaves_after_s: float | None


class LiftAnswer(Answer):
    """Burst height and landing against the lift on the scale."""

    lift_n: list[float]
    burst_msl_m: list[list[float | None]]
    moved_m: list[list[float | None]]
    planned_lift_n: float
    tolerance_n: float
    wanted_msl_m: float


class CurvesAnswer(Answer):
    """How far the curves are, and the curves once they are there; None for a cell that was not flown."""

    job: JobAnswer
    levels: list[float]
    delay: DelayAnswer | None
    lift: LiftAnswer | None


def window_table(flown: FlownWindow, planned: datetime) -> WindowTable:
    """All cells, in the order of the window."""
    window, options = flown.window, flown.window.options
    best = choose_cell(window, planned=planned)
    own = choose_cell(
        window, site_name=options.sites[0].name, release=planned, fill_name=options.fills[0][0],
        balloon_name=options.balloons[0][0],
    )  # fmt: skip
    states: dict[State, int] = {"go": 0, "wait": 0, "no-go": 0}
    for state, answer in zip(states, (Decided.GO, Decided.WAIT, Decided.NO_GO), strict=True):
        states[state] = window.count(answer)
    return WindowTable(
        made_utc=flown.made_utc,
        releases_utc=list(options.releases),
        sites=[one.name for one in options.sites],
        places=[one.place for one in options.sites],
        fills=[name for name, _ in options.fills],
        balloons=[name for name, _ in options.balloons],
        flights=window.flights,
        seconds=window.seconds,
        notes=list(window.notes),
        counts=states,
        best=_index(window, best),
        planned=_index(window, own),
        cells=[cell_answer(one) for one in window.cells],
    )


def opened_answer(release: JudgedRelease, window: LaunchWindow | None) -> OpenedAnswer:
    """A cell in full; with the launch matrix also where a better answer lies."""
    opened, briefing, choice = release.judged.opened, release.judged.briefing, release.choice
    others: list[CellAnswer] = []
    if window is not None:
        own = window.cell(choice.site, choice.release, choice.fill, choice.balloon)
        others = [cell_answer(one) for one in better_neighbours(window, own)]
    return OpenedAnswer(
        made_utc=release.made_utc,
        cell=cell_answer(opened.cell),
        decision=decision_answer(opened.cell.decision),
        why_not=list(opened.cell.why_not),
        near=None if briefing.near is None else say_near(briefing.near),
        landing=landing(briefing),
        winds=list(opened.cell.winds),
        others=others,
    )


def landing(briefing: Briefing) -> dict[str, Any]:
    """The landing as GeoJSON, as it is handed out, without heights above the ellipsoid."""
    text = landing_geojson(
        area=briefing.area, nominal=briefing.nominal, flights=briefing.flights, off_nominal=briefing.off_nominal,
        site_name=briefing.site.name, site_latitude_deg=briefing.site.latitude_deg,
        site_longitude_deg=briefing.site.longitude_deg, release=briefing.release, name=briefing.plan.mission.name,
        note=briefing.plan.mission.about or "", geoid=None,
    )  # fmt: skip
    found: dict[str, Any] = json.loads(text)
    return found


def delay_answer(against: AgainstDelay) -> DelayAnswer:
    """The curve with the answer at each delay."""
    curve = against.curve
    return DelayAnswer(
        delay_s=curve.delay_s.tolist(),
        moved_m=_rows(curve.moved_m),
        states=[answer_state(one.decision) for one in against.cells],
        reasons=[short_reason(one.decision) for one in against.cells],
        permitted=curve.permitted,
        leaves_after_s=curve.leaves_after_s,
    )


def lift_answer(against: AgainstLift) -> LiftAnswer:
    """The curve."""
    curve = against.curve
    return LiftAnswer(
        lift_n=curve.lift_n.tolist(),
        burst_msl_m=_rows(curve.burst_msl_m),
        moved_m=_rows(curve.moved_m),
        planned_lift_n=curve.planned_lift_n,
        tolerance_n=curve.tolerance_n,
        wanted_msl_m=curve.wanted_height_msl_m,
    )


def levels() -> list[float]:
    """The shares of flights that the columns of the curves hold."""
    return list(CURVE_LEVELS)


def cell_answer(cell: LaunchCell) -> CellAnswer:
    """One cell in short."""
    option, decision = cell.option, cell.decision
    return CellAnswer(
        site=option.site.name, release_utc=option.release, fill=option.fill_name, balloon=option.balloon_name,
        state=answer_state(decision), reason=short_reason(decision), first_reason=first_reason(decision),
        headline=decision.headline, outside=cell.outside, reaches=_chance(cell.facts.reaches_wanted),
        lands_acceptably=_chance(cell.facts.lands_acceptably), flights=cell.flights, unknown=cell.unknown,
        climb_m_s=cell.climb_m_s, top_msl_m=_spread(cell.top_msl_m), arrival_s=_spread(cell.arrival_s),
        drift_m=_spread(cell.drift_m),
    )  # fmt: skip


def _index(window: LaunchWindow, cell: LaunchCell) -> int:
    return next(index for index, one in enumerate(window.cells) if one is cell)


def _chance(fact: Fact) -> ChanceAnswer | None:
    if not isinstance(fact.value, Share):
        return None
    return ChanceAnswer(p=fact.value.p, low=fact.value.low, high=fact.value.high)


def _spread(values: Any) -> SpreadAnswer | None:
    if values is None:
        return None
    low, middle, high = values.values
    return SpreadAnswer(low=low, middle=middle, high=high)


def _rows(values: Any) -> list[list[float | None]]:
    return [[None if one != one else one for one in row] for row in values.tolist()]
