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
    known = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    density[known] = rural
    if known.size:
        discs = _discs_over(places, latitude[known], longitude[known], urban)
        density[known] = np.maximum(rural, urban * discs)
    return PeopleDensity(
        density,
        f"assumed: the people of each named place live at {urban:g} per km2 around its point, all others at {rural:g} "
        "per km2; people at work, on roads or at gatherings are not known",
    )


def _discs_over(places: PlaceIndex, latitude: Array, longitude: Array, urban_per_km2: float) -> NDArray[np.intp]:
    """How many places reach each point with their disc."""

    def radius_m(population: NDArray[np.int64]) -> Array:
        return np.minimum(1000.0 * np.sqrt(population / (np.pi * urban_per_km2)), _WIDEST_PLACE_M)

    # boxes before distances: of a quarter of a million places a few thousand are left, and of the pairs very few
    room = float(radius_m(places.population.max())) / _METRES_PER_DEGREE
    chosen = np.flatnonzero(
        (places.latitude_deg >= latitude.min() - room) & (places.latitude_deg <= latitude.max() + room)
    )
    radius = radius_m(places.population[chosen])
    reach_deg = radius / _METRES_PER_DEGREE
    parallel = np.maximum(np.cos(np.radians(np.minimum(np.abs(places.latitude_deg[chosen]) + reach_deg, 90.0))), 0.01)
    east = (longitude - longitude[0] + 180.0) % 360.0 - 180.0
    place_east = (places.longitude_deg[chosen] - longitude[0] + 180.0) % 360.0 - 180.0
    beside = (place_east >= east.min() - reach_deg / parallel) & (place_east <= east.max() + reach_deg / parallel)
    chosen, radius, reach_deg, parallel = chosen[beside], radius[beside], reach_deg[beside], parallel[beside]
    # the points within the latitudes of each disc, found in their order
    order = np.argsort(latitude)
    first = np.searchsorted(latitude[order], places.latitude_deg[chosen] - reach_deg)
    count = np.searchsorted(latitude[order], places.latitude_deg[chosen] + reach_deg, side="right") - first
    place = np.repeat(np.arange(len(chosen)), count)
    point = order[np.arange(len(place)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)]
    near = np.abs(east[point] - place_east[beside][place]) <= (reach_deg / parallel)[place]
    point, place = point[near], place[near]
    away = distance_m(
        latitude[point], longitude[point], places.latitude_deg[chosen[place]], places.longitude_deg[chosen[place]]
    )
    return np.bincount(point[away <= radius[place]], minlength=len(latitude))
