"""The landing area: where the flights of an ensemble come down, and what they cannot say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import LocalPlane
from pappus.errors import BadInput, Finding, OutOfRange
from pappus.landing._density import Density, estimate, signed_area_m2
from pappus.landing._ellipse import Ellipse, check_probability, circular_error_probable, ellipse_from_covariance
from pappus.landing._intervals import Share, share, unknown_note

Array = NDArray[np.float64]

MINIMUM_LANDED = 20
"""Fewer landed flights give no area: the 95 % quantile of 19 lies outside them."""
# The plane shortens 300 km by a tenth of a kilometre and ends at 500 km; areas may reach a little past the landings.
_NEAR_M = 300_000.0
_MAP_LIMIT_M = 490_000.0
_EARTH_RADIUS_M = 6_371_009.0


@dataclass(frozen=True, eq=False)
class AreaLevel:
    """The smallest area that holds ``probability`` of all flights, landed and unknown.

    It is made to hold that share of flights yet to be flown. Of the very flights that drew it a little more lie inside
    (in the area of 0.5: 0.58 of 300 flights, 0.53 of 1,000).
    """

    probability: float
    exists: bool
    why_not: str
    """Why there is no such area; empty when there is one."""
    area_km2: float | None
    area_sd_km2: float | None
    """Sampling error of the area: another ensemble of the same size would give another area."""
    polygons: tuple[tuple[Array, ...], ...]
    """Polygons of closed rings of (latitude, longitude) in degrees, shape (points, 2). The first ring of a polygon is
    the outline, counter-clockwise on a map with north up; the others are holes, clockwise. Longitudes run on past 180
    where a ring crosses the date line."""


@dataclass(frozen=True, eq=False)
class LandingArea:
    """Samples first; the areas come from them, and mean, ellipse and radii are summaries only."""

    latitude_deg: Array
    longitude_deg: Array
    """Positions of the landed flights, shape (landed,)."""
    flights: int
    landed: int
    unknown: int
    share_unknown: Share
    parts: tuple[AreaLevel, ...]
    """One for each level, lowest first."""
    notes: tuple[str, ...]
    """What the numbers leave out, in words for the person who reads them."""
    nominal: LandingArea | None = None
    """The same for the nominal flights alone, where the caller told them apart. Nobody knows whether an unknown flight
    was nominal, so all of them stay in its probabilities."""
    mean_deg: tuple[float, float] | None = None
    """Latitude and longitude; this and what follows hold given that the flight lands, None without an area."""
    mode_deg: tuple[float, float] | None = None
    """Latitude and longitude of the highest density, to a cell of the density grid."""
    ellipse: Ellipse | None = None
    """95 % ellipse of a normal with the covariance of the landings."""
    cep50_m: float | None = None
    cep95_m: float | None = None
    """Radii about ``mean_deg`` that hold 50 % and 95 % of that normal."""

    def probability_inside(self, rings: Sequence[ArrayLike]) -> Share:
        """Share of all flights that landed inside ``rings``, with its 95 % interval (Clopper & Pearson 1934).

        Unknown flights count as not inside; up to ``share_unknown`` of all flights may come on top. Rings follow the
        even-odd rule, so holes and separate parts may be given together; edges are straight in latitude and longitude
        as in RFC 7946, and no ring may go round a pole.

        :param rings: each (latitude, longitude) in degrees, shape (points, 2), at least 3 points, closed or not.
        """
        inside = np.zeros(self.landed, dtype=np.bool_)
        for ring in rings:
            inside ^= _inside(self.latitude_deg, self.longitude_deg, np.asarray(ring, dtype=np.float64))
        return share(int(np.count_nonzero(inside)), self.flights)


def landing_area(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    *,
    unknown: int,
    nominal: ArrayLike | None = None,
    levels: Sequence[float] = (0.5, 0.9, 0.95),
    rng_seed: int = 1,
) -> LandingArea:
    """Highest-density landing areas of an ensemble of flights.

    An area of level p holds p of *all* flights. Where so many flights are unknown that the landed ones cannot carry p,
    there is no such area, and its level says why. The order of the flights does not matter.

    :param latitude_deg: of the landed flights only, -90 to 90, shape (landed,).
    :param longitude_deg: of the same flights, -360 to 360.
    :param unknown: flights that did not land in the data (still aloft, left the coverage), 0 or more.
    :param nominal: true for the landed flights of the nominal branch; gives a second area of those alone.
    :param levels: each above 0, below 1.
    :param rng_seed: draws the groups behind ``area_sd_km2`` and the kernel centres of more than 2,000 flights.
    :raises OutOfRange: a level or ``unknown`` is outside its range, or there is no flight at all.
    :raises BadInput: a position is not finite or outside its range.
    """
    latitude, longitude = (np.array(value, dtype=np.float64) for value in (latitude_deg, longitude_deg))
    if latitude.ndim != 1 or latitude.shape != longitude.shape:
        raise ValueError(f"positions need one common axis, not {latitude.shape} and {longitude.shape}")
    if unknown < 0 or latitude.size + unknown < 1:
        raise OutOfRange("unknown flights", unknown, 0 if latitude.size else 1, math.inf, "flights")
    for level in levels:
        check_probability("level", level)
    bad = int(np.count_nonzero(~((np.abs(latitude) <= 90.0) & (np.abs(longitude) <= 360.0))))
    if bad:
        raise BadInput(
            Finding(
                "landing positions",
                f"{bad} of {latitude.size}",
                "not a latitude and longitude on Earth",
                "Count flights without a landing as unknown.",
            )
        )
    levels = sorted(levels)
    if nominal is None:
        return _area(latitude, longitude, unknown, levels, rng_seed, None, ())
    mask = np.asarray(nominal, dtype=np.bool_)
    if mask.shape != latitude.shape:
        raise ValueError(f"nominal has shape {mask.shape}, the positions {latitude.shape}")
    off = int(np.count_nonzero(~mask))
    if off == latitude.size:
        return _area(latitude, longitude, unknown, levels, rng_seed, None, ("no landed flight was nominal",))
    left_out = (f"{off:,} off-nominal landings are left out",) if off else ()
    nominal_area = _area(latitude[mask], longitude[mask], unknown, levels, rng_seed, None, left_out)
    return _area(latitude, longitude, unknown, levels, rng_seed, nominal_area, ())


def _area(
    latitude: Array,
    longitude: Array,
    unknown: int,
    levels: Sequence[float],
    seed: int,
    nominal: LandingArea | None,
    notes: tuple[str, ...],
) -> LandingArea:
    landed, flights = latitude.size, latitude.size + unknown
    if unknown:
        notes += (unknown_note(landed, unknown, "stay in every probability, inside no area"),)
    plane, near = _plane(latitude, longitude)
    if not near.all():
        far = int(np.count_nonzero(~near))
        notes += (f"{far:,} flights landed over {_NEAR_M / 1000:.0f} km from the middle: no area is drawn there",)
    drawn = int(np.count_nonzero(near))
    why = f"only {drawn} flights landed in the data; an area needs {MINIMUM_LANDED}"
    area = LandingArea(
        latitude_deg=latitude,
        longitude_deg=longitude,
        flights=flights,
        landed=landed,
        unknown=unknown,
        share_unknown=share(unknown, flights),
        parts=tuple(_no_area(level, why) for level in levels),
        nominal=nominal,
        notes=notes,
    )
    if drawn < MINIMUM_LANDED:
        return area
    # sorted, so that neither sums nor random groups depend on the order in which the flights were computed
    order = np.lexsort((longitude[near], latitude[near]))
    points = np.column_stack(plane.to_east_north_m(latitude[near][order], longitude[near][order]))
    density = estimate(points, _MAP_LIMIT_M, seed)
    if density.centres < drawn:
        notes += (f"kernels stand on {density.centres:,} of {drawn:,} landings; all of them set the thresholds",)
    covariance = np.cov(points.T)
    return replace(
        area,
        parts=tuple(_level(level, density, plane, drawn, flights) for level in levels),
        mean_deg=_position(plane, points.mean(axis=0)),
        mode_deg=_position(plane, density.mode_m()),
        ellipse=ellipse_from_covariance(covariance),
        cep50_m=circular_error_probable(covariance, 0.5),
        cep95_m=circular_error_probable(covariance, 0.95),
        notes=notes,
    )


def _level(level: float, density: Density, plane: LocalPlane, drawn: int, flights: int) -> AreaLevel:
    if level > drawn / flights:
        return _no_area(level, f"only {drawn:,} of {flights:,} flights ({drawn / flights:.1%}) landed in the data")
    # unknown flights are in no area, so the landed ones must make up for them
    of_landed = level * flights / drawn
    threshold = density.threshold(of_landed)
    if threshold is None:
        why = f"it would need {of_landed:.2%} of the landed flights, and {drawn:,} of them cannot show so small a rest"
        return _no_area(level, why)
    polygons = density.polygons(threshold)
    return AreaLevel(
        probability=level,
        exists=True,
        why_not="",
        area_km2=sum(signed_area_m2(ring) for polygon in polygons for ring in polygon) / 1e6,
        area_sd_km2=density.area_sd_m2(of_landed) / 1e6,
        polygons=tuple(tuple(_ring_deg(plane, ring) for ring in polygon) for polygon in polygons),
    )


def _no_area(level: float, why_not: str) -> AreaLevel:
    return AreaLevel(level, False, f"no area for {100 * level:g} % of all flights: {why_not}", None, None, ())


def _plane(latitude_deg: Array, longitude_deg: Array) -> tuple[LocalPlane, NDArray[np.bool_]]:
    """A plane at the middle of the landings, and which of them are near enough to be drawn on it."""
    if not latitude_deg.size:
        return LocalPlane(0.0, 0.0), np.zeros(0, dtype=np.bool_)
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    upward = np.column_stack(
        (np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude))
    )
    # the median, or one flight at the far end of the forecast would pull the plane away from the others
    x, y, z = np.median(upward, axis=0)
    plane = LocalPlane(math.degrees(math.atan2(z, math.hypot(x, y))), math.degrees(math.atan2(y, x)))
    middle = np.array([x, y, z]) / max(math.sqrt(x * x + y * y + z * z), 1e-12)
    return plane, _EARTH_RADIUS_M * np.linalg.norm(upward - middle, axis=1) <= _NEAR_M


def _position(plane: LocalPlane, east_north_m: ArrayLike) -> tuple[float, float]:
    latitude, longitude = plane.to_latitude_longitude_deg(*np.asarray(east_north_m, dtype=np.float64))
    return float(latitude), float(longitude)


def _ring_deg(plane: LocalPlane, ring_m: Array) -> Array:
    latitude, longitude = plane.to_latitude_longitude_deg(ring_m[:, 0], ring_m[:, 1])
    longitude = plane.longitude_deg + (longitude - plane.longitude_deg + 180.0) % 360.0 - 180.0
    ring = np.column_stack((latitude, longitude))
    ring[-1] = ring[0]  # vectorised trigonometry may differ in the last bit between both ends of an array
    return ring


def _inside(latitude_deg: Array, longitude_deg: Array, ring: Array) -> NDArray[np.bool_]:
    """Even-odd rule: an odd number of edges lies north of a point that is inside."""
    if ring.ndim != 2 or ring.shape[1] != 2 or len(ring) < 3:
        raise ValueError(f"a ring is (latitude, longitude) by at least three points, not of shape {ring.shape}")
    south_north = np.append(ring[:, 0], ring[0, 0])
    # runs on past 180 instead of jumping back across the whole map
    east = np.unwrap(np.append(ring[:, 1], ring[0, 1]), period=360.0)
    longitude = east.min() + (longitude_deg - east.min()) % 360.0
    inside = np.zeros(latitude_deg.shape, dtype=np.bool_)
    for lat0, lon0, lat1, lon1 in zip(south_north[:-1], east[:-1], south_north[1:], east[1:], strict=True):
        if lon0 == lon1:
            continue
        spans = (lon0 <= longitude) != (lon1 <= longitude)
        inside ^= spans & (latitude_deg < lat0 + (longitude - lon0) * (lat1 - lat0) / (lon1 - lon0))
    return inside
