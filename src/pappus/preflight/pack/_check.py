"""What a field pack lacks for its plan: what matters most first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from pappus.export import Page, Rows, Section, Sentences
from pappus.plan import Plan, Site
from pappus.preflight.winds import HOLD
from pappus.sources import Pack, PackFile, damage

Weight = Literal["stops the brief", "weakens it", "leaves it open"]
ORDER: tuple[Weight, ...] = ("stops the brief", "weakens it", "leaves it open")
OLD_FORECAST = timedelta(hours=24)
"""Own rule: four runs of a global model later, a newer one ought to be there."""
_OPEN = {
    "terrain": "the ground is that of the forecast model: landing heights may be off by hundreds of metres in hills",
    "map": "roads, buildings, water and power lines are not known",
    "airspace": "airspace cannot be told",
    "zones": "no permit area and no keep-out zones are drawn",
}
_TITLES: dict[Weight, str] = {
    "stops the brief": "Stops the brief", "weakens it": "Weakens it", "leaves it open": "Leaves questions open",
}  # fmt: skip
_EVERYWHERE = (-90.0, 90.0, -180.0, 180.0)


@dataclass(frozen=True)
class Lack:
    """One thing that is missing, damaged, stale or too small."""

    weight: Weight
    what: str
    why: str
    mend: str


def check_pack(plan: Plan, pack: Pack, now: datetime) -> tuple[Lack, ...]:
    """Everything that the pack lacks, the worst first; empty when nothing does."""
    lacks: list[Lack] = []
    if pack.plan_sha256 != plan.source_sha256:
        lacks.append(Lack("weakens it", "plan", "the plan was changed after the pack was made", "Fetch again."))
    hurt = damage(pack)
    for file, reason in hurt:
        weight: Weight = "stops the brief" if file.kind in ("winds", "terrain", "prior") else "weakens it"
        lacks.append(Lack(weight, file.path, reason, "Copy the pack again, or fetch again."))
    lacks += [Lack("weakens it", file.path, line, "Fetch again later.") for file in pack.files for line in file.notes]
    whole = [file for file in pack.of_kind("winds") if not any(file is one for one, _ in hurt)]
    lacks += _winds(plan, whole, now)
    for kind, consequence in _OPEN.items():
        files = [file for file in pack.files if file.kind == kind]
        if not files:
            lacks.append(Lack("leaves it open", kind, f"none is packed: {consequence}", f"Fetch with --{kind} FILE."))
        elif kind in ("terrain", "map"):
            lacks += _uncovered(plan, files, kind, consequence)
        for file in files:
            if file.expires is not None and file.expires < now:
                why = f"it ought to have been renewed by {file.expires:%Y-%m-%d}"
                lacks.append(Lack("weakens it", file.path, why, f"Get the present {kind} and fetch again."))
    return tuple(sorted(lacks, key=lambda lack: ORDER.index(lack.weight)))


def _winds(plan: Plan, files: list[PackFile], now: datetime) -> list[Lack]:
    if not files:
        return [Lack("stops the brief", "winds", "no winds are packed", "Fetch with --centre NAME or --winds FILE.")]
    lacks = []
    lands = plan.window.closes + timedelta(seconds=plan.limits.longest_flight_s)
    known = [file for file in files if file.valid_from is not None and file.valid_until is not None]
    first = min((file.valid_from for file in known if file.valid_from), default=None)
    last = max((file.valid_until for file in known if file.valid_until), default=None)
    if first is None or last is None or first > plan.window.opens or last < plan.window.closes:
        held = "no time is known" if first is None else f"they hold from {first:%m-%d %H:%MZ} to {last:%m-%d %H:%MZ}"
        window = f"{plan.window.opens:%m-%d %H:%MZ} to {plan.window.closes:%m-%d %H:%MZ}"
        release = plan.window.release
        flies = first is not None and last is not None and first - HOLD <= release <= last + HOLD
        weight: Weight = "weakens it" if flies else "stops the brief"
        lacks.append(Lack(weight, "winds", f"{held}, the window is {window}", "Fetch again."))
    elif last < lands:
        why = f"they end at {last:%m-%d %H:%MZ}, the last flight may land at {lands:%m-%d %H:%MZ}"
        lacks.append(Lack("weakens it", "winds", why, "Fetch again: later steps are held with a growing error."))
    issued = max((file.issued for file in files if file.issued), default=None)
    if issued is not None and now - issued > OLD_FORECAST:
        hours = (now - issued).total_seconds() / 3600.0
        why = f"the newest are {hours:.0f} h old"
        lacks.append(Lack("weakens it", "winds", why, "Fetch again: a newer run ought to be there."))
    for site in plan.sites:
        if not any(_holds(file, site) for file in files):
            why = f"site {site.name} lies outside all of them"
            lacks.append(Lack("stops the brief", "winds", why, "Fetch again for this plan."))
    return lacks


def _uncovered(plan: Plan, files: list[PackFile], kind: str, consequence: str) -> list[Lack]:
    outside = [site.name for site in plan.sites if not any(_holds(file, site) for file in files)]
    if not outside:
        return []
    why = f"site {', '.join(outside)} outside of what is packed: there {consequence}"
    return [Lack("weakens it", kind, why, "Bring the files for that place.")]


def _holds(file: PackFile, site: Site) -> bool:
    south, north, west, east = file.box_deg or _EVERYWHERE
    width = east - west if east >= west else east - west + 360.0
    return south <= site.latitude_deg <= north and (site.longitude_deg - west) % 360.0 <= width


def pack_page(plan: Plan, pack: Pack, lacks: tuple[Lack, ...]) -> Page:
    """The state of a pack in words."""
    worst = lacks[0].weight if lacks else None
    lead = {
        None: "The pack holds all that the plan can use.",
        "stops the brief": "Not ready: the pack cannot carry a brief.",
        "weakens it": "Usable, with weak spots.",
        "leaves it open": "Ready for a brief; some questions stay open.",
    }[worst]
    sections: list[Section] = []
    for weight, title in _TITLES.items():
        lines = tuple(f"{lack.what}: {lack.why}. {lack.mend}" for lack in lacks if lack.weight == weight)
        if lines:
            sections.append(Sentences(title, lines))
    held = tuple(
        (file.path, f"{file.size_bytes / 1e6:.2f} MB, {_dates(file)}{file.origin}; {file.licence}")
        for file in pack.files
    )
    sections.append(Rows("In the pack", held))
    notes = f"Made {pack.made:%Y-%m-%d %H:%MZ} for {plan.mission.name}."
    return Page((lead,), "", (*sections, Sentences("", (notes,))), "")


def _dates(file: PackFile) -> str:
    issued = "" if file.issued is None else f"of {file.issued:%Y-%m-%d %H:%MZ}, "
    until = "" if file.valid_until is None else f"until {file.valid_until:%Y-%m-%d %H:%MZ}, "
    return issued + until
