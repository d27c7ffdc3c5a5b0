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
    """The points of each box, each array of shape (boxes, 17), NaN behind the end of a flight."""
    flight: Indices
    """Whose each box is, ascending."""
    boxes: Array
    """South, north, west, east, lowest and highest, shape (6, boxes)."""

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
        points = Ends(*(_in_boxes(values, boxes) for values in laid))
        edges = [edge.reduce(values, axis=1) for values in points[:3] for edge in (np.fmin, np.fmax)]
        return cls(points, np.repeat(np.arange(count), boxes), np.stack(edges))

    def stretches_in(self, box: Array) -> tuple[Indices, Ends, Ends]:
        """Flight, start and end of each stretch between two points whose own box meets a box, in order of time.

        ``box`` holds south, north, west, east, lowest and highest; longitudes within half a turn of the tracks.
        """
        low, high = self.boxes[0::2], self.boxes[1::2]
        near = np.ones(low.shape[1], dtype=np.bool_)
        for axis in range(3):
            near &= (high[axis] >= box[2 * axis]) & (low[axis] <= box[2 * axis + 1])
        chosen = np.flatnonzero(near)
        values = [points[chosen] for points in self.points]
        meets = np.ones((len(chosen), _STEPS_IN_BOX), dtype=np.bool_)
        for axis in range(3):
            start, end = values[axis][:, :-1], values[axis][:, 1:]
            # written so that a missing end (NaN) leaves the stretch out
            meets &= (np.maximum(start, end) >= box[2 * axis]) & (np.minimum(start, end) <= box[2 * axis + 1])
        rows, steps = np.nonzero(meets)
        starts = Ends(*(one[rows, steps] for one in values))
        ends = Ends(*(one[rows, steps + 1] for one in values))
        return self.flight[chosen[rows]], starts, ends

    @property
    def longitude_deg(self) -> float:
        """A longitude that all tracks lie within half a turn of; 0 without tracks."""
        return float(self.points.longitude_deg[0, 0]) if self.points.longitude_deg.size else 0.0


def _in_boxes(values: Array, boxes: int) -> Array:
    """Tracks cut into boxes; neighbours share a point, so that the step between them belongs to one of the two."""
    padded = np.full((len(values), boxes * _STEPS_IN_BOX + 1), np.nan)
    padded[:, : values.shape[1]] = values
    first = padded[:, :-1].reshape(-1, _STEPS_IN_BOX)
    return np.column_stack((first, padded[:, _STEPS_IN_BOX::_STEPS_IN_BOX].ravel()))
