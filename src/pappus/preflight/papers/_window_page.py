"""The launch window in words: one table of all cells, and what would make the opened one better."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from zoneinfo import ZoneInfo

from pappus.decision import Answer
from pappus.export import Grid, LaunchMatrix, MatrixCell, Page, Section, Sentences
from pappus.plan import Plan
from pappus.preflight.papers._decision_words import SIGNS
from pappus.preflight.papers._pictures import launch_matrix
from pappus.preflight.window import OWN, LaunchCell, LaunchWindow, OpenedCell
from pappus.units import say_time

MOST_OTHERS = 3
TIMES_IN_TABLE = 8


def window_page(plan: Plan, window: LaunchWindow, opened: OpenedCell) -> Page:
    """The matrix as a table, the opened cell named under it."""
    counts = ", ".join(f"{window.count(answer)} {answer.value}" for answer in Answer if window.count(answer))
    cell = opened.cell
    sections: list[Section] = [*_matrix(launch_matrix(window, plan, cell))]
    if opened.mends:
        sections.append(Sentences("What would have to change in it", tuple(one.words for one in opened.mends)))
    if opened.others:
        better = opened.others[:MOST_OTHERS]
        sections.append(Sentences("Better cells beside it", tuple(say_cell(one, plan) for one in better)))
    if window.notes:
        sections.append(Sentences("In no cell", window.notes))
    lead = (
        f"{len(window.cells)} launches compared with {window.flights:,} flights: {counts}.",
        f"Opened: {say_cell(cell, plan)}",
    )
    return Page(lead, plan.mission.about or "", tuple(sections), "")


def say_cell(cell: LaunchCell, plan: Plan) -> str:
    """One cell in a line."""
    option = cell.option
    fill = "" if option.fill_name == OWN else f", fill {option.fill_name}"
    balloon = "" if option.balloon_name == OWN else f", balloon {option.balloon_name}"
    when = say_time(option.release, plan.mission.time_zone)
    return f"site {option.site.name}, release {when}{fill}{balloon}: {cell.decision.headline}"


def _matrix(matrix: LaunchMatrix) -> Iterator[Section]:
    """Signs in a row for each choice, so many times in a table as a narrow terminal holds, and why below."""
    found = {(cell.row, cell.column): cell for cell in matrix.cells}
    zone, times = ZoneInfo(matrix.zone), range(len(matrix.times))
    for first in range(0, len(times), TIMES_IN_TABLE):
        block = times[first : first + TIMES_IN_TABLE]
        clocks = [f"{matrix.times[column].astimezone(zone):%H:%M}" for column in block]
        rows = [(name, *(_cell(found.get((row, column))) for column in block)) for row, name in enumerate(matrix.rows)]
        day = f"{matrix.times[block[0]].astimezone(zone):%Y-%m-%d}"
        note = f"Local times ({matrix.zone}); the number is the chance in percent to reach the wanted height."
        title = f"Launch matrix, {day}: ● go, ◐ wait, ⊟ no-go, ◇ not flown"
        yield Grid(title, ("", *clocks), tuple(rows), note if block[-1] == times[-1] else "")
    lines = []
    for row, name in enumerate(matrix.rows):
        spoken = [(found.get((row, column)), matrix.times[column].astimezone(zone)) for column in times]
        for (answer, why), run in groupby(spoken, key=lambda pair: _why(pair[0])):
            clocks = [f"{time:%H:%M}" for _, time in run]
            span = clocks[0] if len(clocks) == 1 else f"{clocks[0]} to {clocks[-1]}"
            lines.append(f"{name}, {span}: {answer}{why and f' ({why})'}")
    yield Sentences("Why, first of all", tuple(lines))


def _cell(cell: MatrixCell | None) -> str:
    if cell is None:
        return SIGNS["cannot tell"]
    return SIGNS[cell.answer] if cell.chance is None else f"{SIGNS[cell.answer]} {100.0 * cell.chance:.0f}"


def _why(cell: MatrixCell | None) -> tuple[str, str]:
    """Answer and reason without its number, which differs from time to time."""
    if cell is None:
        return "cannot tell", "not flown"
    return cell.answer, " ".join(word for word in cell.short_reason.split() if word.isalpha() or "-" in word)
