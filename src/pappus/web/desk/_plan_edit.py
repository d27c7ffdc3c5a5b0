"""Changes to a plan file that keep its comments: edited text in, the same plan with a few other values out."""

from __future__ import annotations

import os
import re
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pappus.errors import BadInput, BadPlan, Finding
from pappus.plan import Plan, load_plan

_PATH = re.compile(r"[a-z_]+(\[\d{1,2}\])?(\.[a-z_]+(\[\d{1,2}\])?){0,3}")


@dataclass(frozen=True)
class Edit:
    """One key and its new value; None takes the key out. ``package[2].mass`` is in the second ``[[package]]``."""

    path: str
    value: str | float | int | bool | None


def plan_tables(path: Path) -> dict[str, Any]:
    """The plan file as its keys stand, unread; an empty table when it is no TOML."""
    try:
        return tomllib.loads(path.read_text("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return {}


def phones_in(path: Path) -> tuple[str, ...]:
    """Every value of a key ``phone``, wherever it stands."""

    def found(value: Any) -> list[str]:
        if isinstance(value, dict):
            own = [str(value["phone"])] if value.get("phone") else []
            return own + [phone for one in value.values() for phone in found(one)]
        return [phone for one in value for phone in found(one)] if isinstance(value, list) else []

    return tuple(dict.fromkeys(found(plan_tables(path))))


def edited(text: str, edits: Sequence[Edit]) -> str:
    """The text with the edits, all else as it was, comments too; raises ``BadInput`` when a path leads nowhere."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for edit in edits:
            _apply(document, edit)
        return tomlkit.dumps(document)
    except (TOMLKitError, RecursionError) as error:
        raise BadPlan(Finding("plan", "", f"not valid TOML: {error}", "Mend the file in an editor.")) from error


def plan_of(text: str, name: str) -> Plan:
    """The plan in a text that is not saved; raises ``BadPlan`` as ``load_plan`` does."""
    with tempfile.TemporaryDirectory(prefix="pappus-draft-") as folder:
        path = Path(folder) / name
        path.write_bytes(text.encode("utf-8"))
        return load_plan(path)


def save(path: Path, text: str) -> None:
    """The whole file or the old one, with the permissions it had."""
    handle, part = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        Path(part).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
        Path(part).replace(path)
    except OSError:
        Path(part).unlink(missing_ok=True)
        raise


def _apply(document: Any, edit: Edit) -> None:
    if not _PATH.fullmatch(edit.path):
        raise BadInput(Finding(edit.path[:60], "", "not the path of a key", "A path is table.key or table[2].key."))
    *tables, last = edit.path.split(".")
    place = document
    for name in tables:
        place = _inside(place, name, edit)
    key, number = _parts(last)
    if number is not None:
        _apply_to_row(place, key, number, edit)
    elif edit.value is None:
        place.pop(key, None)
    else:
        place[key] = _kept_form(place.get(key), edit.value)


def _apply_to_row(place: Any, key: str, number: int, edit: Edit) -> None:
    """One item of a list such as ``edges[2]``, or a whole block such as ``package[2]``, which can only be taken out."""
    rows = _rows(place, key, edit)
    if number > len(rows) + (edit.value is not None):
        raise _nowhere(edit)
    if edit.value is None:
        del rows[number - 1]
        if not rows:
            place.pop(key)
    elif number <= len(rows) and isinstance(rows[number - 1], dict):
        raise _nowhere(edit)
    elif number > len(rows):
        rows.append(edit.value)
    else:
        rows[number - 1] = edit.value


def _inside(place: Any, name: str, edit: Edit) -> Any:
    """The table of this name, or the block; one block more than there are is begun."""
    import tomlkit

    key, number = _parts(name)
    if number is None:
        if key not in place:
            place[key] = tomlkit.table()
        inner = place[key]
    else:
        if key not in place:
            place[key] = tomlkit.aot()
        rows = _rows(place, key, edit)
        if number == len(rows) + 1 and isinstance(rows, tomlkit.items.AoT):
            rows.append(tomlkit.table())
        if number > len(rows):
            raise _nowhere(edit)
        inner = rows[number - 1]
    if not isinstance(inner, dict):
        raise _nowhere(edit)
    return inner


def _rows(place: Any, key: str, edit: Edit) -> Any:
    if key not in place and edit.value is not None:
        place[key] = []
    rows = place.get(key)
    if not isinstance(rows, list):
        raise _nowhere(edit)
    return rows


def _parts(name: str) -> tuple[str, int | None]:
    """``package[2]`` is package and 2; a bare name has no number."""
    key, _, number = name.partition("[")
    if not number:
        return key, None
    if int(number[:-1]) < 1:
        return key, 10**6  # counted from 1, so 0 is nowhere
    return key, int(number[:-1])


def _nowhere(edit: Edit) -> BadInput:
    return BadInput(Finding(edit.path, "", "leads to no key of the file", "Load the page again."))


def _kept_form(old: Any, new: str | float | int | bool) -> Any:
    """Times stay times: TOML has a form of its own for them."""
    if isinstance(old, datetime) and isinstance(new, str):
        try:
            return datetime.fromisoformat(new)
        except ValueError:
            return new  # the plan will say what is wrong with it
    if isinstance(old, float) and isinstance(new, int) and not isinstance(new, bool):
        return float(new)
    return new
