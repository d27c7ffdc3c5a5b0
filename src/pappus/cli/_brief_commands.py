"""Before the flight: fill card, briefing, launch window, and the example."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pappus.cli import _screen as screen
from pappus.cli._app import app
from pappus.cli._day_options import BriefingOptions, takes
from pappus.cli._gathered import gather, last_decision, write
from pappus.cli._options import (
    Json,
    LiftMeasured,
    PlanFile,
    PriorFile,
    ReleaseText,
    SiteName,
    Winds,
    fill_measured,
    release_time,
)
from pappus.plan import load_plan


@app.command()
def fill(
    plan: PlanFile,
    winds: Winds = None,
    site: SiteName = None,
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
        release=release_time(release, loaded),
        fill_wish=fill_measured(lift_measured, loaded),
    )
    screen.fill_card(card, as_json)


@app.command()
@takes(BriefingOptions)
def brief(options: BriefingOptions, lift_measured: LiftMeasured = None) -> None:
    """Where it will be, how sure we are, what is worst and until when this holds; with a field pack, go or not."""
    from pappus import preflight

    out, as_json = options.require_folder(), options.as_json
    with screen.progress(quiet=as_json) as step:
        day = gather(options, step)
        asked = preflight.Asked(
            preflight.site_of(day.plan, options.site),
            options.release_utc(day.plan) or day.plan.window.release,
            fill_measured(lift_measured, day.plan) or day.plan.fill,
        )
        judged = None if day.around is None else preflight.judge_release(day.given, day.around, asked, step=step)
        briefing = judged.briefing if judged is not None else preflight.brief_release(day.given, asked, step=step)
    before = last_decision(out)
    if not as_json:
        screen.briefing(briefing, judged, before)
    if out is not None:
        with screen.progress(quiet=as_json) as step:
            step("pictures")
            papers = None
            if judged is not None and day.around is not None:
                papers = preflight.papers_of(judged, day.around, before=before)
            write(day, briefing, out, papers)
    screen.briefing_end(briefing, judged, out, as_json)


@app.command()
@takes(BriefingOptions)
def window(
    options: BriefingOptions,
    fill_name: Annotated[str | None, typer.Option("--fill", help="Name of the fill of the cell to open.")] = None,
    balloon_name: Annotated[
        str | None, typer.Option("--balloon", help="Name of the balloon of the cell to open.")
    ] = None,
    flights: Annotated[int, typer.Option("--flights", min=50, max=20_000, help="Flights in each cell.")] = 500,
) -> None:
    """Every launch time, site, fill and balloon: go, wait or no-go; then the best cell, or the one named, in full."""
    from pappus import preflight

    out, as_json = options.require_folder(), options.as_json
    with screen.progress(quiet=as_json) as step:
        day = gather(options, step)
        around = day.around or preflight.Around()
        step("launch window")
        flown = preflight.fly_plan_window(day.given, around, flights=flights)
        cell = preflight.choose_cell(
            flown, site_name=options.site, release=options.release_utc(day.plan), fill_name=fill_name,
            balloon_name=balloon_name, planned=day.plan.window.release,
        )  # fmt: skip
        judged = preflight.judge_cell(flown, cell, day.given, around, step=step)
    before = last_decision(out)
    if not as_json:
        screen.launch_window(day.plan, flown, judged, before)
    if out is not None:
        with screen.progress(quiet=as_json) as step:
            step("delay and lift")
            delay, lift = preflight.curves_of(judged, day.given, around)
            step("pictures")
            papers = preflight.papers_of(judged, around, before=before, window=flown, delay=delay, lift=lift)
            write(day, judged.briefing, out, papers)
    screen.launch_window_end(flown, judged, out, as_json)


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where to write it.")] = Path("demo-flight"),
    as_json: Json = False,
) -> None:
    """Run the main job on the built-in example: an invented flight on invented winds over real geography."""
    from pappus.preflight import write_example

    plan = write_example(folder)
    window(plan, out=folder / "briefing", as_json=as_json)
