"""The cell that a crew means, out of the names that it gives."""

from __future__ import annotations

from datetime import datetime

from pappus.decision import Answer
from pappus.errors import BadInput, Finding
from pappus.preflight.window._cell import LaunchCell
from pappus.preflight.window._options import OWN
from pappus.preflight.window._window import LaunchWindow


def choose_cell(
    window: LaunchWindow,
    *,
    site_name: str | None = None,
    release: datetime | None = None,
    fill_name: str | None = None,
    balloon_name: str | None = None,
    planned: datetime | None = None,
) -> LaunchCell:
    """The best cell of those that bear the names given: by answer, then the one nearest to the plan.

    ``planned`` is the release that the plan names. Raises BadInput when no cell bears them.
    """
    asked = (site_name, release, fill_name, balloon_name)
    found = [
        cell for cell in window.cells
        if all(one is None or one == own for one, own in zip(asked, _names(cell), strict=True))
    ]  # fmt: skip
    if not found:
        words = [f"{one:%m-%d %H:%MZ}" if isinstance(one, datetime) else one for one in asked if one is not None]
        options = window.options
        names = [[site.name for site in options.sites], [name for name, _ in options.fills],
                 [name for name, _ in options.balloons]]  # fmt: skip
        fix = f"Sites {', '.join(names[0])}; fills {', '.join(names[1])}; balloons {', '.join(names[2])}; releases " + (
            f"{min(options.releases):%m-%d %H:%MZ} to {max(options.releases):%H:%MZ} in the steps of the plan."
        )
        raise BadInput(Finding("cell", ", ".join(words), "the launch window has no such cell", fix))
    goal = planned or min(window.options.releases)
    rank = {Answer.GO: 0, Answer.WAIT: 1, Answer.NO_GO: 2}

    def order(cell: LaunchCell) -> tuple[int, bool, bool, float]:
        option = cell.option
        away = abs((option.release - goal).total_seconds())
        return rank[cell.decision.answer], option.fill_name != OWN, option.balloon_name != OWN, away

    return min(found, key=order)


def _names(cell: LaunchCell) -> tuple[str, datetime, str, str]:
    option = cell.option
    return option.site.name, option.release, option.fill_name, option.balloon_name
