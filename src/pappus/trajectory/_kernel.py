"""The compiled kernel: flights from their release to their end, level by level.

All that a flight sees comes in the tuples of ``_laid_out``: the field as one flat float32 cube, the laws of the other
rooms as tables, its row of the draws. One Heun step leads from a level to the next. Events inside a step (burst, cut,
ground) are placed where the height is right. A balloon slower than half a metre a second goes over to steps in time.

A step is a long chain in which each number waits for the one before. So flights go in blocks: all of a block look
ahead, then all take the laws of the air there, then all arrive, and the processor works on several of them at once.
What a flight does hangs on its own row alone, not on its block.
"""

from __future__ import annotations

import math
from typing import Any

from pappus.trajectory._block import (
    BURST_STRETCH,
    CONTENT,
    EARLY,
    END,
    EVENT,
    FLIGHT_ROWS,
    HEIGHT,
    LATITUDE,
    LEVEL,
    LONGITUDE,
    NEXT_SLOWNESS,
    NEXT_STRETCH,
    RELEASED,
    ROW,
    SLOW_BURST,
    SLOW_CUT,
    SLOW_FALL,
    SLOWNESS,
    STATUS,
    STRETCH,
    TIME,
    T,
    X,
    Y,
    next_pace_of,
    next_state_of,
    pace_of,
    set_next_state,
    spot_ahead,
    state_of,
    step_on,
)
from pappus.trajectory._bounds import GOES_ON, LEFT_COVERAGE, beyond
from pappus.trajectory._flights import Outcome
from pappus.trajectory._laid_out import LANES, Bend, Block, Cube, Ground, Limits, Out, Rows, State, Tables
from pappus.trajectory._laws import bend_at, degrees_per_m, warmth_at
from pappus.trajectory._look_up import air_between, level_of, mean, read_once
from pappus.trajectory._part import fingerprint, part, whole
from pappus.trajectory._passes import (
    SLOW_S_M,
    arrive_all,
    climb_all,
    climb_of,
    drift_all,
    events_at_heights,
    events_down,
    events_up,
    look_ahead,
    meet_air,
    set_air,
    sink_all,
)
from pappus.trajectory._steps import (
    BURST,
    NONE,
    bend_of,
    end_of_ascent,
    finish,
    keep,
    moved,
    note,
    share_to_ground,
    start,
)

SLOW_STEP_S = 30.0
LANDED = int(Outcome.LANDED)
SLOW, TURNS = -2, -3
"""Beside the outcomes and ``GOES_ON``: over to steps in time; the ascent is over."""


# --- the three parts of a flight


@part
def rise(cube: Cube, tables: Tables, limits: Limits, rows: Rows, out: Out, b: Block, flights: int) -> None:
    """Up, level by level, until all have burst, are cut, slow or gone."""
    x, n, top = b.numbers, b.places, cube.levels - 1
    for i in range(flights):
        begin_leg(cube, tables, rows, b, i, 0)
    drift_all(b)
    climb_all(tables, b, 12)
    going = 0
    for i in range(flights):
        step_on(b, i)
        n[STATUS + i] = GOES_ON
        if x[LEVEL + i] >= top:
            n[STATUS + i] = LEFT_COVERAGE
        elif x[SLOWNESS + i] > SLOW_S_M:
            n[STATUS + i] = SLOW
        going += n[STATUS + i] == GOES_ON
    while going > 0:
        look_ahead(b, 0)
        meet_air(cube, tables, rows, b, flights, 0)
        drift_all(b)
        climb_all(tables, b, 2)
        arrive_all(b)
        events_up(limits, b, top)
        events_at_heights(out, b)
        going = 0
        for i in range(flights):
            if n[STATUS + i] == GOES_ON:
                if x[EVENT + i] > 0.0:
                    rise_to(limits, out, b, i, top)
                else:
                    keep(out, n[ROW + i], next_state_of(b, i))
                    step_on(b, i)
                going += n[STATUS + i] == GOES_ON


