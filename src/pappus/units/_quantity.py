"""Text such as ``"1200 g"`` to a number in SI units; the only place where units are read."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

if TYPE_CHECKING:
    from pint import Unit, UnitRegistry

Dimension = Literal[
    "mass", "length", "speed", "force", "pressure", "temperature", "area", "volume", "time", "fraction", "density"
]


class _Kind(NamedTuple):
    noun: str
    si: str
    example: str


_KINDS: dict[Dimension, _Kind] = {
    "mass": _Kind("a mass", "kg", "1200 g"),
    "length": _Kind("a length", "m", "12 m"),
    "speed": _Kind("a speed", "m/s", "5 m/s"),
    "force": _Kind("a force", "N", "2150 gf"),
    "pressure": _Kind("a pressure", "Pa", "1013 hPa"),
    "temperature": _Kind("a temperature", "K", "15 °C"),
    "area": _Kind("an area", "m**2", "1.5 m²"),
    "volume": _Kind("a volume", "m**3", "3.2 m³"),
    "time": _Kind("a time", "s", "90 min"),
    "fraction": _Kind("a fraction", "", "6 %"),
    "density": _Kind("a density", "kg/m**3", "1.2 kg/m³"),
}

_LONGEST_TEXT = 40
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf(?:inity)?)(?![a-z])", re.IGNORECASE)
# The grammar of a unit is ours and narrow: exponents of one digit, no nesting, no numbers of its own. What passes it is
# safe to hand to a general parser.
_FACTOR = re.compile(r"([A-Za-zµμ°]+)(?:\^|\*\*)?(-?[1-3])?")
_UNIT = re.compile(rf"%|{_FACTOR.pattern}(?:(?: ?[*/·] ?| ){_FACTOR.pattern})*")
_SUPERSCRIPTS = str.maketrans({"²": "2", "³": "3", "⁻": "-", "¹": "1", "\N{MINUS SIGN}": "-"})
_FRACTIONS = frozenset({"percent", "permille", "ppm"})
# Unit signs that the trade writes and that mean something else in the SI.
_MISREAD = {
    "C": ("C is the coulomb", "°C"),
    "F": ("F is the farad", "°F"),
    "nm": ("nm is the nanometre; the nautical mile is nmi", "nmi"),
    "NM": ("the nautical mile is written nmi", "nmi"),
    "mb": ("mb is not a pressure; one millibar is one hPa", "hPa"),
}


class UnitError(ValueError):
    """Text that is not a quantity of the wanted kind: ``reason`` says why, ``fix`` shows how to write it."""

    def __init__(self, reason: str, fix: str) -> None:
        self.reason, self.fix = reason, fix
        super().__init__(f"{reason}. {fix}")


_COMMON: dict[tuple[Dimension, str], float] = {
    ("length", "m"): 1.0, ("length", "km"): 1e3, ("length", "cm"): 1e-2, ("length", "mm"): 1e-3,
    ("length", "ft"): 0.3048, ("mass", "g"): 1e-3, ("mass", "kg"): 1.0, ("force", "N"): 1.0, ("force", "kN"): 1e3,
    ("force", "gf"): 9.80665e-3, ("force", "kgf"): 9.80665, ("pressure", "Pa"): 1.0, ("pressure", "hPa"): 1e2,
    ("pressure", "bar"): 1e5, ("fraction", "%"): 1e-2, ("area", "m2"): 1.0, ("volume", "L"): 1e-3,
    ("volume", "m3"): 1.0, ("speed", "m/s"): 1.0, ("time", "s"): 1.0, ("time", "min"): 60.0, ("time", "h"): 3600.0,
    ("temperature", "K"): 1.0, ("temperature", "°C"): 1.0,
}  # fmt: skip
"""SI units in the units that plans are written in: so a fifth of a second is not spent on loading all others. A test
holds them to the registry of units."""
_ZERO_K = {"°C": 273.15}


@cache
def _registry() -> UnitRegistry[Any]:
    import pint  # slow to load, and most commands never read a unit

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False)


def parse_quantity(text: str, dimension: Dimension) -> float:
    """The value of ``text`` in SI units: kg, m, m/s, N, Pa, K, m2, m3, s, kg/m3, or 1 for a fraction.

    A number with a decimal point, then a unit: ``"4.5 m/s"``, ``"2150 gf"``, ``"15 °C"``, ``"1.8 m2"``, ``"6 %"``. Text
    is never evaluated. Temperatures are absolute, so ``"15 °C"`` gives 288.15. Raises ``UnitError`` for anything else.
    """
    kind = _KINDS[dimension]
    plain = " ".join(text.translate(_SUPERSCRIPTS).split())
    example = f'Write for example "{kind.example}"'
    if len(plain) > _LONGEST_TEXT:
        raise UnitError(f"longer than {_LONGEST_TEXT} characters", example)
    if _NOT_FINITE.match(plain):
        raise UnitError("not finite", example)
    number = _NUMBER.match(plain)
    if number is None:
        raise UnitError("not a number with a unit", example)
    unit_text = plain[number.end() :].strip()
    if unit_text.startswith(","):
        raise UnitError("a comma in a number can mean two things", f"{example}, with a decimal point and no separators")
    if unit_text[:1].isdigit():
        raise UnitError("a space between the digits", f"{example}, with the digits together")
    if not unit_text:
        raise UnitError("no unit", example)
    common = _COMMON.get((dimension, unit_text))
    if common is not None:
        value = float(number.group()) * common + _ZERO_K.get(unit_text, 0.0)
        return _required(value, dimension, example)
    if unit_text in _MISREAD:
        reason, meant = _MISREAD[unit_text]
        wanted = _dimension_of(_unit(meant, example)) == dimension
        raise UnitError(reason, f'Write "{number.group()} {meant}"' if wanted else example)
    unit = _unit(unit_text, example)
    _must_be(dimension, unit, example, number.group(), unit_text)
    try:
        value = float(_registry().Quantity(float(number.group()), unit).to(kind.si).magnitude)
    except OverflowError:
        value = math.inf
    return _required(value, dimension, example)


def _required(value: float, dimension: Dimension, example: str) -> float:
    if not math.isfinite(value):
        raise UnitError("not finite", example)
    if dimension == "temperature" and value < 0.0:
        raise UnitError("below absolute zero", example)
    return value


def _unit(text: str, example: str) -> Unit:
    if not _UNIT.fullmatch(text):
        raise UnitError(f"{text!r} is not a unit", example)
    products = re.sub(r" ?[*·] ?| (?!/)(?<!/ )", "*", text.replace("**", "^"))
    spelled = _FACTOR.sub(lambda match: match[1] + (f"**{match[2]}" if match[2] else ""), products)
    try:
        return _registry().parse_units(spelled)
    except Exception as error:  # the parser of units raises many types; each one means the same to the reader
        raise UnitError(f"{text!r} is not a unit that is known here", example) from error


def _dimension_of(unit: Unit) -> Dimension | None:
    if unit.dimensionless:
        return "fraction" if str(unit) in _FRACTIONS else None
    registry = _registry()
    for dimension, kind in _KINDS.items():
        if kind.si and registry.parse_units(kind.si).dimensionality == unit.dimensionality:
            return dimension
    return None


def _must_be(dimension: Dimension, unit: Unit, example: str, number: str, unit_text: str) -> None:
    given = _dimension_of(unit)
    if given == dimension:
        return
    name, noun = str(unit).replace("_", " "), _KINDS[dimension].noun
    if dimension == "force" and given == "mass":
        force = f"{number} {unit_text}f" if unit_text in ("g", "kg", "lb", "oz") else _KINDS["force"].example
        raise UnitError(f"{name} is a mass, a force is needed: lift is a force", f'Write "{force}"')
    if given is None:
        raise UnitError(f"{name} is not {noun}", example)
    raise UnitError(f"{name} is {_KINDS[given].noun}, {noun} is needed", example)
