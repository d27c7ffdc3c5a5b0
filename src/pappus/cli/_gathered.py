"""What a command before the flight works with: the plan, and everything of its field pack."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from pappus import preflight
from pappus.cli import _screen as screen
from pappus.cli._day_options import DayOptions
from pappus.decision import Decision, from_json
from pappus.errors import BadInput, Finding
from pappus.export import MapLayers
from pappus.plan import Plan, load_plan
from pappus.sources import (
    Pack,
    damage,
    load_countries,
    load_map_lines,
    load_places,
    read_pack,
    read_prior,
    read_terrain,
)


@dataclass(frozen=True, eq=False)
class Day:
    """Read once for a command."""

    given: preflight.Given
    around: preflight.Around | None
    """None where winds were named and there is no pack: then nothing beside them is judged."""
    layers: MapLayers | None

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.given.plan


def gather(options: DayOptions, step: Callable[[str], None]) -> Day:
    """Everything, from the files that were named and else from the pack. Raises BadInput where the winds are missing.

    Whoever names winds and no pack wants a quick answer on them alone.
    """
    from pappus.trajectory import kernel_is_compiled

    loaded, now = load_plan(options.plan), datetime.now(UTC)
    winds, terrain, prior, held = options.winds, options.terrain, options.prior, None
    if not winds or options.pack is not None:
        held = _pack(options.plan, options.pack)
        own = held.paths("prior")
        winds = winds or _winds(held)
        terrain, prior = terrain or held.paths("terrain"), prior or (own[0] if own else None)
    step("reading the winds")
    fields, places = preflight.gather_winds(winds, loaded), load_places()
    if not kernel_is_compiled():
        screen.note("Compiling the flight kernel for this machine, once: about half a minute.")
    given = preflight.Given(loaded, fields, places, read_prior(prior), tuple(read_terrain(terrain or [])), now)
    if held is None:
        return Day(given, None, None)
    step("reading the map")
    maps = preflight.read_maps(held)
    around = preflight.gather_around(loaded, options.plan, maps, given.terrain, places, load_countries())
    return Day(given, around, preflight.layers_of(maps))


def last_decision(folder: Path | None) -> Decision | None:
    """What the briefing in a folder decided, if there is one that can be read."""
    path = None if folder is None else folder / preflight.DECISION
    if path is None or not path.is_file():
        return None
    try:
        return from_json(json.loads(path.read_text("utf-8")))
    except (OSError, ValueError, BadInput) as error:
        screen.note(f"The last decision cannot be compared: {path.name} cannot be read ({error}).")
        return None


def write(day: Day, briefing: preflight.Briefing, folder: Path, papers: preflight.Papers | None) -> None:
    """The briefing folder, with the document where something was judged."""
    preflight.write_folder(
        briefing, folder, screen.briefing_text(briefing), load_map_lines(), day.given.places, day.layers,
        papers=papers, made_utc=day.given.now,
    )  # fmt: skip


def _pack(plan: Path, folder: Path | None) -> Pack:
    """The field pack, with winds, terrain and prior as they were packed: what else is hurt becomes a line."""
    place = folder or preflight.pack_folder(plan)
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
    return pack


def _winds(pack: Pack) -> list[Path]:
    if not pack.of_kind("winds"):
        raise BadInput(Finding("winds", str(pack.folder), "the pack holds none", "Fetch with --centre or --winds."))
    return pack.paths("winds")