@part
def rise_to(limits: Limits, out: Out, b: Block, i: int, top: int) -> None:
    """Arrive on the level above, or end the ascent on the way."""
    x, n = b.numbers, b.places
    if x[NEXT_SLOWNESS + i] > SLOW_S_M:  # it almost stops on the way: the time to the next level is not to be trusted
        n[STATUS + i] = SLOW
        return
    here, there = state_of(b, i), next_state_of(b, i)
    bend = bend_of(here, there, pace_of(b, i), next_pace_of(b, i))
    share, n[END + i] = end_of_ascent(
        limits,
        x[RELEASED + i],
        x[EARLY + i],
        x[BURST_STRETCH + i],
        here,
        there,
        bend.time,
        x[STRETCH + i],
        x[NEXT_STRETCH + i],
    )
    if n[END + i] != NONE:
        there = moved(here, there, bend, share)
        set_next_state(b, i, there)
    note(out, n[ROW + i], here, there)
    step_on(b, i)
    n[STATUS + i] = beyond(limits, there)
    if n[STATUS + i] == GOES_ON and n[END + i] != NONE:
        n[STATUS + i] = TURNS
    elif n[STATUS + i] == GOES_ON and there.level >= top:
        n[STATUS + i] = LEFT_COVERAGE


@part
def rise_slowly(cube: Cube, tables: Tables, limits: Limits, rows: Rows, out: Out, b: Block, i: int) -> None:
    """Steps in time near the floating height, until burst, cut, the end of the winds or the longest flight."""
    x, n, top = b.numbers, b.places, cube.levels - 1
    row = n[ROW + i]
    here = state_of(b, i)
    set_next_state(b, i, here)
    spot = spot_ahead(cube, rows, b, i)
    air, stretch = air_between(cube, spot, here.level, rows, row, 0), x[STRETCH + i]
    n[STATUS + i] = GOES_ON
    while n[STATUS + i] == GOES_ON:
        stretch, slow = climb_of(
            tables,
            b,
            i,
            air,
            here.time,
            *warmth_at(tables, here.time, air.height),
            bend_at(tables, air),
            stretch,
            6,
        )
        lower = min(int(here.level), top - 1)
        thickness = mean(cube, spot, lower + 1, 3) - mean(cube, spot, lower, 3)
        level = min(here.level + SLOW_STEP_S / (slow * max(thickness, 1.0)), float(top))
        north, east = degrees_per_m(here.latitude, here.height)
        latitude = here.latitude + air.v * SLOW_STEP_S * north
        longitude = here.longitude + air.u * SLOW_STEP_S * east
        time = here.time + SLOW_STEP_S
        set_next_state(b, i, State(latitude, longitude, here.height, time, level))
        spot = spot_ahead(cube, rows, b, i)
        air = air_between(cube, spot, level, rows, row, 0)
        next_stretch, _ = climb_of(
            tables, b, i, air, time, *warmth_at(tables, time, air.height), bend_at(tables, air), stretch, 6
        )
        there = State(latitude, longitude, air.height, time, level)
        share, n[END + i] = end_of_ascent(
            limits, x[RELEASED + i], x[EARLY + i], x[BURST_STRETCH + i], here, there, 0.0, stretch, next_stretch
        )
        if n[END + i] != NONE:
            there = moved(here, there, Bend(0.0, 0.0, 0.0), share)
        note(out, row, here, there)
        here = there
        n[STATUS + i] = beyond(limits, here)
        if n[STATUS + i] == GOES_ON and n[END + i] != NONE:
            n[STATUS + i] = TURNS
        elif level >= top and n[END + i] == NONE:
            n[STATUS + i] = LEFT_COVERAGE
    set_next_state(b, i, here)
    step_on(b, i)


@part
def fall(
    cube: Cube, tables: Tables, limits: Limits, ground: Ground, rows: Rows, out: Out, b: Block, flights: int
) -> None:
    """Down, level by level, to the ground."""
    x, n = b.numbers, b.places
    going = 0
    for i in range(flights):
        if n[STATUS + i] == TURNS:
            n[STATUS + i] = GOES_ON
            x[SLOW_FALL + i] = x[SLOW_BURST + i] if n[END + i] == BURST else x[SLOW_CUT + i]
            begin_leg(cube, tables, rows, b, i, 1)
            going += 1
    drift_all(b)
    sink_all(b)
    for i in range(flights):
        if n[STATUS + i] == GOES_ON:
            step_on(b, i)
    while going > 0:
        look_ahead(b, 1)
        meet_air(cube, tables, rows, b, flights, 1)
        drift_all(b)
        sink_all(b)
        arrive_all(b)
        events_down(limits, ground, b)
        events_at_heights(out, b)
        going = 0
        for i in range(flights):
            if n[STATUS + i] == GOES_ON:
                if x[EVENT + i] > 0.0:
                    fall_to(limits, ground, out, b, i)
                else:
                    keep(out, n[ROW + i], next_state_of(b, i))
                    step_on(b, i)
                going += n[STATUS + i] == GOES_ON


