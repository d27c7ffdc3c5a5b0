"""Tracks cut into stretches with boxes around them, so that most of a track is never compared with most volumes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pappus.trajectory import Flights

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

_STEPS_IN_BOX = 16


class Ends(NamedTuple):
    """One end of each of many stretches; arrays of one length."""

    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array
    time_s: Array

    def toward(self, other: Ends, share: Array) -> Ends:
        """The points a share of the way to the other ends."""
        return Ends(*(start + share * (end - start) for start, end in zip(self, other, strict=True)))

    def some(self, which: NDArray[np.bool_] | Indices) -> Ends:
        """Some of them, or all of them in another order."""
        return Ends(*(values[which] for values in self))


@dataclass(frozen=True, eq=False)
class Tracks:
    """Tracks of some flights, and a box around every 16 steps of each.

    Longitudes run on without a jump from those of the first track.
    """

    points: Ends
    """Each array of shape (flights, steps), NaN behind the end of a flight."""
    boxes: Array
    """South, north, west, east, lowest and highest, shape (6, flights, boxes)."""

    @classmethod
    def of(cls, flights: Flights) -> Tracks:
        """The tracks that the flights have."""
        count, steps = flights.track_latitude_deg.shape
        boxes = max(-(-(steps - 1) // _STEPS_IN_BOX), 1)
        longitude = flights.track_longitude_deg
        if count:
            middle = longitude[0, 0]
            longitude = longitude - 360.0 * np.round((longitude - middle) / 360.0)
        laid = (flights.track_latitude_deg, longitude, flights.track_height_msl_m, flights.track_time_s)
        wanted = boxes * _STEPS_IN_BOX + 1
        points = Ends(*(_padded(values, wanted) for values in laid))
        edges = []
        for values in points[:3]:
            # neighbouring boxes share a point, so that the step between them belongs to one of the two
            inner = values[:, :-1].reshape(count, boxes, _STEPS_IN_BOX)
            after = values[:, _STEPS_IN_BOX::_STEPS_IN_BOX]
            edges += [
                np.fmin(np.fmin.reduce(inner, axis=2), after), np.fmax(np.fmax.reduce(inner, axis=2), after),
            ]  # fmt: skip
        return cls(points, np.stack(edges))

    def stretches_in(self, box: Array) -> tuple[Indices, Ends, Ends]:
        """Flight, start and end of each stretch between two points whose own box meets a box, in order of time.

        ``box`` holds south, north, west, east, lowest and highest; longitudes within half a turn of the tracks.
        """
        low, high = self.boxes[0::2], self.boxes[1::2]
        near = np.ones(low.shape[1:], dtype=np.bool_)
        for axis in range(3):
            near &= (high[axis] >= box[2 * axis]) & (low[axis] <= box[2 * axis + 1])
        flight, number = np.nonzero(near)
        columns = number[:, None] * _STEPS_IN_BOX + np.arange(_STEPS_IN_BOX + 1)
        values = [points[flight[:, None], columns] for points in self.points]
        meets = np.ones((len(flight), _STEPS_IN_BOX), dtype=np.bool_)
        for axis in range(3):
            start, end = values[axis][:, :-1], values[axis][:, 1:]
            # written so that a missing end (NaN) leaves the stretch out
            meets &= (np.maximum(start, end) >= box[2 * axis]) & (np.minimum(start, end) <= box[2 * axis + 1])
        rows, steps = np.nonzero(meets)
        starts = Ends(*(one[rows, steps] for one in values))
        ends = Ends(*(one[rows, steps + 1] for one in values))
        return flight[rows], starts, ends

    @property
    def longitude_deg(self) -> float:
        """A longitude that all tracks lie within half a turn of; 0 without tracks."""
        return float(self.points.longitude_deg[0, 0]) if self.points.longitude_deg.size else 0.0


def _padded(values: Array, steps: int) -> Array:
    padded = np.full((len(values), steps), np.nan)
    padded[:, : values.shape[1]] = values
    return padded
