"""What is known of the flights of a block: a row of numbers for each quantity, so that a loop over the lanes can be
done many lanes at once."""

from __future__ import annotations

import numpy as np

from pappus.trajectory._laid_out import LANES, Block, Cube, Pace, Rows, Spot, State
from pappus.trajectory._look_up import spot_at
from pappus.trajectory._part import part

NODE_ROWS = 10
# where a flight is: place, what it does there, and the height of the level that it makes for
(LATITUDE, LONGITUDE, HEIGHT, TIME, LEVEL, NORTHWARD, EASTWARD, SLOWNESS, STRETCH, GOAL) = range(
    0, NODE_ROWS * LANES, LANES
)
# the same where it will be next
(NEXT_LATITUDE, NEXT_LONGITUDE, NEXT_HEIGHT, NEXT_TIME, NEXT_LEVEL, NEXT_NORTHWARD, NEXT_EASTWARD, NEXT_SLOWNESS,
 NEXT_STRETCH, NEXT_GOAL) = range(NODE_ROWS * LANES, 2 * NODE_ROWS * LANES, LANES)  # fmt: skip
# the air there; the sun; how climb and fall stray from their laws; whether something happens on the way
(U, V, TEMPERATURE, DENSITY, FLUIDITY, DAY, NIGHT, BEND, RATE_LN, EVENT) = range(
    2 * NODE_ROWS * LANES, (2 * NODE_ROWS + 10) * LANES, LANES
)
# the numbers of each flight, in the order of ``Rows``, and the one of the two falls that is its own
FLIGHT_ROWS = 13
(
    CONTENT,
    CARRIED,
    SLACK,
    PER_FACTOR,
    OFFSET,
    BURST_STRETCH,
    EARLY,
    SLOW_BURST,
    SLOW_CUT,
    EXPONENT,
    RELEASED,
    LEAK,
    GAS,
    SLOW_FALL,
) = range((2 * NODE_ROWS + 10) * LANES, (2 * NODE_ROWS + 10 + FLIGHT_ROWS + 1) * LANES, LANES)
NUMBERS = SLOW_FALL + LANES
T, Y, X, ROW, END, STATUS = range(0, 6 * LANES, LANES)
PLACES = STATUS + LANES


def new_block() -> Block:
    """Room for a block."""
    return Block(np.zeros(NUMBERS), np.zeros(PLACES, dtype=np.int64))


@part
def state_of(b: Block, i: int) -> State:
    x = b.numbers
    return State(x[LATITUDE + i], x[LONGITUDE + i], x[HEIGHT + i], x[TIME + i], x[LEVEL + i])


@part
def next_state_of(b: Block, i: int) -> State:
    x = b.numbers
    return State(
        x[NEXT_LATITUDE + i], x[NEXT_LONGITUDE + i], x[NEXT_HEIGHT + i], x[NEXT_TIME + i], x[NEXT_LEVEL + i]
    )  # fmt: skip


@part
def set_next_state(b: Block, i: int, state: State) -> None:
    x = b.numbers
    x[NEXT_LATITUDE + i], x[NEXT_LONGITUDE + i], x[NEXT_HEIGHT + i] = state.latitude, state.longitude, state.height
    x[NEXT_TIME + i], x[NEXT_LEVEL + i] = state.time, state.level


@part
def pace_of(b: Block, i: int) -> Pace:
    x = b.numbers
    return Pace(x[NORTHWARD + i], x[EASTWARD + i], x[SLOWNESS + i])


@part
def next_pace_of(b: Block, i: int) -> Pace:
    x = b.numbers
    return Pace(x[NEXT_NORTHWARD + i], x[NEXT_EASTWARD + i], x[NEXT_SLOWNESS + i])


@part
def step_on(b: Block, i: int) -> None:
    """What was ahead is here now."""
    for k in range(NODE_ROWS):
        b.numbers[k * LANES + i] = b.numbers[(NODE_ROWS + k) * LANES + i]


@part
def spot_ahead(cube: Cube, rows: Rows, b: Block, i: int) -> Spot:
    """The eight points around the place and time where the flight will be next, found from those around the last."""
    x, n = b.numbers, b.places
    member = rows.member[n[ROW + i]]
    spot = spot_at(
        cube, member, x[NEXT_TIME + i], x[NEXT_LATITUDE + i], x[NEXT_LONGITUDE + i], n[T + i], n[Y + i], n[X + i]
    )
    n[T + i], n[Y + i], n[X + i] = spot.t, spot.y, spot.x
    return spot
