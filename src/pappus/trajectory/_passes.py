"""One step of all flights of a block, from level to level, in passes.

Only the look into the cube goes flight by flight. All else is loops over the lanes without a branch or a call, which
the processor does many lanes at once; flights that have ended go through them too, and nobody looks at the result.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pappus.trajectory._block import (
    BEND,
    BURST_STRETCH,
    CARRIED,
    CONTENT,
    DAY,
    DENSITY,
    EARLY,
    EASTWARD,
    EVENT,
    EXPONENT,
    FLUIDITY,
    GAS,
    GOAL,
    HEIGHT,
    LATITUDE,
    LEAK,
    LEVEL,
    LONGITUDE,
    NEXT_EASTWARD,
    NEXT_GOAL,
    NEXT_HEIGHT,
    NEXT_LATITUDE,
    NEXT_LEVEL,
    NEXT_LONGITUDE,
    NEXT_NORTHWARD,
    NEXT_SLOWNESS,
    NEXT_STRETCH,
    NEXT_TIME,
    NIGHT,
    NORTHWARD,
    OFFSET,
    PER_FACTOR,
    RATE_LN,
    RELEASED,
    ROW,
    SLACK,
    SLOW_FALL,
    SLOWNESS,
    STATUS,
    STRETCH,
    TEMPERATURE,
    TIME,
    U,
    V,
    spot_ahead,
)
from pappus.trajectory._bounds import GOES_ON, maybe_beyond
from pappus.trajectory._laid_out import LANES, Air, Block, Cube, Ground, Limits, Out, Rows, Tables
from pappus.trajectory._laws import air_pressure, bend_at, climb, degrees_per_m, gas_excess, sink, stretched, warmth_at
from pappus.trajectory._look_up import air_on
from pappus.trajectory._part import part
from pappus.trajectory._steps import TOUCH_M

SLOW_S_M = 2.0
"""Above so many seconds for a metre, steps from level to level are not to be trusted."""


@part
def look_ahead(b: Block, leg: int) -> None:
    """Where and when wind and slowness here would have the flights on the next level."""
    x = b.numbers
    for i in range(LANES):
        up, down = np.floor(x[LEVEL + i] + 1e-9) + 1.0, np.ceil(x[LEVEL + i] - 1e-9) - 1.0
        seconds = (x[GOAL + i] - x[HEIGHT + i]) * x[SLOWNESS + i]
        x[NEXT_LEVEL + i] = max(down, 0.0) if leg else up
        x[NEXT_TIME + i] = x[TIME + i] + seconds
        x[NEXT_LATITUDE + i] = x[LATITUDE + i] + x[NORTHWARD + i] * seconds
        x[NEXT_LONGITUDE + i] = x[LONGITUDE + i] + x[EASTWARD + i] * seconds


@part
def meet_air(cube: Cube, tables: Tables, rows: Rows, b: Block, flights: int, leg: int) -> None:
    """The air there, for the flights that go on."""
    x, n = b.numbers, b.places
    for i in range(flights):
        if n[STATUS + i] == GOES_ON:
            spot = spot_ahead(cube, rows, b, i)
            set_air(tables, b, i, air_on(cube, spot, int(x[NEXT_LEVEL + i]), rows, n[ROW + i], leg), leg)


@part
def set_air(tables: Tables, b: Block, i: int, air: Air, leg: int) -> None:
    """The air of the next place, and what the sun does there."""
    x = b.numbers
    x[U + i], x[V + i], x[TEMPERATURE + i], x[DENSITY + i] = air.u, air.v, air.temperature, air.density
    x[FLUIDITY + i], x[NEXT_HEIGHT + i] = air.fluidity, air.height
    x[NEXT_GOAL + i], x[RATE_LN + i] = air.below if leg else air.above, air.rate_ln
    if leg == 0:
        x[DAY + i], x[NIGHT + i] = warmth_at(tables, x[NEXT_TIME + i], air.height)
        x[BEND + i] = bend_at(tables, air)


@part
def drift_all(b: Block) -> None:
    """Degrees a second in the air there."""
    x = b.numbers
    for i in range(LANES):
        north, east = degrees_per_m(x[NEXT_LATITUDE + i], x[NEXT_HEIGHT + i])
        x[NEXT_NORTHWARD + i], x[NEXT_EASTWARD + i] = x[V + i] * north, x[U + i] * east


@part
def climb_of(
    tables: Tables, b: Block, i: int, air: Air, time: float, day: float, night: float, bend: float, stretch: float,
    rounds: int,
) -> Any:  # fmt: skip
    """Stretch of one flight's film, found from a guess, and the seconds that it takes for a metre."""
    x = b.numbers
    gone = min(max(x[LEAK + i] * (time - x[RELEASED + i]), 0.0), 0.99)
    pressure = air_pressure(air.density, air.temperature)
    warm = air.temperature + gas_excess(pressure, day, night, x[OFFSET + i])
    stretch = stretched(tables, pressure, x[CONTENT + i] * (1.0 - gone) * warm, stretch, rounds)
    diameter = x[SLACK + i] * stretch
    net = air.density * (math.pi / 6.0) * diameter * diameter * diameter - x[CARRIED + i] + x[GAS + i] * gone
    return stretch, bend * climb(net, diameter, air.density, air.fluidity, air.height, x[PER_FACTOR + i])


