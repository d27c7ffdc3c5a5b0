"""The field pack: one folder with all that a plan needs where there is no internet, and a manifest of what is in it.

A file comes into the pack whole or not at all: it is copied beside its place, flushed to disk, and then renamed. The
manifest is written in the same way, last, so that an interrupted fetch leaves the pack as it was.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any, Literal, get_args

from pappus.errors import BadFile, BadInput, Finding

Kind = Literal["plan", "winds", "terrain", "map", "airspace", "zones", "prior"]
KINDS: tuple[Kind, ...] = get_args(Kind)
MANIFEST = "manifest.json"
FORM = 1
_MOST_MANIFEST_BYTES = 20_000_000
_CHUNK = 1 << 20


@dataclass(frozen=True)
class PackFile:
    """One file of a pack."""

    path: str
    """From the folder of the pack, with slashes: packs travel between machines."""
    kind: Kind
    origin: str
    """Where it came from: an address, or the name of the file that the crew gave."""
    licence: str
    sha256: str
    size_bytes: int
    issued: datetime | None = None
    valid_from: datetime | None = None
    valid_until: datetime | None = None
    """None for what does not age."""
    box_deg: tuple[float, float, float, float] | None = None
    """South, north, west, east; None where it is not known."""
    expires: datetime | None = None
    """From when a newer one ought to be there, such as the next cycle of airspace."""
    notes: tuple[str, ...] = ()
    """What was left out of it or could not be had."""


@dataclass(frozen=True)
class Pack:
    """A folder and what its manifest says."""

    folder: Path
    plan_sha256: str
    made: datetime
    files: tuple[PackFile, ...]

    def of_kind(self, *kinds: Kind) -> tuple[PackFile, ...]:
        """Files of some kinds, in the order of the manifest."""
        return tuple(file for file in self.files if file.kind in kinds)

    def paths(self, *kinds: Kind) -> list[Path]:
        """Where the files of some kinds lie."""
        return [self.folder / file.path for file in self.of_kind(*kinds)]


def read_pack(folder: Path) -> Pack:
    """The manifest of a pack; its files are looked at by ``damage`` only.

    Raises BadFile when there is no manifest, or one that was not written by pappus or points outside its folder.
    """
    path = folder / MANIFEST
    try:
        if path.stat().st_size > _MOST_MANIFEST_BYTES:
            raise _bad(path, "larger than any manifest")
        data = json.loads(path.read_bytes().decode("utf-8"))
        if data["form"] != FORM:
            raise _bad(path, f"of form {data['form']!r}, and this pappus reads form {FORM}")
        files = tuple(_file(entry) for entry in data["files"])
        pack = Pack(folder, str(data["plan_sha256"]), _time(data["made"]), files)
    except FileNotFoundError:
        raise _bad(path, "there is no manifest, so this is no field pack") from None
    except (OSError, UnicodeDecodeError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise _bad(path, f"damaged ({type(error).__name__}: {str(error)[:80]})") from None
    for file in pack.files:
        require_inside(folder, file.path)
    return pack


def damage(pack: Pack) -> list[tuple[PackFile, str]]:
    """Files that are missing, or not as they were packed, and why."""
    found = []
    for file in pack.files:
        path = pack.folder / file.path
        if not path.is_file():
            found.append((file, "missing"))
        elif path.stat().st_size != file.size_bytes:
            found.append((file, f"{path.stat().st_size:,} bytes long instead of {file.size_bytes:,}"))
        elif digest(path) != file.sha256:
            found.append((file, "changed since it was packed"))
    return found


def put_file(folder: Path, source: Path, file: PackFile) -> PackFile:
    """Copy a file into a pack, durably and whole; returns the entry with digest and size.

    Raises BadFile when the source cannot be read, BadInput when the pack cannot be written (a full disk).
    """
    require_inside(folder, file.path)
    target = folder / file.path
    part = target.with_name(f".{target.name}.part")
    size, total = 0, hashlib.sha256()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with source.open("rb") as reader, part.open("wb") as writer:
                while chunk := reader.read(_CHUNK):
                    writer.write(chunk)
                    total.update(chunk)
                    size += len(chunk)
                _to_disk(writer)
            os.replace(part, target)
        finally:
            part.unlink(missing_ok=True)
    except FileNotFoundError:
        raise _bad(source, "there is no such file") from None
    except OSError as error:
        raise BadInput(_unwritable(target, error)) from error
    return replace(file, sha256=total.hexdigest(), size_bytes=size)


def write_pack(pack: Pack) -> None:
    """Write the manifest; files in the folder that it does not name stay, and are no part of the pack."""
    data = {
        "form": FORM,
        "plan_sha256": pack.plan_sha256,
        "made": _said(pack.made),
        "files": [{key: _said(value) for key, value in asdict(file).items()} for file in pack.files],
    }
    path = pack.folder / MANIFEST
    part = path.with_name(f".{path.name}.part")
    try:
        pack.folder.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("w", encoding="utf-8") as writer:
                json.dump(data, writer, indent=1, ensure_ascii=False)
                _to_disk(writer)
            os.replace(part, path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise BadInput(_unwritable(path, error)) from error


def digest(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as reader:
        return hashlib.file_digest(reader, "sha256").hexdigest()


def require_inside(folder: Path, relative: str) -> None:
    """Raise BadFile for a path that would leave the folder: a manifest may come from anybody's stick."""
    pure = PurePosixPath(relative)
    leaves = pure.is_absolute() or ".." in pure.parts or "\\" in relative or "\0" in relative or not pure.parts
    if not leaves and ":" not in relative:
        leaves = not (folder / relative).resolve().is_relative_to(folder.resolve())
    if leaves or ":" in relative:
        raise _bad(folder / MANIFEST, f"it points outside its folder: {relative[:80]!r}")


def unique_name(name: str, taken: Iterable[str]) -> str:
    """A name that no file of the pack has yet."""
    used, stem, dot, ending = set(taken), *name.partition(".")
    number = 2
    while name in used:
        name, number = f"{stem}-{number}{dot}{ending}", number + 1
    return name


def _file(entry: dict[str, Any]) -> PackFile:
    known = dict(entry)
    for key in ("issued", "valid_from", "valid_until", "expires"):
        known[key] = None if known.get(key) is None else _time(known[key])
    box = known.get("box_deg")
    known["notes"] = tuple(str(line) for line in known.get("notes") or ())
    known["box_deg"] = None if box is None else tuple(float(edge) for edge in box)
    file = PackFile(**known)
    if file.kind not in KINDS or (file.box_deg is not None and len(file.box_deg) != 4):
        raise ValueError(f"no such kind of file: {file.kind!r}")
    if not isinstance(file.path, str) or not isinstance(file.size_bytes, int):
        raise ValueError("a path or a size is missing")
    return file


def _time(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"a time without zone: {text}")
    return moment


def _said(value: object) -> object:
    return value.isoformat() if isinstance(value, datetime) else value


def _to_disk(writer: Any) -> None:
    writer.flush()
    os.fsync(writer.fileno())


def _bad(path: Path, reason: str) -> BadFile:
    return BadFile(Finding(path.name, str(path.parent), reason, "Make the pack anew: pappus fetch PLAN."))


def _unwritable(path: Path, error: OSError) -> Finding:
    return Finding(path.name, str(path.parent), f"cannot be written: {error.strerror}", "Free some space, or move it.")
