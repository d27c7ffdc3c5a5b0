"""What a key of the plan file is: a value with its meaning, an example, a default and bounds."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from pappus.plan._leaves import measured

Chance = Annotated[float, measured("fraction", "0 %", "100 %")]
HeightAloft = Annotated[float, measured("length", "500 m", "50 km")]


def key(meaning: str, example: Any, *, default: Any = ..., otherwise: str = "") -> Any:
    """A key. It is required unless it has a default (as it would stand in the file) or says what happens otherwise."""
    if otherwise:
        default = None
    return Field(default, description=meaning, examples=[example], json_schema_extra={"otherwise": otherwise})


def section(meaning: str, *, required: bool = True) -> Any:
    """A table of the file."""
    return Field(... if required else None, description=meaning)


class Section(BaseModel):
    """A table of the file: every key is known, and nothing is converted silently."""

    model_config = ConfigDict(extra="forbid", strict=True, validate_assignment=True, allow_inf_nan=False)
