"""The values that a key of the plan file can take."""

from __future__ import annotations

import zoneinfo
from datetime import UTC, datetime
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from pappus.units import Dimension, UnitError, parse_quantity


class Mistake(ValueError):
    """A value that cannot be used; without a ``fix`` the example of the key is shown."""

    def __init__(self, reason: str, fix: str = "") -> None:
        self.reason, self.fix = reason, fix
        super().__init__(reason)


def measured(dimension: Dimension, least: str, most: str) -> BeforeValidator:
    """Text with a unit, between two bounds that are written the same way; becomes a number in SI units."""

    def read(value: Any) -> float:
        if not isinstance(value, str):
            raise Mistake("a quantity is text in quotes: a number and its unit")
        try:
            number = parse_quantity(value, dimension)
        except UnitError as error:
            # The fix of the parser is kept only when it mends this very value ("2150 gf" for "2150 g").
            raise Mistake(error.reason, "" if "for example" in error.fix else error.fix) from error
        if not parse_quantity(least, dimension) <= number <= parse_quantity(most, dimension):
            raise Mistake(f"outside {least} to {most}")
        return number

    return BeforeValidator(read)


def text(longest: int) -> BeforeValidator:
    """Text that a terminal and a printed page can show as it stands; line breaks become spaces."""

    def read(value: Any) -> str:
        if not isinstance(value, str):
            raise Mistake("must be text in quotes")
        plain = " ".join(value.split())
        if not plain:
            raise Mistake("empty")
        if len(plain) > longest:
            raise Mistake(f"longer than {longest} characters")
        if not plain.isprintable():
            raise Mistake("holds characters that cannot be printed")
        return plain

    return BeforeValidator(read)


def _read_instant(value: Any) -> datetime:
    if not isinstance(value, datetime):
        raise Mistake("must be a date and time without quotes")
    if value.utcoffset() is None:
        raise Mistake("a time without an offset from UTC could be any of 26 hours; end it with Z or with an offset")
    try:
        return value.astimezone(UTC)
    except OverflowError as error:
        raise Mistake("outside the years that can be counted") from error


@cache
def _zones() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


def _read_zone(value: Any) -> str:
    # A zone is looked up in the list of names: opening it by name would read any path that a plan puts there.
    if isinstance(value, str) and value in _zones():
        return value
    near = get_close_matches(str(value), sorted(_zones()), n=1)
    raise Mistake("not a time zone of the IANA database", f'Did you mean "{near[0]}"?' if near else "")


Instant = Annotated[datetime, BeforeValidator(_read_instant)]
Zone = Annotated[str, BeforeValidator(_read_zone)]
Label = Annotated[str, text(60)]
Latitude = Annotated[float, Field(ge=-90.0, le=90.0)]
Longitude = Annotated[float, Field(ge=-180.0, le=180.0)]
