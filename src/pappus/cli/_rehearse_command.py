"""A flight day that never was, to train a crew and to try the tool."""

from __future__ import annotations

import json
import tempfile
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pappus.cli import _screen as screen
from pappus.cli._app import app
from pappus.cli._day_options import DayOptions, takes
from pappus.cli._gathered import Day, gather
from pappus.errors import BadInput, Finding

if TYPE_CHECKING:
    from pappus.inflight import LiesAround, Moment, Rehearsed, Score, Stage


@app.command()
@takes(DayOptions)
def rehearse(
    options: DayOptions,
    speed: Annotated[float, typer.Option("--speed", min=1, max=200, help="How many times faster than in life.")] = 50.0,
    faults: Annotated[
        list[str] | None,
        typer.Option("--faults", metavar="NAME", help="What goes wrong, such as floater; may be repeated, or a,b."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another number, another flight.")] = 1,
    store: Annotated[
        Path | None, typer.Option("--store", metavar="FILE", help="Keep the rehearsed packets; else they are dropped.")
    ] = None,
) -> None:
    """Fly a simulated flight against the real receivers of this computer, and score crew and tool at its end.

    Ctrl-C or SIGTERM ends it early, with exit code 0: what was heard until then is judged.
    """
    from pappus import inflight
    from pappus.cli._ended import until_ended
    from pappus.store import FlightStore

    named = [name for text in faults or [] for name in text.split(",") if name]
    wanted = inflight.faults_named(named)
    if store is not None and store.exists():
        raise BadInput(
            Finding(
                "--store", str(store), "is there already; a rehearsal is never mixed with a flight", "Name a new one."
            )
        )
    as_json = options.as_json
    with screen.progress(quiet=as_json) as step:
        day = gather(options, step)
        step("preparing the flight")
        stage = _stage(day, options.site, options.release_utc(day.plan))
        around = _around(day, stage)
    said: set[tuple[str, datetime]] = set()
    tenths = [-1]

    def tell(moment: Moment) -> None:
        if as_json:
            return
        if int(10.0 * moment.done) > tenths[0]:
            tenths[0] = int(10.0 * moment.done)
            screen.note(f"{moment.now:%H:%M:%S}Z {moment.done:4.0%}  {_where(moment)}")
        for one in moment.warned.warnings:
            key = (f"{one.kind} {one.subject}", one.since_utc)
            if key not in said:
                said.add(key)
                screen.note(f"{moment.now:%H:%M:%S}Z {moment.done:4.0%}  {one.line}")

    with tempfile.TemporaryDirectory() as folder:
        path = store or Path(folder) / "rehearsal.flight"
        law = None if day.around is None else day.around.law
        with until_ended() as stopping, FlightStore.open(path) as kept:
            done = inflight.rehearse(
                stage, kept, wanted, around, None if law is None else law.profile, seed=seed, speed=speed, tell=tell,
                stopping=stopping,
            )  # fmt: skip
    score = inflight.score_of(done)
    if as_json:
        typer.echo(json.dumps(_json(done, score, seed, speed), indent=2))
    else:
        typer.echo("\n".join([*inflight.stopped_lines(done), *inflight.score_lines(score, done.log)]))
        for line in (*done.unknown, *done.troubles):
            typer.echo(line)


def _where(moment: Moment) -> str:
    estimate = moment.estimate
    if estimate is None or estimate.motion is None:
        return "nothing heard yet"
    motion = estimate.motion
    return f"{estimate.phase.value}, {motion.height_msl_m / 1000:.1f} km, {motion.climb_m_s:+.1f} m/s"


def _stage(day: Day, site_name: str | None, release: datetime | None) -> Stage:
    """The plan in the newest winds that were given."""
    from pappus.inflight import InFlightModel, Stage, planned_of
    from pappus.preflight import site_of

    plan, given = day.plan, day.given
    winds = max(given.winds, key=lambda one: one.field.issued)
    model = InFlightModel.prepare(
        plan, winds.field, given.prior, site_of(plan, site_name), release or plan.window.release,
        model_ground_msl_m=winds.ground_msl_m, terrain=given.terrain,
    )  # fmt: skip
    return Stage(model, planned_of(model))


def _around(day: Day, stage: Stage) -> LiesAround:
    """What the field pack holds of airspace, borders, zones and map; without a pack all of it is unknown."""
    from pappus.atmosphere import Profile
    from pappus.inflight import LiesAround

    held, air = day.around, stage.model.air
    if held is None:
        return LiesAround()
    profile = Profile("winds of the rehearsal", air.height_msl_m, air.pressure_pa, air.temperature_k)
    release = stage.model.release
    volumes = held.volumes
    if volumes is not None:
        volumes = tuple(
            one for one in volumes if not any(p.covers_rule(one.name.strip(), release) for p in held.permissions)
        )
    ground = stage.model.conditions.ground.height_msl_m
    return LiesAround(volumes, profile, held.surroundings, held.zones_given, ground)


def _json(done: Rehearsed, score: Score, seed: int, speed: float) -> dict[str, Any]:
    truth, epoch = done.truth, done.stage.model.epoch.isoformat()
    return {
        "seed": seed,
        "speed": speed,
        "stopped_utc": None if done.stopped_utc is None else done.stopped_utc.isoformat(),
        "faults": sorted(fault.value for fault in truth.faults),
        "epoch_utc": epoch,
        "truth": {
            "released_s": truth.released_s,
            "top_s": truth.top_s,
            "top_msl_m": float(truth.height_msl_m.max()),
            "landed_s": truth.landed_s,
            "latitude_deg": float(truth.latitude_deg[-1]),
            "longitude_deg": float(truth.longitude_deg[-1]),
        },
        "packets_sent": score.sent,
        "packets_kept": score.kept,
        "landings": [
            {"moment": one.moment, "made_utc": one.made_utc.isoformat(), "error_m": one.error_m, "in_90": one.in_90}
            for one in score.landings
        ],
        "warnings_due": [
            {
                "kind": one.kind.value,
                "due_utc": one.due_utc.isoformat(),
                "raised_utc": None if one.raised_utc is None else one.raised_utc.isoformat(),
            }
            for one in score.answers
        ],
        "false_alarms": [
            {"kind": one.kind.value, "raised_utc": one.raised_utc.isoformat()} for one in score.false_alarms
        ],
        "warnings": [
            {
                "kind": one.kind.value,
                "subject": one.subject,
                "raised_utc": one.raised_utc.isoformat(),
                "cleared_utc": None if one.cleared_utc is None else one.cleared_utc.isoformat(),
                "line": one.line,
            }
            for one in done.log
        ],
        "unknown": list(done.unknown),
        "troubles": list(done.troubles),
    }
