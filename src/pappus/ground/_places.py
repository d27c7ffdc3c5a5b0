"""Named places, so that a position can be said in words: 4 km north-west of a village."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geodesic_inverse
from pappus.errors import OutOfRange

Array = NDArray[np.float64]

_EARTH_RADIUS_M = 6_371_008.8
# A sphere errs by up to 0.56 % of a distance on the ellipsoid, so candidates come from a slightly larger disc.
_SPHERE_MARGIN = 1.006


@dataclass(frozen=True)
class NamedPlace:
    """A populated place."""

    name: str
    country: str
    """Two letters of ISO 3166-1."""
    latitude_deg: float
    longitude_deg: float
    population: int
    """0 when the source does not know it."""


@dataclass(frozen=True, eq=False)
class PlaceIndex:
    """Many named places that can be asked for the nearest one; all arrays have one entry a place.

    Names are UTF-8 bytes in one blob; the name of place ``i`` is ``name_utf8[name_start[i]:name_start[i + 1]]``.
    """

    name_utf8: bytes
    name_start: NDArray[np.int64]
    country: NDArray[np.bytes_]
    latitude_deg: Array
    longitude_deg: Array
    population: NDArray[np.int64]

    def __post_init__(self) -> None:
        count = len(self.latitude_deg)
        lengths = {len(self.name_start) - 1, len(self.country), len(self.longitude_deg), len(self.population)}
        if count == 0 or lengths != {count} or self.name_start[-1] != len(self.name_utf8):
            raise ValueError("the arrays of named places are empty or do not fit each other")

    def __len__(self) -> int:
        return len(self.latitude_deg)

    def place(self, index: int) -> NamedPlace:
        """Place number ``index``."""
        name = self.name_utf8[self.name_start[index] : self.name_start[index + 1]].decode("utf-8")
        return NamedPlace(
            name,
            self.country[index].decode("ascii"),
            float(self.latitude_deg[index]),
            float(self.longitude_deg[index]),
            int(self.population[index]),
        )

    def nearest(self, latitude_deg: float, longitude_deg: float) -> tuple[NamedPlace, float, float]:
        """The nearest place, its distance in metres and the bearing in degrees *from the place to the point*.

        The bearing is 0 when the point is the place. Raises OutOfRange for a latitude beyond 90 degrees.
        """
        away = self._chords(latitude_deg, longitude_deg)
        nearest = np.argpartition(away, 3)[:4] if len(self) > 4 else np.arange(len(self))
        candidates = [(*self._from_place(int(index), latitude_deg, longitude_deg), index) for index in nearest]
        distance_m, bearing_deg, index = min(candidates)
        return self.place(int(index)), distance_m, bearing_deg

    def within(self, latitude_deg: float, longitude_deg: float, radius_m: float, most: int) -> tuple[NamedPlace, ...]:
        """At most ``most`` places within ``radius_m`` of a point, the most populous first.

        Raises OutOfRange for a latitude beyond 90 degrees or a radius outside 0 to 10 000 km.
        """
        if not 0.0 <= radius_m <= 1e7:
            raise OutOfRange("radius of a search for places", radius_m, 0.0, 1e7, "m")
        chord = 2.0 * np.sin(min(radius_m * _SPHERE_MARGIN / _EARTH_RADIUS_M, np.pi) / 2.0)
        found = np.flatnonzero(self._chords(latitude_deg, longitude_deg) <= chord)
        chosen: list[NamedPlace] = []
        for index in found[np.lexsort((found, -self.population[found]))]:
            if len(chosen) >= most:
                break
            if self._from_place(int(index), latitude_deg, longitude_deg)[0] <= radius_m:
                chosen.append(self.place(int(index)))
        return tuple(chosen)

    @cached_property
    def _on_sphere(self) -> Array:
        return _unit_vectors(self.latitude_deg, self.longitude_deg)

    def _chords(self, latitude_deg: float, longitude_deg: float) -> Array:
        """Straight distance from a point to every place on a unit sphere.

        All of a quarter of a million places take a few milliseconds, less than the import of a search tree.
        """
        apart = self._on_sphere - _unit_vectors(latitude_deg, longitude_deg)
        return np.asarray(np.sqrt(np.einsum("ij,ij->i", apart, apart)))

    def _from_place(self, index: int, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
        distance_m, azimuth_deg, _ = geodesic_inverse(
            float(self.latitude_deg[index]), float(self.longitude_deg[index]), latitude_deg, longitude_deg
        )
        return distance_m, 0.0 if distance_m == 0.0 else azimuth_deg % 360.0


def _unit_vectors(latitude_deg: float | Array, longitude_deg: float | Array) -> Array:
    """Points on a unit sphere, shape (..., 3); the chord between two grows with their distance."""
    if not np.all(np.abs(latitude_deg) <= 90.0):
        raise OutOfRange("latitude", latitude_deg, -90.0, 90.0, "deg")
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    parallel = np.cos(latitude)
    return np.stack((parallel * np.cos(longitude), parallel * np.sin(longitude), np.sin(latitude)), axis=-1)
