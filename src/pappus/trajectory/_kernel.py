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

import numpy as np
from numpy.typing import NDArray

from pappus.trajectory._bounds import GOES_ON, LEFT_COVERAGE, beyond
from pappus.trajectory._flights import Outcome
from pappus.trajectory._laid_out import (
    LANES,
    Air,
    Bend,
    Block,
    Cube,
    Ground,
    Lift,
    Limits,
    Out,
    Pace,
    Rows,
    Spot,
    State,
    Tables,
)
from pappus.trajectory._laws import climb, degrees_per_m, sink
from pappus.trajectory._look_up import air_between, air_on, level_of, mean, spot_at
from pappus.trajectory._part import fingerprint, part, whole
from pappus.trajectory._steps import (
    BURST,
    NONE,
    bend_of,
    end_of_ascent,
    finish,
    moved,
    note,
    share_to_ground,
    start,
    step_to,
)

Array = NDArray[np.float64]

SLOW_S_M, SLOW_STEP_S = 2.0, 30.0
LANDED = int(Outcome.LANDED)
SLOW, TURNS = -2, -3
"""Beside the outcomes and ``GOES_ON``: over to steps in time; the ascent is over."""

(
    LATITUDE, LONGITUDE, HEIGHT, TIME, LEVEL, U, V, SLOWNESS, STRETCH,
    NEXT_U, NEXT_V, NEXT_TEMPERATURE, NEXT_HEIGHT, NEXT_DENSITY, NEXT_TIME, NEXT_SLOWNESS, NEXT_STRETCH, NORTH, EAST,
    NEXT_LEVEL, NEXT_LATITUDE, NEXT_LONGITUDE,
    CONTENT, CARRIED, SLACK, PER_FACTOR, OFFSET, BURST_STRETCH, EARLY, SLOW_BURST, SLOW_CUT, EXPONENT, SLOW_FALL,
) = range(33)  # fmt: skip
T, Y, X, BASE, ROW, END, STATUS = range(7)


@part
def state_of(b: Block, i: int) -> State:
    x = b.numbers
    return State(x[i, LATITUDE], x[i, LONGITUDE], x[i, HEIGHT], x[i, TIME], x[i, LEVEL])


@part
def set_state(b: Block, i: int, state: State) -> None:
    x = b.numbers
    x[i, LATITUDE], x[i, LONGITUDE], x[i, HEIGHT] = state.latitude, state.longitude, state.height
    x[i, TIME], x[i, LEVEL] = state.time, state.level


@part
def spot_of(b: Block, i: int) -> Spot:
    n, w = b.places, b.weights
    return Spot(
        n[i, T],
        n[i, Y],
        n[i, X],
        n[i, BASE],
        w[i, 0],
        w[i, 1],
        w[i, 2],
        w[i, 3],
        w[i, 4],
        w[i, 5],
        w[i, 6],
        w[i, 7],
    )


@part
def set_spot(b: Block, i: int, s: Spot) -> None:
    n, w = b.places, b.weights
    n[i, T], n[i, Y], n[i, X], n[i, BASE] = s.t, s.y, s.x, s.base
    w[i, 0], w[i, 1], w[i, 2], w[i, 3] = s.a0, s.a1, s.b0, s.b1
    w[i, 4], w[i, 5], w[i, 6], w[i, 7] = s.c0, s.c1, s.d0, s.d1


# --- the three passes over a block


