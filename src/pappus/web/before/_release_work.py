"""The heavy work behind the pages Window, Flight and Briefing, each piece done once for a plan and its field pack."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from fastapi import Depends, Query, Request

from pappus import preflight
from pappus.errors import BadInput, Finding
from pappus.sources import Pack, damage, load_countries, load_map_lines, load_places, read_terrain
from pappus.web.desk import Desk, Job, Person, Refused, Role, Step

WINDOW_FLIGHTS = 500
"""In each cell of the launch matrix, as on the command line; a cell that is opened is flown as often as it needs."""
PAPERS_KEPT = 4
_JUDGED_BY = ("winds", "terrain", "prior")

Curves = tuple[preflight.AgainstDelay | None, preflight.AgainstLift | None]
Name = Annotated[str | None, Query(max_length=200)]


@dataclass(frozen=True)
class Choice:
    """One cell of the launch matrix by the names of its choices; what is not named is as planned."""

    site: str
    release: datetime
    fill: str
    balloon: str

    @property
    def key(self) -> str:
        """The same for the same choice."""
        names = [self.site, f"{self.release:%Y-%m-%dT%H:%M:%SZ}", self.fill, self.balloon]
        return hashlib.sha256(json.dumps(names).encode()).hexdigest()[:16]


@dataclass(frozen=True, eq=False)
class Surrounded:
    """What is known of a flight, and of what lies around it."""

    given: preflight.Given
    around: preflight.Around


@dataclass(frozen=True, eq=False)
class FlownWindow:
    """The launch matrix and when it was asked for."""

    window: preflight.LaunchWindow
    made_utc: datetime


@dataclass(frozen=True, eq=False)
class JudgedRelease:
    """One release in full and when it was asked for."""

    choice: Choice
    judged: preflight.Judged
    known: Surrounded

    @property
    def made_utc(self) -> datetime:
        """When it was flown; ages of forecasts count up to it."""
        return self.known.given.now


def chosen(desk: Desk, site: Name = None, release: Name = None, fill: Name = None, balloon: Name = None) -> Choice:
    """The choice by its names; what is None is as planned. Raises ``BadInput`` for a name the plan does not have."""
    plan = desk.plan()
    options = _options(desk)
    releases = {f"{one:%Y-%m-%dT%H:%M:%SZ}": one for one in options.releases}
    planned = f"{plan.window.release:%Y-%m-%dT%H:%M:%SZ}"
    return Choice(
        _one_of("site", site, {one.name: one.name for one in options.sites}),
        _one_of("release", release or planned, releases),
        _one_of("fill", fill, {name: name for name, _ in options.fills}),
        _one_of("balloon", balloon, {name: name for name, _ in options.balloons}),
    )


def _in_query(
    request: Request, site: Name = None, release: Name = None, fill: Name = None, balloon: Name = None
) -> Choice:
    return chosen(request.app.state.desk, site, release, fill, balloon)


Chosen = Annotated[Choice, Depends(_in_query)]
"""The choice in the query of a request."""


def window_job(desk: Desk, person: Person) -> Job:
    """The launch matrix of the plan: its result is a ``FlownWindow``."""
    known = _require(desk)

    def work(step: Step) -> FlownWindow:
        day = surrounded(desk, step)
        step("flying the launch window")
        window = preflight.fly_plan_window(
            day.given, day.around, flights=WINDOW_FLIGHTS,
            step=lambda done, total: step(f"{done} of {total} cells flown"),
        )  # fmt: skip
        return FlownWindow(window, day.given.now)

    return _asked(desk, person, "window", known, work)


def release_job(desk: Desk, person: Person, choice: Choice) -> Job:
    """One release, judged: its result is a ``JudgedRelease``."""
    known = _require(desk)

    def work(step: Step) -> JudgedRelease:
        return judged_release(desk, choice, step)

    return _asked(desk, person, "release", f"{known}-{choice.key}", work)


def curves_job(desk: Desk, person: Person, choice: Choice) -> Job:
    """Landing against delay and against lift of a release: a pair, None for what was not flown."""
    known = _require(desk)

    def work(step: Step) -> Curves:
        return _curves(desk, choice, step)

    return _asked(desk, person, "curves", f"{known}-{choice.key}", work)


def papers_job(desk: Desk, person: Person, choice: Choice) -> Job:
    """The briefing folder of a release: its result is the ``Path`` of the folder."""
    known = _require(desk)

    def work(step: Step) -> Path:
        release = judged_release(desk, choice, step)
        delay, lift = _curves(desk, choice, step)
        step("pictures and documents")
        held = flown_window(desk)
        papers = preflight.papers_of(
            release.judged, release.known.around, window=None if held is None else held.window, delay=delay, lift=lift
        )
        folder = desk.folder / "papers" / f"{known}-{choice.key}"
        briefing = release.judged.briefing
        preflight.write_folder(
            briefing, folder, "\n".join(preflight.three_lines(briefing)) + "\n", load_map_lines(), load_places(),
            desk_layers(desk), papers=papers, made_utc=release.made_utc,
        )  # fmt: skip
        _forget_old(folder.parent)
        return folder

    return _asked(desk, person, "papers", f"{known}-{choice.key}", work)


def flown_window(desk: Desk) -> FlownWindow | None:
    """The launch matrix, if it was flown for this plan and pack."""
    found: FlownWindow | None = _done(desk, "window", _require(desk))
    return found


def again(desk: Desk) -> None:
    """Forget the launch matrix of the plan, so that the next page that asks has it flown anew."""
    desk.jobs.forget("window", _require(desk))


def surrounded(desk: Desk, step: Step) -> Surrounded:
    """Plan, winds, map, zones and rules, asked now."""
    plan, key = desk.plan(), _require(desk)
    pack = _whole(desk.pack())
    step("reading the winds")
    winds = desk.winds()
    if not winds:
        raise BadInput(Finding("winds", "", "the field pack holds none", "Fetch again with --centre or --winds."))
    terrain = desk.keep("terrain", key, lambda: tuple(read_terrain(pack.paths("terrain"))))
    given = preflight.Given(plan, winds, load_places(), desk.prior(), terrain, desk.now())
    step("reading the map")
    around = desk.keep(
        "around", key,
        lambda: preflight.gather_around(
            plan, desk.plan_path, preflight.read_maps(pack), terrain, load_places(), load_countries()
        ),
    )  # fmt: skip
    return Surrounded(given, around)


def judged_release(desk: Desk, choice: Choice, step: Step) -> JudgedRelease:
    """A release flown and judged, or the one that was."""

    def make() -> JudgedRelease:
        day = surrounded(desk, step)
        given, around, plan, options = day.given, day.around, day.given.plan, _options(desk)
        alone = replace(
            options,
            releases=(choice.release,),
            sites=tuple(one for one in options.sites if one.name == choice.site),
            fills=tuple(one for one in options.fills if one[0] == choice.fill),
            balloons=tuple(one for one in options.balloons if one[0] == choice.balloon),
        )
        step("flying it")
        window = preflight.fly_window(
            plan, given.winds, given.prior, alone, plan.go, now=given.now, around=around,
            flights=plan.ensemble.flights,
        )  # fmt: skip
        judged = preflight.judge_cell(window, window.cells[0], given, around, step=step)
        return JudgedRelease(choice, judged, day)

    key = f"{_require(desk)}-{choice.key}"
    # only the last one is kept here, the last few are with their jobs
    return _done(desk, "release", key) or desk.keep("release", key, make)


def desk_layers(desk: Desk) -> Any:
    """What the pack adds to a map; None without a pack."""
    pack = desk.pack()
    if pack is None:
        return None
    return desk.keep("layers", _require(desk), lambda: preflight.layers_of(preflight.read_maps(pack)))


def _curves(desk: Desk, choice: Choice, step: Step) -> Curves:
    release, key = judged_release(desk, choice, step), f"{_require(desk)}-{choice.key}"
    step("other delays and other lifts")
    return _done(desk, "curves", key) or desk.keep(
        "curves", key, lambda: preflight.curves_of(release.judged, release.known.given, release.known.around)
    )


def _options(desk: Desk) -> preflight.LaunchOptions:
    plan = desk.plan()
    return preflight.launch_options(
        plan, step_s=plan.window.step_s, fills=plan.fill_options, balloons=plan.balloon_options
    )


def _one_of(name: str, asked: str | None, known: dict[str, Any]) -> Any:
    if asked is None:
        return next(iter(known.values()))
    if asked not in known:
        fix = f"One of: {', '.join(known)}."
        raise BadInput(Finding(name, asked, "the launch window has none of that name", fix))
    return known[asked]


def _require(desk: Desk) -> str:
    """What everything here depends on: a digest of the plan file and of what the pack lists."""
    digest = desk.plan_digest()
    if digest is None:
        raise Refused(409, f"There is no {desk.plan_path.name} yet", "Begin on page Plan.")
    desk.plan()
    pack = desk.pack()
    if pack is None:
        fix = f"Make one while there is internet: pappus fetch {desk.plan_path.name}; with --winds it packs your own."
        raise Refused(409, "There is no field pack yet: no winds, map or airspace", fix)
    held = [digest, str(desk.prior_path), *(f"{one.kind} {one.sha256}" for one in pack.files)]
    return hashlib.sha256(json.dumps(held).encode()).hexdigest()[:16]


def _whole(pack: Pack | None) -> Pack:
    """The pack, with everything that the flights need as it was packed."""
    assert pack is not None
    hurt = [
        Finding(file.path, "", why, "Fetch again, or copy the pack again.")
        for file, why in damage(pack)
        if file.kind in _JUDGED_BY
    ]
    if hurt:
        raise BadInput(*hurt)
    return pack


def _asked(desk: Desk, person: Person, kind: str, key: str, work: Callable[[Step], Any]) -> Job:
    """The job; a viewer sees what there is and sets no laptop to work."""
    begun = any((one.kind, one.key) == (kind, key) and one.state != "failed" for one in desk.jobs.all())
    if not begun and not person.role.may(Role.CREW):
        raise Refused(409, "The crew has not computed this yet", "It shows here as soon as one of the crew opens it.")
    return desk.jobs.ask(kind, key, work)


def _done(desk: Desk, kind: str, key: str) -> Any:
    """The result of a job; None when there is none yet."""
    if not any((one.kind, one.key, one.state) == (kind, key, "done") for one in desk.jobs.all()):
        return None
    return desk.jobs.ask(kind, key, lambda _: None).result


def _forget_old(folder: Path) -> None:
    """Only the newest folders of papers stay."""
    made = sorted((one for one in folder.iterdir() if one.is_dir()), key=lambda one: one.stat().st_mtime)
    for old in made[:-PAPERS_KEPT]:
        shutil.rmtree(old, ignore_errors=True)
