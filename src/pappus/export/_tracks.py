"""Tracks of flights as lines: up is solid, down is dashed; the nominal flight firm, all others faint."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.export._look import INK, QUIET, Array, drawn_tracks
from pappus.trajectory import AscentEnd, Flights

UP: Any = "solid"
DOWN: Any = (0, (5, 3))
FAINT: dict[str, Any] = {"color": QUIET, "linewidth": 0.6, "alpha": 0.28}
FIRM: dict[str, Any] = {"color": INK, "linewidth": 2.0}
LANDED, OFF_NOMINAL, LOST = "landings", "landings, off-nominal", "last known places, not landed"
"""What is known of the ends of flights."""


def add_tracks(axes: Any, flights: Flights, x: Array, y: Array, *, firm: bool) -> None:
    """Draw tracks with coordinates ``x`` and ``y``, shape (T, steps); faint ones no more than can be seen apart."""
    from matplotlib.collections import LineCollection

    chosen = np.arange(len(x)) if firm else drawn_tracks(len(x))
    legs = split(flights, chosen)
    for number, linestyle in enumerate((UP, DOWN)):
        segments = [
            np.column_stack((x[k, leg[number]], y[k, leg[number]])) for k, leg in zip(chosen, legs, strict=True)
        ]
        lines = [segment for segment in segments if len(segment) > 1]
        axes.add_collection(
            LineCollection(
                lines, linestyles=[linestyle], zorder=6 if firm else 3, capstyle="butt", **(FIRM if firm else FAINT)
            ),
            autolim=False,
        )


def split(flights: Flights, chosen: NDArray[np.intp]) -> list[tuple[slice, slice]]:
    """Steps of each chosen track on its way up and on its way down; both hold the top.

    A large ensemble keeps tracks for some of its flights only: ``chosen`` counts tracks, not flights.
    """
    height = flights.track_height_msl_m[chosen]
    known = np.count_nonzero(~np.isnan(height), axis=1)
    # a flight whose ascent did not end was still going up, or floating, when our knowledge of it ended
    tops = np.where(
        flights.ascent_end[flights.tracked[chosen]] == AscentEnd.NONE, known - 1, np.nanargmax(height, axis=1)
    )
    return [(slice(0, top + 1), slice(top, end)) for top, end in zip(tops.tolist(), known.tolist(), strict=True)]


def top_word(nominal: Flights) -> str | None:
    """``burst`` or ``cut-down``; None where the ascent did not end in the data."""
    return {int(AscentEnd.BURST): "burst", int(AscentEnd.CUT_DOWN): "cut-down"}.get(int(nominal.ascent_end[0]))


def ends(flights: Flights, off_nominal: NDArray[np.bool_]) -> list[tuple[str, NDArray[np.intp]]]:
    """The flights in three groups by what is known of their end; empty groups are left out."""
    if off_nominal.shape != flights.outcome.shape:
        raise ValueError(f"off_nominal has shape {off_nominal.shape}, the flights {flights.outcome.shape}")
    landed = flights.landed
    groups = ((LANDED, landed & ~off_nominal), (OFF_NOMINAL, landed & off_nominal), (LOST, ~landed))
    return [(name, np.flatnonzero(which)) for name, which in groups if which.any()]


def line_samples() -> list[tuple[Any, str]]:
    """Legend entries for the lines."""
    from matplotlib.lines import Line2D

    faint = FAINT | {"alpha": 0.7, "linewidth": 0.9}
    return [
        (Line2D([], [], linestyle=UP, **FIRM), "nominal flight, up"),
        (Line2D([], [], linestyle=DOWN, **FIRM), "nominal flight, down"),
        (Line2D([], [], linestyle=UP, **faint), "predicted flights, up"),
        (Line2D([], [], linestyle=DOWN, **faint), "predicted flights, down"),
    ]


def say_flights(flights: Flights) -> str:
    """How many flights there are, what became of them and how many are drawn."""
    total, landed = len(flights.outcome), int(np.count_nonzero(flights.landed))
    lost = f", {total - landed:,} did not" if landed < total else ""
    said = f"{total:,} predicted flights: {landed:,} landed in the data{lost}."
    drawn = len(drawn_tracks(len(flights.track_time_s)))
    return said if drawn == total else f"{said} {drawn} flights are drawn as lines."
