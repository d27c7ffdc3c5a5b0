"""Zones that the crew drew and countries: where flights land, and whether they leave the area of their permit."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.ground import Whereabouts, Zone
from pappus.hazard._chances import Flags
from pappus.hazard._classes import Landings
from pappus.hazard._descents import Mask
from pappus.trajectory import Flights


class Leaves(IntEnum):
    """Whether the way of a flight leaves an area."""

    NO = 0
    YES = 1
    CANNOT_TELL = 2


def zone_flags(landings: Landings, zone: Zone) -> Flags:
    """Which landed flights landed in a zone; an outline always covers its own ground."""
    inside = zone.outline.contains(landings.latitude_deg, landings.longitude_deg)
    return Flags(inside, np.zeros(len(inside), dtype=np.bool_))


def country_flags(where: Whereabouts, column: int) -> Flags:
    """Which landed flights landed in the country of that number."""
    yes = np.asarray(where.inside[:, column])
    return Flags(yes, (where.may_be[:, column] | ~where.known) & ~yes)


def abroad_flags(where: Whereabouts, names: Sequence[str], home: str) -> Flags:
    """Which landed flights landed in another country than that of the release."""
    foreign: Mask = np.array([name != home for name in names], dtype=np.bool_)
    yes = np.asarray(where.inside[:, foreign].any(axis=1))
    return Flags(yes, (where.may_be[:, foreign].any(axis=1) | ~where.known) & ~yes)


def leaves_area(flights: Flights, areas: Sequence[Zone]) -> NDArray[np.int8]:
    """Whether each flight leaves the areas taken together (``Leaves``), by its whole track; shape (N,).

    Flights without a track count as leaving when their top or their landing lies outside, else it cannot be told;
    neither can it of flights that did not land and stayed inside as far as they are known. Compare one block of an
    ensemble after another to keep no more tracks than one block has.

    :param areas: one or more; the ``permit area`` zones of the plan.
    """
    import shapely

    whole, middle_deg = _together(areas)
    answer = np.full(len(flights.outcome), Leaves.CANNOT_TELL, dtype=np.int8)
    for latitude, longitude in (
        (flights.top_latitude_deg, flights.top_longitude_deg), (flights.end_latitude_deg, flights.end_longitude_deg),
    ):  # fmt: skip
        answer[~shapely.intersects_xy(whole, _turned(longitude, middle_deg), latitude)] = Leaves.YES
    number, step = np.nonzero(~np.isnan(flights.track_latitude_deg))
    enough = np.bincount(number, minlength=len(flights.tracked)) > 1
    kept = enough[number]
    number, step = number[kept], step[kept]
    if len(number):
        track, line = np.unique(number, return_inverse=True)
        points = np.column_stack(
            (_turned(flights.track_longitude_deg[number, step], middle_deg), flights.track_latitude_deg[number, step])
        )
        inside = shapely.covers(whole, shapely.linestrings(points, indices=line))
        tracked = flights.tracked[track]
        answer[tracked[~inside]] = Leaves.YES
        stayed = tracked[inside]
        landed = flights.landed[stayed]
        answer[stayed[landed & (answer[stayed] != Leaves.YES)]] = Leaves.NO
    return answer


def leaving_flags(leaves: NDArray[np.int8]) -> Flags:
    """What ``leaves_area`` found, as flags of all flights."""
    return Flags(np.asarray(leaves == Leaves.YES), np.asarray(leaves == Leaves.CANNOT_TELL))


def _together(areas: Sequence[Zone]) -> tuple[Any, float]:
    """Areas as one prepared geometry of longitude and latitude, and the longitude of its middle."""
    import shapely

    bounds = [zone.outline.bounds_deg for zone in areas]
    middle = 0.5 * (bounds[0][2] + bounds[0][3])
    moved = []
    for zone, (_, _, west, east) in zip(areas, bounds, strict=True):
        turn = 360.0 * round((middle - 0.5 * (west + east)) / 360.0)
        moved.append(shapely.transform(zone.outline.flat, lambda at, turn=turn: at + np.array([turn, 0.0])))
    whole = shapely.union_all(moved)
    shapely.prepare(whole)
    return whole, middle


def _turned(longitude_deg: NDArray[np.float64], middle_deg: float) -> NDArray[np.float64]:
    return np.asarray(longitude_deg - 360.0 * np.round((longitude_deg - middle_deg) / 360.0))
