"""How many people live where flights land, from a list of named places: rough, and it says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import distance_m, require_range
from pappus.ground import PlaceIndex
from pappus.hazard._descents import Array

URBAN_PER_KM2 = 3_000.0
"""Own prior: twice the least density of an urban centre in the Degree of Urbanisation (1500 per km2; United Nations and
Eurostat, from memory)."""
RURAL_PER_KM2 = 50.0
"""Own prior for all land between the places of the list; open country has less, farmed plains twice as many."""

_METRES_PER_DEGREE = 111_000.0
_WIDEST_PLACE_M = 80_000.0


@dataclass(frozen=True, eq=False)
class PeopleDensity:
    """Inhabitants for each square kilometre at some places."""

    people_per_km2: Array
    """NaN where the place itself is not known."""
    assumptions: str
    """What it rests on; always to be shown beside a result."""


def people_density(
    places: PlaceIndex,
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    *,
    urban_per_km2: float = URBAN_PER_KM2,
    rural_per_km2: float = RURAL_PER_KM2,
) -> PeopleDensity:
    """Density of inhabitants at each of many places; the arguments broadcast to one row.

    Every named place spreads its people over a disc of ``urban_per_km2`` around its point; where discs overlap they add
    up, so nobody is lost and the boroughs that a list has beside their city count twice. Outside all discs lives
    ``rural_per_km2``, at sea too. People at work, on roads or at a gathering are not seen.

    :param urban_per_km2: 100 to 100 000.
    :param rural_per_km2: 0 to 10 000; the plan may know better.
    :raises OutOfRange: outside those ranges.
    """
    urban = float(require_range("urban density", urban_per_km2, 100.0, 100_000.0, "per km2"))
    rural = float(require_range("rural density", rural_per_km2, 0.0, 10_000.0, "per km2"))
    latitude, longitude = np.broadcast_arrays(
        np.atleast_1d(np.asarray(latitude_deg, dtype=np.float64)),
        np.atleast_1d(np.asarray(longitude_deg, dtype=np.float64)),
    )
    density = np.full(latitude.shape, np.nan)
    known = np.isfinite(latitude) & np.isfinite(longitude)
    density[known] = rural
    if known.any():
        radius_m = np.minimum(1000.0 * np.sqrt(places.population / (np.pi * urban)), _WIDEST_PLACE_M)
        near = _near(places, latitude[known], longitude[known], float(radius_m.max()))
        # a row of places against a column of landings
        away = distance_m(
            latitude[known, None], longitude[known, None], places.latitude_deg[near], places.longitude_deg[near]
        )
        density[known] = np.maximum(density[known], urban * (away <= radius_m[near]).sum(axis=1))
    return PeopleDensity(
        density,
        f"assumed: the people of each named place live at {urban:g} per km2 around its point, all others at {rural:g} "
        "per km2; people at work, on roads or at gatherings are not known",
    )


def _near(places: PlaceIndex, latitude: Array, longitude: Array, reach_m: float) -> NDArray[np.intp]:
    """Numbers of the places whose discs may reach one of the points: those in the box around them."""
    room = reach_m / _METRES_PER_DEGREE
    middle = longitude[0]
    turned = (longitude - middle + 180.0) % 360.0 - 180.0
    across = room / max(float(np.cos(np.radians(np.abs(latitude).max() + room))), 0.01)
    east = (places.longitude_deg - middle + 180.0) % 360.0 - 180.0
    inside = (places.latitude_deg >= latitude.min() - room) & (places.latitude_deg <= latitude.max() + room)
    inside &= (east >= turned.min() - across) & (east <= turned.max() + across) & (places.population > 0)
    return np.flatnonzero(inside)
