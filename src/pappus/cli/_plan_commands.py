"""Plans, field packs, and the models judged by recorded flights."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from pappus.cli import _screen as screen
from pappus.cli._app import app, pack_app, plan_app
from pappus.cli._options import Json, PackFolder, PlanFile, PriorFile, Terrain, Winds
from pappus.errors import BadInput, Finding
from pappus.plan import example_plan_text, load_plan


@plan_app.command("new")
def plan_new(
    path: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write the plan.")] = Path("flight.toml"),
    as_json: Json = False,
) -> None:
    """Write a commented plan: the invented example, to be changed into yours."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(example_plan_text())
    except OSError as error:
        reason = "a file of that name exists" if path.exists() else f"cannot be written: {error.strerror}"
        raise BadInput(Finding("FILE", str(path), reason, "Give another name, for example flight-2.toml.")) from error
    screen.say_or_json({"written": str(path)}, f"Wrote {path}: an invented example, change it into yours.", as_json)


@plan_app.command("check")
def plan_check(plan: PlanFile, as_json: Json = False) -> None:
    """Check a plan: every mistake in one go, with the way to mend it."""
    screen.plan_checked(load_plan(plan), as_json)


@app.command()
def fetch(
    plan: PlanFile,
    pack: PackFolder = None,
    centre: Annotated[
        list[str] | None,
        typer.Option("--centre", metavar="NAME", help="Forecast to fetch: gfs, gefs, ifs or ifs-ens; may be repeated."),
    ] = None,
    address: Annotated[
        str | None, typer.Option("--address", metavar="URL", help="Base address of a mirror of the centre.")
    ] = None,
    members: Annotated[
        int | None, typer.Option("--members", help="How many members of an ensemble; all by default.")
    ] = None,
    wait_min: Annotated[
        float, typer.Option("--wait", metavar="MINUTES", help="Wait so long for a run that is being published.")
    ] = 0.0,
    winds: Winds = None,
    terrain: Terrain = None,
    map_file: Annotated[
        list[Path] | None, typer.Option("--map", metavar="FILE", help="OpenStreetMap extract to pack.")
    ] = None,
    airspace: Annotated[
        list[Path] | None, typer.Option("--airspace", metavar="FILE", help="Airspace in OpenAir text to pack.")
    ] = None,
    zones: Annotated[
        list[Path] | None, typer.Option("--zones", metavar="FILE", help="Zones drawn in GeoJSON or KML to pack.")
    ] = None,
    prior: PriorFile = None,
    as_json: Json = False,
) -> None:
    """Put all that a plan needs without internet into one folder; run it again for newer forecasts."""
    from pappus import preflight

    loaded, now = load_plan(plan), datetime.now(UTC)
    chosen = [
        preflight.Wanted(name, address, None if members is None else tuple(range(members)), wait_s=60.0 * wait_min)
        for name in centre or []
    ]
    brought = {
        "winds": winds or [], "terrain": terrain or [], "map": map_file or [], "airspace": airspace or [],
        "zones": zones or [], "prior": [prior] if prior else [],
    }  # fmt: skip
    if not chosen and not any(brought.values()):
        fix = f"Give --centre with one of {preflight.centre_names()}, or files of your own, such as --winds FILE."
        raise BadInput(Finding("--centre", "", "nothing to fetch and nothing to pack", fix))
    folder = pack or preflight.pack_folder(plan)
    with screen.progress(quiet=as_json) as step:
        made = preflight.make_pack(loaded, plan, folder, chosen, brought, now=now, step=step)
    screen.pack_state(loaded, made, preflight.check_pack(loaded, made, now), as_json)


@pack_app.command("check")
def pack_check(plan: PlanFile, pack: PackFolder = None, as_json: Json = False) -> None:
    """What a field pack lacks for its plan, the worst first; exit code 2 when it cannot carry a brief."""
    from pappus import preflight
    from pappus.sources import read_pack

    loaded = load_plan(plan)
    read = read_pack(pack or preflight.pack_folder(plan))
    lacks = preflight.check_pack(loaded, read, datetime.now(UTC))
    screen.pack_state(loaded, read, lacks, as_json)
    if any(lack.weight == "stops the brief" for lack in lacks):
        raise typer.Exit(2)


@app.command()
def verify(
    folders: Annotated[
        list[Path], typer.Argument(metavar="DIR...", help="Folders of recorded flights and of forecasts beside them.")
    ],
    prior: PriorFile = None,
    fit: Annotated[
        Path | None, typer.Option("--fit", metavar="FILE", help="Also write a prior file, fitted to these records.")
    ] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Also save the tables as text.")] = None,
    as_json: Json = False,
) -> None:
    """Judge the models by recorded flights: winds, climb, fall, landing areas and forecasts; nothing is tuned."""
    from pappus import postflight
    from pappus.sources import prior_text, read_prior

    judged_by = read_prior(prior)
    for path in (fit, out):
        _require_new(path)
    with screen.progress(quiet=as_json) as step:
        recorded = postflight.read_recorded(folders, step)
        result = postflight.verify(recorded, judged_by, step=step)
        learned = None
        if fit is not None:
            step("prior")
            learned = postflight.learn(recorded, result, fit.stem)
    text = screen.verification(result, learned, as_json)
    if fit is not None and learned is not None:
        _write(fit, prior_text(learned.prior))
    if out is not None:
        _write(out, text)


def _require_new(path: Path | None) -> None:
    """Nothing of the crew's is written over."""
    if path is not None and path.exists():
        raise BadInput(Finding("FILE", str(path), "a file of that name exists", "Give another name."))


def _write(path: Path, text: str) -> None:
    """The whole file or none."""
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BadInput(Finding("FILE", str(path), f"cannot be written: {error.strerror}", "Give another.")) from error
