"""The reference of the plan file, made from the keys themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from pappus.plan._key import Section
from pappus.plan._keys import PlanKeys
from pappus.plan._reading import section_of, toml_text

_INTRODUCTION = """\
# The plan file

One TOML file per flight. This page is made from the keys that pappus knows; the commented
example plan says more about why.

- Quantities are text with a unit: `"1200 g"`, `"33000 ft"`, `"15 °C"`, `"6 %"`, `"1.5 m²"` or `"1.5 m2"`. Decimal
  point, no separators between thousands. Lift is a force: `"2150 gf"`.
- Keys whose name ends in `_deg`, coefficients, exponents and counts are plain numbers.
- Heights are above mean sea level. Times carry `Z` or an offset.
- An unknown key is an error. All mistakes of a file are told at once; `package[2].mass` is the mass in the second
  `[[package]]`.
- The plan replaces no permission: local rules decide whether, where and how a balloon may fly.
"""


def plan_reference() -> str:
    """The key reference in Markdown; the documentation holds exactly this text."""
    return "\n".join([_INTRODUCTION, *_sections(PlanKeys, "")]).rstrip() + "\n"


def _sections(model: type[Section], prefix: str) -> Iterator[str]:
    for name, info in model.model_fields.items():
        inner, many = section_of(info.annotation)
        if inner is None:
            continue
        title = f"[[{prefix}{name}]]" if many else f"[{prefix}{name}]"
        yield f"## `{title}`{'' if info.is_required() else ' (optional)'}\n\n{info.description}\n"
        yield "| key | meaning | example | when left out |\n|---|---|---|---|"
        for key, leaf in inner.model_fields.items():
            if section_of(leaf.annotation)[0] is None:
                yield f"| `{key}` | {leaf.description} | `{toml_text(_example(leaf))}` | {_left_out(leaf)} |"
        yield ""
        yield from _sections(inner, f"{prefix}{name}.")


def _example(leaf: FieldInfo) -> Any:
    return (leaf.examples or [None])[0]


def _left_out(leaf: FieldInfo) -> str:
    if leaf.is_required():
        return "**required**"
    if leaf.default is not None:
        return f"`{toml_text(leaf.default)}`"
    extra = leaf.json_schema_extra
    return str(extra["otherwise"]) if isinstance(extra, dict) else ""
