"""Fly an ensemble through a wind field: the door of the compiled kernel."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext

import numpy as np
from numpy.typing import NDArray

from pappus.flight_train import FlightTrain, fall_rate_m_s, molar_mass_kg_mol, sphere_volume_m3
from pappus.trajectory._conditions import Conditions
from pappus.trajectory._draws import Draws
from pappus.trajectory._flights import Flights
from pappus.trajectory._laid_out import Out, Rows
from pappus.units import gas_constant_j_mol_k

Array = NDArray[np.float64]

TRACKS = 1000
"""Tracks are kept for so many flights: nobody looks at more, and they fill the memory."""
_SLOW_STEP_S = 30.0
_SLICE = 256
"""Flights that a thread takes at a time; fewer are not worth a thread."""


def fly(
    conditions: Conditions,
    draws: Draws,
    *,
    heights_msl_m: Sequence[float] = (),
    tracks: int = TRACKS,
    threads: ThreadPoolExecutor | None = None,
) -> Flights:
    """Fly every row of ``draws``. Deterministic, whatever the number of threads: all chance is in the draws.

    ``heights_msl_m`` are the heights that ``Flights.time_above_s`` may be asked for. Tracks are kept for the first
    ``tracks`` flights. ``threads`` come from ``flight_threads``; without them each call starts its own. The first call
    on a machine compiles the kernel (see ``kernel_is_compiled``).

    Raises ValueError for draws that do not fit the field.
    """
    from pappus.trajectory._block import new_block
    from pappus.trajectory._kernel import fly_rows

    cube, tables, limits, ground, release = conditions.laid_out
    rows, out = _rows(conditions, draws), _room_for(conditions, draws.flights, heights_msl_m, tracks)

    def fly_slice(first: int) -> None:
        last = min(first + _SLICE, draws.flights)
        fly_rows(first, last, cube, tables, limits, ground, rows, release, out, new_block())

    slices = range(0, draws.flights, _SLICE)
    if len(slices) == 1:
        fly_slice(0)
    else:
        fly_slice(draws.flights)  # none; compiles once, not in every thread
        with flight_threads() if threads is None else nullcontext(threads) as pool:
            for done in [pool.submit(fly_slice, first) for first in slices]:
                done.result()
    return _flights(conditions, out)


def flight_threads() -> ThreadPoolExecutor:
    """Threads for many calls of ``fly``: to start them takes as long as some hundred flights."""
    from numba import get_num_threads

    return ThreadPoolExecutor(get_num_threads())


def kernel_is_compiled() -> bool:
    """Whether the kernel need not be compiled any more on this machine (which takes some ten seconds)."""
    from pappus.trajectory._kernel import is_compiled

    return is_compiled()


def _rows(conditions: Conditions, draws: Draws) -> Rows:
    field, train = conditions.field, conditions.train
    if draws.flights and not 0 <= int(draws.member.min()) <= int(draws.member.max()) < field.members:
        raise ValueError(f"draws ask for members that {field.name} does not have")
    error = draws.wind_error_m_s
    if error is None:
        error = np.zeros((1, 2, field.levels, 2), dtype=np.float32)
    elif error.shape != (draws.flights, 2, field.levels, 2):
        raise ValueError(f"wind error {error.shape} does not fit {draws.flights} flights and {field.levels} levels")
    climb, fall = (
        np.zeros((1, field.levels), dtype=np.float32) if own is None else own for own in (draws.climb_ln, draws.fall_ln)
    )
    for name, own in (("climb", climb), ("fall", fall)):
        if own.shape[1:] != (field.levels,) or len(own) not in (1, draws.flights):
            raise ValueError(f"{name} {own.shape} does not fit {draws.flights} flights and {field.levels} levels")
    return Rows(
        order=np.argsort(draws.member, kind="stable"),
        member=np.array(draws.member, dtype=np.int64),
        numbers=_numbers(train, draws, conditions.release.time_s),
        climb_ln=np.require(climb, np.float32, ("C", "W")),
        fall_ln=np.require(fall, np.float32, ("C", "W")),
        wind_error_m_s=np.require(error, np.float32, ("C", "W")),
    )


def _numbers(train: FlightTrain, draws: Draws, release_s: float) -> Array:
    """As ``Rows`` has them."""
    envelope, mass, area = train.envelope, train.train_mass_kg, draws.drag_area_m2
    slack = envelope.unstretched_diameter_m
    gas_kg = draws.gas_mol * molar_mass_kg_mol(train.gas)
    columns = (
        draws.gas_mol * gas_constant_j_mol_k / float(sphere_volume_m3(slack)),
        envelope.mass_kg + mass + gas_kg,
        np.full(draws.flights, slack),
        1.0 / draws.drag_factor,
        draws.gas_excess_offset_k,
        draws.burst_diameter_m / slack,
        np.where(np.isnan(draws.early_burst_msl_m), np.inf, draws.early_burst_msl_m),
        1.0 / fall_rate_m_s(mass + draws.remnant_kg, area, 1.0, 1.0, draws.fall_exponent),
        1.0 / fall_rate_m_s(mass, area, 1.0, 1.0, draws.fall_exponent),
        draws.fall_exponent,
        release_s + draws.release_delay_s,
        draws.leak_per_s,
        gas_kg,
    )
    return np.ascontiguousarray(np.stack(columns, axis=1), dtype=np.float64)


def _room_for(conditions: Conditions, flights: int, heights_msl_m: Sequence[float], tracks: int) -> Out:
    """Memory for the answer; pages of the tracks that no flight needs are never touched."""
    points = 2 * conditions.field.levels + int(conditions.longest_flight_s / _SLOW_STEP_S) + 4
    tracked = min(flights, tracks)
    heights = np.array(heights_msl_m, dtype=np.float64)
    return Out(
        top=np.empty((flights, 4)),
        end=np.empty((flights, 4)),
        touchdown_m_s=np.empty(flights),
        outcome=np.empty(flights, dtype=np.int8),
        ascent_end=np.empty(flights, dtype=np.int8),
        heights_msl_m=heights,
        seconds_above=np.zeros((flights, heights.size)),
        track=np.empty((tracked, points, 4)),
        steps=np.zeros(tracked, dtype=np.int64),
    )


def _flights(conditions: Conditions, out: Out) -> Flights:
    longest = int(out.steps.max(initial=0))
    track = np.where(np.arange(longest)[:, None] < out.steps[:, None, None], out.track[:, :longest], np.nan)
    track_time, track_latitude, track_longitude, track_height = np.ascontiguousarray(np.moveaxis(track, -1, 0))
    top_latitude, top_longitude, top_height, top_time = np.ascontiguousarray(out.top.T)
    end_latitude, end_longitude, end_height, end_time = np.ascontiguousarray(out.end.T)
    return Flights(
        out.outcome, out.ascent_end, top_latitude, top_longitude, top_height, top_time,
        end_latitude, end_longitude, end_height, end_time, out.touchdown_m_s,
        track_time, track_latitude, track_longitude, track_height, conditions.release.time_s,
        tuple(out.heights_msl_m.tolist()), out.seconds_above,
    )  # fmt: skip
