"""Short lines for a driver who never reads: what to do next, as people say it, each with an id to dismiss it by."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from pappus.recovery._meeting import Meeting
from pappus.recovery._route import Turn
from pappus.units import mile_m

Units = Literal["metric", "imperial"]
Kind = Literal["safety", "drive", "meeting point", "choice", "warning"]

SAFETY = (
    ("driver", "The driver drives. Let someone else read, or stop first in a safe place."),
    ("under", "Do not drive under the payload while it comes down. Wait until it is on the ground."),
    ("wires", "If it hangs in a power line or lies on rails, keep away, hands off. Call the operator of the line."),
    ("land", "Ask the owner before you walk onto private land."),
)  # fmt: skip
"""Common practice, no source; local rules come first."""
OLD_POSITION_S = 300.0
_COMPASS = ("north", "north east", "east", "south east", "south", "south west", "west", "north west")


@dataclass(frozen=True)
class Line:
    """One sentence or two to be spoken."""

    id: str
    """Stays the same while the advice does, so that a dismissed line does not come back."""
    kind: Kind
    words: str


def spoken(meeting: Meeting, *, units: Units = "metric", dismissed: Collection[str] = ()) -> tuple[Line, ...]:
    """What to say to one car now, the most urgent first; only what the data say, and no line that was dismissed.

    Distances are rounded as they are said, times to the minute, margins down to it. Margins are those that nine
    flights in ten leave.

    :param units: "metric" or "imperial", as the road signs are.
    :raises ValueError: other units.
    """
    if units not in ("metric", "imperial"):
        raise ValueError(f"units are metric or imperial, not {units}")
    lines = [*_warnings(meeting), *_driving(meeting, units), *(_line("safety", key, words) for key, words in SAFETY)]
    return tuple(line for line in lines if line.id not in dismissed)


def say_road_distance(length_m: float, units: Units) -> str:
    """ "two hundred metres" as digits that a voice reads well: 50 m steps below 1 km, halves below 10, then whole.

    Raises ValueError for a length that is not finite or negative.
    """
    if not (math.isfinite(length_m) and length_m >= 0.0):
        raise ValueError(f"a distance along the road is not {length_m}")
    if units == "metric":
        if length_m < 975.0:
            return f"{max(round(length_m / 50.0) * 50, 50)} metres"
        return _halves(length_m / 1000.0, "kilometre")
    miles = length_m / mile_m
    if miles < 0.2:
        return f"{max(round(length_m / 0.9144 / 50.0) * 50, 50)} yards"
    if miles < 0.875:
        return {1: "a quarter of a mile", 2: "half a mile", 3: "three quarters of a mile"}[round(miles * 4.0)]
    return _halves(miles, "mile")


def _halves(value: float, unit: str) -> str:
    if value >= 9.75:
        return f"{round(value)} {unit}s"
    half = round(value * 2.0) / 2.0
    return f"1 {unit}" if half == 1.0 else f"{half:g} {unit}s"


def _minutes(seconds: float, *, down: bool = False) -> str:
    minutes = math.floor(seconds / 60.0) if down else round(seconds / 60.0)
    return "1 minute" if minutes == 1 else f"{minutes} minutes"


def _line(kind: Kind, key: str, words: str) -> Line:
    digest = hashlib.sha256(f"{kind} {key}".encode()).hexdigest()[:10]
    return Line(f"{kind.replace(' ', '-')}-{digest}", kind, words)


def _warnings(meeting: Meeting) -> list[Line]:
    lines = []
    if meeting.leaves_area:
        words = "You are where the payload may come down soon. Leave this area by the way given."
        lines.append(_line("warning", f"leave {meeting.car.name}", words))
    if meeting.car.age_s > OLD_POSITION_S:
        old = "not known" if math.isinf(meeting.car.age_s) else f"{_minutes(meeting.car.age_s)} old"
        words = f"Your own position is {old}. Directions may be wrong."
        lines.append(_line("warning", f"old {meeting.car.name}", words))
    return lines


def _driving(meeting: Meeting, units: Units) -> list[Line]:
    key = _place_key(meeting)
    if not meeting.by_road or meeting.route is None:
        if not math.isfinite(meeting.straight_m):
            return [_line("meeting point", f"none {meeting.car.name}", "No landing is predicted. Stay where you are.")]
        words = (
            f"No directions: {meeting.why_not}. The middle of the landing area is "
            f"{say_road_distance(meeting.straight_m, units)} {_compass(meeting.bearing_deg)} of you in a straight line."
        )
        return [_line("meeting point", key, words)]
    lines = []
    turn = next(iter(meeting.route.turns), None)
    if turn is not None:
        lines.append(_line("drive", f"{key} {turn.latitude_deg:.4f} {turn.longitude_deg:.4f}", _turn(turn, units)))
    lines.append(_line("meeting point", key, _meeting_words(meeting, units)))
    if meeting.decision is not None:
        at = meeting.decision
        if at.after_s < 60.0:
            words = f"{at.choices} meeting points are still open. Choose now."
        else:
            words = (
                f"{at.choices} meeting points are still open. The choice comes in {_minutes(at.after_s)}, after "
                f"{say_road_distance(at.after_m, units)}."
            )
        lines.append(_line("choice", f"{key} {at.latitude_deg:.4f} {at.longitude_deg:.4f}", words))
    return lines


def _meeting_words(meeting: Meeting, units: Units) -> str:
    route = meeting.route
    assert route is not None
    if route.drive_time_s < 60.0:
        said = "You are at the meeting point. Stop where it is allowed, and wait."
    else:
        far = say_road_distance(route.length_m, units)
        said = f"Meeting point in {_minutes(route.drive_time_s)}, {far}."
    if meeting.down:
        said += " The payload should be down."
    elif meeting.margin_s is not None:
        margin = meeting.margin_s.values[0]
        if margin >= 60.0:
            said += f" Margin {_minutes(margin, down=True)}."
        else:
            said += " It may land before you are there. Keep to the speed limit; the payload can wait."
    return said


def _turn(turn: Turn, units: Units) -> str:
    onto = f" onto {turn.onto}" if turn.onto else ""
    act = {"straight on": "go straight on", "back": "turn back where it is allowed"}.get(turn.way, f"turn {turn.way}")
    if turn.after_m < 30.0:
        return f"Now {act}{onto}."
    return f"{act[0].upper()}{act[1:]} in {say_road_distance(turn.after_m, units)}{onto}."


def _compass(bearing_deg: float) -> str:
    return _COMPASS[round(bearing_deg / 45.0) % 8]


def _place_key(meeting: Meeting) -> str:
    """The same while the meeting point stays within some hundred metres."""
    if meeting.latitude_deg is None or meeting.longitude_deg is None:
        return f"{meeting.car.name} straight"
    return f"{meeting.car.name} {meeting.latitude_deg:.3f} {meeting.longitude_deg:.3f}"
