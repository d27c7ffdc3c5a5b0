"""Pictures that the briefing document has beside those of a briefing."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from pappus.export import (
    DelayCurve,
    LaunchMatrix,
    LiftCurve,
    MapLayers,
    MatrixCell,
    Picture,
    draw_crew_map,
    draw_delay_curve,
    draw_launch_matrix,
    draw_lift_curve,
)
from pappus.ground import MapLines, PlaceIndex
from pappus.landing import Share
from pappus.plan import Plan
from pappus.preflight.briefing import Briefing
from pappus.preflight.papers._decision_words import answer_state, short_reason
from pappus.preflight.window import LaunchCell, LaunchWindow

_NAMES_APART = ", "


def launch_matrix(window: LaunchWindow, plan: Plan, chosen: LaunchCell | None = None) -> LaunchMatrix:
    """The window as a matrix: a row for each site, balloon and fill, a column for each time."""
    options = window.options
    several = (len(options.sites) > 1, len(options.balloons) > 1, len(options.fills) > 1)

    def keys(cell: LaunchCell) -> tuple[str, str, str]:
        return cell.option.site.name, cell.option.balloon_name, cell.option.fill_name

    rows = list(dict.fromkeys(keys(cell) for cell in window.cells))
    names = []
    for site, balloon, fill in rows:
        said = (f"site {site}", f"balloon {balloon}", f"fill {fill}")
        names.append(_NAMES_APART.join(name for name, say in zip(said, several, strict=True) if say) or said[0])
    times = list(options.releases)
    place = None if chosen is None else (rows.index(keys(chosen)), times.index(chosen.option.release))
    cells = []
    for cell in window.cells:
        reaches = cell.facts.reaches_wanted.value
        chance = reaches.p if isinstance(reaches, Share) else None
        at = rows.index(keys(cell)), times.index(cell.option.release)
        cells.append(MatrixCell(*at, answer_state(cell.decision), short_reason(cell.decision), chance))
    mission = plan.mission
    return LaunchMatrix(
        tuple(names), tuple(times), tuple(cells), mission.time_zone, mission.wanted_height_msl_m, place
    )  # fmt: skip


def crew_map(
    briefing: Briefing, lines: MapLines | None, places: PlaceIndex | None, layers: MapLayers | None
) -> Picture:
    """The map of the crew page."""
    site = briefing.site
    png = _png(lambda path: draw_crew_map(
        path, area=briefing.area, flights=briefing.flights, nominal=briefing.nominal, off_nominal=briefing.off_nominal,
        site_name=site.name, site_latitude_deg=site.latitude_deg, site_longitude_deg=site.longitude_deg, lines=lines,
        places=places, layers=layers,
    ))  # fmt: skip
    return Picture("Where it comes down", png)


def matrix_pictures(matrix: LaunchMatrix, plan: Plan) -> tuple[Picture, ...]:
    """One picture for each sheet."""
    sheets = matrix.sheets()
    pictures = []
    for number, sheet in enumerate(sheets, 1):
        title = "Launch matrix" if len(sheets) == 1 else f"Launch matrix, {number} of {len(sheets)}"
        png = _png(partial(draw_launch_matrix, matrix=sheet, title=title, footer=_footer(plan)))
        pictures.append(Picture(title, png))
    return tuple(pictures)


def delay_picture(curve: DelayCurve, plan: Plan) -> Picture:
    """Landing against the delay of the release."""
    title = "Landing against delay"
    return Picture(title, _png(lambda path: draw_delay_curve(path, curve, title=title, footer=_footer(plan))))


def lift_picture(curve: LiftCurve, plan: Plan) -> Picture:
    """Burst and landing against the lift on the scale."""
    title = "Burst and landing against measured lift"
    return Picture(title, _png(lambda path: draw_lift_curve(path, curve, title=title, footer=_footer(plan))))


def _footer(plan: Plan) -> str:
    return plan.mission.about or plan.mission.name


def _png(draw: Callable[[Path], None]) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "picture.png"
        draw(path)
        return path.read_bytes()
