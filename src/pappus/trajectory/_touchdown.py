"""Where on a step down a flight first meets the terrain, which rises and falls between the ends of the step."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.ground import Terrain

Array = NDArray[np.float64]

_LOOKS = np.linspace(0.0, 1.0, 17)
"""A step of 500 m in a wind of 20 m/s is 2 km long: one look for each 125 m."""
_HALVINGS = 30


def share_to_ground(ground: Terrain, start: Array, end: Array) -> Array:
    """Share of the straight way from ``start`` to ``end`` after which each flight touches the ground; 2 when it does not.

    Both have shape (3, N): latitude [deg], longitude [deg], height above mean sea level [m]. The touch between two looks
    is found by halving and given from above, so that no flight ends under the ground. A hill narrower than the looks
    are apart may be flown through.
    """
    share = np.full(start.shape[1], 2.0)
    looks = _touches(ground, start, end, _LOOKS)
    down = np.flatnonzero(looks.any(axis=1))
    first = looks[down].argmax(axis=1)
    above, below = _LOOKS[np.maximum(first - 1, 0)], _LOOKS[first]
    for _ in range(_HALVINGS):
        middle = 0.5 * (above + below)
        touches = _touches(ground, start[:, down], end[:, down], middle[:, None])[:, 0]
        above, below = np.where(touches, above, middle), np.where(touches, middle, below)
    share[down] = above
    return share


def _touches(ground: Terrain, start: Array, end: Array, share: Array) -> NDArray[np.bool_]:
    """Whether each flight is on or under the ground at its shares of the way, shape (N, shares)."""
    latitude, longitude, height = start[:, :, None] + share * (end - start)[:, :, None]
    return np.asarray(height <= ground.height_msl_m(latitude, longitude))