@part
def look_ahead(cube: Cube, tables: Tables, rows: Rows, b: Block, flights: int, leg: int) -> None:
    """The air on the next level, where and when wind and slowness on this one would have the flights there.

    In three short loops, since the processor looks some hundred instructions ahead and no further.
    """
    x, n = b.numbers, b.places
    for i in range(flights):
        if n[i, STATUS] == GOES_ON:
            up, down = math.floor(x[i, LEVEL] + 1e-9) + 1.0, math.ceil(x[i, LEVEL] - 1e-9) - 1.0
            x[i, NEXT_LEVEL] = max(down, 0.0) if leg else up
            height = mean(cube, spot_of(b, i), int(x[i, NEXT_LEVEL]), 3)
            seconds = (height - x[i, HEIGHT]) * x[i, SLOWNESS]
            # the ellipsoid under the middle of the step, which the last step shows closely enough
            middle = x[i, LATITUDE] + 0.5 * x[i, V] * seconds * x[i, NORTH]
            north, east = degrees_per_m(tables, middle, 0.5 * (x[i, HEIGHT] + height))
            x[i, NEXT_LATITUDE] = x[i, LATITUDE] + x[i, V] * seconds * north
            x[i, NEXT_LONGITUDE] = x[i, LONGITUDE] + x[i, U] * seconds * east
            x[i, NEXT_TIME], x[i, NORTH], x[i, EAST] = x[i, TIME] + seconds, north, east
    for i in range(flights):
        if n[i, STATUS] == GOES_ON:
            latitude, longitude = x[i, NEXT_LATITUDE], x[i, NEXT_LONGITUDE]
            set_spot(b, i, spot_at(cube, rows.member[n[i, ROW]], x[i, NEXT_TIME], latitude, longitude, spot_of(b, i)))
    for i in range(flights):
        if n[i, STATUS] == GOES_ON:
            air = air_on(cube, spot_of(b, i), int(x[i, NEXT_LEVEL]), rows, n[i, ROW], leg)
            set_next_air(b, i, air, x[i, NEXT_TIME])


@part
def set_next_air(b: Block, i: int, air: Air, time: float) -> None:
    x = b.numbers
    x[i, NEXT_U], x[i, NEXT_V], x[i, NEXT_TEMPERATURE] = air.u, air.v, air.temperature
    x[i, NEXT_HEIGHT], x[i, NEXT_DENSITY], x[i, NEXT_TIME] = air.height, air.density, time


@part
def next_air_of(b: Block, i: int) -> Air:
    x = b.numbers
    return Air(x[i, NEXT_U], x[i, NEXT_V], x[i, NEXT_TEMPERATURE], x[i, NEXT_HEIGHT], x[i, NEXT_DENSITY])


@part
def lift_of(b: Block, i: int) -> Lift:
    x = b.numbers
    return Lift(x[i, CONTENT], x[i, CARRIED], x[i, SLACK], x[i, PER_FACTOR], x[i, OFFSET])


@part
def climb_all(tables: Tables, b: Block, rounds: int) -> None:
    """Slowness and stretch in the next air; also for flights that have ended, which nobody looks at."""
    x = b.numbers
    for i in range(LANES):
        x[i, NEXT_SLOWNESS], x[i, NEXT_STRETCH] = climb(
            tables, lift_of(b, i), next_air_of(b, i), x[i, NEXT_TIME], x[i, STRETCH], rounds
        )


@part
def sink_all(tables: Tables, b: Block) -> None:
    x = b.numbers
    for i in range(LANES):
        x[i, NEXT_SLOWNESS] = -sink(tables, x[i, SLOW_FALL], x[i, EXPONENT], next_air_of(b, i))


@part
def arrive(b: Block, i: int) -> tuple[State, State, Pace, Pace]:
    """Both ends of the step."""
    x, here = b.numbers, state_of(b, i)
    pace = Pace(x[i, U], x[i, V], x[i, SLOWNESS])
    next_pace = Pace(x[i, NEXT_U], x[i, NEXT_V], x[i, NEXT_SLOWNESS])
    there = step_to(here, x[i, NEXT_LEVEL], pace, next_pace, x[i, NEXT_HEIGHT], x[i, NORTH], x[i, EAST])
    return here, there, pace, next_pace


@part
def step_on(b: Block, i: int, there: State) -> None:
    """What was ahead is here now."""
    x = b.numbers
    set_state(b, i, there)
    x[i, U], x[i, V] = x[i, NEXT_U], x[i, NEXT_V]
    x[i, SLOWNESS], x[i, STRETCH] = x[i, NEXT_SLOWNESS], x[i, NEXT_STRETCH]


@part
def begin_leg(cube: Cube, rows: Rows, b: Block, i: int, row: int, leg: int) -> None:
    """The air where the flight stands, between two levels, as that from which the first step starts."""
    state = state_of(b, i)
    spot = spot_at(cube, rows.member[row], state.time, state.latitude, state.longitude, spot_of(b, i))
    set_spot(b, i, spot)
    set_next_air(b, i, air_between(cube, spot, state.level, rows, row, leg), state.time)


# --- the three parts of a flight


