"""The commands of ``pappus``; each is in a file with those of its part of the job."""

from __future__ import annotations

import typer

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
