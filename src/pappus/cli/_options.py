"""Options that several commands share."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from pappus.errors import BadInput, Finding
from pappus.flight_train import FillWish
from pappus.plan import Plan

PlanFile = Annotated[Path, typer.Argument(metavar="PLAN", help="The flight plan, a TOML file.")]
Winds = Annotated[
    list[Path] | None, typer.Option("--winds", metavar="FILE", help="Wind file; give the option again for more files.")
]
SiteName = Annotated[
    str | None, typer.Option("--site", help="Name of the launch site in the plan; its first by default.")
]
ReleaseText = Annotated[
    str | None,
    typer.Option("--release", metavar="TIME", help="Release, UTC: 10:42Z on the plan's day, or 2027-02-13T10:42Z."),
]
LiftMeasured = Annotated[
    str | None,
    typer.Option("--lift-measured", metavar="LIFT", help='Lift read on the scale at the neck, for example "2150 gf".'),
]
PriorFile = Annotated[
    Path | None,
    typer.Option(
        "--prior", metavar="FILE", help="Prior file: sizes of what is not known; the built-in one by default."
    ),
]
PackFolder = Annotated[
    Path | None, typer.Option("--pack", metavar="FOLDER", help="The field pack; by default PLAN's name with .pack.")
]
Json = Annotated[bool, typer.Option("--json", help="Print the answer as JSON in SI units and UTC.")]
Terrain = Annotated[
    list[Path] | None,
    typer.Option("--terrain", metavar="FILE", help="Height of the ground: SRTM tile or GeoTIFF; may be repeated."),
]
Out = Annotated[
    Path | None, typer.Option("--out", metavar="FOLDER", help="Also write a briefing folder with pictures.")
]


def release_time(text: str | None, plan: Plan) -> datetime | None:
    """Release time from the option; a bare clock time means the plan's day."""
    if text is None:
        return None
    try:
        if "T" in text or " " in text.strip():
            moment = datetime.fromisoformat(text)
            if moment.tzinfo is None:
                raise ValueError("no zone")
            return moment.astimezone(UTC)
        clock = datetime.strptime(text, "%H:%MZ")  # noqa: DTZ007  the Z is in the format
    except ValueError as error:
        raise BadInput(
            Finding("--release", text, "not a time with its zone", "Write 10:42Z or 2027-02-13T10:42Z.")
        ) from error
    return plan.window.release.replace(hour=clock.hour, minute=clock.minute, second=0)


def fill_measured(text: str | None, plan: Plan) -> FillWish | None:
    """The fill as the scale says it; measured, so its scatter is that of the scale alone."""
    if text is None:
        return None
    from pappus.units import UnitError, parse_quantity

    try:
        lift_n = parse_quantity(text, "force")
    except UnitError as error:
        raise BadInput(Finding("--lift-measured", text, str(error), 'Write "2150 gf".')) from error
    if not 0.05 < lift_n < 500.0:
        raise BadInput(Finding("--lift-measured", text, "a balloon pulls between 5 gf and 50 kgf", 'Write "2150 gf".'))
    return FillWish("scale_lift", lift_n, scale_sd_n=plan.fill.scale_sd_n)