@part
def rise(cube: Cube, tables: Tables, limits: Limits, rows: Rows, out: Out, b: Block, flights: int) -> None:
    """Up, level by level, until all have burst, are cut, slow or gone."""
    x, n = b.numbers, b.places
    for i in range(flights):
        begin_leg(cube, rows, b, i, n[i, ROW], 0)
    climb_all(tables, b, 12)
    going = 0
    for i in range(flights):
        step_on(b, i, state_of(b, i))
        n[i, STATUS] = GOES_ON
        if x[i, LEVEL] >= cube.levels - 1:
            n[i, STATUS] = LEFT_COVERAGE
        elif x[i, SLOWNESS] > SLOW_S_M:
            n[i, STATUS] = SLOW
        going += n[i, STATUS] == GOES_ON
    while going > 0:
        look_ahead(cube, tables, rows, b, flights, 0)
        climb_all(tables, b, 2)
        going = 0
        for i in range(flights):
            if n[i, STATUS] == GOES_ON:
                rise_to(cube, tables, limits, out, b, i, n[i, ROW])
                going += n[i, STATUS] == GOES_ON


@part
def rise_to(cube: Cube, tables: Tables, limits: Limits, out: Out, b: Block, i: int, row: int) -> None:
    """Arrive on the level above, or end the ascent on the way."""
    x, n = b.numbers, b.places
    if x[i, NEXT_SLOWNESS] > SLOW_S_M:  # it almost stops on the way: the time to the next level is not to be trusted
        n[i, STATUS] = SLOW
        return
    here, there, pace, next_pace = arrive(b, i)
    bend = bend_of(here, there, pace, next_pace, x[i, NORTH], x[i, EAST])
    share, n[i, END] = end_of_ascent(
        limits, x[i, EARLY], x[i, BURST_STRETCH], here, there, bend.time, x[i, STRETCH], x[i, NEXT_STRETCH]
    )
    if n[i, END] != NONE:
        there = moved(here, there, bend, share)
    note(out, row, here, there)
    step_on(b, i, there)
    n[i, STATUS] = beyond(limits, tables, there)
    if n[i, STATUS] == GOES_ON and n[i, END] != NONE:
        n[i, STATUS] = TURNS
    elif n[i, STATUS] == GOES_ON and there.level >= cube.levels - 1:
        n[i, STATUS] = LEFT_COVERAGE


@part
def rise_slowly(cube: Cube, tables: Tables, limits: Limits, rows: Rows, out: Out, b: Block, i: int, row: int) -> None:
    """Steps in time near the floating height, until burst, cut, the end of the winds or the longest flight."""
    x, n, top = b.numbers, b.places, cube.levels - 1
    member, state = rows.member[row], state_of(b, i)
    spot = spot_at(cube, member, state.time, state.latitude, state.longitude, spot_of(b, i))
    air, stretch = air_between(cube, spot, state.level, rows, row, 0), x[i, STRETCH]
    n[i, STATUS] = GOES_ON
    while n[i, STATUS] == GOES_ON:
        slow, stretch = climb(tables, lift_of(b, i), air, state.time, stretch, 6)
        lower = min(int(state.level), top - 1)
        thickness = mean(cube, spot, lower + 1, 3) - mean(cube, spot, lower, 3)
        level = min(state.level + SLOW_STEP_S / (slow * max(thickness, 1.0)), float(top))
        north, east = degrees_per_m(tables, state.latitude, state.height)
        latitude = state.latitude + air.v * SLOW_STEP_S * north
        longitude = state.longitude + air.u * SLOW_STEP_S * east
        spot = spot_at(cube, member, state.time + SLOW_STEP_S, latitude, longitude, spot)
        air = air_between(cube, spot, level, rows, row, 0)
        _, next_stretch = climb(tables, lift_of(b, i), air, state.time + SLOW_STEP_S, stretch, 6)
        there = State(latitude, longitude, air.height, state.time + SLOW_STEP_S, level)
        share, n[i, END] = end_of_ascent(
            limits, x[i, EARLY], x[i, BURST_STRETCH], state, there, 0.0, stretch, next_stretch
        )
        if n[i, END] != NONE:
            there = moved(state, there, Bend(0.0, 0.0, 0.0), share)
        note(out, row, state, there)
        state = there
        n[i, STATUS] = beyond(limits, tables, state)
        if n[i, STATUS] == GOES_ON and n[i, END] != NONE:
            n[i, STATUS] = TURNS
        elif level >= top and n[i, END] == NONE:
            n[i, STATUS] = LEFT_COVERAGE
    set_state(b, i, state)
    set_spot(b, i, spot)