@part
def fall_to(limits: Limits, ground: Ground, out: Out, b: Block, i: int) -> None:
    """Arrive on the level below, or on the ground on the way."""
    n, row = b.places, b.places[ROW + i]
    here, there, pace, next_pace = state_of(b, i), next_state_of(b, i), pace_of(b, i), next_pace_of(b, i)
    bend = bend_of(here, there, pace, next_pace)
    share = share_to_ground(ground, here, there, bend)
    lands = share <= 1.0 or there.level == 0.0
    if lands:
        share = min(share, 1.0)
        there = moved(here, there, bend, share)
        set_next_state(b, i, there)
    note(out, row, here, there)
    n[STATUS + i] = beyond(limits, there)
    if lands and n[STATUS + i] == GOES_ON:
        n[STATUS + i] = LANDED
        out.touchdown_m_s[row] = -1.0 / (pace.slow + share * (next_pace.slow - pace.slow))
    step_on(b, i)


@part
def begin_leg(cube: Cube, tables: Tables, rows: Rows, b: Block, i: int, leg: int) -> None:
    """The air where the flight stands, between two levels, as that from which the first step starts."""
    state = state_of(b, i)
    b.numbers[EVENT + i] = read_once(rows, b.places[ROW + i], leg)
    set_next_state(b, i, state)
    spot = spot_ahead(cube, rows, b, i)
    set_air(tables, b, i, air_between(cube, spot, state.level, rows, b.places[ROW + i], leg), leg)
    set_next_state(b, i, state)


@part
def fly_block(
    cube: Cube, tables: Tables, limits: Limits, ground: Ground, rows: Rows, release: State, out: Out, b: Block,
    first: int, flights: int,
) -> None:  # fmt: skip
    """Some rows, from the release to their ends."""
    x, n = b.numbers, b.places
    for i in range(flights):
        row = n[ROW + i] = rows.order[first + i]
        for k in range(FLIGHT_ROWS):
            x[CONTENT + k * LANES + i] = rows.numbers[row, k]
        n[T + i] = n[Y + i] = n[X + i] = 0
        set_next_state(b, i, State(release.latitude, release.longitude, release.height, x[RELEASED + i], 0.0))
        step_on(b, i)
        x[STRETCH + i] = 2.0
        x[LEVEL + i] = level_of(cube, spot_ahead(cube, rows, b, i), release.height)
        start(out, row, state_of(b, i))
        n[END + i], n[STATUS + i] = limits.ascent_end, TURNS
    if limits.ascent_end == NONE:
        rise(cube, tables, limits, rows, out, b, flights)
    for i in range(flights):
        if n[STATUS + i] == SLOW:
            rise_slowly(cube, tables, limits, rows, out, b, i)
        out.top[n[ROW + i]] = x[LATITUDE + i], x[LONGITUDE + i], x[HEIGHT + i], x[TIME + i]
        out.touchdown_m_s[n[ROW + i]] = math.nan
    fall(cube, tables, limits, ground, rows, out, b, flights)
    for i in range(flights):
        out.end[n[ROW + i]] = x[LATITUDE + i], x[LONGITUDE + i], x[HEIGHT + i], x[TIME + i]
        out.outcome[n[ROW + i]], out.ascent_end[n[ROW + i]] = n[STATUS + i], n[END + i]
        finish(out, n[ROW + i], state_of(b, i))


def _fly_rows(code: int) -> Any:
    """The kernel. ``code`` is of no use inside, but numba keeps what it compiled under the values of a closure, and
    would else look at the age of this one file only."""

    @whole
    def fly_rows(
        first: int, last: int, cube: Cube, tables: Tables, limits: Limits, ground: Ground, rows: Rows, release: State,
        out: Out, block: Block,
    ) -> int:  # fmt: skip
        for place in range(first, last, LANES):
            fly_block(cube, tables, limits, ground, rows, release, out, block, place, min(LANES, last - place))
        return code

    return fly_rows


fly_rows = _fly_rows(fingerprint())


def is_compiled() -> bool:
    """Whether the kernel is in memory, or on disk as compiled for this processor."""
    if fly_rows.signatures:
        return True
    # numba has no public question for this
    kept = fly_rows._cache._cache_file._load_index()
    return any(key == fly_rows._cache._index_key(key[0], fly_rows.targetctx.codegen()) for key in kept)
