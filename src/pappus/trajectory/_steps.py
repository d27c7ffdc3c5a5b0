"""One step of one flight: where it leads, what may end in it, what is kept of it."""

from __future__ import annotations

import math

from pappus.trajectory._bounds import ground_at, outside_area
from pappus.trajectory._flights import AscentEnd
from pappus.trajectory._laid_out import Bend, Ground, Limits, Out, Pace, State
from pappus.trajectory._part import part

GROUND_POINTS = 24
"""Points along a falling step at which the ground is looked up: it may be 750 m high and over two kilometres long."""
TOUCH_M = 1e-3
"""Nearer to the ground is on it: heights are single numbers of six digits, and a step of a hair is none."""
NONE, BURST, CUT_DOWN = int(AscentEnd.NONE), int(AscentEnd.BURST), int(AscentEnd.CUT_DOWN)
NEVER = 2.0
"""Share of a step at which a thing happens that does not happen in it."""


@part
def bend_of(here: State, there: State, a: Pace, b: Pace) -> Bend:
    """How a step is bent whose drift and slowness go linearly in height."""
    half = 0.5 * (there.time - here.time)
    return Bend((b.slow - a.slow) / (b.slow + a.slow), half * (b.north - a.north), half * (b.east - a.east))


@part
def moved(a: State, b: State, bend: Bend, share: float) -> State:
    """The state after a share of the height of a step: wind and rate change on the way."""
    s = share - share * (1.0 - share) * bend.time
    r = s * (1.0 - s)
    return State(
        a.latitude + s * (b.latitude - a.latitude) - r * bend.latitude,
        a.longitude + s * (b.longitude - a.longitude) - r * bend.longitude,
        a.height + share * (b.height - a.height), a.time + s * (b.time - a.time), a.level + share * (b.level - a.level),
    )  # fmt: skip


@part
def share_to(start: float, change: float, goal: float) -> float:
    """Share of a step after which a growing quantity meets its goal; at once when it has passed it."""
    if goal > start + change:
        return NEVER
    return min(max((goal - start) / max(change, 1e-9), 0.0), 1.0)


@part
def end_of_ascent(
    limits: Limits,
    released: float,
    early_burst_msl_m: float,
    burst_stretch: float,
    here: State,
    there: State,
    bend: float,
    stretch: float,
    next_stretch: float,
) -> tuple[float, int]:
    """Share of the step after which the ascent ends, and by what."""
    burst = share_to(here.height, there.height - here.height, early_burst_msl_m)
    if next_stretch >= burst_stretch:
        grows = max(math.log(next_stretch / stretch), 1e-12)
        burst = min(burst, max(math.log(burst_stretch / stretch) / grows, 0.0))
    cut = share_to(here.height, there.height - here.height, limits.cut_height_msl_m)
    late = share_to(here.time, there.time - here.time, released + limits.cut_after_s)
    if late <= 1.0:  # the share of the height from that of the time, which moved() turns round
        late = 2.0 * late / (1.0 - bend + math.sqrt((1.0 - bend) ** 2 + 4.0 * bend * late))
    cut = min(cut, late)
    if outside_area(limits, there.latitude, there.longitude):
        cut = min(cut, 1.0)
    if min(burst, cut) > 1.0:
        return 1.0, NONE
    return min(burst, cut), BURST if burst <= cut else CUT_DOWN


@part
def keep(out: Out, row: int, state: State) -> None:
    """Add a point to the track of one of the first flights."""
    if row < out.track.shape[0]:
        out.track[row, out.steps[row]] = state.time, state.latitude, state.longitude, state.height
        out.steps[row] += 1


@part
def note(out: Out, row: int, here: State, there: State) -> None:
    """Keep where a step led, and when it passed the heights that were asked for."""
    for k in range(out.heights_msl_m.shape[0]):
        height = out.heights_msl_m[k]
        if (here.height < height) != (there.height < height):
            when = here.time + (height - here.height) / (there.height - here.height) * (there.time - here.time)
            out.seconds_above[row, k] += when if there.height < height else -when
    keep(out, row, there)


@part
def start(out: Out, row: int, state: State) -> None:
    """A flight that begins above a height is above it from now."""
    for k in range(out.heights_msl_m.shape[0]):
        if state.height >= out.heights_msl_m[k]:
            out.seconds_above[row, k] -= state.time
    keep(out, row, state)


@part
def finish(out: Out, row: int, state: State) -> None:
    """A flight that ends above a height was above it until now."""
    for k in range(out.heights_msl_m.shape[0]):
        if state.height >= out.heights_msl_m[k]:
            out.seconds_above[row, k] += state.time


@part
def share_to_ground(ground: Ground, here: State, there: State, bend: Bend) -> float:
    """Share of a falling step at which the flight meets the ground."""
    if there.height > ground.highest_msl_m + TOUCH_M:
        return NEVER
    clear = here.height - ground_at(ground, here.latitude, here.longitude)
    for point in range(GROUND_POINTS):
        at = moved(here, there, bend, (point + 1.0) / GROUND_POINTS)
        next_clear = at.height - ground_at(ground, at.latitude, at.longitude)
        if next_clear <= TOUCH_M:
            clear = max(clear, 0.0)
            return (point + min(clear / max(clear - next_clear, 1e-9), 1.0)) / GROUND_POINTS
        clear = next_clear
    return NEVER
