"""One block of an OpenAir file, from its ``AC`` to the next, to a volume of airspace or the reason why not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from pappus.airspace import (
    AirspaceVolume,
    VerticalLimit,
    arc_between,
    arc_points,
    circle_points,
    corridor,
    geodesic_ring,
)
from pappus.errors import BadInput, Finding, OutOfRange
from pappus.ground import Outline
from pappus.sources.maps._one_line import one_line
from pappus.sources.maps._openair_text import (
    NAUTICAL_MILE_M,
    Point,
    read_limit,
    read_numbers,
    read_point,
    read_two_points,
)

_IGNORED = frozenset({"SP", "SB", "AT"})
"""Pens, brushes and the place of a label: they say how to draw, not where."""
_REMARKS = frozenset({"AY", "AF", "AG", "AX", "AI", "AA"})
_ONCE = frozenset({"AN", "AL", "AH", "AY"})
_MOST_BENDS = 50
_POINTS_OF_A_BEND = 1_000
"""What a bend costs of the budget: joining the parts of an airway takes longer than making their points."""
_SHAPE_TOGETHER = "a circle, an airway and an outline of points are mixed in one block"


@dataclass(frozen=True)
class Line:
    """A line that is neither empty nor a comment: its number in the file, the command and the rest."""

    number: int
    command: str
    rest: str


class Damage(Exception):
    """Why a block was not understood."""

    def __init__(self, line: Line, reason: str, fix: str) -> None:
        self.line, self.reason, self.fix = line, reason, fix
        super().__init__(reason)


class TooManyPoints(Exception):
    """The file asks for more points than any airspace needs."""


@dataclass
class PointBudget:
    """Points that a file may still make: a short line can ask for a thousand of them."""

    left: int

    def spend(self, points: int) -> None:
        """Raises TooManyPoints."""
        self.left -= points
        if self.left < 0:
            raise TooManyPoints


@dataclass
class _Shape:
    """What the lines of a block have drawn so far."""

    budget: PointBudget
    centre: Point | None = None
    clockwise: bool = True
    width_m: float | None = None
    points: list[Point] = field(default_factory=list)
    circle: np.ndarray | None = None
    airway: list[Point] = field(default_factory=list)

    def around(self) -> Point:
        if self.centre is None:
            raise ValueError("no centre before it in this block (V X=)")
        return self.centre

    def add(self, points: np.ndarray) -> None:
        self.budget.spend(len(points))
        self.points += [(north, east) for north, east in points.tolist()]


def read_block(lines: list[Line], file_name: str, budget: PointBudget) -> tuple[AirspaceVolume, list[str]]:
    """The volume and notes about limits that were not understood; raises Damage and TooManyPoints."""
    head = lines[0]
    if not head.rest:
        raise Damage(head, "the class is missing", "Write it after AC.")
    texts: dict[str, str] = {}
    remarks: list[str] = []
    shape = _Shape(budget)
    for line in lines[1:]:
        if line.command in _ONCE and line.command in texts:
            reason = f"a second {line.command} in one block: the line AC between two blocks may be lost"
            raise Damage(line, reason, "Begin each block with AC.")
        if line.command in _ONCE:
            texts[line.command] = line.rest
        if line.command in _REMARKS:
            remarks.append(f"{line.command} {line.rest}")
        elif line.command in _DRAWING:
            _draw(line, shape)
        elif line.command not in _ONCE and line.command not in _IGNORED:
            raise Damage(line, "this command is not known", "Correct the line or take the block out.")
    name = texts.get("AN") or f"unnamed, line {head.number}"
    floor, ceiling = (read_limit(texts[key]) if key in texts else VerticalLimit.unknown("") for key in ("AL", "AH"))
    notes = [
        f"{name}, line {head.number}: {what} {limit.text!r} was not understood, so heights there are unknown"
        for what, limit in (("floor", floor), ("ceiling", ceiling))
        if limit.kind == "unknown"
    ]
    try:
        outline = Outline(_polygons(shape))
        origin = f"{file_name}, line {head.number}"
        volume = AirspaceVolume(name, head.rest, floor, ceiling, outline, origin, tuple(remarks))
    except BadInput as error:
        raise _damage(head, error) from None
    except (OutOfRange, ValueError) as error:
        raise Damage(head, str(error), "Correct the lines of the block.") from None
    return volume, notes


def _damage(line: Line, error: BadInput) -> Damage:
    finding = error.findings[0]
    value = f" ({finding.value})" if finding.value else ""
    return Damage(line, finding.reason + value, finding.fix)


def block_finding(lines: list[Line], damage: Damage, file_name: str) -> Finding:
    """What to say of a block that gave no volume: every name in it, its first line, and the line at fault."""
    names = "; ".join(line.rest for line in lines if line.command == "AN") or "unnamed"
    where = f"{file_name}, line {damage.line.number}"
    block = f"airspace {names} (block from line {lines[0].number}) not understood"
    value = one_line(f"{damage.line.command} {damage.line.rest}", 80)
    return Finding(where, value, f"{block}: {damage.reason}", damage.fix)


def _draw(line: Line, shape: _Shape) -> None:
    try:
        _DRAWING[line.command](line.rest, shape)
    except BadInput as error:
        raise _damage(line, error) from None
    except (OutOfRange, ValueError) as error:
        raise Damage(line, str(error), "Correct the line.") from None


def _variable(rest: str, shape: _Shape) -> None:
    name, equals, value = (part.strip() for part in rest.partition("="))
    name = name.upper()
    if not equals or name not in ("X", "D", "W", "Z"):
        raise ValueError("not a variable X=, D=, W= or Z=")
    if name == "X":
        shape.centre = read_point(value)
    elif name == "D":
        if value not in ("+", "-"):
            raise ValueError("a direction is + (clockwise) or -")
        shape.clockwise = value == "+"
    elif name == "W":
        shape.width_m = read_numbers(value, 1)[0] * NAUTICAL_MILE_M


def _point(rest: str, shape: _Shape) -> None:
    shape.add(np.array([read_point(rest)]))


def _arc(rest: str, shape: _Shape) -> None:
    radius, start, end = read_numbers(rest, 3)
    if max(start, end) > 360.0:
        raise ValueError("bearings go from 0 to 360")
    if start % 360.0 == end % 360.0 and (start, end) != (0.0, 360.0):
        raise ValueError("the arc begins and ends at one bearing, so it is nothing or a circle")
    sweep = (end - start) % 360.0 or 360.0
    if not shape.clockwise:
        sweep = -(360.0 - sweep or 360.0)
    shape.add(arc_points(shape.around(), radius * NAUTICAL_MILE_M, start, sweep))


def _arc_to(rest: str, shape: _Shape) -> None:
    start, end = read_two_points(rest)
    shape.add(arc_between(shape.around(), start, end, clockwise=shape.clockwise))


def _circle(rest: str, shape: _Shape) -> None:
    if shape.circle is not None:
        raise ValueError("a second circle in one block")
    shape.circle = circle_points(shape.around(), read_numbers(rest, 1)[0] * NAUTICAL_MILE_M)


def _airway(rest: str, shape: _Shape) -> None:
    if shape.width_m is None:
        raise ValueError("no width before it in this block (V W=)")
    if len(shape.airway) >= _MOST_BENDS:
        raise ValueError(f"an airway of more than {_MOST_BENDS} points")
    shape.airway.append(read_point(rest))


_DRAWING: dict[str, Callable[[str, _Shape], None]] = {
    "V": _variable,
    "DP": _point,
    "DA": _arc,
    "DB": _arc_to,
    "DC": _circle,
    "DY": _airway,
}


def _polygons(shape: _Shape) -> tuple[tuple[np.ndarray, ...], ...]:
    drawn = (bool(shape.points), shape.circle is not None, bool(shape.airway))
    if sum(drawn) == 0:
        raise ValueError("the block draws nothing")
    if sum(drawn) > 1:
        raise ValueError(_SHAPE_TOGETHER)
    if shape.airway and shape.width_m is not None:
        shape.budget.spend(_POINTS_OF_A_BEND * len(shape.airway))
        return corridor(np.array(shape.airway), shape.width_m)
    points = np.array(shape.points) if shape.circle is None else shape.circle
    if len(points) < 3:
        raise ValueError("an outline needs three points or more")
    ring = geodesic_ring(points)
    shape.budget.spend(len(ring))
    return ((ring,),)
