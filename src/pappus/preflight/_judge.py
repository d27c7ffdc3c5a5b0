"""One release in full: flown, held against limits and rules, and what lies under it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from pappus.airspace import VolumeEntry, volume_entries
from pappus.decision import Decision
from pappus.export import Section
from pappus.preflight._brief import brief
from pappus.preflight._given import Asked, Given
from pappus.preflight._open import open_cell
from pappus.preflight.briefing import NOT_JUDGED, Briefing
from pappus.preflight.papers import Papers, due_and_drafts, ground_sections
from pappus.preflight.window import (
    BLOCK,
    OWN,
    AgainstDelay,
    AgainstLift,
    Around,
    CellFlights,
    LaunchCell,
    LaunchOptions,
    LaunchWindow,
    OpenedCell,
    WindowFlights,
    delay_curve,
    entries_of,
    facts_of_plan,
    fly_window,
    hazard_of,
    launch_options,
    lift_curve,
)
from pappus.rules import Deadline, Draft
from pappus.trajectory import flight_threads

Step = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Judged:
    """A briefing with its decision."""

    briefing: Briefing
    opened: OpenedCell
    ground: tuple[Section, ...]
    """What lies under the flights and the airspace that they enter."""

    @property
    def decision(self) -> Decision:
        """Go, wait or no-go."""
        return self.opened.cell.decision


def brief_release(given: Given, asked: Asked, *, step: Step = lambda _: None) -> Briefing:
    """One release on the winds alone: nothing else is looked at. Raises as ``brief`` does."""
    return brief(
        given.plan, given.winds, given.places, given.prior, site_name=asked.site.name, release=asked.release,
        fill_wish=asked.fill_wish, terrain=given.terrain, step=step,
    )  # fmt: skip


def judge_release(given: Given, around: Around, asked: Asked, *, step: Step = lambda _: None) -> Judged:
    """One release of the plan, judged. Raises as ``brief`` does for one that cannot be flown."""
    plan = given.plan
    options = LaunchOptions(
        (asked.release,), (asked.site,), ((OWN, asked.fill_wish),), ((OWN, plan.flight_train.envelope),)
    )
    step("judging")
    window = fly_window(
        plan, given.winds, given.prior, options, plan.go, now=given.now, around=around, flights=plan.ensemble.flights
    )
    return judge_cell(window, window.cells[0], given, around, step=step)


def fly_plan_window(
    given: Given, around: Around, *, flights: int, step: Callable[[int, int], None] = lambda done, total: None
) -> LaunchWindow:
    """The launch window of the plan with all its options."""
    plan = given.plan
    options = launch_options(
        plan, step_s=plan.window.step_s, fills=plan.fill_options, balloons=plan.balloon_options
    )  # fmt: skip
    return fly_window(
        plan, given.winds, given.prior, options, plan.go, now=given.now, around=around, flights=flights, step=step
    )


def judge_cell(
    window: LaunchWindow, cell: LaunchCell, given: Given, around: Around, *, step: Step = lambda _: None
) -> Judged:
    """A cell of the window in full. Raises as ``brief`` does for one that cannot be flown."""
    plan, option = given.plan, cell.option
    opened = open_cell(
        window, cell, plan, given.winds, given.prior, now=given.now, around=around, places=given.places, step=step
    )
    if opened.briefing is None:
        alone = replace(given, plan=replace(plan, sites=(option.site,)))
        return Judged(brief_release(alone, Asked(option.site, option.release, option.fill), step=step), opened, ())
    step("ground and airspace")
    flown = _fly_again(given, around, opened.cell)
    known = tuple(line for line in opened.briefing.cannot_tell if line != NOT_JUDGED)
    briefing = replace(opened.briefing, decision=opened.cell.decision, cannot_tell=known)
    wind = opened.cell.facts.surface_wind_m_s.value
    wind_m_s = wind if isinstance(wind, float) else None
    return Judged(briefing, opened, () if flown is None else _ground(flown, around, wind_m_s))


def curves_of(judged: Judged, given: Given, around: Around) -> tuple[AgainstDelay | None, AgainstLift | None]:
    """Landing against delay and against lift for a cell; None for one that was not flown."""
    cell, plan = judged.opened.cell, given.plan
    if cell.fill is None:
        return None, None
    delay = delay_curve(plan, given.winds, given.prior, cell, plan.go, now=given.now, around=around)
    lift = lift_curve(plan, given.winds, given.prior, cell, plan.go, now=given.now, around=around)
    return delay, lift


def papers_of(
    judged: Judged,
    around: Around,
    *,
    before: Decision | None = None,
    window: LaunchWindow | None = None,
    delay: AgainstDelay | None = None,
    lift: AgainstLift | None = None,
) -> Papers:
    """Everything that the briefing document is made of beside the briefing."""
    cell, law = judged.opened.cell, around.law
    due: tuple[Deadline, ...] = ()
    drafts: tuple[Draft, ...] = ()
    if law is not None:
        facts = facts_of_plan(law, judged.briefing.plan.flight_train)
        due, drafts = due_and_drafts(judged.briefing, law.profile, facts)
    return Papers(
        decision=cell.decision, before=before, verdicts=cell.facts.rules, due=due, drafts=drafts, ground=judged.ground,
        window=window, cell=cell if window is not None else None, delay=delay, lift=lift,
    )  # fmt: skip


def _fly_again(given: Given, around: Around, cell: LaunchCell) -> CellFlights | None:
    """The very flights of a cell, with their tracks this time where they fit into memory."""
    option, plan = cell.option, given.plan
    sized = replace(plan, ensemble=replace(plan.ensemble, flights=cell.flights))
    with flight_threads() as threads:
        flyer = WindowFlights(
            sized, given.winds, given.prior, sites=(option.site,), first=option.release, last=option.release,
            terrain=around.surroundings.terrain, threads=threads,
        )  # fmt: skip
        tracks = cell.flights if cell.flights <= BLOCK else 0
        flown = flyer.fly_at(option.site, option.release, [option], tracks=tracks)[0]
    return flown if isinstance(flown, CellFlights) else None


def _ground(flown: CellFlights, around: Around, wind_m_s: float | None) -> tuple[Section, ...]:
    ensemble = flown.ensemble
    found: tuple[VolumeEntry, ...] = ()
    if around.volumes:
        found = volume_entries(
            entries_of(flown, around.volumes), around.volumes,
            nominal=~ensemble.off_nominal, member=ensemble.member,
        )  # fmt: skip
    return ground_sections(hazard_of(flown, around, wind_m_s=wind_m_s, with_retrieval=True), found)
