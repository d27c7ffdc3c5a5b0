"""Make the field pack of a plan: forecasts fetched, the crew's own files copied, and a manifest of it all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from pappus.plan import Plan
from pappus.preflight.winds import around
from pappus.sources import (
    CENTRES,
    DownloadRules,
    Fetched,
    FetchWish,
    Pack,
    PackFile,
    digest,
    fetch,
    join_fetched,
    looks_like_forecast,
    plan_fetch,
    put_file,
    read_forecast,
    read_map_extract,
    read_openair,
    read_pack,
    read_prior,
    read_sounding,
    read_terrain,
    read_zones,
    unique_name,
    write_pack,
)

AIRSPACE_CYCLE = timedelta(days=28)
"""Aeronautical data change every 28 days (ICAO Annex 15, from memory)."""
FETCHED = ".fetched"
"""What was fetched lies here as it came; no part of the pack."""


@dataclass(frozen=True)
class Wanted:
    """One forecast to be fetched."""

    centre: str
    base_url: str | None = None
    members: tuple[int, ...] | None = None
    run: datetime | None = None
    wait_s: float = 0.0
    rules: DownloadRules | None = None


def pack_folder(plan_path: Path) -> Path:
    """Where the pack of a plan lies unless the crew says otherwise: beside the plan."""
    return plan_path.with_suffix(".pack")


def make_pack(
    plan: Plan,
    plan_path: Path,
    folder: Path,
    wanted: Sequence[Wanted],
    brought: Mapping[str, Sequence[Path]],
    *,
    now: datetime,
    step: Callable[[str], None],
) -> Pack:
    """Fetch and copy everything, and write the manifest last: until then the pack is as it was.

    ``brought`` holds the crew's own files by kind: winds, terrain, map, airspace, zones, prior. A forecast that is
    fetched takes the place of older runs of its centre, a file that is brought that of the one of its name.
    """
    old = read_pack(folder).files if (folder / "manifest.json").exists() else ()
    new = [_put(folder, plan_path, PackFile("", "plan", plan_path.name, "own", "", 0), old)]
    for one in wanted:
        step(f"{one.centre}: looking for the newest run")
        new.append(_fetched(plan, folder, one, step))
    for kind, paths in brought.items():
        for path in paths:
            step(path.name)
            new.append(_put(folder, path, _described(kind, path, plan, now), (*new, *old)))
    kept = [file for file in old if not _outdone(file, new, wanted)]
    pack = Pack(folder, plan.source_sha256, now, (*new, *kept))
    write_pack(pack)
    named = {file.path for file in pack.files}
    for file in old:  # only now: until the manifest was there, the old pack had to stay whole
        if file.path not in named:
            (folder / file.path).unlink(missing_ok=True)
    return pack


def _put(folder: Path, path: Path, entry: PackFile, others: Sequence[PackFile]) -> PackFile:
    """Into a place of its own: nothing that the present manifest names is written over."""
    same = [file for file in others if (file.kind, file.origin) == (entry.kind, entry.origin)]
    for file in same:
        if path.is_file() and (folder / file.path).is_file() and digest(path) == file.sha256:
            return put_file(folder, path, replace(entry, path=file.path))
    name = unique_name(path.name, (file.path.split("/")[-1] for file in others))
    return put_file(folder, path, replace(entry, path=f"{entry.kind}/{name}"))


def _outdone(file: PackFile, new: Sequence[PackFile], wanted: Sequence[Wanted]) -> bool:
    """Packed again under this or another name, or a run of a centre of which there is a newer one."""
    again = any(one.path == file.path or (one.kind, one.origin) == (file.kind, file.origin) for one in new)
    return again or (file.kind == "winds" and any(file.path.startswith(f"winds/{one.centre}-2") for one in wanted))


def _fetched(plan: Plan, folder: Path, wanted: Wanted, step: Callable[[str], None]) -> PackFile:
    """One file of the newest run; what it was joined from stays beside the pack, so that a broken fetch goes on."""
    area = around(plan)
    wish = FetchWish(
        centre=wanted.centre, area=area, first_release=plan.window.opens, last_release=plan.window.closes,
        longest_flight_s=plan.limits.longest_flight_s, members=wanted.members, run=wanted.run, wait_s=wanted.wait_s,
    )  # fmt: skip
    chosen = plan_fetch(wish, base_url=wanted.base_url, rules=wanted.rules, step=step)
    name = f"{wanted.centre}-{chosen.run:%Y%m%dT%H}"
    apart = folder / FETCHED / name
    got: Fetched = fetch(chosen, apart, rules=wanted.rules, step=step)
    joined = apart / "joined.grib2"
    sha256 = join_fetched(got, joined)
    path = f"winds/{name}-{sha256[:8]}.grib2"
    valid = [file.valid for file in got.files]
    members = f", {len(chosen.members)} members" if len(chosen.members) > 1 else ""
    packed = put_file(
        folder, joined,
        PackFile(
            path=path, kind="winds", licence=got.files[0].attribution, sha256=sha256, size_bytes=0, issued=chosen.run,
            origin=f"{chosen.base_url}: {len(got.files)} files{members}, {got.moved_bytes / 1e6:.1f} MB moved of "
            f"{got.whole_bytes / 1e6:.1f} MB", valid_from=min(valid), valid_until=max(valid), box_deg=area,
            notes=chosen.notes,
        ),
    )  # fmt: skip
    joined.unlink()
    return packed


def _described(kind: str, path: Path, plan: Plan, now: datetime) -> PackFile:
    """What a file of the crew's holds; reading it whole shows now, and not in the field, that it can be used."""
    plain = PackFile("", "plan", path.name, "as the crew had it", "", 0)
    if kind == "winds":
        return _winds(path, plan, plain)
    if kind == "terrain":
        (grid,) = read_terrain([path])
        south, north = float(grid.latitude_deg[0]), float(grid.latitude_deg[-1])
        west, east = float(grid.longitude_deg[0]), float(grid.longitude_deg[-1])
        return replace(plain, kind="terrain", box_deg=(south, north, west, east))
    if kind == "map":
        extract = read_map_extract(path)
        box = extract.box
        return replace(
            plain, kind="map", licence=extract.attribution, issued=extract.newest_edit,
            box_deg=(box.south_deg, box.north_deg, box.west_deg, box.east_deg),
        )  # fmt: skip
    if kind == "airspace":
        airspace = read_openair(path)
        lost = tuple(f"not understood: {finding}" for finding in airspace.not_understood)
        return replace(plain, kind="airspace", issued=now, expires=now + AIRSPACE_CYCLE, notes=lost)
    if kind == "zones":
        left = tuple(f"not used: {finding}" for finding in read_zones(path).not_used)
        return replace(plain, kind="zones", notes=left)
    read_prior(path)
    return replace(plain, kind="prior")


def _winds(path: Path, plan: Plan, plain: PackFile) -> PackFile:
    if looks_like_forecast(path):
        fields = [one.field for one in read_forecast([path], column_radius_m=plan.limits.sounding_distance_m)]
        boxes = [field.coverage for field in fields]
        return replace(
            plain, kind="winds", issued=max(field.issued for field in fields),
            valid_from=min(box.first_valid for box in boxes), valid_until=max(box.last_valid for box in boxes),
            box_deg=(boxes[0].south_deg, boxes[0].north_deg, boxes[0].west_deg, boxes[0].east_deg),
        )  # fmt: skip
    release = max(sounding.release for sounding in read_sounding(path))
    age = timedelta(seconds=plan.limits.sounding_age_s)
    return replace(plain, kind="winds", issued=release, valid_from=release - age, valid_until=release + age)


def centre_names() -> str:
    """For a person who has to choose."""
    return ", ".join(f"{name} ({centre.title})" for name, centre in CENTRES.items())
