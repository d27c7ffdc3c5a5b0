"""The commands: they read arguments, call a path, and hand the answer to the screen."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from pappus.cli import _screen as screen
from pappus.errors import BadInput, Finding
from pappus.flight_train import FillWish
from pappus.plan import Plan, example_plan_text, load_plan

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Plan, predict and brief near-space balloon flights. A planning aid: it replaces no permission.",
)
plan_app = typer.Typer(no_args_is_help=True, help="Write and check flight plans.")
app.add_typer(plan_app, name="plan")
pack_app = typer.Typer(no_args_is_help=True, help="Look after field packs.")
app.add_typer(pack_app, name="pack")

PlanFile = Annotated[Path, typer.Argument(metavar="PLAN", help="The flight plan, a TOML file.")]
Winds = Annotated[
    list[Path] | None, typer.Option("--winds", metavar="FILE", help="Wind file; give the option again for more files.")
]
Site = Annotated[str | None, typer.Option("--site", help="Name of the launch site in the plan; its first by default.")]
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
def fill(
    plan: PlanFile,
    winds: Winds = None,
    site: Site = None,
    release: ReleaseText = None,
    lift_measured: LiftMeasured = None,
    prior: PriorFile = None,
    as_json: Json = False,
) -> None:
    """Print the fill card: what to read on the scale, and what 50 gf more or less would do."""
    from pappus.preflight import fill_card, gather_winds
    from pappus.sources import read_prior

    loaded = load_plan(plan)
    card = fill_card(
        loaded,
        gather_winds(winds or [], loaded),
        read_prior(prior),
        site_name=site,
        release=_release(release, loaded),
        fill_wish=_measured(lift_measured, loaded),
    )
    screen.fill_card(card, as_json)


@app.command()
def brief(
    plan: PlanFile,
    winds: Winds = None,
    site: Site = None,
    release: ReleaseText = None,
    lift_measured: LiftMeasured = None,
    prior: PriorFile = None,
    terrain: Annotated[
        list[Path] | None,
        typer.Option("--terrain", metavar="FILE", help="Height of the ground: SRTM tile or GeoTIFF; may be repeated."),
    ] = None,
    pack: PackFolder = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FOLDER", help="Also write a briefing folder with pictures.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Where it will be, how sure we are, what is worst and until when this holds."""
    from pappus import preflight
    from pappus.sources import load_map_lines, load_places, read_pack, read_prior, read_terrain
    from pappus.trajectory import kernel_is_compiled

    loaded, layers_from = load_plan(plan), None
    if not winds:
        layers_from = pack or preflight.pack_folder(plan)
        winds, terrain, prior = _from_pack(plan, pack, terrain, prior)
    if out is not None:
        preflight.require_folder(out)
    with screen.progress(quiet=as_json) as step:
        step("reading the winds")
        fields = preflight.gather_winds(winds, loaded)
        places = load_places()
        if not kernel_is_compiled():
            screen.note("Compiling the flight kernel for this machine, once: about half a minute.")
        briefing = preflight.brief(
            loaded,
            fields,
            places,
            read_prior(prior),
            site_name=site,
            release=_release(release, loaded),
            fill_wish=_measured(lift_measured, loaded),
            terrain=read_terrain(terrain or []),
            step=step,
        )
    if not as_json:
        screen.briefing(briefing)
    if out is not None:
        with screen.progress(quiet=as_json) as step:
            step("pictures")
            layers = None if layers_from is None else preflight.layers_of(preflight.read_maps(read_pack(layers_from)))
            preflight.write_folder(briefing, out, screen.briefing_text(briefing), load_map_lines(), places, layers)
    screen.briefing_end(briefing, out, as_json)


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
    terrain: Annotated[list[Path] | None, typer.Option("--terrain", metavar="FILE", help="Terrain to pack.")] = None,
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
def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where to write it.")] = Path("demo-flight"),
    as_json: Json = False,
) -> None:
    """Run the main job on the built-in example: an invented flight on invented winds over real geography."""
    from pappus.sources import INVENTED_FORECAST_NAME, invented_sounding_csv, write_invented_forecast

    folder.mkdir(parents=True, exist_ok=True)
    plan, winds = folder / "flight.toml", folder / INVENTED_FORECAST_NAME
    plan.write_text(example_plan_text(), encoding="utf-8")
    (folder / "invented-sounding.csv").write_text(invented_sounding_csv(), encoding="utf-8")
    if not winds.exists():
        part = winds.with_suffix(".part")
        write_invented_forecast(part)
        part.replace(winds)
    brief(plan, winds=[winds], out=folder / "briefing", as_json=as_json)


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


def _from_pack(
    plan: Path, folder: Path | None, terrain: list[Path] | None, prior: Path | None
) -> tuple[list[Path], list[Path], Path | None]:
    """Winds, terrain and prior of the field pack, when they are as they were packed; the crew's own come first."""
    from pappus.preflight import pack_folder
    from pappus.sources import damage, read_pack

    place = folder or pack_folder(plan)
    if folder is None and not place.exists():
        fix = "Give winds, such as --winds sounding.csv, or make a field pack: pappus fetch PLAN."
        raise BadInput(Finding("--winds", "", "no wind file was given and there is no field pack", fix))
    pack, used = read_pack(place), ("winds", "terrain", "prior")
    hurt = [
        Finding(file.path, "", why, "Fetch again, or copy the pack again.")
        for file, why in damage(pack)
        if file.kind in used
    ]
    if hurt:
        raise BadInput(*hurt)
    if not pack.of_kind("winds"):
        raise BadInput(Finding("winds", str(place), "the pack holds none", "Fetch with --centre or --winds."))
    own = pack.paths("prior")
    return pack.paths("winds"), terrain or pack.paths("terrain"), prior or (own[0] if own else None)


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


def _release(text: str | None, plan: Plan) -> datetime | None:
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


def _measured(text: str | None, plan: Plan) -> FillWish | None:
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
