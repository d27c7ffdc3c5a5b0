"""JSON of other senders: a TOML file that a person writes says which of their keys is what, in which unit.

The file is explained in ``docs/receivers.md``; an example stands there.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from pappus.errors import BadFile, Finding
from pappus.sources.receivers._json_packet import KEYS, NUMBER_RANGES, fix_of
from pappus.sources.receivers._json_text import number
from pappus.sources.receivers._refused import Refused
from pappus.tracking import Fix
from pappus.units import Dimension, UnitError, parse_quantity

_LARGEST_FILE = 100_000
_DEEPEST_PATH = 6
_DIMENSIONS: dict[str, Dimension] = {
    "height_msl_m": "length", "height_ellipsoid_m": "length", "position_step_m": "length", "speed_m_s": "speed",
    "climb_m_s": "speed", "temperature_k": "temperature",
}  # fmt: skip
_OWN_UNITS: dict[str, dict[str, float]] = {
    "latitude_deg": {"deg": 1.0, "arcmin": 1 / 60, "arcsec": 1 / 3600, "rad": 57.29577951308232},
    "longitude_deg": {"deg": 1.0, "arcmin": 1 / 60, "arcsec": 1 / 3600, "rad": 57.29577951308232},
    "course_deg": {"deg": 1.0, "rad": 57.29577951308232},
    "battery_v": {"V": 1.0, "mV": 1e-3},
    "satellites": {"count": 1.0},
}
"""Units of the quantities that the reader of plan files does not know."""
_TIME_UNITS = {"unix s": 1.0, "unix ms": 1e-3, "iso": 0.0}
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_FIX_LISTS = {"none": "none", "two": "two-dimensional", "three": "three-dimensional"}


@dataclass(frozen=True)
class Source:
    """Where a value stands in the sender's object, and how it becomes SI: ``scale * value + offset``."""

    path: tuple[str, ...]
    scale: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True)
class Sender:
    """One kind of sender. ``when``: keys that must hold this value; the first sender of a file that fits is taken."""

    name: str
    when: tuple[tuple[tuple[str, ...], str | int | float | bool], ...]
    numbers: Mapping[str, Source]
    temperatures: Mapping[str, Source]
    tracker: tuple[str, ...] | None = None
    time: Source | None = None
    time_is_text: bool = False
    fix: tuple[str, ...] | None = None
    fix_words: Mapping[str, str] | None = None
    """The sender's value of the fix, as text, to our word."""

    def fits(self, found: Mapping[str, Any]) -> bool:
        """Whether the object is of this kind."""
        return all(_at(found, path) == value for path, value in self.when)

    def read(self, found: Mapping[str, Any]) -> Fix:
        """The object as one of our schema, then as a fix. Raises Refused."""
        ours: dict[str, Any] = {name: _scaled(found, source, name) for name, source in self.numbers.items()}
        ours["temperature_k"] = {
            name: _scaled(found, source, f"temperature_k.{name}") for name, source in self.temperatures.items()
        }
        if self.tracker is not None:
            name = _at(found, self.tracker)
            ours["tracker"] = str(name) if isinstance(name, int) else name
        if self.time is not None:
            ours["time_utc"] = _at(found, self.time.path) if self.time_is_text else _unix(found, self.time)
        if self.fix is not None and self.fix_words is not None:
            told = _at(found, self.fix)
            # a value that the file does not list is no fix: unknown is not good
            ours["fix"] = self.fix_words.get(_word(told), "none")
        if "fix" not in ours and ours.get("latitude_deg") is None and ours.get("longitude_deg") is None:
            ours["fix"] = "none"
        return fix_of(ours | {"sender": self.name})


def read_senders(path: Path) -> tuple[Sender, ...]:
    """The senders of a mapping file. Raises BadFile, naming each table and key that cannot be used."""
    try:
        text = path.read_bytes()
        if len(text) > _LARGEST_FILE:
            raise BadFile(Finding(str(path), "", f"more than {_LARGEST_FILE} bytes", "Give a mapping file."))
        tables = tomllib.loads(text.decode("utf-8")).get("sender", [])
    except OSError as error:
        raise BadFile(Finding(str(path), "", f"cannot be read: {error.strerror}", "Check the path.")) from error
    except ValueError as error:
        raise BadFile(Finding(str(path), "", f"is not TOML: {error}", "Mend the text.")) from error
    if not isinstance(tables, list) or not tables:
        raise BadFile(Finding(str(path), "", "holds no [[sender]]", "See docs/receivers.md for an example."))
    findings: list[Finding] = []
    senders = [_sender(table, f"{path.name}: sender {index}", findings) for index, table in enumerate(tables, 1)]
    if findings:
        raise BadFile(*findings)
    return tuple(senders)


