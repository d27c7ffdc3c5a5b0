"""Whether a station sees a balloon: the ray over the terrain of an earth that is made flatter for refraction.

Radio rays bend downwards. Over an earth of 4/3 its radius they run straight, and a ray of length D stands at the
distance s lower than the straight line between its ends by s (D - s) / (2 k R): the usual profile of a radio path
(effective earth radius, k = 4/3, Rec. ITU-R P.310; from memory). Ducts, woods, buildings and antennas are not in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import distance_m, require_range
from pappus.ground import FlatGround, Terrain, TerrainGrid

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

EARTH_RADIUS_M = 6_371_000.0
REFRACTION = 4.0 / 3.0
"""How many times its radius the earth seems to have for radio rays in usual air. Common practice."""
FARTHEST_M = 1_000_000.0
"""Beyond it nothing below 50 km is above the horizon."""
_STEP_M = 200.0
_MOST_STEPS = 1_500
_BENT_M = 2.0 * REFRACTION * EARTH_RADIUS_M


@dataclass(frozen=True, eq=False)
class Sight:
    """The ray to each of some targets; every array has one entry a target."""

    clear: Mask
    """Nothing of the terrain stands above the ray."""
    clearance_m: Array
    """Least height of the ray above the terrain; negative where it is blocked."""
    at_m: Array
    """How far from the station that is, along the ground."""
    surveyed: Array
    """Share of the profile for which the terrain is surveyed: 0 over a flat ground."""


def radio_horizon_m(height1_m: float, height2_m: float) -> float:
    """Distance at which two antennas lose each other over a smooth earth of 4/3 its radius.

    sqrt(2 k R h1) + sqrt(2 k R h2); the rounded form of the trade is 4.12 (sqrt h1 + sqrt h2) km. Heights above the
    smooth ground [m], 0 to 60 km.

    :raises OutOfRange: outside that range.
    """
    for height in (height1_m, height2_m):
        require_range("height above the ground", height, 0.0, 60_000.0, "m")
    return math.sqrt(_BENT_M * height1_m) + math.sqrt(_BENT_M * height2_m)


def last_heard_height_m(distance_m: float, antenna_m: float) -> float:
    """Height above smooth ground below which a payload at a distance is under the radio horizon of an antenna.

    Distance along the ground up to 1000 km, antenna up to 10 km above the ground [m]; 0 where the ground itself is
    seen.

    :raises OutOfRange: outside those ranges.
    """
    require_range("distance", distance_m, 0.0, FARTHEST_M, "m")
    require_range("height of the antenna", antenna_m, 0.0, 10_000.0, "m")
    beyond_m = distance_m - math.sqrt(_BENT_M * antenna_m)
    return beyond_m * beyond_m / _BENT_M if beyond_m > 0.0 else 0.0


def line_of_sight(
    latitude_deg: float,
    longitude_deg: float,
    antenna_msl_m: float,
    target_latitude_deg: ArrayLike,
    target_longitude_deg: ArrayLike,
    target_msl_m: ArrayLike,
    terrain: Terrain,
) -> Sight:
    """The ray from an antenna to each target over the terrain between them, every 200 m or in 1500 steps.

    Good to some metres of height within 300 km. The ground under antenna and target themselves does not block. A
    target farther away than 1000 km is behind the horizon.
    """
    north, east, height = (
        np.atleast_1d(value).astype(np.float64)
        for value in np.broadcast_arrays(target_latitude_deg, target_longitude_deg, target_msl_m)
    )
    away = distance_m(latitude_deg, longitude_deg, north, east)
    steps = int(np.clip(math.ceil(float(away.max(initial=0.0)) / _STEP_M), 2, _MOST_STEPS))
    share = np.arange(1, steps) / steps
    along = share * away[:, None]
    ray = antenna_msl_m + share * (height[:, None] - antenna_msl_m) - along * (away[:, None] - along) / _BENT_M
    track = _between(latitude_deg, longitude_deg, north, east, share)
    ground = terrain.height_msl_m(*track)
    above = ray - ground
    lowest = above.argmin(axis=1)
    rows = np.arange(len(north))
    surveyed = terrain.holds(*track).mean(axis=1) if isinstance(terrain, TerrainGrid) else np.zeros(len(north))
    clearance = above[rows, lowest]
    return Sight((clearance >= 0.0) & (away <= FARTHEST_M), clearance, along[rows, lowest], np.asarray(surveyed))


def smooth_ground(ground_msl_m: float) -> FlatGround:
    """A smooth earth, where no terrain is known."""
    return FlatGround(ground_msl_m, "smooth ground, as high as at the station")


def _between(
    latitude_deg: float, longitude_deg: float, north_deg: Array, east_deg: Array, share: Array
) -> tuple[Array, Array]:
    """Places on the way to each target, shape (targets, steps): the great circle of the geodetic latitudes.

    It leaves the geodesic by less than 100 m on 500 km.
    """
    start = _upward(np.array([latitude_deg]), np.array([longitude_deg]))
    end = _upward(north_deg, east_deg)
    angle = 2.0 * np.arcsin(np.minimum(0.5 * np.linalg.norm(end - start, axis=1), 1.0))[:, None]
    whole = np.where(angle > 1e-12, np.sin(angle), 1.0)
    first = np.where(angle > 1e-12, np.sin((1.0 - share) * angle) / whole, 1.0 - share)
    second = np.where(angle > 1e-12, np.sin(share * angle) / whole, share)
    x, y, z = np.moveaxis(first[..., None] * start + second[..., None] * end[:, None, :], -1, 0)
    return np.degrees(np.arctan2(z, np.hypot(x, y))), np.degrees(np.arctan2(y, x))


def _upward(latitude_deg: Array, longitude_deg: Array) -> Array:
    north, east = np.radians(latitude_deg), np.radians(longitude_deg)
    return np.column_stack((np.cos(north) * np.cos(east), np.cos(north) * np.sin(east), np.sin(north)))
