"""From the tables of a file to keys that are checked one by one, so that every mistake is found in one go."""

from __future__ import annotations

import json
import re
import reprlib
from dataclasses import dataclass, field
from datetime import date, datetime, time
from difflib import get_close_matches
from typing import Any, TypeVar, get_args

from pydantic import ValidationError

from pappus.errors import Finding
from pappus.plan._key import Section
from pappus.plan._keys import PlanKeys

Path = tuple[str | int, ...]
SectionT = TypeVar("SectionT", bound=Section)

MOST_BLOCKS = 20
MOST_UNKNOWN = 20
"""So many unknown keys of one table are told one by one."""


def section_of(annotation: Any) -> tuple[type[Section] | None, bool]:
    """The table class behind the type of a key, and whether the table may be repeated."""
    if isinstance(annotation, type) and issubclass(annotation, Section):
        return annotation, False
    for inner in get_args(annotation):
        model, many = section_of(inner)
        if model is not None:
            return model, many or getattr(annotation, "__origin__", None) is list
    return None, False


def toml_text(value: Any) -> str:
    """A value as it would stand in the file."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, list):
        return "[" + ", ".join(toml_text(item) for item in value) + "]"
    return str(value)


def assignment(name: str, model: type[Section]) -> str:
    """The example of a key, as a line of the file."""
    examples = model.model_fields[name].examples
    return f"{name} = {toml_text(examples[0])}" if examples else f"[{name}]"


def block(model: type[Section], name: str, many: bool) -> str:
    """The head of a table with the examples of the keys that it must have."""
    needed = [assignment(key, model) for key, info in model.model_fields.items() if info.is_required()]
    head = f"[[{name}]]" if many else f"[{name}]"
    return f"{head} with {', '.join(needed)}" if needed else head


def _shown(value: Any) -> str:
    """What was given, short and fit for a terminal; of a table or of nothing there is nothing to show."""
    if value is None or isinstance(value, dict) or (isinstance(value, list) and value and isinstance(value[0], dict)):
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, str) and value.isprintable() and len(value) <= 60:
        return value
    return reprlib.repr(value)


def _dotted(path: Path) -> str:
    """``package[2].mass``: blocks and items of a list are counted from 1, as a person counts them."""
    parts = []
    for step in path:
        if isinstance(step, int):
            parts.append(f"[{step + 1}]")
        else:
            plain = step if re.fullmatch(r"[A-Za-z0-9_-]{1,60}", step) else reprlib.repr(step)
            parts.append(f".{plain}" if parts else plain)
    return "".join(parts)


@dataclass
class Reading:
    """A file that is being read: what it holds and what is wrong with it."""

    raw: dict[str, Any]
    _findings: list[tuple[tuple[int, ...], Finding]] = field(default_factory=list)

    def keys(self) -> PlanKeys:
        """Every key that can be used; the others are None and have a finding each."""
        return self._section(PlanKeys, self.raw, ())

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong, in the order of the file."""
        return tuple(finding for _, finding in sorted(self._findings, key=lambda placed: placed[0]))

    def given(self, path: Path) -> Any:
        """The value at a path as the file has it, or None."""
        value: Any = self.raw
        for step in path:
            try:
                value = value[step]
            except (KeyError, IndexError, TypeError):
                return None
        return value

    def refuse(self, path: Path, reason: str, fix: str = "") -> None:
        """Notes a mistake; without a fix the example of the key is shown."""
        fix = fix or f"Write for example {self._example(path)}."
        finding = Finding(_dotted(path), _shown(self.given(path)), reason, fix)
        self._findings.append((self._place(path), finding))

    def _place(self, path: Path) -> tuple[int, ...]:
        place: list[int] = []
        value: Any = self.raw
        for step in path:
            if isinstance(value, dict):
                steps = list(value)
                place.append(steps.index(step) if step in value else len(steps))
                value = value.get(step)
            elif isinstance(step, int):
                place.append(step)
                value = value[step]
        return tuple(place)

    def _example(self, path: Path) -> str:
        model: type[Section] = PlanKeys
        many = False
        names = [step for step in path if isinstance(step, str)]
        for name in names:
            inner, many = section_of(model.model_fields[name].annotation)
            if inner is None:
                return assignment(name, model)
            model = inner
        return block(model, ".".join(names), many)

    def _section(self, model: type[SectionT], table: dict[str, Any], at: Path) -> SectionT:
        known = model.model_construct(_fields_set=set(), **dict.fromkeys(model.model_fields))
        unknown = [name for name in table if name not in model.model_fields]
        for name in unknown[:MOST_UNKNOWN]:
            self._refuse_unknown(model, name, at)
        if more := unknown[MOST_UNKNOWN:]:
            fix = f"Keys that are known here: {', '.join(model.model_fields)}."
            self.refuse((*at, more[0]), f"unknown key, one of {len(more)} more: this is hardly a plan", fix)
        for name, info in model.model_fields.items():
            inner, many = section_of(info.annotation)
            path = (*at, name)
            if name in table and inner is None:
                self._leaf(known, name, table[name], path)
            elif name in table and inner is not None:
                # Set without pydantic, which would read the whole table again and drop it for one bad key.
                known.__dict__[name] = self._tables(inner, many, table[name], path)
            elif info.is_required():
                self.refuse(path, "missing", "" if inner is None else f"Add {self._example(path)}.")
            elif inner is not None and not many and not any(i.is_required() for i in inner.model_fields.values()):
                known.__dict__[name] = self._section(inner, {}, path)
            elif info.default is not None:
                setattr(known, name, info.default)
        return known

    def _tables(self, model: type[Section], many: bool, value: Any, path: Path) -> Any:
        name = ".".join(step for step in path if isinstance(step, str))
        if not many:
            if isinstance(value, dict):
                return self._section(model, value, path)
            self.refuse(path, f"must be one table [{name}]", f"Write {self._example(path)}.")
            return None
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.refuse(path, f"must be a block [[{name}]], with two brackets", f"Write {self._example(path)}.")
            return None
        if not 1 <= len(value) <= MOST_BLOCKS:
            self.refuse(path, f"must be 1 to {MOST_BLOCKS} blocks, not {len(value)}")
        return [self._section(model, item, (*path, index)) for index, item in enumerate(value[:MOST_BLOCKS])]

    def _leaf(self, known: Section, name: str, value: Any, path: Path) -> None:
        try:
            setattr(known, name, value)
        except ValidationError as wrong:
            for error in wrong.errors(include_url=False):
                cause = error.get("ctx", {}).get("error")
                reason = getattr(cause, "reason", error["msg"].replace("Input should", "must"))
                within = tuple(step for step in error["loc"][1:] if isinstance(step, int))
                self.refuse((*path, *within), reason, getattr(cause, "fix", ""))

    def _refuse_unknown(self, model: type[Section], name: str, at: Path) -> None:
        near = get_close_matches(name, model.model_fields, n=1)
        if near:
            inner, _ = section_of(model.model_fields[near[0]].annotation)
            example = assignment(near[0], model) if inner is None else self._example((*at, near[0]))
            fix = f'Did you mean "{near[0]}"? For example {example}.'
        else:
            fix = f"Keys that are known here: {', '.join(model.model_fields)}."
        self.refuse((*at, name), "unknown key", fix)
