"""The plan file on disk: what can be wrong with it before a single key is read."""

from __future__ import annotations

import hashlib
import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from pappus.errors import BadPlan, Finding
from pappus.plan._build import build
from pappus.plan._checks import check_all
from pappus.plan._plan import Plan
from pappus.plan._reading import Reading

_MOST_BYTES = 1_000_000
_LONGEST_LINE = 20_000
_START = "Start from the example plan and change it; it is one text file in TOML."


def load_plan(path: str | Path) -> Plan:
    """The plan in a TOML file.

    Raises ``BadPlan`` with one finding for each mistake, in the order of the file. Blocks and items are counted from 1,
    so ``package[2].mass`` is the mass in the second ``[[package]]``.
    """
    data = _bytes(Path(path))
    reading = Reading(_tables(data, Path(path).name))
    keys = reading.keys()
    check_all(keys, reading)
    if findings := reading.findings():
        raise BadPlan(*findings)
    return build(keys, reading, hashlib.sha256(data).hexdigest())


def example_plan_text() -> str:
    """A commented plan of an invented flight; it loads as it stands."""
    return resources.files("pappus.plan").joinpath("example.toml").read_text("utf-8")


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _refused(path.name or str(path), "", "a folder, not a file", "Name the plan file in it.")
        if not path.exists():
            raise _refused(str(path), "", "no such file", "Check the name, or write a new plan from the example.")
        if not path.is_file():  # a device or a pipe may never end
            raise _refused(path.name, "", "not a regular file", "Name the plan file.")
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(repr(str(path)[:80]), "", f"cannot be read: {reason}", "Check name and permissions.") from error
    if len(data) > _MOST_BYTES:
        raise _refused(path.name, "", "larger than 1 MB, so it is not a plan", _START)
    return data


def _tables(data: bytes, name: str) -> dict[str, Any]:
    if b"\0" in data:
        raise _refused(name, "", "binary or UTF-16, not UTF-8 text", f"Save it as UTF-8. {_START}")
    try:
        text = data.decode("utf-8-sig")  # some editors put a byte order mark in front
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _refused(name, "", f"line {line} is not UTF-8 text", "Save it as UTF-8.") from error
    longest = max(map(len, text.splitlines()), default=0)
    if longest > _LONGEST_LINE:  # one dotted key as long as that would nest deeper than the interpreter can go
        raise _refused(name, "", f"a line of {longest} characters, so it is not a plan", _START)
    try:
        tables = tomllib.loads(text)
    except RecursionError as error:
        raise _refused(name, "", "nested too deeply to be a plan", _START) from error
    except ValueError as error:  # the syntax error of TOML, and numbers of thousands of digits
        raise _syntax(text, name, str(error)) from error
    if not tables:
        raise _refused(name, "", "empty", _START)
    return tables


def _syntax(text: str, name: str, message: str) -> BadPlan:
    place = re.search(r"at line (\d+), column (\d+)", message)
    lines = text.replace("\r\n", "\n").split("\n")
    shown = lines[int(place[1]) - 1].strip()[:60] if place else ""
    fix = 'A line is key = value, text stands in quotes: mass = "1200 g".'
    return _refused(name, shown if shown.isprintable() else repr(shown), f"not valid TOML: {message}", fix)


def _refused(field: str, value: str, reason: str, fix: str) -> BadPlan:
    return BadPlan(Finding(field, value, reason, fix))
