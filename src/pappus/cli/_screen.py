"""What the terminal shows: words first, then tables; the same text goes into the briefing folder."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console, Group
from rich.markup import escape
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from pappus import preflight
from pappus.cli._tables import rendered
from pappus.decision import Decision
from pappus.errors import BadInput, PappusError
from pappus.export import Page, Sentences
from pappus.plan import Plan
from pappus.sources import Pack
from pappus.units import say_height, say_time

if TYPE_CHECKING:
    from pappus.inflight import Watched
    from pappus.postflight import Learned, Verification
    from pappus.preflight import Briefing, FillCard, Judged, Lack, LaunchWindow

STEPS = 8
PAGE_WIDTH = 96


def _out() -> Console:
    return Console(highlight=False, soft_wrap=False)


def say_or_json(values: dict[str, object], text: str, as_json: bool) -> None:
    """One line for a person, or the values for a program."""
    if as_json:
        sys.stdout.write(preflight.to_json(values) + "\n")
    else:
        _out().print(escape(text))


def note(text: str) -> None:
    """One line beside the answer, on stderr."""
    Console(stderr=True, highlight=False).print(escape(text))


@contextmanager
def progress(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """A bar on stderr that names what is being done; it leaves no trace."""
    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn(), console=console, transient=True,
        disable=quiet or not console.is_terminal,
    )  # fmt: skip
    with bar:
        task = bar.add_task("", total=STEPS)

        def step(name: str) -> None:
            bar.update(task, description=name, advance=1)

        yield step


def show_error(error: PappusError) -> None:
    """What is wrong, one block a finding, and how to mend it."""
    console = Console(stderr=True, highlight=False)
    if not isinstance(error, BadInput):
        console.print(f"[bold]pappus cannot answer:[/bold] {escape(str(error))}")
        return
    for finding in error.findings:
        given = f" = {finding.value}" if finding.value else ""
        console.print(f"[bold]{escape(finding.field)}[/bold]{escape(given)}: {escape(finding.reason)}.")
        if finding.fix:
            console.print(f"  {escape(finding.fix)}")


def plan_checked(plan: Plan, as_json: bool) -> None:
    """The plan can be used: what it is, and what it leaves to our priors."""
    if as_json:
        sys.stdout.write(preflight.to_json({"plan": asdict(plan)}) + "\n")
        return
    mission, window, console = plan.mission, plan.window, _out()
    if mission.about:
        console.print(escape(mission.about), style="italic")
    console.print(f"[bold]{escape(mission.name)}[/bold]: the plan can be used.")
    train = plan.flight_train
    console.print(
        f"Wanted height {say_height(mission.wanted_height_msl_m)}; train {train.train_mass_kg:.3f} kg in "
        f"{len(train.packages)} packages, {train.length_m:.0f} m of line; "
        f"sites {', '.join(site.name for site in plan.sites)}."
    )
    opens, closes = (say_time(time, mission.time_zone, date=True) for time in (window.opens, window.closes))
    console.print(f"Window {opens} to {closes}.")
    for line in plan.assumptions:
        console.print(f"  assumed: {escape(line)}")


def fill_card(card: FillCard, as_json: bool) -> None:
    """The fill card."""
    if as_json:
        values = {key: value for key, value in vars(card).items() if key not in ("plan", "air")}
        values |= {name: asdict(values[name]) for name in ("site", "fill", "less", "more")}
        sys.stdout.write(preflight.to_json(values) + "\n")
        return
    _print(preflight.fill_page(card))


def briefing(answer: Briefing, judged: Judged | None, before: Decision | None) -> None:
    """The briefing, before its pictures are drawn: nobody waits for those to read it."""
    _print(preflight.briefing_page(answer))
    if judged is not None:
        _print(preflight.decision_page(judged.decision, note="", before=before))


def briefing_end(answer: Briefing, judged: Judged | None, folder: Path | None, as_json: bool) -> None:
    """Where the folder is; or everything as JSON."""
    if as_json:
        values = preflight.briefing_json(answer)
        if judged is not None:
            values |= {"cell": preflight.cell_json(judged.opened.cell)}
        _write_json(values, folder)
    else:
        _say_folder(folder)


def launch_window(plan: Plan, flown: LaunchWindow, judged: Judged, before: Decision | None) -> None:
    """All cells in one table, then the one that was opened."""
    _print(preflight.window_page(plan, flown, judged.opened))
    _print(preflight.decision_page(judged.decision, note="", before=before))
    _print(preflight.briefing_page(judged.briefing))


def launch_window_end(flown: LaunchWindow, judged: Judged, folder: Path | None, as_json: bool) -> None:
    """Where the folder is; or everything as JSON."""
    if as_json:
        opened, briefing = preflight.cell_json(judged.opened.cell), preflight.briefing_json(judged.briefing)
        _write_json(
            preflight.window_json(flown) | {"opened": opened, "briefing": briefing},
            folder,
        )
    else:
        _say_folder(folder)


def _write_json(values: dict[str, object], folder: Path | None) -> None:
    sys.stdout.write(preflight.to_json(values | {"folder": None if folder is None else str(folder)}) + "\n")


def _say_folder(folder: Path | None) -> None:
    if folder is not None:
        _out().print(f"Briefing folder: {escape(str(folder))}")


def briefing_text(answer: Briefing) -> str:
    """The briefing as plain text, for the folder."""
    return _text(preflight.briefing_page(answer))


def _text(page: Page) -> str:
    console = Console(file=io.StringIO(), width=PAGE_WIDTH, highlight=False, color_system=None)
    console.print(Group(*rendered(page, PAGE_WIDTH)))
    file = console.file
    assert isinstance(file, io.StringIO)
    return file.getvalue()


def pack_state(plan: Plan, pack: Pack, lacks: tuple[Lack, ...], as_json: bool) -> None:
    """What is in a field pack and what it lacks."""
    if as_json:
        held = [asdict(file) for file in pack.files]
        values = {"pack": str(pack.folder), "made": pack.made, "lacks": [asdict(lack) for lack in lacks], "files": held}
        sys.stdout.write(preflight.to_json(values) + "\n")
        return
    _print(preflight.pack_page(plan, pack, lacks))


def watched(last: Watched | None, as_json: bool) -> None:
    """The last state of a watch that has ended."""
    if as_json:
        sys.stdout.write(preflight.to_json({"last": None if last is None else asdict(last)}) + "\n")


def verification(result: Verification, learned: Learned | None, as_json: bool) -> str:
    """The tables of real-data errors and what could not be used; returns them as text for a file."""
    from pappus.postflight import verification_json, verification_page  # slow to load, and no other command needs it

    page = verification_page(result)
    if learned is not None:
        fitted = Sentences("Not learned", learned.not_learned)
        page = replace(page, sections=(*page.sections, fitted))
    if as_json:
        sys.stdout.write(preflight.to_json(verification_json(result, learned)) + "\n")
    else:
        _print(page)
    return _text(page)


def _print(page: Page) -> None:
    console = _out()
    width = min(console.width, PAGE_WIDTH)
    for part in rendered(page, width):
        console.print(part, width=width)