@part
def fall(
    cube: Cube, tables: Tables, limits: Limits, ground: Ground, rows: Rows, out: Out, b: Block, flights: int
) -> None:
    """Down, level by level, to the ground."""
    x, n = b.numbers, b.places
    going = 0
    for i in range(flights):
        if n[i, STATUS] == TURNS:
            n[i, STATUS] = GOES_ON
            x[i, SLOW_FALL] = x[i, SLOW_BURST] if n[i, END] == BURST else x[i, SLOW_CUT]
            begin_leg(cube, rows, b, i, n[i, ROW], 1)
            going += 1
    sink_all(tables, b)
    for i in range(flights):
        step_on(b, i, state_of(b, i))
    while going > 0:
        look_ahead(cube, tables, rows, b, flights, 1)
        sink_all(tables, b)
        going = 0
        for i in range(flights):
            if n[i, STATUS] == GOES_ON:
                fall_to(tables, limits, ground, out, b, i, n[i, ROW])
                going += n[i, STATUS] == GOES_ON


@part
def fall_to(tables: Tables, limits: Limits, ground: Ground, out: Out, b: Block, i: int, row: int) -> None:
    """Arrive on the level below, or on the ground on the way."""
    x, n = b.numbers, b.places
    here, there, pace, next_pace = arrive(b, i)
    bend = bend_of(here, there, pace, next_pace, x[i, NORTH], x[i, EAST])
    share = share_to_ground(ground, here, there, bend)
    lands = share <= 1.0 or there.level == 0.0
    if lands:
        share = min(share, 1.0)
        there = moved(here, there, bend, share)
    note(out, row, here, there)
    n[i, STATUS] = beyond(limits, tables, there)
    if lands and n[i, STATUS] == GOES_ON:
        n[i, STATUS] = LANDED
        out.touchdown_m_s[row] = -1.0 / (pace.slow + share * (next_pace.slow - pace.slow))
    step_on(b, i, there)


@part
def fly_block(
    cube: Cube, tables: Tables, limits: Limits, ground: Ground, rows: Rows, release: State, out: Out, b: Block,
    first: int, flights: int,
) -> None:  # fmt: skip
    """Some rows, from the release to their ends."""
    x, n = b.numbers, b.places
    for i in range(LANES):
        # lanes without a flight of their own repeat the last one's numbers
        row = n[i, ROW] = rows.order[first + min(i, flights - 1)]
        for k in range(10):
            x[i, CONTENT + k] = rows.numbers[row, k]
        x[i, STRETCH], x[i, SLOW_FALL], n[i, END] = 2.0, x[i, SLOW_CUT], NONE
        n[i, T] = n[i, Y] = n[i, X] = 0
        spot = spot_at(cube, rows.member[row], release.time, release.latitude, release.longitude, spot_of(b, i))
        set_spot(b, i, spot)
        level = level_of(cube, spot, release.height)
        x[i, NORTH], x[i, EAST] = degrees_per_m(tables, release.latitude, release.height)
        set_state(b, i, State(release.latitude, release.longitude, release.height, release.time, level))
        begin_leg(cube, rows, b, i, row, 0)
    for i in range(flights):
        start(out, n[i, ROW], state_of(b, i))
    rise(cube, tables, limits, rows, out, b, flights)
    for i in range(flights):
        if n[i, STATUS] == SLOW:
            rise_slowly(cube, tables, limits, rows, out, b, i, n[i, ROW])
        out.top[n[i, ROW]] = x[i, LATITUDE], x[i, LONGITUDE], x[i, HEIGHT], x[i, TIME]
        out.touchdown_m_s[n[i, ROW]] = math.nan
    fall(cube, tables, limits, ground, rows, out, b, flights)
    for i in range(flights):
        out.end[n[i, ROW]] = x[i, LATITUDE], x[i, LONGITUDE], x[i, HEIGHT], x[i, TIME]
        out.outcome[n[i, ROW]], out.ascent_end[n[i, ROW]] = n[i, STATUS], n[i, END]
        finish(out, n[i, ROW], state_of(b, i))


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