def _sender(table: Any, where: str, findings: list[Finding]) -> Sender:
    if not isinstance(table, dict):
        findings.append(Finding(where, "", "is not a table", "Write [[sender]]."))
        return Sender("", (), {}, {})
    for key in table.keys() - {"name", "when", "keys"}:
        findings.append(Finding(f"{where}.{key}", "", "is not known", "Known: name, when, keys."))
    keys = table.get("keys", {})
    when = table.get("when", {})
    numbers: dict[str, Source] = {}
    temperatures: dict[str, Source] = {}
    texts: dict[str, dict[str, Any]] = {}
    for name, entry in keys.items() if isinstance(keys, dict) else ():
        at = f"{where}.keys.{name}"
        if name == "temperature_k" and isinstance(entry, dict) and "key" not in entry:
            temperatures |= {
                part: _source("temperature_k", one, f"{at}.{part}", findings) for part, one in entry.items()
            }
        elif name == "temperature_k":
            temperatures["outside"] = _source(name, entry, at, findings)
        elif name in NUMBER_RANGES:
            numbers[name] = _source(name, entry, at, findings)
        elif name in KEYS:
            texts[name] = entry if isinstance(entry, dict) else {"key": entry}
            if name == "time_utc":
                _choice(texts[name].get("unit"), _TIME_UNITS, f"{at}.unit", findings)
            _path(texts[name].get("key"), at, findings)
            if not all(isinstance(texts[name].get(words, []), list) for words in _FIX_LISTS):
                findings.append(Finding(at, "", "none, two and three are lists", "Write for example none = [0, 1]."))
        else:
            findings.append(Finding(at, "", "is not known", f"Known: {', '.join(KEYS)}."))
    for name in ("latitude_deg", "longitude_deg"):
        if name not in numbers:
            findings.append(Finding(f"{where}.keys.{name}", "", "is missing", "Say where the position stands."))
    conditions = []
    for key, value in when.items() if isinstance(when, dict) else ():
        if not isinstance(value, str | int | float | bool):
            findings.append(Finding(f"{where}.when.{key}", str(value), "is not one value", "Give a text or a number."))
        conditions.append((_path(key, f"{where}.when", findings), value))
    if findings:
        return Sender("", (), {}, {})
    time, fix, tracker = texts.get("time_utc"), texts.get("fix"), texts.get("tracker")
    return Sender(
        name=str(table.get("name", where)),
        when=tuple(conditions),
        numbers=numbers,
        temperatures=temperatures,
        tracker=_path(tracker["key"], where, findings) if tracker else None,
        time=Source(_path(time["key"], where, findings), _TIME_UNITS[time["unit"]]) if time else None,
        time_is_text=time is not None and time["unit"] == "iso",
        fix=_path(fix["key"], where, findings) if fix else None,
        fix_words={_word(value): ours for name, ours in _FIX_LISTS.items() for value in fix.get(name, [])}
        if fix
        else None,
    )


def _source(name: str, entry: Any, where: str, findings: list[Finding]) -> Source:
    if not isinstance(entry, dict) or entry.keys() - {"key", "unit", "times"} or "unit" not in entry:
        findings.append(
            Finding(
                where, str(entry), "needs a key and its unit", 'Write { key = "alt", unit = "ft" }, times as wanted.'
            )
        )
        return Source(())
    times = entry.get("times", 1.0)
    if isinstance(times, bool) or not isinstance(times, int | float):
        findings.append(Finding(f"{where}.times", str(times), "is not a number", "Write for example 1e-7."))
        times = 1.0
    path = _path(entry.get("key"), where, findings)
    unit = entry["unit"]
    if name in _OWN_UNITS:
        _choice(unit, _OWN_UNITS[name], f"{where}.unit", findings)
        return Source(path, _OWN_UNITS[name].get(unit, 1.0) * times)
    try:
        dimension = _DIMENSIONS[name]
        # the zero of a temperature is not the zero of its unit, so one line through two points gives scale and offset
        low, high = (parse_quantity(f"{value} {unit}", dimension) for value in (100, 200))
    except UnitError as error:
        findings.append(Finding(f"{where}.unit", str(unit), error.reason, error.fix + "."))
        return Source(path)
    scale = (high - low) / 100.0
    return Source(path, scale * times, low - 100.0 * scale if dimension == "temperature" else 0.0)


def _choice(value: Any, known: Mapping[str, float], where: str, findings: list[Finding]) -> None:
    if not isinstance(value, str) or value not in known:
        findings.append(Finding(where, str(value), "is not known here", f"Write one of: {', '.join(known)}."))


def _path(key: Any, where: str, findings: list[Finding]) -> tuple[str, ...]:
    parts = tuple(key.split(".")) if isinstance(key, str) else ()
    if not parts or len(parts) > _DEEPEST_PATH or not all(parts):
        findings.append(Finding(where, str(key), "is not a key of the sender", 'Write for example "gps.alt".'))
    return parts


def _at(found: Any, path: tuple[str, ...]) -> Any:
    """What stands there; None where it does not. A number in the path counts the members of a list."""
    for part in path:
        if isinstance(found, Mapping):
            found = found.get(part)
        elif isinstance(found, list) and part.isascii() and part.isdigit() and int(part[:6]) < len(found):
            found = found[int(part[:6])]
        else:
            return None
    return found


def _scaled(found: Mapping[str, Any], source: Source, name: str) -> float | None:
    value = number(_at(found, source.path), name)
    return None if value is None else value * source.scale + source.offset


def _unix(found: Mapping[str, Any], source: Source) -> str | None:
    value = number(_at(found, source.path), "time_utc")
    if value is None:
        return None
    try:
        return (_EPOCH + timedelta(seconds=value * source.scale)).isoformat()
    except OverflowError as error:
        raise Refused("time_utc is not a time") from error


def _word(value: object) -> str:
    return str(value).lower()
