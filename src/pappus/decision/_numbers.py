"""Numbers of a check as a crew says them."""

from __future__ import annotations

from typing import Literal

from pappus.units import say_distance, say_duration, say_speed

Kind = Literal["chance", "expectation", "speed", "distance", "rain", "angle", "duration"]


def say_percent(share: float) -> str:
    """``"62 %"``, ``"3.2 %"``, ``"0.37 %"``: two figures, and never 0 or 100 for what is only close to it."""
    percent = 100.0 * share
    if percent in (0.0, 100.0):
        return f"{percent:.0f} %"
    if percent < 0.01:
        return "under 0.01 %"
    if percent >= 99.95:
        return "over 99.9 %"
    decimals = 2 if percent < 0.995 else 1 if percent < 9.95 or percent >= 99.5 else 0
    return f"{percent:.{decimals}f}".rstrip("0").rstrip(".") + " %" if decimals else f"{percent:.0f} %"


def say_number(kind: Kind, value: float) -> str:
    """A number of one kind in words, with its unit. Raises ``OutOfRange`` where the kind has no such value."""
    match kind:
        case "chance":
            return say_percent(value)
        case "expectation":
            if value <= 0.0:
                return "none"
            return f"{value:.2g} a flight" if value > 0.1 else f"1 in {float(f'{1.0 / value:.2g}'):,.0f} flights"
        case "speed":
            return say_speed(value)
        case "distance":
            return say_distance(value)
        case "rain":
            return f"{3600.0 * value:.1f} mm/h"
        case "angle":
            return f"{value:z.1f}°"
        case "duration":
            return say_duration(value)


def say_beside(kind: Kind, value: float, limit: float) -> str:
    """The number as it stands beside its limit: what rounds to the limit without being it says on which side it is."""
    words, limit_words = say_number(kind, value), say_number(kind, limit)
    if words != limit_words or value == limit:
        return words
    return f"just {'over' if value > limit else 'under'} {words}"


def say_range(kind: Kind, low: float, high: float) -> str:
    """``"59 to 65 %"``: the interval without saying a plain unit twice."""
    first, last = say_number(kind, low), say_number(kind, high)
    if first == last:
        return first
    unit = " %" if kind == "chance" else " mm/h" if kind == "rain" else "°" if kind == "angle" else ""
    return f"{first.removesuffix(unit)} to {last}" if unit else f"{first} to {last}"
