"""Invented ends and tracks of flights whose chances are known exactly, for the tests of hazard and airspace."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import LocalPlane
from pappus.ground import MapShapes, Outline
from pappus.hazard import Branch, Descents
from pappus.trajectory import AscentEnd, Flights, Outcome

PLANE = LocalPlane(50.0, 10.0)
Array = NDArray[np.float64]
Ring = list[tuple[float, float]]
"""East and north of the middle of the plane, in metres."""


def descents_at(
    east_m: ArrayLike,
    north_m: ArrayLike,
    *,
    landed: ArrayLike = True,
    member: ArrayLike = 0,
    branch: ArrayLike = Branch.GOOD_CANOPY,
    mass_kg: ArrayLike = 1.5,
    touchdown_m_s: ArrayLike = 5.0,
    height_msl_m: ArrayLike = 300.0,
) -> Descents:
    """Flights that came down at places of the plane."""
    latitude, longitude = PLANE.to_latitude_longitude_deg(east_m, north_m)
    whole = np.ones(latitude.shape)
    down = np.broadcast_to(np.asarray(landed, dtype=bool), latitude.shape)
    return Descents(
        landed=down,
        latitude_deg=latitude,
        longitude_deg=longitude,
        height_msl_m=whole * height_msl_m,
        touchdown_m_s=np.where(down, touchdown_m_s, np.nan),
        mass_kg=whole * mass_kg,
        branch=np.broadcast_to(np.asarray(branch, dtype=np.int8), latitude.shape),
        member=np.broadcast_to(np.asarray(member, dtype=np.intp), latitude.shape),
    )


def round_cloud(flights: int, sd_m: float, seed: int) -> tuple[Array, Array]:
    """East and north of a round normal cloud of landings around the middle of the plane."""
    east, north = sd_m * np.random.default_rng(seed).standard_normal((2, flights))
    return east, north


def ring_deg(ring: Ring) -> Array:
    """A ring of the plane as latitude and longitude."""
    return np.column_stack(PLANE.to_latitude_longitude_deg(*np.array(ring, dtype=float).T))


def outline(*rings: Ring) -> Outline:
    """An outline of one polygon, its edge first, then its holes."""
    return Outline((tuple(ring_deg(ring) for ring in rings),))


def circle(radius_m: float, east_m: float = 0.0, north_m: float = 0.0) -> Ring:
    """A ring of 360 points."""
    turn = np.radians(np.arange(360.0))
    return list(zip(east_m + radius_m * np.cos(turn), north_m + radius_m * np.sin(turn), strict=True))


def box(west_m: float, east_m: float, south_m: float, north_m: float) -> Ring:
    """A rectangle."""
    return [(west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m)]


def shapes(form: str, *parts: Ring) -> MapShapes:
    """Shapes of one ring each; rings of areas are closed here."""
    closed = [[*ring, ring[0]] if form == "areas" else ring for ring in parts]
    points = np.concatenate([ring_deg(ring)[:, ::-1] for ring in closed]) if closed else np.empty((0, 2))
    starts = np.cumsum([0, *(len(ring) for ring in closed)])
    return MapShapes(form, points, starts, np.arange(len(closed) + 1))


def flights_of(
    time_s: ArrayLike,
    east_m: Array,
    north_m: Array,
    height_msl_m: Array,
    *,
    landed: ArrayLike = True,
    burst: ArrayLike = True,
    track_of: NDArray[np.intp] | None = None,
) -> Flights:
    """Flights along tracks of shape (flights, points) on the plane; the top is the highest point of each."""
    latitude, longitude = PLANE.to_latitude_longitude_deg(east_m, north_m)
    time, height = np.broadcast_to(np.asarray(time_s, dtype=float), latitude.shape), np.asarray(height_msl_m)
    count = len(latitude)
    rows, top = np.arange(count), np.argmax(height, axis=1)
    down = np.broadcast_to(np.asarray(landed, dtype=bool), (count,))
    tracked = slice(None) if track_of is None else track_of
    return Flights(
        outcome=np.where(down, Outcome.LANDED, Outcome.LEFT_COVERAGE).astype(np.int8),
        ascent_end=np.where(np.broadcast_to(burst, (count,)), AscentEnd.BURST, AscentEnd.NONE).astype(np.int8),
        top_latitude_deg=latitude[rows, top],
        top_longitude_deg=longitude[rows, top],
        top_height_msl_m=height[rows, top],
        top_time_s=time[rows, top],
        end_latitude_deg=latitude[:, -1],
        end_longitude_deg=longitude[:, -1],
        end_height_msl_m=height[:, -1],
        end_time_s=time[:, -1],
        touchdown_m_s=np.where(down, 5.0, np.nan),
        track_time_s=time[tracked],
        track_latitude_deg=latitude[tracked],
        track_longitude_deg=longitude[tracked],
        track_height_msl_m=height[tracked],
        release_time_s=float(time[0, 0]),
        track_of=track_of,
    )
