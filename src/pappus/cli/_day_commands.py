"""The flight day: listening to the balloon, and the desk."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from pappus.cli import _screen as screen
from pappus.cli._app import app
from pappus.cli._options import Json, PackFolder, PlanFile, PriorFile, SiteName
from pappus.errors import BadInput, Finding
from pappus.plan import load_plan

StoreFile = Annotated[
    Path | None,
    typer.Option("--store", metavar="FILE", help="The record of the flight; by default PLAN's name with .record."),
]


@app.command()
def watch(
    plan: PlanFile,
    store: StoreFile = None,
    site: SiteName = None,
    mapping: Annotated[
        Path | None,
        typer.Option("--senders", metavar="FILE", help="How packets of other senders are read, a TOML file."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Listen to the receivers of the plan, keep every packet, and show where the balloon is.

    Ctrl-C or SIGTERM ends it, with exit code 0: the receivers are closed, and all that was heard is in the record.
    """
    from pappus.cli._ended import until_ended
    from pappus.cli._watch import live_watch
    from pappus.inflight import estimator_for, keep_given, receivers_of
    from pappus.preflight import pack_folder
    from pappus.sources import read_senders
    from pappus.store import FlightStore, record_file

    loaded = load_plan(plan)
    settings = receivers_of(loaded)
    if not settings:
        example = 'Add [[receiver]] blocks, for example address = "tcp://127.0.0.1:8001".'
        raise BadInput(Finding("receiver", str(plan), "the plan names none, so nothing can be heard", example))
    senders = read_senders(mapping) if mapping is not None else ()
    with until_ended() as ended, FlightStore.open(store or record_file(plan)) as kept:
        keep_given(kept, plan, pack_folder(plan), datetime.now(UTC))
        last = live_watch(kept, settings, estimator_for(loaded, site), ended, senders=senders)
    screen.watched(last, as_json)


@app.command()
def desk(
    plan: Annotated[
        Path, typer.Argument(metavar="PLAN", help="The flight plan; a new one is written where there is none.")
    ] = Path("flight.toml"),
    port: Annotated[int, typer.Option("--port", min=1024, max=65535, help="Port on this computer.")] = 8340,
    share: Annotated[bool, typer.Option("--share", help="Also let the crew in over the local network.")] = False,
    pack: PackFolder = None,
    prior: PriorFile = None,
    store: StoreFile = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open a browser.")] = False,
) -> None:
    """Serve the flight to a browser on this computer; nothing of it needs the internet.

    Ctrl-C or SIGTERM ends it, with exit code 0: a watch or rehearsal that runs is stopped, and its record says so.
    """
    from pappus.web import run_desk

    run_desk(plan, port=port, share=share, pack=pack, prior=prior, store=store, browser=not no_browser, say=screen.note)