@part
def climb_all(tables: Tables, b: Block, rounds: int) -> None:
    """Stretch and slowness in the air there, on the way up."""
    x = b.numbers
    for i in range(LANES):
        air = Air(0.0, 0.0, x[TEMPERATURE + i], x[NEXT_HEIGHT + i], x[DENSITY + i], 0.0, 0.0, x[FLUIDITY + i], 0.0)
        x[NEXT_STRETCH + i], x[NEXT_SLOWNESS + i] = climb_of(
            tables, b, i, air, x[NEXT_TIME + i], x[DAY + i], x[NIGHT + i], x[BEND + i], x[STRETCH + i], rounds
        )


@part
def sink_all(b: Block) -> None:
    """Slowness in the air there, on the way down: less than nothing."""
    x = b.numbers
    for i in range(LANES):
        x[NEXT_SLOWNESS + i] = -sink(
            x[SLOW_FALL + i], x[EXPONENT + i], x[DENSITY + i], x[NEXT_HEIGHT + i], x[RATE_LN + i]
        )


@part
def arrive_all(b: Block) -> None:
    """The step with both of its ends known: drift goes linearly in height within it, slowness exponentially."""
    x = b.numbers
    for i in range(LANES):
        height = x[NEXT_HEIGHT + i] - x[HEIGHT + i]
        bend = (x[NEXT_SLOWNESS + i] - x[SLOWNESS + i]) / (x[NEXT_SLOWNESS + i] + x[SLOWNESS + i])
        seconds = 0.5 * height * (x[SLOWNESS + i] + x[NEXT_SLOWNESS + i]) * (1.0 - bend * bend * (1.0 / 3.0))
        # of the mean of a product of two straight lines
        lag = height * (1.0 / 12.0) * (x[NEXT_SLOWNESS + i] - x[SLOWNESS + i])
        north, next_north = x[NORTHWARD + i], x[NEXT_NORTHWARD + i]
        east, next_east = x[EASTWARD + i], x[NEXT_EASTWARD + i]
        x[NEXT_LATITUDE + i] = x[LATITUDE + i] + 0.5 * (north + next_north) * seconds + (next_north - north) * lag
        x[NEXT_LONGITUDE + i] = x[LONGITUDE + i] + 0.5 * (east + next_east) * seconds + (next_east - east) * lag
        x[NEXT_TIME + i] = x[TIME + i] + seconds


@part
def events_up(limits: Limits, b: Block, top: int) -> None:
    """Mark the steps up on which something may happen."""
    x = b.numbers
    cut_m = limits.cut_height_msl_m
    for i in range(LANES):
        ends = (x[NEXT_HEIGHT + i] >= min(x[EARLY + i], cut_m)) | (x[NEXT_STRETCH + i] >= x[BURST_STRETCH + i])
        late = min(x[RELEASED + i] + limits.cut_after_s, limits.longest_s)
        gone = (x[NEXT_TIME + i] >= late) | (x[NEXT_LEVEL + i] >= top) | (x[NEXT_SLOWNESS + i] > SLOW_S_M)
        edge = maybe_beyond(limits, x[NEXT_TIME + i], x[NEXT_LATITUDE + i], x[NEXT_LONGITUDE + i])
        x[EVENT + i] = 1.0 if ends | gone | edge else 0.0


@part
def events_down(limits: Limits, ground: Ground, b: Block) -> None:
    """Mark the steps down on which something may happen."""
    x = b.numbers
    for i in range(LANES):
        ends = (x[NEXT_HEIGHT + i] <= ground.highest_msl_m + TOUCH_M) | (x[NEXT_LEVEL + i] <= 0.0)
        gone = x[NEXT_TIME + i] >= limits.longest_s
        edge = maybe_beyond(limits, x[NEXT_TIME + i], x[NEXT_LATITUDE + i], x[NEXT_LONGITUDE + i])
        x[EVENT + i] = 1.0 if ends | gone | edge else 0.0


@part
def events_at_heights(out: Out, b: Block) -> None:
    """Mark the steps across a height that was asked for."""
    x = b.numbers
    for k in range(out.heights_msl_m.shape[0]):
        height = out.heights_msl_m[k]
        for i in range(LANES):
            crossed = (x[HEIGHT + i] < height) != (x[NEXT_HEIGHT + i] < height)
            x[EVENT + i] = 1.0 if crossed else x[EVENT + i]
